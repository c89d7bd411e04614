"""Ways of dyeing: departures in words, corrections that say why, and amounts in other pots."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recipes.models import Auxiliary, Dye, WayOfDyeing
from recipes.way_words import departures, rule_words
from recipes.ways import (
    NotAWay,
    NothingDeparts,
    PotSize,
    RuleDraft,
    WayFacts,
    WhyMissing,
    amount_in,
    depart,
    drafts_of,
    newest_way,
)
from tests import factories

RED = Dye(pk=1, name="Red")
BLUE = Dye(pk=2, name="Blue")
VINEGAR = Auxiliary(pk=1, name="Vinegar", role=Auxiliary.Role.ACID)
FACTS = WayFacts(dry_milligrams=500_000, pieces=5)


def percent(dye: Dye, hundredths: int, minute: int | None = None) -> RuleDraft:
    """A share of dry fibre in hundredths of a percent: 1 % is 10 g a kilogram, 10,000,000 micrograms."""
    return RuleDraft(
        "dye", dye=dye, basis="fibre", unit="mg", thousandths=hundredths * 100_000, minute=minute
    )


def said(old: list[RuleDraft], new: list[RuleDraft], facts: WayFacts = FACTS) -> list[str]:
    return departures((old, FACTS), (new, facts))


def test_the_same_departs_in_nothing():
    rules = [percent(RED, 150, 5), RuleDraft("temperature", centi_celsius=8500, minute=40)]

    assert said(rules, [replace(rule) for rule in rules]) == []


def test_an_amount_is_said_with_both():
    assert said([percent(RED, 150)], [percent(RED, 120)]) == [
        "Red: 1.2 % of dry fibre instead of 1.5 % of dry fibre."
    ]


def test_two_amounts_that_look_alike_when_rounded_are_told_apart():
    old = percent(RED, 150)
    new = replace(old, thousandths=(old.thousandths or 0) + 1)

    assert said([old], [new]) == ["Red: 15.000001 g per kg of dry fibre instead of 15 g per kg of dry fibre."]


def test_another_basis_is_said_with_both():
    old = RuleDraft("auxiliary", auxiliary=VINEGAR, basis="fibre", unit="ul", thousandths=60_000_000)
    new = RuleDraft("auxiliary", auxiliary=VINEGAR, basis="bath", unit="ul", thousandths=2_500_000)

    assert said([old], [new]) == ["Vinegar: 2.5 ml per litre of bath instead of 6 ml on 100 g of dry fibre."]


def test_what_is_left_out_and_what_is_new_is_named():
    old = [percent(RED, 150), RuleDraft("note", text="turn the skeins")]
    new = [percent(RED, 150), percent(BLUE, 5, 10)]

    assert said(old, new) == [
        "Left out: turn the skeins.",
        "New: Blue: 0.05 % of dry fibre, at minute 10.",
    ]


def test_leaving_out_the_first_of_three_alike_names_only_that_one():
    three = [percent(RED, 10, 5), percent(RED, 20, 10), percent(RED, 30, 15)]

    assert said(three, three[1:]) == ["Left out: Red: 0.1 % of dry fibre."]


def test_another_order_another_minute_and_another_reading_are_said():
    acid = RuleDraft(
        "auxiliary", auxiliary=VINEGAR, basis="fibre", unit="ul", thousandths=60_000_000, minute=20
    )
    hot = RuleDraft("temperature", centi_celsius=8200, minute=40)
    old = [percent(RED, 150, 5), acid, hot]
    new = [replace(acid, minute=2), percent(RED, 150, 5), replace(hot, centi_celsius=8500)]

    assert said(old, new) == [
        "Vinegar at minute 2 instead of minute 20.",
        "Temperature: “85 °C” instead of “82 °C”.",
        "In another order: Vinegar, then Red.",
    ]


def test_what_the_pot_was_like_is_said_too():
    assert said([percent(RED, 1)], [percent(RED, 1)], replace(FACTS, lay="Loose", presoak_minutes=30)) == [
        "Pre-soak: 30 min instead of not known.",
        "Lay: “Loose” instead of not known.",
    ]


def test_a_reading_is_the_rule_and_the_amount_a_guide():
    rule = RuleDraft(
        "auxiliary", auxiliary=VINEGAR, basis="reading", unit="ul", thousandths=60_000_000, ph_hundredths=450
    )

    assert rule_words(rule) == "Vinegar: until pH 4.5, about 6 ml on 100 g of dry fibre"
    assert amount_in(rule, PotSize(dry_milligrams=250_000)).value == 15_000


@given(
    rate=st.integers(1, 10**9),
    dry=st.integers(1_000, 5_000_000),
    times=st.integers(2, 40),
)
def test_amounts_by_the_fibre_grow_with_the_fibre_and_by_the_pot_do_not(rate, dry, times):
    fibre = RuleDraft("dye", dye=RED, basis="fibre", unit="mg", thousandths=rate)
    pot = replace(fibre, basis="pot")
    small, large = PotSize(dry_milligrams=dry), PotSize(dry_milligrams=dry * times)

    assert amount_in(fibre, large).value == times * amount_in(fibre, small).value
    assert amount_in(pot, large).value == amount_in(pot, small).value == Fraction(rate, 1000)


@pytest.mark.django_db
class TestDeparting:
    def test_it_wants_a_reason_a_change_and_a_step(self):
        who = factories.OwnerFactory()
        way = factories.way(who=who)
        drafts = drafts_of(way)

        with pytest.raises(WhyMissing):
            depart(way=way, rules=drafts[1:], why="  ", who=who)
        with pytest.raises(NothingDeparts):
            depart(way=way, rules=drafts, why="no reason", who=who)
        with pytest.raises(NotAWay):
            depart(way=way, rules=[], why="nothing left", who=who)

        assert WayOfDyeing.objects.count() == 1

    def test_sent_twice_it_is_kept_once_and_is_the_newest(self):
        who = factories.OwnerFactory()
        way = factories.way(who=who)
        drafts = drafts_of(way)[:-1]

        first = depart(way=way, rules=drafts, why="no need", who=who)
        again = depart(way=way, rules=drafts, why="no need", who=who)

        assert first == again == newest_way(colourway=way.colourway, base=way.base)
        assert (first.number, first.departs_from) == (2, way)
