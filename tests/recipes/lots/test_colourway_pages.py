"""The pages of colourways and their ways: the list, the lot to repeat, making repeatable, correcting."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from recipes.colourways import keep_secret
from recipes.lots import finishing
from recipes.lots.learning import learn_way, propose_way
from recipes.lots.log import keep_line
from recipes.lots.models import LogEntry, Photo, Pot
from recipes.models import Colourway, WayOfDyeing
from recipes.ways import depart, drafts_of, rules_of
from tests import factories

pytestmark = pytest.mark.django_db
MOST_QUERIES = 12


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


@pytest.fixture
def pot(marit) -> Pot:
    """Three pieces with water, 30 ml of Red 1 % and 4.5 g citric acid in."""
    factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=marit), who=marit)
    factories.auxiliary("Citric acid", form="powder", strength_hundredths_percent=None)
    loaded = factories.loaded_pot(who=marit, pieces=3)
    for line in ("7.5 l water", "30 ml red 1%", "4.5 g citric", "82 C"):
        keep_line(pot=loaded, key=uuid.uuid4(), typed=line, who=marit)
    return loaded


def page(client: Client, name: str, *args) -> str:
    answer = client.get(reverse(name, args=args))
    assert answer.status_code == 200
    return answer.content.decode()


class TestTheList:
    def test_it_says_what_can_be_repeated_and_what_cannot_yet(self, owner, marit):
        way = factories.way(who=marit)
        trial = factories.lot_out(who=marit)

        shown = page(owner, "colourways")

        assert way.colourway.code in shown
        assert ">repeatable<" in shown
        assert trial.colourway.code in shown
        assert ">not yet repeatable<" in shown

    def test_it_is_searched_by_name_and_by_code(self, owner):
        slate, moss = factories.colourway("Wet Slate"), factories.colourway("Moss")

        by_name = owner.get(reverse("colourways"), {"find": "slate"}).content.decode()
        by_code = owner.get(reverse("colourways"), {"find": moss.code.lower()}).content.decode()

        assert slate.code in by_name
        assert moss.code not in by_name
        assert moss.code in by_code
        assert slate.code not in by_code

    def test_a_helper_finds_a_secret_by_its_code_and_not_by_its_name(self, helper):
        secret = factories.colourway("Tin Roof")
        keep_secret(colourway=secret, until=timezone.now() + dt.timedelta(days=9))

        by_name = helper.get(reverse("colourways"), {"find": "tin roof"}).content.decode()
        by_code = helper.get(reverse("colourways"), {"find": secret.code}).content.decode()

        assert secret.code not in by_name
        assert secret.code in by_code
        assert "Tin Roof" not in by_code


class TestThePageOfOne:
    def test_it_opens_on_the_lot_to_repeat_with_its_way_per_100_g(self, owner, marit):
        way = factories.way(who=marit)

        shown = page(owner, "colourway", way.colourway.code)

        assert "the one to repeat" in shown
        assert "3 pieces, 300 g dry" in shown
        assert "0.1 % of dry fibre" in shown
        assert "0.1 g" in shown
        assert reverse("redye", args=[way.colourway.code]) in shown

    def test_earlier_lots_stand_with_how_they_were_judged(self, owner, marit):
        way = factories.way(who=marit)
        put_up = way.base.put_ups.get()
        later = factories.judged_lot(who=marit, put_up=put_up, colourway=way.colourway)

        shown = page(owner, "colourway", way.colourway.code)

        assert later.code in shown
        assert "nothing to match yet" in shown

    def test_a_correction_is_shown_with_each_departure_and_why(self, owner, marit):
        way = factories.way(who=marit)
        drafts = drafts_of(way)
        depart(way=way, rules=drafts[:-1], why="it was off already", who=marit)

        shown = page(owner, "colourway", way.colourway.code)

        assert "Departs from way 1: “it was off already”" in shown
        assert "Left out: Heat off." in shown
        assert "The lot to repeat was dyed by" in shown

    def test_a_helper_sees_a_secret_by_its_code_alone(self, helper, marit):
        way = factories.way(who=marit, colourway=factories.colourway("Tin Roof"))
        keep_secret(colourway=way.colourway, until=timezone.now() + dt.timedelta(days=9))

        for name, args in (
            ("colourway", [way.colourway.code]),
            ("way", [way.pk]),
            ("way-correct", [way.pk]),
            ("way-new", [way.origin.pot.code]),
        ):
            assert "Tin Roof" not in page(helper, name, *args)

    def test_naming_and_secrets_are_the_owners(self, helper, owner):
        colourway = factories.colourway()

        for client, status in ((helper, 403), (owner, 303)):
            answer = client.post(reverse("colourway-name", args=[colourway.code]), {"name": "Moss"})
            assert answer.status_code == status
            answer = client.post(reverse("colourway-secret", args=[colourway.code]), {"until": "2099-01-01"})
            assert answer.status_code == status

        colourway.refresh_from_db()
        assert colourway.name == "Moss"
        assert colourway.is_secret

    def test_a_name_that_is_taken_stands_beside_the_field(self, owner):
        factories.colourway("Moss")
        other = factories.colourway()

        answer = owner.post(reverse("colourway-name", args=[other.code]), {"name": "Moss"})

        assert answer.status_code == 422
        assert "There is a colourway called Moss already." in answer.content.decode()


class TestMakingItRepeatable:
    def test_each_addition_shows_its_amounts_and_why_it_goes_so(self, owner, pot):
        shown = page(owner, "way-new", pot.code)

        assert "30 ml of 1 % (0.3 g)" in shown
        assert "100 ml of 1 % (1 g)" in shown
        assert "Dye of every class goes by the weight of dry fibre." in shown

    def test_another_basis_is_shown_beside_the_old_and_kept_when_something_is_answered(self, owner, pot):
        citric = next(rule for rule in propose_way(pot).rules if rule.name == "Citric acid")
        address = reverse("way-new", args=[pot.code])

        changed = owner.post(address, {f"basis_{citric.entry.key}": "pot"}).content.decode()
        owner.post(reverse("way-answer", args=[pot.code]), {"slug": "pre-soak", "minutes": "30"})
        again = page(owner, "way-new", pot.code)

        assert "4.5 g in each pot" in changed
        assert "as proposed" in changed
        assert "4.5 g in each pot" in again
        assert not WayOfDyeing.objects.exists()

    def test_it_is_kept_with_the_chosen_basis_and_twice_is_once(self, owner, pot):
        citric = next(rule for rule in propose_way(pot).rules if rule.name == "Citric acid")
        sent = {f"basis_{citric.entry.key}": "pot", "keep": "1"}

        first = owner.post(reverse("way-new", args=[pot.code]), sent)
        owner.post(reverse("way-new", args=[pot.code]), sent)

        assert first["Location"] == reverse("colourway", args=[pot.colourway.code])
        way = WayOfDyeing.objects.get()
        assert [rule.basis for rule in rules_of(way)] == ["fibre", "fibre", "pot", ""]

    def test_a_basis_that_the_pot_cannot_be_reckoned_by_is_refused(self, owner, marit):
        factories.auxiliary("Citric acid", form="powder", strength_hundredths_percent=None)
        pot = factories.loaded_pot(who=marit)
        keep_line(pot=pot, key=uuid.uuid4(), typed="4.5 g citric", who=marit)
        entry = LogEntry.objects.get(kind="auxiliary")

        answer = owner.post(reverse("way-new", args=[pot.code]), {f"basis_{entry.key}": "bath", "keep": "1"})

        assert answer.status_code == 422
        assert "the litres of the bath are not known" in answer.content.decode()
        assert not WayOfDyeing.objects.exists()

    @pytest.mark.parametrize(
        ("slug", "said"),
        [
            ("mill-lot", {"text": "2231-B"}),
            ("dry-weight", {"grams": "298,5"}),
            ("pre-soak", {"minutes": "30"}),
            ("heat", {"degrees": "85", "clock": "14:20", "minutes": "30"}),
            ("lay", {"text": "Loose, covered by the bath"}),
            ("cooling", {"text": "In the pot, overnight"}),
        ],
    )
    def test_what_is_missing_is_answered_there_and_then(self, owner, pot, slug, said):
        assert f'value="{slug}"' in page(owner, "way-new", pot.code)

        answer = owner.post(
            reverse("way-answer", args=[pot.code]), {"slug": slug, "key": uuid.uuid4(), **said}
        )

        assert answer.status_code == 303
        assert f'value="{slug}"' not in page(owner, "way-new", pot.code)

    def test_a_photo_is_added_there_and_then(self, owner, pot):
        answer = owner.post(
            reverse("way-answer", args=[pot.code]), {"slug": "photo", "photo": factories.photo_file()}
        )

        assert answer.status_code == 303
        assert Photo.objects.get().pot == pot

    @pytest.mark.parametrize(
        ("slug", "said", "sentence"),
        [
            ("pre-soak", {"minutes": "half an hour"}, "Write whole minutes, for example 30."),
            ("lay", {"text": "  "}, "Write it in a few words."),
            ("dry-weight", {"grams": "1,250"}, "can be read in two ways"),
            ("heat", {"degrees": "85", "clock": "25:90", "minutes": "30"}, "Write the clock time as 14:20."),
        ],
    )
    def test_a_wrong_answer_is_said_beside_its_field_and_kept_as_typed(
        self, owner, pot, slug, said, sentence
    ):
        answer = owner.post(reverse("way-answer", args=[pot.code]), {"slug": slug, **said})

        assert answer.status_code == 422
        shown = answer.content.decode()
        assert sentence in shown
        assert all(value in shown for value in said.values())

    def test_what_is_known_by_now_is_not_answered_twice(self, owner, pot):
        for minutes in ("30", "45"):
            owner.post(reverse("way-answer", args=[pot.code]), {"slug": "pre-soak", "minutes": minutes})

        pot.refresh_from_db()
        assert pot.presoak_minutes == 30

    def test_a_pot_with_nothing_in_teaches_nothing_and_says_so(self, owner, marit):
        pot = factories.loaded_pot(who=marit)

        assert "Nothing went into this pot yet" in page(owner, "way-new", pot.code)
        answer = owner.post(reverse("way-new", args=[pot.code]), {"keep": "1"})
        assert answer.status_code == 422


class TestCorrecting:
    @pytest.fixture
    def way(self, pot, marit) -> WayOfDyeing:
        return learn_way(pot=pot, who=marit)

    @staticmethod
    def as_it_stands(client: Client, way: WayOfDyeing) -> dict[str, str]:
        """What the form sends when nothing is touched."""
        form = client.get(reverse("way-correct", args=[way.pk])).context["form"]
        sent = {}
        for bound in form:
            value = (
                bound.field.widget.format_value(bound.field.prepare_value(bound.value()))
                if not isinstance(
                    bound.field.widget, type(form["keep_" + str(rules_of(way)[0].pk)].field.widget)
                )
                else "on"
            )
            if isinstance(value, list):
                value = value[0] if value else ""
            sent[bound.html_name] = "" if value is None else str(value)
        return sent

    def test_nothing_touched_departs_in_nothing(self, owner, way):
        sent = self.as_it_stands(owner, way)

        looked = owner.post(reverse("way-correct", args=[way.pk]), {**sent, "look": "1"}).content.decode()
        kept = owner.post(reverse("way-correct", args=[way.pk]), {**sent, "why": "no reason", "keep": "1"})

        assert "Nothing would change." in looked
        assert kept.status_code == 422
        assert "Nothing is changed." in kept.content.decode()

    def test_an_amount_a_basis_a_minute_and_a_step_more_make_a_new_way(self, owner, way):
        water, red, citric, hot = rules_of(way)
        sent = self.as_it_stands(owner, way) | {
            f"amount_{red.pk}": "36",
            f"basis_{citric.pk}": "pot",
            f"degrees_{hot.pk}": "85",
            f"minute_{hot.pk}": "40",
            "line": "heat off",
            "line_minute": "60",
            "lay": "Loose",
        }
        address = reverse("way-correct", args=[way.pk])

        looked = owner.post(address, {**sent, "look": "1"}).content.decode()
        without_why = owner.post(address, {**sent, "keep": "1"})
        kept = owner.post(address, {**sent, "why": "came out too light", "keep": "1"})

        assert "Red: 0.12 % of dry fibre instead of 0.1 % of dry fibre." in looked
        assert without_why.status_code == 422
        assert "Say why it departs" in without_why.content.decode()
        assert kept.status_code == 303
        new = WayOfDyeing.objects.get(departs_from=way)
        assert (new.why, new.lay, new.number) == ("came out too light", "Loose", 2)
        rules = rules_of(new)
        assert [rule.kind for rule in rules] == ["water", "dye", "auxiliary", "temperature", "heat"]
        assert rules[0].thousandths == water.thousandths
        assert rules[1].thousandths == 1_200_000
        assert (rules[2].basis, rules[2].thousandths) == ("pot", 4_500_000)
        assert (rules[3].centi_celsius, rules[3].minute, rules[4].minute) == (8500, 40, 60)
        assert rules_of(way)[1].thousandths == 1_000_000

    def test_a_step_is_left_out(self, owner, way):
        citric = rules_of(way)[2]
        sent = self.as_it_stands(owner, way)
        del sent[f"keep_{citric.pk}"]

        owner.post(reverse("way-correct", args=[way.pk]), {**sent, "why": "not needed", "keep": "1"})

        assert [rule.kind for rule in rules_of(WayOfDyeing.objects.get(departs_from=way))] == [
            "water",
            "dye",
            "temperature",
        ]

    def test_a_step_that_leaves_something_open_is_asked_back(self, owner, way):
        sent = self.as_it_stands(owner, way) | {"line": "5 ml teal", "why": "bluer", "keep": "1"}

        answer = owner.post(reverse("way-correct", args=[way.pk]), sent)

        assert answer.status_code == 422
        assert "Teal is not in the store" in answer.content.decode()
        assert not WayOfDyeing.objects.filter(departs_from=way).exists()


@pytest.mark.parametrize("role", ["owner", "helper"])
def test_the_pages_take_no_more_queries_with_more_of_everything(
    role, request, marit, django_assert_max_num_queries
):
    client = request.getfixturevalue(role)
    way = factories.way(who=marit)
    put_up = way.base.put_ups.get()
    for _ in range(8):
        lot = factories.judged_lot(who=marit, put_up=put_up, colourway=way.colourway)
        finishing.choose_reference(dye_lot=lot, base=way.base, who=marit)
        Photo.objects.create(
            key=uuid.uuid4(), kind="daylight", dye_lot=lot, file="a", thumbnail="b", width=4, height=3,
            taken_at=timezone.now(), taken_by=marit,
        )  # fmt: skip
        factories.lot_out(who=marit)
    drafts = drafts_of(way)
    for cut in range(1, len(drafts)):
        depart(way=way, rules=drafts[:cut], why=f"shorter by {cut}", who=marit)

    for address in (
        reverse("colourways"),
        reverse("colourways") + "?find=a",
        reverse("colourway", args=[way.colourway.code]),
        reverse("way", args=[way.pk]),
        reverse("way-correct", args=[way.pk]),
        reverse("way-new", args=[way.origin.pot.code]),
    ):
        with django_assert_max_num_queries(MOST_QUERIES):
            assert client.get(address).status_code == 200
    assert Colourway.objects.count() == 9
