"""Colourways found by name and code in any script, what is missing beside the lot to repeat, and ways in US units."""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import replace

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from dyehouse.studio.models import Studio
from recipes.colourways import keep_secret
from recipes.lots import colourway_queries, finishing
from recipes.lots.filling_in import answer_missing
from recipes.lots.learning import learned_before, propose_way
from recipes.lots.log import keep_line
from recipes.lots.models import Photo
from recipes.models import WayOfDyeing
from recipes.ways import depart, drafts_of, rules_of
from tests import factories

pytestmark = pytest.mark.django_db
MOST_QUERIES = 12
HUNDRED = 100


@pytest.fixture(autouse=True)
def studio():
    return factories.studio()


@pytest.fixture
def marit():
    return factories.OwnerFactory()


@pytest.fixture
def owner(marit) -> Client:
    client = Client()
    client.force_login(marit)
    return client


@pytest.fixture
def helper() -> Client:
    client = Client()
    client.force_login(factories.HelperFactory())
    return client


def page(client: Client, name: str, *args, **asked) -> str:
    answer = client.get(reverse(name, args=args), asked)
    assert answer.status_code == 200
    return answer.content.decode()


class TestFinding:
    @pytest.mark.parametrize("typed", ["älv", "ÄLV", "  älv  "])
    def test_a_name_is_found_whatever_its_script_and_case(self, owner, typed):
        river, other = factories.colourway("Älvsjö"), factories.colourway("Moss")

        shown = page(owner, "colourways", find=typed)

        assert river.code in shown
        assert other.code not in shown

    def test_a_code_is_found_by_its_beginning_and_a_lot_by_its_own(self, owner, marit):
        lot = factories.judged_lot(who=marit, colourway=factories.colourway("Moss"))
        factories.judged_lot(who=marit, colourway=lot.colourway, put_up=lot.pots.get().loads.get().put_up)

        by_colourway = page(owner, "colourways", find=lot.colourway.code[:3])
        by_lot = page(owner, "colourways", find=lot.code.lower())

        assert lot.colourway.code in by_colourway
        assert lot.colourway.code in by_lot
        assert "2 lots" in by_lot

    def test_signs_that_are_part_of_no_code_find_nothing(self, owner):
        moss = factories.colourway("Moss")

        assert moss.code not in page(owner, "colourways", find="-")
        assert moss.code not in page(owner, "colourways", find="%")

    def test_part_of_a_secret_name_finds_nothing_for_a_helper_and_everything_for_the_owner(
        self, owner, helper
    ):
        secret = factories.colourway("Älvsjö")
        keep_secret(colourway=secret, until=timezone.now() + dt.timedelta(days=9))

        assert secret.code not in page(helper, "colourways", find="älv")
        assert secret.code in page(owner, "colourways", find="älv")

    def test_a_long_list_goes_on_over_the_page(self, owner, monkeypatch):
        monkeypatch.setattr(colourway_queries, "COLOURWAYS_A_PAGE", 2)
        made = [factories.colourway(f"Moss {number}") for number in range(5)]

        shown = [page(owner, "colourways", page=number, find="moss") for number in (1, 2, 3)]

        assert [sum(each.code in one for each in made) for one in shown] == [2, 2, 1]
        assert all(any(each.code in one for one in shown) for each in made)
        assert "More colourways" in shown[0]
        assert "find=moss" in shown[0]
        assert "More colourways" not in shown[2]
        assert "Before" in shown[2]


