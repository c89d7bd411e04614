"""What is in a pot: sums of its log that are exact, and struck entries that count for nothing."""

from __future__ import annotations

import datetime as dt
import uuid
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from dyehouse.ledger.models import Line
from recipes.lots.contents import what_is_in
from recipes.lots.log import add_entry, keep_line, put_back, strike
from recipes.lots.models import LogEntry
from tests import factories

NOON = dt.datetime(2026, 3, 4, 12, 0, tzinfo=dt.UTC)


@pytest.fixture
def who():
    return factories.OwnerFactory()


def keep(pot, typed, who, minute=0):
    return keep_line(pot=pot, key=uuid.uuid4(), typed=typed, who=who, now=NOON + dt.timedelta(minutes=minute))


@pytest.mark.django_db
def test_powder_and_stock_of_a_dye_are_one_depth_with_its_working(who):
    red = factories.dye("Red")
    jar = factories.jar(dye=red, who=who)
    factories.bottle(jar=jar, who=who)
    pot = factories.loaded_pot(who=who)

    keep(pot, "25 ml red", who)
    keep(pot, "0.25 g red", who)

    (dye,) = what_is_in(pot).dyes
    # 25 ml of 1 % hold 0.25 g; with 0.25 g of powder 0.5 g on 500 g is 0.1 %: definition of the depth of shade.
    assert dye.milligrams == 500
    assert dye.depth_percent == Decimal("0.1")
    assert dye.stock_microlitres == 25_000
    assert [step.result for step in dye.working.steps] == ["0.25 g", "0.5 g"]


@pytest.mark.django_db
def test_the_bath_is_the_water_and_what_was_poured_into_it(who):
    factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=who), who=who)
    pot = factories.loaded_pot(who=who)
    keep(pot, "200 ml red", who)
    assert what_is_in(pot).bath_microlitres is None

    keep(pot, "9.8 l water", who)

    contents = what_is_in(pot)
    assert contents.bath_microlitres == 10_000_000
    # 10 litres on 0.5 kg: definition of the liquor ratio.
    assert contents.liquor_ratio.value == 20


@pytest.mark.django_db
def test_acid_is_reckoned_by_its_own_strength(who):
    factories.auxiliary(who=who)
    pot = factories.loaded_pot(who=who)

    keep(pot, "20 ml vinegar", who)
    keep(pot, "30 ml vinegar", who)

    (acid,) = what_is_in(pot).acids
    assert acid.microlitres == 50_000
    # 50 ml of 5 % hold 2.5 g of acid, 0.5 % of 500 g: definition.
    assert acid.share.value == Decimal("0.5")


@pytest.mark.django_db
def test_the_last_readings_are_those_that_happened_last_not_those_typed_last(who):
    pot = factories.loaded_pot(who=who)
    keep(pot, "82 C", who, minute=30)
    keep(pot, "11:50 60 C", who, minute=40)
    keep(pot, "heat on low", who, minute=10)
    keep(pot, "pH 4.5", who, minute=20)

    contents = what_is_in(pot)

    assert contents.last_temperature.value == 8_200
    assert contents.last_ph.value == 450
    assert (contents.heat_last.on, contents.heat_last.level) == (True, "low")
    assert contents.since == NOON + dt.timedelta(minutes=30)


@pytest.mark.django_db
def test_about_is_carried_to_the_sum(who):
    factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=who), who=who)
    pot = factories.loaded_pot(who=who)

    keep(pot, "about 5 ml red", who)

    assert what_is_in(pot).dyes[0].about is True


additions = st.lists(
    st.tuples(
        st.sampled_from(["weak", "strong", "powder"]),
        st.integers(min_value=1, max_value=2_000_000),
        st.sampled_from(["keep", "strike", "strike and put back", "send twice"]),
    ),
    max_size=8,
)


class EveryLog(TestCase):
    """Whatever is put in, struck and put back."""

    @settings(max_examples=20, deadline=None)
    @given(additions)
    def test_the_sum_is_that_of_the_parts_that_stand_and_the_ledger_used_the_same(self, made):
        who = factories.OwnerFactory()
        jar = factories.jar(dye=factories.dye(), who=who)
        bottles = {
            "weak": factories.bottle(jar=jar, strength_mg_per_litre=1_000, who=who),
            "strong": factories.bottle(jar=jar, strength_mg_per_litre=20_000, who=who),
        }
        pot = factories.loaded_pot(who=who)
        before = {lot: self.used(lot) for lot in (jar.lot, *(bottle.lot for bottle in bottles.values()))}
        dye, taken = Fraction(0), dict.fromkeys(before, 0)

        for what, amount, then in made:
            key = uuid.uuid4()
            fields = (
                {"kind": "powder", "jar": jar, "milligrams": amount}
                if what == "powder"
                else {"kind": "stock", "bottle": bottles[what], "microlitres": amount}
            )
            for _ in range(2 if then == "send twice" else 1):
                entry = add_entry(pot=pot, key=key, who=who, happened_at=NOON, **fields)
            if then.startswith("strike"):
                strike(entry=entry, key=uuid.uuid4(), who=who)
            if then.endswith("put back"):
                put_back(entry=entry, key=uuid.uuid4(), who=who)
            if then != "strike":
                lot = jar.lot if what == "powder" else bottles[what].lot
                taken[lot] += amount
                strength = None if what == "powder" else bottles[what].strength_mg_per_litre
                dye += amount if strength is None else Fraction(amount * strength, 1_000_000)

        contents = what_is_in(pot)
        assert sum((each.milligrams for each in contents.dyes), Fraction(0)) == dye
        assert {lot: self.used(lot) - before[lot] for lot in before} == taken
        assert LogEntry.objects.filter(pot=pot).exclude(kind="strike").count() >= len(made)

    def used(self, lot) -> int:
        out = sum(line.quantity for line in Line.objects.filter(lot=lot, to_place__code="consumed"))
        back = sum(line.quantity for line in Line.objects.filter(lot=lot, from_place__code="consumed"))
        return out - back
