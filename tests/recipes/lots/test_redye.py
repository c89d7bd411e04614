"""A redye as it is planned, weighed, dropped; what differs today and nothing else; what must stand ready."""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import replace
from fractions import Fraction

import pytest
from django.db import transaction
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dyehouse.ledger.models import Movement
from dyehouse.studio.models import User, Vessel
from recipes.dyestuff import finish_bottle
from recipes.lots import redye
from recipes.lots.in_store import in_store_today
from recipes.lots.learning import learn_way
from recipes.lots.log import keep_line
from recipes.lots.models import LogEntry, Pot, RedyePlan
from recipes.lots.nearest import WayOnBase, way_for
from recipes.lots.planned import beside_done, planned_steps
from recipes.lots.pots import load_planned, start_trial, weigh_load
from recipes.lots.redye import CannotBePlanned, RedyeAsk, preview_redye
from recipes.lots.redye_forms import ways_to_dye
from recipes.lots.redye_queries import cautions_of, plan_page, redye_page
from recipes.lots.redye_stocks import what_to_have_ready
from recipes.lots.today import heating_for, reference_of, today_for, what_differs
from recipes.models import Base, Colourway, Dye, Jar, MillLot, PutUp, StockBottle, WayOfDyeing
from recipes.ways import depart, drafts_of
from recipes.yarn import add_mill_lot
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def studio():
    factories.ScaleFactory(step=10)
    factories.CylinderFactory(step=500)
    return factories.studio()


@pytest.fixture
def who():
    return factories.OwnerFactory()


@pytest.fixture
def way(who) -> WayOfDyeing:
    """Learned from 300 g in 7.5 l: 30 ml of Red 1 % (0.1 %), 4.5 g of citric (1.5 %), 82 °C."""
    return factories.way(who=who)


@pytest.fixture
def first_vessel(way) -> Vessel:
    return Pot.objects.get(ways_learned__way=way).vessel


def learned(put_up: PutUp, lot: MillLot | None, who: User) -> WayOfDyeing:
    """A way learned from three pieces of a mill lot, with no lot chosen to repeat."""
    factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=who), who=who)
    pot = start_trial(
        key=uuid.uuid4(), put_up=put_up, mill_lot=lot, pieces=3, dry_milligrams=None,
        vessel=factories.VesselFactory(), colourway=None, who=who,
    )  # fmt: skip
    for typed in ("7.5 l water", "30 ml red 1%", "82 C"):
        keep_line(pot=pot, key=uuid.uuid4(), typed=typed, who=who)
    factories.lot_out(pot=pot, who=who)
    return learn_way(pot=pot, who=who)


def as_before(way: WayOfDyeing, **changed) -> RedyeAsk:
    """Just what the reference pot was: three pieces of 100 g in 7.53 l in its vessel."""
    pot = Pot.objects.get(ways_learned__way__colourway=way.colourway)
    load = pot.loads.get()
    facts = {
        "way": way,
        "put_up": load.put_up,
        "mill_lot": None,
        "pieces": 3,
        "piece_dry_milligrams": 100_000,
        "vessel": pot.vessel,
        "liquor_ratio_tenths": 251,
    }
    return RedyeAsk(**{**facts, **changed})


def whats(ask: RedyeAsk) -> list[str]:
    preview = preview_redye(ask)
    return [row.what for row in redye_page(preview).differences]


def plan(ask: RedyeAsk, who, key: uuid.UUID | None = None) -> RedyePlan:
    return redye.plan_redye(key=key or uuid.uuid4(), ask=ask, who=who)


def amounts_of(pot: Pot) -> dict[str, int | None]:
    found = {}
    for step in planned_steps(pot):
        name = str(step.rule.dye or step.rule.auxiliary or step.rule.kind) if step.rule else "water"
        found[name] = step.milligrams if step.milligrams is not None else step.microlitres
    return found


# --- Planning ---------------------------------------------------------------------------------------------------------


def test_the_same_page_sent_twice_plans_once(way, who):
    key = uuid.uuid4()

    first, again = plan(as_before(way), who, key), plan(as_before(way, pieces=7), who, key)

    assert first == again
    assert RedyePlan.objects.count() == 1
    assert Pot.objects.filter(plan=first).count() == 1