class TestTheLotToRepeat:
    def test_what_is_missing_is_named_beside_it_and_gone_once_answered(self, owner, marit):
        way = factories.way(who=marit)
        pot = way.origin.pot

        before = page(owner, "colourway", way.colourway.code)
        answer_missing(pot=pot, slug="lay", key=uuid.uuid4(), who=marit, text="Loose")
        after = page(owner, "colourway", way.colourway.code)

        assert "Missing to dye it again:" in before
        assert ", lay" in before
        assert ", lay" not in after

    def test_its_page_and_the_page_of_its_pot_miss_the_same(self, owner, marit):
        way = factories.way(who=marit)
        for _ in range(2):
            context = owner.get(reverse("colourway", args=[way.colourway.code])).context
            (on,) = context["page"].bases
            assert on.missing == propose_way(way.origin.pot).missing
            lot = way.origin.pot.dye_lot
            finishing.judge(
                key=uuid.uuid4(),
                dye_lot=lot,
                counts={(way.origin.pot.loads.get().put_up.pk, "good"): 1},
                verdict="first",
                who=marit,
            )

    def test_a_pot_photo_is_a_photo_and_a_helper_is_told_of_no_lack_of_it(self, helper, marit):
        way = factories.way(who=marit)
        factories.pot_photo(pot=way.origin.pot, who=marit)
        keep_secret(colourway=way.colourway, until=timezone.now() + dt.timedelta(days=9))

        shown = page(helper, "colourway", way.colourway.code)

        assert ", photo" not in shown
        assert "<img" not in shown

    def test_without_a_way_its_pot_is_one_touch_away(self, owner, marit):
        lot = factories.judged_lot(who=marit)

        shown = page(owner, "colourway", lot.colourway.code)

        assert reverse("way-new", args=[lot.code]) in shown
        assert "There is no way of dyeing it by the numbers yet." in shown

    def test_earlier_lots_stand_behind_one_touch(self, owner, marit, monkeypatch):
        monkeypatch.setattr(colourway_queries, "LOTS_SHOWN", 2)
        way = factories.way(who=marit)
        put_up = way.base.put_ups.get()
        codes = [
            factories.judged_lot(who=marit, put_up=put_up, colourway=way.colourway).code for _ in range(3)
        ]

        shown = page(owner, "colourway", way.colourway.code)

        assert "2 earlier lots" in shown
        assert all(reverse("lot", args=[code]) in shown for code in codes)


class TestLearnedBefore:
    def test_a_pot_that_taught_a_way_says_so(self, owner, marit):
        way = factories.way(who=marit)

        shown = page(owner, "way-new", way.origin.pot.code)

        assert reverse("way", args=[way.pk]) in shown
        assert "says the same as its log does now" in shown

    def test_what_was_written_since_is_told_before_it_is_kept(self, owner, marit):
        way = factories.way(who=marit)
        pot = way.origin.pot
        answer_missing(pot=pot, slug="lay", key=uuid.uuid4(), who=marit, text="Loose")

        pot.refresh_from_db()
        before = learned_before(propose_way(pot))
        shown = page(owner, "way-new", pot.code)

        assert before is not None
        assert before.way == way
        assert before.departs == ["Lay: “Loose” instead of not known."]
        assert before.departs[0] in shown

    def test_a_fresh_pot_taught_nothing(self, marit):
        assert learned_before(propose_way(factories.loaded_pot(who=marit))) is None

    def test_heat_on_low_is_said_in_full(self, owner, marit):
        pot = factories.loaded_pot(who=marit)
        keep_line(pot=pot, key=uuid.uuid4(), typed="heat low", who=marit)

        assert "<dd>Heat on, low</dd>" in page(owner, "way-new", pot.code)


