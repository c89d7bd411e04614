"""What a scale and a cylinder can show: bounds, published metrology, and advice that keeps its word."""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recipes.dyeing.depth import dye_milligrams, stock_for_depth
from recipes.dyeing.rounding import (
    USUAL_STRENGTHS,
    Level,
    Measured,
    clearing_strength,
    least_powder_milligrams,
    powder_or_stock,
    round_powder,
    round_stock,
    round_to_step,
    weighed_by_difference,
)
from recipes.dyeing.working import NothingToReckonWith
from tests.recipes.dyeing.near import near

dry_weights = st.integers(min_value=20_000, max_value=5_000_000)
depths = st.decimals(min_value=Decimal("0.01"), max_value=Decimal(6), places=2)
scale_steps = st.sampled_from([1, 10, 100, 1000])
cylinder_steps = st.sampled_from([10, 100, 200, 500, 1000, 5000])
strengths = st.sampled_from(USUAL_STRENGTHS)


def test_powder_by_difference():
    # Row 33: 25.43 to 25.06 g on a 0.01 g balance, 100 g of fibre; GUM F.2.2.1 (from memory).
    found = weighed_by_difference(
        before_milligrams=25_430, after_milligrams=25_060, step_milligrams=10, dry_milligrams=100_000
    ).value

    assert found.used_milligrams == 370
    assert found.depth_percent == Decimal("0.37")
    assert found.worst_milligrams == 10
    assert near(found.uncertainty_milligrams, "4.1", "0.1")


def test_a_jar_that_got_heavier_is_refused():
    with pytest.raises(NothingToReckonWith, match="weighs more after"):
        weighed_by_difference(before_milligrams=100, after_milligrams=101, step_milligrams=10)


@pytest.mark.parametrize(("milligrams", "off_by"), [(50, 20), (500, 2)])
def test_a_hundredth_of_a_gram_on_small_weights(milligrams, off_by):
    # Metrology: on a 0.01 g balance 0.05 g is ±20 %, 0.50 g ±2 %.
    assert round_powder(milligrams, step_milligrams=10).reading_percent == off_by


def test_below_half_a_gram_a_hundredth_scale_leaves_dye_to_stock():
    assert least_powder_milligrams(10) == 500
    assert round_powder(500, step_milligrams=10).level is Level.FINE
    assert round_powder(490, step_milligrams=10).level is Level.COARSE


def test_what_rounding_does_to_the_depth_is_said():
    # 7.5 ml of 1 % on 5 g asks 1.5 %; a cylinder that shows whole millilitres gives 8 ml and 1.6 %.
    measured = round_stock(7_500, step_microlitres=1000, strength_mg_per_litre=10_000, dry_milligrams=5_000)

    assert measured.amount == 8_000
    assert measured.depth_percent == Decimal("1.6")
    assert near(measured.rounding_percent, "6.67", "0.01")
    assert measured.level is Level.ROUGH
    assert "8 ml for 7.5 ml, 6.7 % more than asked, which gives 1.6 %" in measured.sentence


def test_what_measures_well_warns_of_nothing():
    measured = round_stock(75_000, step_microlitres=1000)

    assert measured.level is Level.FINE
    assert measured.sentence == ""


def test_less_than_half_a_step_cannot_be_measured():
    measured = round_stock(400, step_microlitres=1000)

    assert measured.amount == 0
    assert measured.level is Level.CANNOT
    assert "shows nothing" in measured.sentence


def test_nothing_asked_is_nothing_and_warns_of_nothing():
    assert round_powder(0, step_milligrams=10).level is Level.FINE


def test_half_a_step_goes_up():
    assert round_to_step(Fraction(1, 2), 1) == 1
    assert round_to_step(15, 10) == 20
    assert round_to_step(14, 10) == 10


@pytest.mark.parametrize("step", [0, -10])
def test_a_step_of_nothing_is_refused(step):
    with pytest.raises(NothingToReckonWith, match="step"):
        round_to_step(100, step)