def test_ten_skeins_by_hand(way, who, first_vessel):
    # 12 l to the mark at 25.1:1 takes 4 pieces of 100 g (4 × 2.51 = 10.04 l, 5 would be 12.55 l): so 4, 3 and 3.
    # 4 pieces: 0.1 % of 400 g is 0.4 g, 40 ml of 1 %; citric 1.5 % is 6 g; water 10.04 l − 0.04 l = 10 l.
    # 3 pieces: 30 ml, 4.5 g, 7.53 l − 0.03 l = 7.5 l, as it was in the pot that it was learned from.
    assert first_vessel.working_millilitres == 12_000

    planned = plan(as_before(way, pieces=10), who)

    pots = list(planned.pots.order_by("id"))
    assert [pot.loads.get().pieces for pot in pots] == [4, 3, 3]
    assert [pot.loads.get().dry_milligrams for pot in pots] == [400_000, 300_000, 300_000]
    large, small = amounts_of(pots[0]), amounts_of(pots[1])
    assert (large["Red"], large["Citric acid"], large["water"]) == (40_000, 6_000, 10_000_000)
    assert (small["Red"], small["Citric acid"], small["water"]) == (30_000, 4_500, 7_500_000)
    assert amounts_of(pots[2]) == small
    assert [pot.planned_bath_microlitres for pot in pots] == [10_040_000, 7_530_000, 7_530_000]


def test_what_is_planned_follows_the_weighing_at_the_pot(way, who):
    # By hand: 330 g weighed take 33 ml of Red 1 %, 4.95 g of citric and a bath of 8.283 l, of which 8.25 l are water.
    pot = plan(as_before(way), who).pots.get()

    load_planned(key=uuid.uuid4(), pot=pot, mill_lot=None, dry_milligrams=330_000, who=who)

    pot.refresh_from_db()
    assert amounts_of(pot) == {**amounts_of(pot), "Red": 33_000, "Citric acid": 4_950, "water": 8_300_000}
    assert pot.planned_bath_microlitres == 8_283_000


def test_what_was_done_stays_as_planned_when_the_load_is_weighed_later(way, who):
    pot = plan(as_before(way), who).pots.get()
    pot = load_planned(key=uuid.uuid4(), pot=pot, mill_lot=None, dry_milligrams=None, who=who)
    keep_line(pot=pot, key=uuid.uuid4(), typed="30 ml red 1%", who=who)

    weigh_load(pot=pot, dry_milligrams=330_000)

    amounts = amounts_of(pot)
    assert (amounts["Red"], amounts["Citric acid"]) == (30_000, 4_950)


def test_a_mill_lot_of_another_base_is_refused(way):
    other = add_mill_lot(base=factories.base("Grey Goose"), number="77")

    with pytest.raises(CannotBePlanned, match="Mill lot 77 is not of"):
        preview_redye(as_before(way, mill_lot=other))


def test_dropping_moves_nothing_and_twice_is_once(way, who):
    pot = plan(as_before(way), who).pots.get()
    before = Movement.objects.count()

    first = redye.drop_planned(pot=pot)
    again = redye.drop_planned(pot=pot)

    assert first.dropped_at == again.dropped_at
    assert Movement.objects.count() == before
    with pytest.raises(Exception, match="only a planned pot can be loaded"):
        load_planned(key=uuid.uuid4(), pot=pot, mill_lot=None, dry_milligrams=None, who=who)


def test_a_dropped_pot_wants_nothing_any_more(way, who):
    planned = plan(as_before(way, pieces=8), who)
    needed = plan_page(planned).ready.stocks[0].needed_microlitres

    redye.drop_planned(pot=planned.pots.first())

    assert plan_page(planned).ready.stocks[0].needed_microlitres == needed // 2


# --- Which way --------------------------------------------------------------------------------------------------------


def test_the_base_that_has_a_lot_to_repeat_comes_first_and_of_it_the_newest_way(way, who):
    corrected = depart(way=way, rules=drafts_of(way)[1:], why="too much water", who=who)
    elsewhere = WayOfDyeing.objects.create(
        colourway=way.colourway, base=factories.base("Bare"), number=9, made_at=timezone.now(), made_by=who
    )

    assert ways_to_dye(way.colourway.code) == [corrected, way, elsewhere]