class TestInUsUnits:
    @pytest.fixture
    def way(self, marit) -> WayOfDyeing:
        factories.studio(units=Studio.Units.US)
        return factories.way(who=marit, lines=("7.5 l water", "30 ml red 1%", "4.5 g citric", "82 C"))

    @staticmethod
    def as_it_stands(client: Client, way: WayOfDyeing) -> dict[str, str]:
        form = client.get(reverse("way-correct", args=[way.pk])).context["form"]
        sent = {}
        for bound in form:
            value = bound.field.prepare_value(bound.value())
            sent[bound.html_name] = "on" if value is True else "" if value is None else str(value)
        return sent

    def test_a_temperature_is_typed_in_fahrenheit(self, owner, way):
        hot = rules_of(way)[3]
        sent = self.as_it_stands(owner, way)

        # 82 °C × 9 / 5 + 32 is 179.6 °F, and (185 °F − 32) × 5 / 9 is 85 °C.
        assert sent[f"degrees_{hot.pk}"] == "179.6"
        owner.post(
            reverse("way-correct", args=[way.pk]),
            {**sent, f"degrees_{hot.pk}": "185", "why": "paler at the tips", "keep": "1"},
        )

        assert rules_of(WayOfDyeing.objects.get(departs_from=way))[3].centi_celsius == 8500

    def test_what_is_not_touched_stays_to_its_last_digit(self, owner, way, marit):
        # 82.22 °C is 179.996 °F, which the field shows as 180: no hundredth of a degree is lost by that.
        drafts = drafts_of(way)
        odd = depart(
            way=way,
            rules=[*drafts[:3], type(drafts[3])("temperature", centi_celsius=8222)],
            why="as read",
            who=marit,
        )
        sent = self.as_it_stands(owner, odd)

        looked = owner.post(reverse("way-correct", args=[odd.pk]), {**sent, "look": "1"}).content.decode()

        assert "Nothing would change." in looked

    def test_degrees_without_a_letter_are_fahrenheit_in_a_step_more(self, owner, way):
        sent = self.as_it_stands(owner, way) | {"line": "203 degrees", "line_minute": "90"}

        owner.post(reverse("way-correct", args=[way.pk]), {**sent, "why": "hotter at the end", "keep": "1"})

        assert rules_of(WayOfDyeing.objects.get(departs_from=way))[-1].centi_celsius == 9500


def test_a_hundred_times_the_rows_take_not_one_query_more(owner, helper, marit):
    way = factories.way(who=marit, colourway=factories.colourway("Again"))
    put_up = way.base.put_ups.get()
    newer = depart(way=way, rules=drafts_of(way)[:-1], why="it was off already", who=marit)
    first = factories.judged_lot(who=marit, put_up=put_up, colourway=way.colourway)
    _photo(first, marit)
    learnable = factories.judged_lot(who=marit, put_up=put_up).pots.get()
    keep_line(pot=learnable, key=uuid.uuid4(), typed="30 ml red 1%", who=marit)
    addresses = [
        reverse("colourways"),
        reverse("colourways") + "?find=a",
        reverse("colourway", args=[way.colourway.code]),
        reverse("way", args=[newer.pk]),
        reverse("way-correct", args=[newer.pk]),
        reverse("way-new", args=[way.origin.pot.code]),
        reverse("way-new", args=[learnable.code]),
    ]

    asked = [(client, address) for client in (owner, helper) for address in addresses]
    few = [_queries(client, address) for client, address in asked]
    for number in range(HUNDRED):
        factories.colourway(f"Again {number}")
        factories.log_entry(pot=learnable, who=marit, typed="30 ml red 1%")
        factories.log_entry(pot=way.origin.pot, who=marit, typed="4 g citric")
        later = [replace(draft, minute=number + 1) for draft in drafts_of(newer)]
        newer = depart(way=newer, rules=later, why=f"later by {number}", who=marit)
        lot = factories.judged_lot(who=marit, put_up=put_up, colourway=way.colourway)
        finishing.choose_reference(dye_lot=lot, base=way.base, who=marit)
        _photo(lot, marit)
    many = [_queries(client, address) for client, address in asked]

    assert max(few) <= MOST_QUERIES
    assert many == few


def _queries(client: Client, address: str) -> int:
    client.get(address)
    with CaptureQueriesContext(connection) as asked:
        assert client.get(address).status_code == 200
    return len(asked)


def _photo(lot, who) -> None:
    Photo.objects.create(
        key=uuid.uuid4(), kind="daylight", dye_lot=lot, file="a", thumbnail="b", width=4, height=3,
        taken_at=timezone.now(), taken_by=who,
    )  # fmt: skip