def test_the_strongest_stock_that_clears_the_warning_is_named():
    # 75 mg: 7.5 ml of 1 % is rough on a 1 ml cylinder; 0.1 % makes it 75 ml.
    advice = clearing_strength(dye_milligrams=75, step_microlitres=1000, room_microlitres=1_000_000)

    assert advice.strength_mg_per_litre == 1_000
    assert advice.microlitres == 75_000
    assert "0.1 %" in advice.sentence


def test_a_stock_must_fit_in_the_bath():
    advice = clearing_strength(dye_milligrams=20_000, step_microlitres=1000, room_microlitres=500_000)
    none = clearing_strength(dye_milligrams=20_000, step_microlitres=1000, room_microlitres=100_000)

    assert advice.strength_mg_per_litre == 50_000
    assert none.strength_mg_per_litre is None
    assert "Weigh the powder" in none.sentence


def test_where_no_usual_stock_is_better_the_finer_cylinder_is_named():
    advice = clearing_strength(
        dye_milligrams=5, step_microlitres=5000, room_microlitres=1_000_000, now_mg_per_litre=1_000
    )

    assert advice.strength_mg_per_litre is None
    assert "finer step" in advice.sentence


def test_powder_is_weighed_where_the_scale_can_and_dosed_from_stock_where_it_cannot():
    weighed = powder_or_stock(
        dye_milligrams=7_500,
        scale_step_milligrams=10,
        cylinder_step_microlitres=1000,
        room_microlitres=10_000_000,
    )
    dosed = powder_or_stock(
        dye_milligrams=50,
        scale_step_milligrams=10,
        cylinder_step_microlitres=1000,
        room_microlitres=10_000_000,
    )

    assert weighed.strength_mg_per_litre is None
    assert weighed.sentence == ""
    assert dosed.strength_mg_per_litre == 1_000
    assert dosed.sentence.startswith("Below 0.5 g this scale is more than 2 % off.")


@given(dry=dry_weights, depth=depths, step=scale_steps)
def test_powder_is_never_rounded_by_more_than_half_a_step(dry, depth, step):
    asked = dye_milligrams(dry_milligrams=dry, depth_percent=depth).value
    measured = round_powder(asked, step_milligrams=step, dry_milligrams=dry)

    assert measured.amount % step == 0
    assert abs(measured.amount - asked) <= Fraction(step, 2)
    assert abs(measured.rounding_percent) <= Fraction(step, 2) / asked * 100
    assert abs(measured.depth_percent - Fraction(depth)) <= Fraction(step * 50, dry)
    assert (
        measured.level is not Level.FINE
        or abs(measured.depth_percent - Fraction(depth)) <= Fraction(depth) / 50
    )


@given(dry=dry_weights, depth=depths, step=cylinder_steps, strength=strengths)
def test_stock_is_never_rounded_by_more_than_half_a_step(dry, depth, step, strength):
    asked = stock_for_depth(dry_milligrams=dry, depth_percent=depth, strength_mg_per_litre=strength).value
    measured = round_stock(asked, step_microlitres=step, strength_mg_per_litre=strength, dry_milligrams=dry)

    assert measured.amount % step == 0
    assert abs(measured.amount - asked) <= Fraction(step, 2)
    assert (measured.level is Level.CANNOT) == (measured.amount == 0)
    assert (measured.sentence == "") == (measured.level is Level.FINE)


SAID = re.compile(
    r"(?:nothing lost by rounding|(?:under )?([\d.,]+) % (?:more|less) than asked), reading within ([\d.,]+) %$"
)


def said_at_worst(measured: Measured) -> Fraction:
    """The error that stands on the screen: the rounding and the reading, as they are printed in the working."""
    off, doubt = SAID.search(measured.working.result).groups()
    return Fraction((off or "0").replace(",", "")) + Fraction(doubt.replace(",", ""))


# The reading of a scale or a cylinder that is really so much of its worst off, downwards or upwards.
readings = st.fractions(min_value=-1, max_value=1)


