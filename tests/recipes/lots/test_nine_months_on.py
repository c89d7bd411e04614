"""A redye nine months on shows what changed meanwhile and what it does, and nothing else."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
import time_machine
from django.urls import reverse
from django.utils import timezone

from recipes import dyestuff, yarn
from recipes.lots import finishing, learning, log, pots, redye
from recipes.lots.models import LogEntry
from recipes.lots.redye import RedyeAsk, preview_redye
from recipes.lots.today import today_for, what_differs
from recipes.models import Dye
from tests import factories

pytestmark = pytest.mark.django_db

JANUARY = dt.datetime(2026, 1, 15, 9, 0, tzinfo=dt.UTC)
OCTOBER = dt.datetime(2026, 10, 15, 9, 0, tzinfo=dt.UTC)
LINES = (
    "7.5 l water",
    "heat on",
    "30 ml red 1%",
    "15 ml teal 1%",
    "4.5 g citric",
    "82 C",
    "heat off",
)


class House:
    """A studio in which one colourway was dyed in January, and everything that it was dyed from."""

    def __init__(self) -> None:
        self.owner = factories.OwnerFactory()
        self.studio = factories.studio(
            water_hardness_mg_per_litre=90, water_alkalinity_mg_per_litre=60, water_ph_hundredths=740
        )
        factories.ScaleFactory(step=10)
        factories.CylinderFactory(step=500)
        self.vessel = factories.VesselFactory()
        self.base = factories.base("Heron Sock")
        self.mill_lot = self.receive("M1", pieces=20)
        self.put_up = self.base.put_ups.get()
        self.jars = {name: self.jar(name, f"{name} L1") for name in ("Red", "Teal")}
        self.bottles = {name: self.bottle(name) for name in self.jars}
        factories.auxiliary("Citric acid", form="powder", amount=1_000_000, who=self.owner)
        pot = self.load()
        for line in LINES:
            log.keep_line(pot=pot, key=uuid.uuid4(), typed=line, who=self.owner)
        pot.refresh_from_db()
        self.pot, self.lot = pot, factories.lot_out(pot=pot, who=self.owner)
        self.way = learning.learn_way(pot=pot, who=self.owner)
        finishing.choose_reference(dye_lot=self.lot, base=self.base, who=self.owner)

    def receive(self, number: str, *, pieces: int):
        lot = yarn.add_mill_lot(base=self.base, number=number, arrived_on=timezone.localdate())
        put_up = self.base.put_ups.first() or yarn.add_put_up(
            base=self.base, nominal_milligrams=100_000, metres=400
        )
        yarn.receive_yarn(key=uuid.uuid4(), put_up=put_up, mill_lot=lot, pieces=pieces, who=self.owner)
        return lot

    def jar(self, name: str, label: str):
        dye = Dye.objects.filter(name=name).first() or factories.dye(name, dye_class="levelling")
        return factories.jar(dye=dye, label=label, who=self.owner)

    def bottle(self, name: str):
        return factories.bottle(jar=self.jars[name], who=self.owner)

    def load(self):
        return pots.start_trial(
            key=uuid.uuid4(),
            put_up=self.put_up,
            mill_lot=self.mill_lot,
            pieces=3,
            dry_milligrams=None,
            vessel=self.vessel,
            colourway=None,
            who=self.owner,
        )

    def open_new(self, name: str, label: str) -> None:
        """A new jar and a bottle from it; the old ones are put away."""
        dyestuff.finish_bottle(key=uuid.uuid4(), bottle=self.bottles[name], who=self.owner, why="used up")
        dyestuff.finish_jar(key=uuid.uuid4(), jar=self.jars[name], who=self.owner, why="empty")
        self.jars[name] = self.jar(name, label)
        self.bottles[name] = self.bottle(name)

    def ask(self, **changed) -> RedyeAsk:
        """Three pieces again, in the same vessel at the same liquor ratio."""
        facts = {
            "way": self.way,
            "put_up": self.put_up,
            "mill_lot": self.mill_lot,
            "pieces": 3,
            "piece_dry_milligrams": 100_000,
            "vessel": self.vessel,
            # 7.5 l of water and 45 ml of stock on 300 g.
            "liquor_ratio_tenths": 252,
        }
        return RedyeAsk(**{**facts, **changed})

    def differences(self, **changed) -> dict[str, tuple[str, str, str]]:
        ask = self.ask(**changed)
        today = today_for(ask, studio=self.studio)
        found = what_differs(ask, preview_redye(ask).pots[0], today)
        return {each.what: (each.then, each.now, each.effect) for each in found}


@pytest.fixture
def house():
    with time_machine.travel(JANUARY, tick=False):
        return House()


def test_nothing_changed_shows_nothing_the_next_day(house):
    with time_machine.travel(JANUARY + dt.timedelta(days=1), tick=False):
        assert house.differences() == {}


def test_two_jars_and_a_mill_lot_are_shown_with_what_they_do_and_nothing_else(house):
    with time_machine.travel(OCTOBER, tick=False):
        house.open_new("Red", "Red L2")
        house.open_new("Teal", "Teal L2")
        lot = house.receive("M2", pieces=20)

        shown = house.differences(mill_lot=lot)

    jar = "Makers cut dye to a standard strength, and another jar can be stronger or weaker. Dye a sample first."
    assert shown == {
        "Mill lot": (
            "M1",
            "M2",
            "Another mill lot can take dye differently and differ in its own white. Dye a sample first.",
        ),
        "Red: jar": ("Red L1", "Red L2", jar),
        "Teal: jar": ("Teal L1", "Teal L2", jar),
    }


def test_the_pages_and_the_pots_record_say_the_same(house, client):
    with time_machine.travel(OCTOBER, tick=False):
        house.open_new("Red", "Red L2")
        house.open_new("Teal", "Teal L2")
        lot = house.receive("M2", pieces=20)
        client.force_login(house.owner)
        asked = {
            "pieces": "3",
            "put_up": house.put_up.pk,
            "mill_lot": lot.pk,
            "vessel": house.vessel.pk,
            "ratio": "25.2",
            "dry_weight": "100",
        }
        before = client.get(reverse("redye", args=[house.way.colourway.code]), asked).content.decode()
        plan = redye.plan_redye(key=uuid.uuid4(), ask=house.ask(mill_lot=lot), who=house.owner)
        planned = client.get(reverse("redye-plan", args=[plan.pk])).content.decode()
        pot = plan.pots.get()
        client.post(reverse("pot-load", args=[pot.code]), {"mill_lot": lot.pk, "dry_weight": "300"})
        pot.refresh_from_db()
        log.keep_line(pot=pot, key=uuid.uuid4(), typed="30 ml red", who=house.owner)
        record = client.get(reverse("pot", args=[pot.code])).content.decode()
        then = client.get(reverse("pot", args=[house.pot.code])).content.decode()

    for page in (before, planned):
        for word in ("Red L1", "Red L2", "Teal L1", "Teal L2", "M1", "M2", "Dye a sample first."):
            assert word in page
    assert "bottle made 15 October 2026 from Red L2" in record
    assert "bottle made 15 January 2026 from Red L1" in then


def test_a_bottle_kept_since_then_is_shown_by_its_age(house):
    with time_machine.travel(OCTOBER, tick=False):
        shown = house.differences()

    # 15 January to 15 October is 273 days; acid stock keeps 3 to 6 months (dye maker's page on quantities).
    assert shown.keys() == {"Red: age of the stock", "Teal: age of the stock"}
    then, now, effect = shown["Red: age of the stock"]
    assert (then, now) == ("0 days", "273 days")
    assert "3 to 6 months" in effect


def test_the_fridge_counts_for_a_reactive_stock(house):
    Dye.objects.update(dye_class="cold_reactive")
    later = JANUARY + dt.timedelta(days=20)
    with time_machine.travel(later, tick=False):
        on_the_bench = house.differences()
        for bottle in house.bottles.values():
            bottle.in_fridge = True
            bottle.save()
        in_the_fridge = house.differences()

    # Check value 55 of the collected facts: day 5 at room temperature, day 35 in the fridge.
    assert "Red: age of the stock" in on_the_bench
    assert in_the_fridge == {}


def test_the_strength_of_type_is_that_of_the_day(house):
    with time_machine.travel(JANUARY + dt.timedelta(days=1), tick=False):
        Dye.objects.filter(name="Red").update(strength_of_type_percent=200)
        house.way.refresh_from_db()
        shown = house.differences()

    # DOS at a new strength is DOS × old ÷ new (check value 53).
    assert shown["Red: strength of type"][:2] == ("100 %", "200 %")
    assert "Divide the dose by 2" in shown["Red: strength of type"][2]
    assert set(LogEntry.objects.filter(kind="stock").values_list("strength_of_type_percent", flat=True)) == {
        100
    }


def test_other_water_is_shown_where_it_was_known_then_and_now(house):
    with time_machine.travel(OCTOBER, tick=False):
        for name in ("Red", "Teal"):
            house.open_new(name, f"{name} L1b")
        house.studio.water_alkalinity_mg_per_litre = 160
        house.studio.save()
        shown = house.differences()

    assert shown["Alkalinity of the water"][:2] == ("60 mg/L", "160 mg/L")
    assert "Hardness of the water" not in shown


def test_a_pot_that_was_fed_by_a_jug_is_compared_by_what_went_into_the_jug():
    with time_machine.travel(JANUARY, tick=False):
        house = House()
        jug = factories.mix("evening", poured=dict.fromkeys(house.bottles.values(), 100), who=house.owner)
        pot = house.load()
        for line in ("6.5 l water", f"300 ml of jug {jug.code}", "4.5 g citric", "82 C"):
            log.keep_line(pot=pot, key=uuid.uuid4(), typed=line, who=house.owner)
        pot.refresh_from_db()
        lot = factories.lot_out(pot=pot, who=house.owner)
        house.way = learning.learn_way(pot=pot, who=house.owner)
        finishing.choose_reference(dye_lot=lot, base=house.base, who=house.owner)
        alike = house.differences(liquor_ratio_tenths=227)
    with time_machine.travel(OCTOBER, tick=False):
        house.open_new("Red", "Red L2")
        house.open_new("Teal", "Teal L1b")
        shown = house.differences(liquor_ratio_tenths=227)

    assert alike == {}
    assert shown.keys() == {"Red: jar", "Teal: jar"}
    assert shown["Red: jar"][:2] == ("Red L1", "Red L2")