def test_a_base_without_a_way_borrows_that_of_the_nearest_fibres(who):
    def on(name: str, **fibres: int) -> WayOfDyeing:
        base = factories.base(name, fibres=fibres)
        return WayOfDyeing.objects.create(
            colourway=colourway, base=base, number=1, made_at=timezone.now(), made_by=who
        )

    colourway = factories.colourway()
    silk, sock = on("Silken", wool=500, silk=500), on("Sock", wool=750, nylon=250)
    wanted = factories.base("Sock two", fibres={"wool": 800, "nylon": 200})

    borrowed = way_for([silk, sock], wanted)
    assert borrowed.way == sock
    assert borrowed.near.value.sentence.startswith(
        "No way of dyeing it on Sock two yet. Nearest is on Sock: 95 % of its fibre is the same; superwash both"
    )
    assert way_for([silk, sock], silk.base) == WayOnBase(silk.base, silk)


# --- What differs today -----------------------------------------------------------------------------------------------


def test_nothing_changed_is_nothing_said(way):
    assert whats(as_before(way)) == []


CHANGES = {
    "Mill lot": lambda: {"mill_lot": None},
    "Liquor ratio": lambda: {"liquor_ratio_tenths": 150},
    "Vessel": lambda: {"vessel": factories.VesselFactory(working_millilitres=40_000)},
    "Yarn in the pot": lambda: {"pieces": 2},
    "Dry weight of a piece": lambda: {"piece_dry_milligrams": 104_000},
}
STOCK_CHANGES = {"Red: jar", "Red: age of the stock"}


def another_bottle(changed: set[str]) -> None:
    """In place of the bottle of then one from another jar, or one that was made long ago, or both."""
    StockBottle.objects.update(finished_at=timezone.now())
    jar = (
        Jar.objects.get() if "Red: jar" not in changed else factories.jar(dye=Dye.objects.get(), label="new")
    )
    years = 2 if "Red: age of the stock" in changed else 0
    factories.bottle(jar=jar, made_at=timezone.now() - dt.timedelta(days=365 * years))


@settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(changed=st.sets(st.sampled_from(sorted({*CHANGES, *STOCK_CHANGES})), max_size=4))
def test_exactly_what_was_changed_differs_worst_first(changed, who):
    with transaction.atomic():
        lot = add_mill_lot(base=factories.base(f"Heron {uuid.uuid4()}"), number="2291")
        put_up = factories.put_up(base=lot.base, pieces=20, mill_lot=lot, who=who)
        way = learned(put_up, lot, who)
        ask = as_before(way, mill_lot=lot)
        if changed & STOCK_CHANGES:
            another_bottle(changed)
        for name in sorted(changed - STOCK_CHANGES):
            ask = replace(ask, **CHANGES[name]())

        page = redye_page(preview_redye(ask))

        assert {row.what for row in page.differences} == changed
        severities = [row.severity for row in page.differences]
        assert severities == sorted(severities, reverse=True)
        transaction.set_rollback(True)


def test_another_base_is_told_by_its_fibres(way):
    # facts/dye_chemistry.md section 3: nylon takes acid dye more readily than wool.
    bare = factories.put_up(base=factories.base("Bare", fibres={"wool": 1000}, superwash=True))

    found = redye_page(preview_redye(as_before(way, put_up=bare)))

    assert found.borrowed
    assert [row.what for row in found.differences] == ["Fibres"]
    assert "Less nylon" in found.differences[0].effect


def test_a_bottle_that_must_be_mixed_new_is_compared_by_the_jar_it_is_mixed_from(way):
    factories.jar(dye=Dye.objects.get(), label="second jar")

    assert whats(as_before(way, pieces=3)) == []
    # 200 pieces want 2 l of the 470 ml that are left, so a bottle is mixed from the jar opened last.
    assert "Red: jar" in whats(as_before(way, pieces=200))


def test_a_corrected_way_is_compared_with_the_pot_that_the_first_was_learned_from(who):
    first = learned(factories.put_up(pieces=3), None, who)
    corrected = depart(way=first, rules=drafts_of(first)[:-1], why="no heat off", who=who)

    found = reference_of(as_before(corrected))

    assert found is not None
    assert found.pot == Pot.objects.get(ways_learned__way=first)


