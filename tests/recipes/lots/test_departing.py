"""A redyed pot whose deed departs from its plan: each departure by name, and the deed as the next way."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from recipes.lots import finishing, learning, log, pots, redye
from recipes.lots.departing import NothingDeparted, NotOutYet, deed_of, keep_as_done
from recipes.lots.models import Pot, WayOrigin
from recipes.models import Auxiliary, Dye, WayOfDyeing
from recipes.ways import rules_of
from tests import factories

pytestmark = pytest.mark.django_db

# 300 g in 7.5 l: 30 ml of 1 % is 0.3 g, 0.1 % of the fibre; 4.5 g of citric acid is 1.5 %.
PLANNED = ((0, "7.5 l water"), (0, "30 ml red 1%"), (15, "4.5 g citric"), (40, "82 C"), (90, "heat off"))


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


def dye_it(pot: Pot, lines, who, *, at: dt.datetime) -> Pot:
    for minute, line in lines:
        log.keep_line(
            pot=pot, key=uuid.uuid4(), typed=line, who=who,
            clock=at + dt.timedelta(minutes=minute), now=at + dt.timedelta(minutes=minute),
        )  # fmt: skip
    return pot


@pytest.fixture
def way(marit) -> WayOfDyeing:
    """The way that a pot of three skeins taught in spring."""
    factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=marit), who=marit)
    factories.auxiliary("Citric acid", form=Auxiliary.Form.POWDER, amount=1_000_000, who=marit)
    long_ago = timezone.now() - dt.timedelta(days=90)
    pot = factories.loaded_pot(who=marit, pieces=3, happened_at=long_ago)
    dye_it(pot, PLANNED, marit, at=long_ago)
    factories.lot_out(pot=pot, who=marit)
    return learning.learn_way(pot=pot, who=marit)


@pytest.fixture
def at() -> dt.datetime:
    return timezone.now() - dt.timedelta(hours=4)


@pytest.fixture
def pot(way, marit, at) -> Pot:
    """Six skeins of it in one pot, in 15 litres, loaded this morning."""
    ask = redye.RedyeAsk(
        way=way,
        put_up=way.base.put_ups.get(),
        mill_lot=None,
        pieces=6,
        piece_dry_milligrams=100_000,
        vessel=factories.VesselFactory(working_millilitres=20_000),
        liquor_ratio_tenths=250,
    )
    plan = redye.plan_redye(key=uuid.uuid4(), ask=ask, who=marit)
    (made,) = plan.pots.all()
    return pots.load_planned(
        key=uuid.uuid4(), pot=made, mill_lot=None, dry_milligrams=None, who=marit, happened_at=at
    )


AS_PLANNED = ((0, "14.9 l water"), (0, "60 ml red 1%"), (15, "9 g citric"), (40, "82 C"), (90, "heat off"))


def out(pot: Pot, who) -> Pot:
    finishing.out_of_pot(key=uuid.uuid4(), pot=pot, bath="clear", who=who)
    pot.refresh_from_db()
    return pot


def test_a_pot_dyed_as_planned_departs_in_nothing(pot, marit, at, owner):
    out(dye_it(pot, AS_PLANNED, marit, at=at), marit)

    assert deed_of(pot).departs == []
    with pytest.raises(NothingDeparted):
        keep_as_done(pot=pot, who=marit)
    for page in (reverse("pot", args=[pot.code]), reverse("lot", args=[pot.dye_lot.code])):
        assert "departs from the plan" not in owner.get(page).content.decode()


def test_more_dye_a_late_acid_and_a_hotter_bath_become_the_next_way(pot, way, marit, at):
    done = (
        (0, "14.9 l water"),
        (0, "72 ml red 1%"),
        (35, "9 g citric"),
        (60, "90 C"),
        (70, "5 ml red 1%"),
        (110, "heat off"),
    )
    out(dye_it(pot, done, marit, at=at), marit)

    deed = deed_of(pot)

    assert deed.departs == [
        "72 ml Red 1 % instead of 60 ml Red 1 %.",
        "90 °C instead of 82 °C.",
        "Citric acid 20 min later than planned, and what followed with it.",
        "Not planned: 5 ml Red 1 %, 1 h 10 min in.",
    ]
    new = keep_as_done(pot=pot, who=marit)
    assert (new.departs_from, new.number, new.base) == (way, 2, way.base)
    assert new.why == f"As done in pot {pot.code}: " + " ".join(deed.departs)
    rules = rules_of(new)
    assert [(rule.kind, rule.minute) for rule in rules] == [
        ("water", 0),
        ("dye", 0),
        ("auxiliary", 35),
        ("temperature", 60),
        ("dye", 70),
        ("heat", 110),
    ]
    # 72 ml of 1 % is 0.72 g on 600 g: 0.12 %, 1,200,000 micrograms a kilogram. Definition of depth of shade.
    assert (rules[1].basis, rules[1].thousandths) == ("fibre", 1_200_000)
    # 5 ml of 1 % is 50 mg on 0.6 kg: 83.333 mg a kilogram.
    assert (rules[4].basis, rules[4].thousandths) == ("fibre", 83_333)
    assert rules[3].centi_celsius == 9_000
    # What was as planned keeps its last digit, and the old way is as it was.
    assert rules[2].thousandths == rules_of(way)[2].thousandths == 15_000_000
    assert rules_of(way)[1].thousandths == 1_000_000
    assert (new.dry_milligrams, new.pieces) == (600_000, 6)


def test_an_addition_keeps_the_basis_that_its_rule_has(marit, at):
    factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=marit), who=marit)
    factories.auxiliary("Citric acid", form=Auxiliary.Form.POWDER, amount=1_000_000, who=marit)
    trial = dye_it(factories.loaded_pot(who=marit, pieces=3), PLANNED[:4], marit, at=at)
    factories.lot_out(pot=trial, who=marit)
    citric = next(rule for rule in learning.propose_way(trial).rules if rule.name == "Citric acid")
    way = learning.learn_way(pot=trial, who=marit, rules={citric.entry.key: "bath"})
    plan = factories.redye_plan(who=marit, pieces=3, of=way)
    (pot,) = plan.pots.all()
    pot = pots.load_planned(
        key=uuid.uuid4(), pot=pot, mill_lot=None, dry_milligrams=None, who=marit, happened_at=at
    )
    done = ((0, "9 l water"), (0, "30 ml red 1%"), (15, "9.03 g citric"), (40, "82 C"))
    out(dye_it(pot, done, marit, at=at), marit)

    new = keep_as_done(pot=pot, who=marit)

    acid = rules_of(new)[2]
    # 9.03 g in 9.03 l (the water and the 30 ml): 1 g a litre.
    assert (acid.basis, acid.thousandths) == ("bath", 1_000_000)


def test_what_was_left_out_is_named_and_what_nobody_wrote_down_stays_as_planned(pot, marit, at):
    out(dye_it(pot, ((0, "14.9 l water"), (0, "60 ml red 1%")), marit, at=at), marit)

    deed = deed_of(pot)

    assert deed.departs == ["Left out: 9 g Citric acid."]
    assert deed.unsaid == ["82 °C", "Heat off"]
    assert [rule.kind for rule in deed.rules] == ["water", "dye", "temperature", "heat"]


def test_a_bath_that_never_came_to_its_heat_is_a_departure(pot, marit, at):
    done = (*AS_PLANNED[:3], (60, "74 C"), (90, "heat off"))
    out(dye_it(pot, done, marit, at=at), marit)

    deed = deed_of(pot)

    assert deed.departs == ["74 °C at most instead of 82 °C."]
    assert deed.unsaid == []
    assert [rule.centi_celsius for rule in deed.rules if rule.kind == "temperature"] == [7_400]


def test_powder_instead_of_stock_and_a_smaller_bath(pot, marit, at):
    done = ((0, "12 l water"), (0, "0.6 g red powder"), *AS_PLANNED[2:])
    out(dye_it(pot, done, marit, at=at), marit)

    deed = deed_of(pot)

    assert deed.departs == [
        "12 litres of water instead of 14.9 litres of water.",
        "0.6 g Red instead of 60 ml Red 1 %.",
    ]
    water, red = deed.rules[:2]
    # 12 l on 0.6 kg is 20:1; 0.6 g on 600 g is 0.1 %.
    assert water.thousandths == 20_000_000_000
    assert (red.thousandths, red.strength_mg_per_litre, red.unit) == (1_000_000, None, "mg")


def test_water_within_a_jug_of_the_plan_is_the_bath_that_was_planned(pot, marit, at):
    out(dye_it(pot, ((0, "10 l water"), (0, "5 l water"), *AS_PLANNED[1:]), marit, at=at), marit)

    assert deed_of(pot).departs == []


def test_a_struck_entry_is_no_deed(pot, marit, at):
    dye_it(pot, AS_PLANNED, marit, at=at)
    (slip,) = log.keep_line(
        pot=pot, key=uuid.uuid4(), typed="5 ml red 1%", who=marit, clock=at + dt.timedelta(minutes=95)
    )
    log.strike(entry=slip, key=uuid.uuid4(), who=marit)

    assert deed_of(out(pot, marit)).departs == []


def test_one_touch_on_the_lots_page_keeps_it_once(pot, marit, at, owner):
    dye_it(pot, ((0, "14.9 l water"), (0, "66 ml red 1%"), *AS_PLANNED[2:]), marit, at=at)
    in_work = owner.get(reverse("pot", args=[pot.code])).content.decode()
    refused = owner.post(reverse("way-as-done", args=[pot.code]))
    out(pot, marit)
    page = owner.get(reverse("lot", args=[pot.dye_lot.code])).content.decode()

    first = owner.post(reverse("way-as-done", args=[pot.code]))
    again = owner.post(reverse("way-as-done", args=[pot.code]))

    assert "departs from the plan in 1 thing." in in_work
    assert "Dye it so next time" not in in_work
    assert refused["Location"] == reverse("pot", args=[pot.code])
    assert "66 ml Red 1 % instead of 60 ml Red 1 %." in page
    assert "Dye it so next time" in page
    assert first["Location"] == again["Location"]
    assert WayOrigin.objects.filter(pot=pot).count() == 1
    kept = owner.get(first["Location"]).content.decode()
    assert f"As done in pot {pot.code}: 66 ml Red 1 % instead of 60 ml Red 1 %." in kept
    after = owner.get(reverse("pot", args=[pot.code])).content.decode()
    assert "was learned from this pot" in after
    assert "Dye it so next time" not in after


def test_a_pot_in_work_has_no_next_way_yet(pot, marit, at):
    dye_it(pot, ((0, "70 ml red 1%"),), marit, at=at)

    with pytest.raises(NotOutYet):
        keep_as_done(pot=pot, who=marit)


def test_a_pot_on_another_base_gives_that_base_a_way_of_its_own(way, marit, at):
    other = factories.base("Moor DK", fibres={"wool": 1000})
    ask = redye.RedyeAsk(
        way=way,
        put_up=factories.put_up(base=other, pieces=6, who=marit),
        mill_lot=None,
        pieces=6,
        piece_dry_milligrams=100_000,
        vessel=factories.VesselFactory(working_millilitres=20_000),
        liquor_ratio_tenths=250,
    )
    (pot,) = redye.plan_redye(key=uuid.uuid4(), ask=ask, who=marit).pots.all()
    pot = pots.load_planned(
        key=uuid.uuid4(), pot=pot, mill_lot=None, dry_milligrams=None, who=marit, happened_at=at
    )
    out(dye_it(pot, AS_PLANNED, marit, at=at), marit)

    new = keep_as_done(pot=pot, who=marit)

    assert (new.base, new.number, new.departs_from) == (other, 1, way)
    assert new.why == f"As done in pot {pot.code}: On Moor DK instead of {way.base.name}."


def test_a_long_why_says_how_many_things_are_left(pot, marit, at):
    extra = tuple((10 + 6 * n, f"{n} ml red 1%") for n in range(1, 9))
    out(dye_it(pot, (*AS_PLANNED[:2], *extra, *AS_PLANNED[2:]), marit, at=at), marit)

    deed = deed_of(pot)
    why = deed.why(pot.code)

    assert len(deed.departs) == 8
    assert len(why) <= 300
    said = why.count("Not planned")
    assert why.endswith(f"And {8 - said} more things.")


def test_the_pages_take_twelve_queries_at_most(pot, marit, at, owner, django_assert_max_num_queries):
    extra = tuple((10 + n, f"{n} ml red 1%") for n in range(1, 30))
    out(dye_it(pot, (*AS_PLANNED[:2], *extra), marit, at=at), marit)

    for page in (reverse("pot", args=[pot.code]), reverse("lot", args=[pot.dye_lot.code])):
        with django_assert_max_num_queries(12):
            assert "departs from the plan in 30 things" in owner.get(page).content.decode()


def test_a_kitchen_measure_that_is_weighed_at_last_goes_with_the_fibre(marit, at):
    noted = factories.way_from_notes(who=marit)
    factories.jar(dye=Dye.objects.get(name="Walnut"), who=marit)
    put_up = factories.put_up(base=noted.base, pieces=6, who=marit)
    ask = redye.RedyeAsk(
        way=noted, put_up=put_up, mill_lot=None, pieces=3, piece_dry_milligrams=100_000,
        vessel=factories.VesselFactory(), liquor_ratio_tenths=300,
    )  # fmt: skip
    (pot,) = redye.plan_redye(key=uuid.uuid4(), ask=ask, who=marit).pots.all()
    pot = pots.load_planned(
        key=uuid.uuid4(), pot=pot, mill_lot=None, dry_milligrams=None, who=marit, happened_at=at
    )
    done = ((0, "9 l water"), (0, "1.5 g walnut powder"), (1, "0.3 g walnut powder"), (40, "82 C"))
    out(dye_it(pot, done, marit, at=at), marit)

    new = keep_as_done(pot=pot, who=marit)

    assert deed_of(pot).departs == ["0.3 g Walnut instead of 3 drops on 100 g Walnut."]
    # 0.3 g on 300 g: 0.1 %, 1 g a kilogram. It was dyed here, so it is from notes no more.
    assert [(rule.basis, rule.thousandths) for rule in rules_of(new)][1] == ("fibre", 1_000_000)
    assert (new.departs_from, new.from_notes) == (noted, False)