@given(dry=dry_weights, depth=depths, step=scale_steps, reading=readings)
def test_the_depth_that_results_from_powder_is_within_the_error_that_is_stated(dry, depth, step, reading):
    asked = dye_milligrams(dry_milligrams=dry, depth_percent=depth).value
    measured = round_powder(asked, step_milligrams=step, dry_milligrams=dry)

    # A jar is weighed before and after, so what goes in is up to one step off what is read.
    went_in = measured.amount + reading * step
    depth_got = went_in / Fraction(dry) * 100

    off = abs(depth_got - Fraction(depth)) / Fraction(depth) * 100
    assert off <= measured.worst_percent <= said_at_worst(measured)
    assert not measured.sentence or sentence_bounds(measured, off)


@given(dry=dry_weights, depth=depths, step=cylinder_steps, strength=strengths, reading=readings)
def test_the_depth_that_results_from_stock_is_within_the_error_that_is_stated(
    dry, depth, step, strength, reading
):
    asked = stock_for_depth(dry_milligrams=dry, depth_percent=depth, strength_mg_per_litre=strength).value
    measured = round_stock(asked, step_microlitres=step, strength_mg_per_litre=strength, dry_milligrams=dry)

    # A level is read once, up to half a step off.
    went_in = (measured.amount + reading * Fraction(step, 2)) * strength / 1_000_000
    depth_got = went_in / Fraction(dry) * 100

    off = abs(depth_got - Fraction(depth)) / Fraction(depth) * 100
    assert off <= measured.worst_percent <= said_at_worst(measured)
    assert not measured.sentence or sentence_bounds(measured, off)


def sentence_bounds(measured: Measured, off: Fraction) -> bool:
    """Whether the warning states an error that the real one is within; one that says nothing can be measured states none."""
    if measured.level is Level.CANNOT:
        return "shows nothing" in measured.sentence
    stated = re.findall(r"([\d.,]+) %(?= more than| less than| only| off besides)", measured.sentence)
    return off <= sum(Fraction(each.replace(",", "")) for each in stated)


def test_an_error_is_stated_upwards():
    # 6.64 % must not be told as 6.6 %: 7.53 ml on whole millilitres are 8 ml, 6.24 %, and half a millilitre is 6.64 %.
    measured = round_stock(7_530, step_microlitres=1000)

    assert measured.sentence.endswith("6.3 % more than asked; a reading may be 6.7 % off besides.")


@given(
    dye=st.integers(min_value=1, max_value=100_000),
    step=cylinder_steps,
    room=st.integers(min_value=1_000, max_value=50_000_000),
)
def test_advice_keeps_its_word(dye, step, room):
    advice = clearing_strength(dye_milligrams=dye, step_microlitres=step, room_microlitres=room)

    if advice.strength_mg_per_litre is None:
        return
    assert advice.microlitres <= room
    measured = round_stock(advice.microlitres, step_microlitres=step)
    assert measured.level is advice.level
    if advice.level is Level.FINE:
        stronger = [each for each in USUAL_STRENGTHS if each > advice.strength_mg_per_litre]
        assert all(
            round_stock(Fraction(dye * 1_000_000, each), step_microlitres=step).level is not Level.FINE
            for each in stronger
        )


@given(
    dye=st.integers(1, 100_000),
    step=cylinder_steps,
    room=st.integers(0, 2_000_000),
    strongest=st.integers(1, 60_000),
)
def test_no_stock_is_advised_beyond_what_stays_dissolved(dye, step, room, strongest):
    advised = [
        clearing_strength(
            dye_milligrams=dye,
            step_microlitres=step,
            room_microlitres=room,
            strongest_mg_per_litre=strongest,
        ),
        powder_or_stock(
            dye_milligrams=dye,
            scale_step_milligrams=100,
            cylinder_step_microlitres=step,
            room_microlitres=room,
            strongest_mg_per_litre=strongest,
        ),
    ]

    for advice in advised:
        assert advice.strength_mg_per_litre is None or advice.strength_mg_per_litre <= strongest
        assert "mix a stronger stock" not in advice.sentence