def test_without_a_log_there_is_nothing_to_compare_with(who):
    put_up = factories.put_up()
    bare = WayOfDyeing.objects.create(
        colourway=factories.colourway(), base=put_up.base, number=1, made_at=timezone.now(), made_by=who
    )
    ask = RedyeAsk(bare, put_up, None, 3, 100_000, factories.VesselFactory(), 300)

    today = today_for(ask)

    assert today.reference is None
    assert what_differs(ask, preview_redye(ask).pots[0], today) == []


# --- Temperatures -----------------------------------------------------------------------------------------------------


def test_the_table_fills_only_the_gaps_says_so_and_heeds_the_fibre(way):
    # facts/dye_chemistry.md 3.4: superwash wool is finished at 85 to 90 °C. The log shows 82 °C and no more.
    ask = as_before(way)

    heating = heating_for(ask, preview_redye(ask).pots[0], today_for(ask))

    steps = heating.programme.steps
    assert max(step.to_centi_celsius or 0 for step in steps) == 8_200
    assert all(step.from_table for step in steps)
    assert heating.starts_at is None
    assert any("table" in note for note in heating.programme.notes)


def test_how_long_the_hob_takes_follows_each_pots_own_bath(way, first_vessel):
    Vessel.objects.filter(pk=first_vessel.pk).update(hob_watts=2_000)
    first_vessel.refresh_from_db()
    ask = as_before(way, pieces=7, vessel=first_vessel)

    page = redye_page(preview_redye(ask))

    four, three = (pot.rises[0].needed.value for pot in page.pots)
    assert [pot.planned.load.pieces for pot in page.pots] == [4, 3]
    assert four > three


@pytest.mark.parametrize(
    ("kind", "percent", "said"),
    [
        # facts/dye_chemistry.md section 9: US DOE cooktop tests as quoted, induction 84, electric 74, gas 40 %.
        ("induction", 84, "induction: 84 %"),
        ("electric", 74, "electric coil or smooth top: 74 %"),
        ("gas", 40, "gas: 40 %"),
        ("", 74, "not known, so it is reckoned as electric: 74 %"),
    ],
)
def test_a_rise_is_reckoned_with_the_vessels_own_kind_of_hob(way, first_vessel, kind, percent, said):
    Vessel.objects.filter(pk=first_vessel.pk).update(hob_watts=2_000, hob_kind=kind)
    first_vessel.refresh_from_db()
    ask = as_before(way, vessel=first_vessel)
    pot = preview_redye(ask).pots[0]

    heating = heating_for(ask, pot, today_for(ask))

    rise = heating.rises[0]
    start, end = rise.step.from_centi_celsius, rise.step.to_centi_celsius
    # kJ of water and wool over kW and share: heat balance.
    kilojoules = (
        Fraction(pot.bath_microlitres, 1_000_000) * Fraction("4.186")
        + Fraction(pot.load.dry_milligrams, 1_000_000) * Fraction("1.36")
    ) * Fraction(end - start, 100)
    assert rise.needed.value == kilojoules / (2 * Fraction(percent, 100)) / 60
    assert f"{percent} %" in rise.needed.working.substitution
    assert said in heating.hob


# --- To have ready ----------------------------------------------------------------------------------------------------


def ready_for(way: WayOfDyeing, pieces: int):
    return what_to_have_ready(preview_redye(as_before(way, pieces=pieces)).pots, in_store_today())


def test_a_stronger_bottle_that_would_do_is_named(way, who):
    # 200 pieces want 2 l of 1 %, which is 20 g of dye (10 g a litre: facts section 1), and 400 ml of 5 % hold the same.
    factories.bottle(
        jar=factories.jar(dye=Dye.objects.get(), who=who),
        strength_mg_per_litre=50_000,
        millilitres=450,
        who=who,
    )

    stock = ready_for(way, 200).stocks[0]

    assert stock.others == ((50_000, 400_000),)
    assert "Or take 400 ml in all of the 5 % stock that is there." in stock.to_do


