"""The dye list from promises to planned pots, and what it takes of yarn and dye."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory import kits
from inventory.buying.models import Offer, Supplier
from inventory.weeks import keeping
from inventory.weeks.ahead import weeks_ahead
from inventory.weeks.models import PlanDue, Wanted
from inventory.weeks.needs import what_it_takes
from inventory.weeks.planning import plan_loads
from inventory.weeks.reckoning import ordinal, reckon
from recipes import yarn
from recipes.lots.models import Pot, RedyePlan
from tests import factories
from tests.inventory.weeks.factories import in_days, promise, wanted

pytestmark = pytest.mark.django_db


@pytest.fixture
def marit():
    factories.studio()
    return factories.OwnerFactory()


@pytest.fixture
def owner(marit):
    client = Client()
    client.force_login(marit)
    return client


@pytest.fixture
def way(marit):
    """A way of dyeing; the three skeins that it was learned from hang unjudged, and its pot takes four at 30 to 1."""
    return factories.way(who=marit)


def test_all_that_is_promised_and_wanted_less_what_is_there_in_pots_of_the_dyer(marit, way, monkeypatch):
    promise(monkeypatch, of=way, pieces=12, held=2, due=in_days(30), sets=(3,))
    wanted(of=way, count=20, due=in_days(60))

    page = reckon(user=marit)

    (row,) = page.rows
    # Nothing was judged, so all is reckoned good: 10 promised + 20 + 1 spare of these (5 %) − 3 in work.
    assert (row.to_dye.wanted, row.to_dye.from_work, row.to_dye.pieces) == (31, 3, 28)
    assert row.pot_words == "7 pots of 4"
    assert [load.due for load in row.to_dye.loads] == [in_days(30)] * 2 + [in_days(60)] * 5
    assert (row.to_dye.more_good, row.next_pot) == (0, "the 32nd")
    assert [want.what for want in page.listed.served[0].wants] == ["the harbour club, March"]
    assert [ordinal(each) for each in (1, 2, 3, 11, 21, 54, 112)] == [
        "1st", "2nd", "3rd", "11th", "21st", "54th", "112th",
    ]  # fmt: skip


def test_the_list_is_planned_as_pots_once_and_its_day_is_remembered(owner, marit, way, monkeypatch):
    promise(monkeypatch, of=way, pieces=12, due=in_days(30))
    factories.put_up(base=way.base, grams=50)
    page = owner.get(reverse("dyelist")).content.decode()
    assert "3 pots of 3" in page
    assert "the harbour club, March" in page
    (row,) = reckon(user=marit).rows
    sent = {"key": str(uuid.uuid4()), "row": row.key, f"loads-{row.key}": "3"}

    stale = owner.post(reverse("dyelist-plan"), {**sent, f"loads-{row.key}": "2"})
    assert (stale.status_code, RedyePlan.objects.count()) == (422, 0)
    assert "The list has changed meanwhile" in stale.content.decode()
    assert owner.post(reverse("dyelist-plan"), {}).status_code == 422

    answer = owner.post(reverse("dyelist-plan"), sent)
    again = owner.post(reverse("dyelist-plan"), sent)

    plan = RedyePlan.objects.get()
    assert answer.status_code == 303
    assert answer["Location"] == reverse("redye-plan", args=[plan.pk])
    assert again.status_code == 422
    assert [pot.loads.get().pieces for pot in plan.pots.all()] == [3, 3, 3]
    assert (PlanDue.objects.get().due, PlanDue.objects.get().what_for) == (
        in_days(30),
        ["the harbour club, March"],
    )
    # The planned pots serve the promise, so nothing is left to plan, and they stand on sessions with its day.
    after = weeks_ahead(user=marit)
    assert after.reckoned.rows == []
    assert {(job.pieces, job.due) for job in after.jobs} == {(3, in_days(30))}
    assert {seen.wants[0].what for seen in after.seen.values()} == {"the harbour club, March"}


def test_what_the_dyer_puts_into_a_vessel_goes_before_its_litres(marit, way):
    wanted(of=way, count=9)
    vessel = Pot.objects.get().vessel
    keeping.keep_habits(
        weekdays=[5],
        own_days={},
        drying_days=[2] * 12,
        holds={vessel.pk: keeping.Holding(most_pieces=None, most_milligrams=550_000)},
        loads_a_session=2,
        soaks_overnight=False,
        rack_pieces=None,
        finishing_pieces=None,
        spares_percent=0,
        spares_pieces=1,
        vessel=None,
    )

    (row,) = reckon(user=marit).rows
    assert (row.to_dye.pot.pieces, row.pot_words) == (5, "2 pots: 1 of 4 and 1 of 3")
    # Five skeins in twelve litres are 24 to 1, less bath than the usual 30 to 1; four fit as usual.
    plans = plan_loads(key=uuid.uuid4(), rows=[row], mill_lots=[], who=marit)
    assert [sorted(pot.loads.get().pieces for pot in plan.pots.all()) for plan in plans] == [[3, 4]]


def test_a_colourway_that_is_open_is_counted_and_not_planned_and_a_secret_keeps_its_name(
    owner, marit, way, monkeypatch
):
    promise(monkeypatch, of=way, pieces=8, due=in_days(40), colourway_id=None, what="the harbour club, April")
    secret = factories.colourway("Tin Roof", secret_until=timezone.now() + dt.timedelta(days=30))
    Wanted.objects.create(
        key=uuid.uuid4(),
        colourway=secret,
        put_up=way.base.put_ups.get(),
        count=4,
        made_at=timezone.now(),
        made_by=marit,
    )
    helper = Client()
    helper.force_login(factories.HelperFactory())

    mine, theirs = (each.get(reverse("dyelist")).content.decode() for each in (owner, helper))

    assert "colourway open" in mine
    assert "no way yet" in mine
    assert "Tin Roof" in mine
    assert "Tin Roof" not in theirs
    assert secret.code in theirs


def test_yarn_in_packs_and_dye_by_the_ways_with_the_day_to_order_by(owner, marit, way):
    wanted(of=way, count=27, due=in_days(60))
    put_up = way.base.put_ups.get()
    yarn.receive_yarn(
        key=uuid.uuid4(), put_up=put_up, mill_lot=yarn.unknown_mill_lot(way.base), pieces=4, who=marit
    )
    mill = Supplier.objects.create(name="Weir Mill", lead_days=21, currency="EUR")
    Offer.objects.create(supplier=mill, item=put_up.item, pack_quantity=10)

    ahead = weeks_ahead(user=marit)
    needs = what_it_takes(ahead)

    # 27 + 2 spares (5 % rounded up) − 3 in work; 4 lie in the store.
    (of_yarn,) = needs.yarn
    assert (of_yarn.needed, of_yarn.there, of_yarn.short) == (26, 4, 22)
    assert of_yarn.buy.packs.value == 3
    first = min(each.day for each in ahead.plan.placed)
    assert of_yarn.buy.order_by.value == first - dt.timedelta(days=21)
    # 30 ml of 1 % stock on 300 g are 0.1 % by definition: of 2,600 g that is 2.6 g of powder.
    (of_dye,) = needs.dyes
    assert of_dye.needed == 2_600
    page = owner.get(reverse("dyelist-needs")).content.decode()
    assert "3 packs of Weir Mill" in page
    assert "short by 22" in page


def test_wanted_by_hand_is_asked_clearly_and_taken_off_again(owner, way):
    said = {"key": str(uuid.uuid4()), "count": "9", "put_up": way.base.put_ups.get().pk, "set_of": "3"}
    wrong = owner.post(reverse("dyelist-wanted"), said)
    assert wrong.status_code == 422
    assert "Choose a colourway and its yarn, or a kit." in wrong.content.decode()

    past = owner.post(
        reverse("dyelist-wanted"), {**said, "colourway": way.colourway_id, "due": in_days(-1).isoformat()}
    )
    assert "This day has gone by." in past.content.decode()
    assert not Wanted.objects.exists()

    for _ in range(2):
        owner.post(reverse("dyelist-wanted"), {**said, "colourway": way.colourway_id})
    made = Wanted.objects.get()
    assert (made.count, made.set_of, made.due) == (9, 3, None)
    owner.post(reverse("dyelist-wanted-end", args=[made.pk]))
    assert reckon(user=made.made_by).rows == []


@pytest.mark.parametrize("name", ["dyelist", "weeks"])
def test_more_rows_take_no_more_queries(name, owner, marit, way, django_assert_max_num_queries):
    for count in range(3):
        wanted(of=way, count=5 + count)
    factories.redye_plan(who=marit, of=way)
    for each in range(3):
        other = factories.colourway(f"Slate {each}")
        Wanted.objects.create(
            key=uuid.uuid4(), colourway=other, put_up=way.base.put_ups.get(), count=4,
            made_at=other.made_at, made_by=marit,
        )  # fmt: skip
    # Twelve of its own; what rooms that promise need comes on top of it.
    with django_assert_max_num_queries(16):
        assert owner.get(reverse(name)).status_code == 200


def test_one_more_box_of_an_advent_starts_a_pot_in_every_colour_and_the_page_says_which(owner, marit, way):
    """Two days of an advent on the yarn of the way: of eight each, four go into a pot, so the ninth starts another in both."""
    put_up = factories.put_up(base=factories.base(), grams=100)
    days = [kits.PartWanted(factories.colourway(f"Advent day {day}"), put_up) for day in (1, 2)]
    kit = kits.make_kit(name="Two days", kind="box", parts=days)
    keeping.want_by_hand(key=uuid.uuid4(), kit=kit, count=7, due=in_days(40), who=marit)

    page = owner.get(reverse("dyelist")).content.decode()

    # Seven and a spare of each are just two pots of four.
    assert page.count("2 pots of 4") == 2
    assert f"The 9th of {put_up} in each of 2 colourways: 2 more loads." in page