def test_jars_that_do_not_suffice_for_the_new_bottle_say_what_they_hold(way):
    # The jar held 100 g, 5 g went into the bottle: 95 g. 1,000 pieces want 10 l of 1 %, 100 g.
    stock = ready_for(way, 1_000).stocks[0]

    assert (stock.powder_milligrams, stock.powder_suffices) == (100_000, False)
    assert "The jars hold only 95 g of it." in stock.to_do


def test_a_finished_bottle_is_not_there(way, who):
    finish_bottle(key=uuid.uuid4(), bottle=StockBottle.objects.get(), who=who, why="poured away")

    stock = ready_for(way, 10).stocks[0]

    assert (stock.left_microlitres, stock.suffices) == (0, False)


def test_the_acid_that_runs_out_is_named(way):
    # 1 kg less the 4.5 g of the trial are there; 10,000 g of yarn want 150 g, 100 kg want 1,500 g.
    few, many = ready_for(way, 100).powders[0], ready_for(way, 1_000).powders[0]

    assert (few.name, few.needed, few.left, few.suffices) == ("Citric acid", 150_000, 995_500, True)
    assert (many.needed, many.suffices) == (1_500_000, False)
    assert "Not enough by the book" in many.to_do


def test_cautions_are_those_of_the_dyes_and_acids_of_the_way(way):
    words = " ".join(caution.sentence for caution in cautions_of(preview_redye(as_before(way)).pots[0].steps))

    # facts/dye_chemistry.md section 10.
    assert "Citric acid irritates the eyes." in words
    assert "safety data sheet" in words


# --- Planned beside done ----------------------------------------------------------------------------------------------


@pytest.fixture
def loaded(way, who) -> Pot:
    pot = plan(as_before(way), who).pots.get()
    return load_planned(key=uuid.uuid4(), pot=pot, mill_lot=None, dry_milligrams=None, who=who)


def said(pot: Pot, who, *lines: tuple[int, str]) -> None:
    """Lines typed so many minutes after the first."""
    start = timezone.now() - dt.timedelta(hours=4)
    for minute, typed in lines:
        at = start + dt.timedelta(minutes=minute)
        keep_line(pot=pot, key=uuid.uuid4(), typed=typed, who=who, clock=at, now=at)


def departures(pot: Pot) -> dict[str, str]:
    rows, _ = beside_done(
        planned_steps(pot),
        LogEntry.objects.filter(pot=pot).select_related("dye").order_by("happened_at", "id"),
    )
    return {
        str(row.step.rule.dye or row.step.rule.auxiliary or row.step.rule.kind) if row.step.rule else "water": row.differs
        for row in rows
        if row.done
    }  # fmt: skip


def test_done_as_planned_departs_in_nothing(loaded, who):
    said(
        loaded, who, (0, "7.5 l water"), (1, "heat on"), (2, "30 ml red 1%"), (3, "4.5 g citric"), (4, "82 C")
    )

    assert set(departures(loaded).values()) == {""}


def test_amount_order_and_clock_are_named(loaded, who):
    said(loaded, who, (0, "7.5 l water"), (2, "4.5 g citric"), (20, "33 ml red 1%"))

    found = departures(loaded)
    assert found["Red"] == "more, out of turn, 20 min later"
    assert found["Citric acid"] == ""


def test_a_reading_on_the_way_up_is_not_the_step(loaded, who):
    said(loaded, who, (0, "60 C"), (3, "83 C"))

    rows, _ = beside_done(planned_steps(loaded), LogEntry.objects.filter(pot=loaded).order_by("id"))
    done = next(row for row in rows if row.step.rule and row.step.rule.kind == "temperature")
    assert [entry.centi_celsius for entry in done.done] == [8_300]
    assert done.differs == ""


def test_a_bath_that_got_too_hot_is_named(loaded, who):
    said(loaded, who, (0, "95 C"))

    assert departures(loaded)["temperature"] == "another temperature"


def test_bases_and_colourways_stay_as_they_were(way, who):
    before = (Base.objects.count(), Colourway.objects.count(), WayOfDyeing.objects.count())

    plan(as_before(way, pieces=10), who)

    assert (Base.objects.count(), Colourway.objects.count(), WayOfDyeing.objects.count()) == before
