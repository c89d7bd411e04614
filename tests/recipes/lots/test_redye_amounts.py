"""What one planned pot takes, rule by rule: by its basis, to what the bench can show, and what cannot be reckoned."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recipes.dyeing.loads import plan_loads
from recipes.dyeing.rounding import Level
from recipes.lots.redye_amounts import Bench, StepPlan, plan_steps
from recipes.lots.redye_queries import step_lines
from recipes.models import Auxiliary, Dye, Rule
from recipes.ways import PotSize
from tests.recipes.dyeing.test_rounding import said_at_worst

BENCH = Bench(scales=((10, None),), cylinders=((500, None),))
# Shows every milligram and microlitre, so that nothing is hidden by rounding.
FINEST = Bench(scales=((1, None),), cylinders=((1, None),))


def dye(per_kilogram: int | None, *, unit: str = "mg", strength: int | None = None, **facts: Any) -> Rule:
    """A share of dry fibre unless said otherwise; `per_kilogram` is thousandths."""
    return Rule(
        kind="dye", dye=Dye(name="Red"), basis=facts.pop("basis", "fibre"), unit=unit, thousandths=per_kilogram,
        strength_mg_per_litre=strength, **facts,
    )  # fmt: skip


def auxiliary(thousandths: int | None, *, basis: str = "fibre", unit: str = "mg", **facts: Any) -> Rule:
    return Rule(
        kind="auxiliary", auxiliary=Auxiliary(name="Citric acid"), basis=basis, unit=unit,
        thousandths=thousandths, **facts,
    )  # fmt: skip


def water(minute: int | None = None) -> Rule:
    return Rule(kind="water", basis="fibre", unit="ul", thousandths=25_000_000_000, minute=minute)


def planned(*rules: Rule, size: PotSize, bench: Bench = BENCH) -> list[StepPlan]:
    """The steps without the water that makes up the bath."""
    return [step for step in plan_steps(rules, size=size, bench=bench) if step.rule is not None]


def poured(*rules: Rule, size: PotSize, bench: Bench = BENCH) -> StepPlan:
    return next(step for step in plan_steps(rules, size=size, bench=bench) if step.rule is None)


def test_a_medium_shade_has_its_auxiliaries_by_the_fibre():
    # facts/dye_chemistry.md CHECK VALUES 22: 400 g take 6 g of citric, 20 g of Glauber's, 6 g of leveller (1.5, 5, 1.5 %).
    steps = planned(
        auxiliary(15_000_000), auxiliary(50_000_000), auxiliary(15_000_000), size=PotSize(400_000, 10**7, 4)
    )

    assert [step.milligrams for step in steps] == [6_000, 20_000, 6_000]


def test_salt_that_goes_by_the_bath_goes_by_the_bath():
    # facts/dye_chemistry.md CHECK VALUES 26: 9 oz in a US gallon, in 20 litres, are 1,348 g.
    ounces_a_gallon = Fraction("28.349523125") * 9 / Fraction("3.785411784")
    salt = auxiliary(round(ounces_a_gallon * 1_000_000), basis="bath")

    (step,) = planned(salt, size=PotSize(1_000_000, 20_000_000, 10), bench=FINEST)

    assert abs(step.milligrams - 1_348_000) <= 1_000


def test_each_basis_follows_its_own_measure_of_the_pot():
    # By hand: 2 ml a piece, 3 ml a pot, 0.5 ml a litre, 4 ml on 100 g.
    rules = [
        auxiliary(2_000_000, basis="piece", unit="ul"),
        auxiliary(3_000_000, basis="pot", unit="ul"),
        auxiliary(500_000, basis="bath", unit="ul"),
        auxiliary(40_000_000, unit="ul"),
    ]

    small = planned(*rules, size=PotSize(100_000, 3_000_000, 1))
    large = planned(*rules, size=PotSize(500_000, 10_000_000, 5))

    assert [step.microlitres for step in small] == [2_000, 3_000, 1_500, 4_000]
    assert [step.microlitres for step in large] == [10_000, 3_000, 5_000, 20_000]


@given(
    pieces=st.integers(1, 60),
    piece=st.integers(5_000, 300_000),
    ratio_tenths=st.integers(100, 400),
    litres=st.integers(10, 60),
    share=st.integers(10_000, 60_000_000),
)
@settings(max_examples=150, deadline=None)
def test_each_pot_has_its_own_weight_and_all_pots_have_all_pieces(pieces, piece, ratio_tenths, litres, share):
    ratio = Fraction(ratio_tenths, 10)
    if piece * ratio > litres * 1_000_000:
        return

    counts = plan_loads(pieces, piece, litres * 1000, ratio)

    assert sum(counts) == pieces
    assert max(counts) - min(counts) <= 1
    for count in counts:
        dry = count * piece
        assert dry * ratio <= litres * 1_000_000
        (step,) = planned(dye(share), size=PotSize(dry, dry * ratio, count), bench=FINEST)
        # Micrograms per kilogram times milligrams is 10^9 times the milligrams that go in.
        assert step.measured.exact == Fraction(share * dry, 10**9)
        assert abs(step.milligrams - step.measured.exact) <= Fraction(1, 2)


@given(
    dry=st.integers(50_000, 2_000_000),
    shares=st.lists(st.integers(100_000, 40_000_000), min_size=1, max_size=5),
    strength=st.sampled_from([10_000, 20_000, 50_000]),
)
@settings(max_examples=100, deadline=None)
def test_water_and_all_solutions_together_are_the_bath(dry, shares, strength):
    bath = dry * 30

    steps = plan_steps(
        [dye(share, strength=strength) for share in shares], size=PotSize(dry, bath, 1), bench=BENCH
    )

    solutions = sum(step.microlitres for step in steps if step.rule is not None)
    water_step = next(step for step in steps if step.rule is None)
    if solutions <= bath:
        assert abs(water_step.microlitres + solutions - bath) <= 50_000
        assert not water_step.warning
    else:
        assert water_step.microlitres == 0
        assert "Dose from stronger stocks" in water_step.warning


def test_a_way_without_water_is_filled_up_first():
    steps = plan_steps(
        [dye(10_000_000), auxiliary(15_000_000)], size=PotSize(100_000, 3_000_000, 1), bench=BENCH
    )

    assert [step.rule is None for step in steps] == [True, False, False]
    assert steps[0].microlitres == 3_000_000
    assert [step.number for step in steps] == [1, 2, 3]


def test_water_in_two_steps_is_poured_once_where_the_first_was():
    rules = [Rule(kind="heat", heat_on=True, minute=0), water(5), dye(10_000_000), water(20)]

    steps = plan_steps(rules, size=PotSize(100_000, 3_000_000, 1), bench=BENCH)

    assert [step.rule.kind if step.rule else "water" for step in steps] == ["heat", "water", "dye"]
    assert steps[1].minute == 5


def test_acid_to_a_reading_shows_the_reading_as_the_rule_and_the_amount_as_a_guide():
    aimed = auxiliary(15_000_000, basis="reading", ph_hundredths=450)

    (line,) = step_lines(planned(aimed, size=PotSize(400_000, 10_000_000, 4)))

    assert line.amount == "6 g"
    assert line.how == "a guide: add until the reading is reached"
    assert line.by_rule == "until pH 4.5, about 1.5 % of dry fibre"


def test_acid_to_a_reading_of_which_nobody_knows_how_much_has_no_amount():
    (line,) = step_lines(
        planned(auxiliary(None, basis="reading", ph_hundredths=450), size=PotSize(400_000, 10_000_000, 4))
    )

    assert (line.amount, line.how, line.by_rule, line.working) == (
        "", "add until the reading is reached", "until pH 4.5", None,
    )  # fmt: skip


def test_a_spoon_stays_a_spoon_and_asks_to_be_weighed():
    spoon = auxiliary(None, basis="pot", as_typed="2 heaped spoons")

    for size in (PotSize(100_000, 3_000_000, 1), PotSize(500_000, 15_000_000, 5)):
        (step,) = planned(spoon, size=size)
        (line,) = step_lines([step])
        assert (step.milligrams, step.microlitres) == (None, None)
        assert (line.amount, line.by_rule) == ("2 heaped spoons", "2 heaped spoons per pot")
        assert line.how == "as it was written; weigh it this time"


def test_a_trace_is_warned_of_with_the_stock_that_measures_it():
    # By hand: 0.004 % of 300 g is 12 mg, 1.2 ml of 1 %, read to half a step of 0.5 ml: 20.8 % off. Of 0.1 % it is 12 ml,
    # where half a step is 2.1 %; 0.5 % would be 2.4 ml and 10.4 %.
    (step,) = planned(dye(40_000, strength=10_000), size=PotSize(300_000, 9_000_000, 3))

    assert step.microlitres == 1_000
    assert step.measured.level is Level.ROUGH
    assert "16.7 % less than asked" in step.warning
    assert "A stock of 0.1 % measures this better" in step.advice
    assert "12 ml" in step.advice


def test_powder_too_little_for_the_scale_is_sent_to_a_stock():
    # facts/dye_chemistry.md section 7: a difference of two weighings is one step off at worst, 0.01 g of 0.5 g is 2 %.
    (step,) = planned(dye(1_000_000), size=PotSize(100_000, 3_000_000, 1))

    assert step.milligrams == 100
    assert "Below 0.5 g this scale is more than 2 % off" in step.advice
    assert "A stock of" in step.advice


def test_what_the_cylinder_cannot_show_at_all_says_so():
    (step,) = planned(dye(4_000, strength=50_000), size=PotSize(100_000, 3_000_000, 1))

    assert (step.microlitres, step.measured.level) == (0, Level.CANNOT)
    assert "shows nothing" in step.warning


def test_the_advised_stock_fits_beside_the_other_solutions():
    # 990 ml of the 1,000 ml are taken, so the 50 ml of 0.1 % that would measure the trace do not fit; 10 ml of 0.5 % do.
    crowded = planned(
        dye(495_000_000, strength=50_000), dye(500_000, strength=50_000), size=PotSize(100_000, 1_000_000, 1)
    )
    roomy = planned(dye(500_000, strength=50_000), size=PotSize(100_000, 1_000_000, 1))

    assert crowded[0].microlitres == 990_000
    assert "0.1 %" not in crowded[1].advice
    assert "stock" in crowded[1].advice
    assert roomy[0].advice


def test_a_pot_whose_size_is_not_known_asks_for_it_instead_of_guessing():
    steps = [
        step
        for step in plan_steps([dye(10_000_000)], size=PotSize(None, 3_000_000, None), bench=BENCH)
        if step.rule is not None
    ]

    assert (steps[0].milligrams, steps[0].exact) == (None, None)
    assert steps[0].warning


def test_the_working_leads_from_the_rule_to_the_cylinder():
    (step,) = planned(dye(20_000_000, strength=10_000), size=PotSize(125_000, 3_750_000, 1))
    (line,) = step_lines([step])

    # facts/dye_chemistry.md CHECK VALUES 1: 125 g at 2 % are 2.5 g of dye; of 1 % stock that is 250 ml.
    assert [each.result for each in line.workings[:2]] == ["2.5 g", "250 ml"]
    assert line.working.result.startswith("250 ml")
    assert len(line.working.steps) == 2
    assert all(str(each.source) for each in line.workings)


@dataclass(frozen=True)
class _Tools:
    amount: int
    step: int


@pytest.mark.parametrize("tool", [_Tools(900, 1), _Tools(9_000, 10), _Tools(90_000, 1_000)])
def test_the_finest_scale_that_takes_it_is_used(tool):
    bench = Bench(scales=((1, 1_000), (10, 50_000), (1_000, None)))

    assert bench.scale_step(Fraction(tool.amount)) == tool.step


def test_no_better_stock_is_proposed_beyond_what_stays_dissolved():
    # 3.3 g weighed on a scale of a gram: a stock of 5 % would bring the least water.
    rule = dye(6_600_000)
    size, coarse = PotSize(500_000, 15_000_000, 5), Bench(scales=((1000, None),), cylinders=((500, None),))
    (free,) = planned(rule, size=size, bench=coarse)
    rule.dye.strongest_stock_mg_per_litre = 20_000
    (limited,) = planned(rule, size=size, bench=coarse)

    assert "A stock of 5 %" in free.advice
    assert "A stock of 2 %" in limited.advice


def test_several_fillings_and_weighings_may_each_be_read_off():
    # 45 ml in fillings of a 10 ml syringe with marks of 0.2 ml: five readings of ± 0.1 ml, 0.5 ml of 45, 1.1 %.
    syringe = Bench(scales=((1_000, 5_000),), cylinders=((200, 10_000),))
    (poured_in,) = planned(
        dye(4_500_000, strength=10_000), size=PotSize(100_000, 3_000_000, 1), bench=syringe
    )
    # 12 g on a scale of 1 g that takes 5 g: three weighings of ± 1 g.
    (weighed,) = planned(dye(120_000_000), size=PotSize(100_000, 3_000_000, 1), bench=syringe)

    assert poured_in.measured.amount == 45_000
    assert poured_in.measured.reading_percent == Fraction(500, 45_000) * 100
    assert "in 5 fillings" in poured_in.measured.working.formula
    assert weighed.measured.reading_percent == Fraction(3, 12) * 100
    assert "in 3 weighings" in weighed.measured.working.formula


STEPS = st.sampled_from([1, 10, 100, 200, 500, 1_000, 5_000])
TOOLS = st.lists(
    st.tuples(STEPS, st.none() | st.sampled_from([5_000, 10_000, 50_000, 100_000, 1_000_000])),
    max_size=3,
).map(lambda tools: tuple(sorted(tools, key=lambda tool: tool[0])))


@given(
    dry=st.integers(min_value=20_000, max_value=5_000_000),
    hundredths=st.integers(min_value=1, max_value=600),
    strength=st.none() | st.sampled_from([1_000, 5_000, 10_000, 20_000, 50_000]),
    scales=TOOLS,
    cylinders=TOOLS,
    reading=st.fractions(min_value=-1, max_value=1),
)
@settings(deadline=None)
def test_the_depth_of_any_load_is_within_the_error_that_its_plan_states(
    dry, hundredths, strength, scales, cylinders, reading
):
    # Loads from 20 g to 5 kg, depths to 6 %: however each weighing or filling is read off, within what is printed.
    bench = Bench(scales=scales, cylinders=cylinders)
    (step,) = planned(
        dye(hundredths * 100_000, strength=strength), size=PotSize(dry, dry * 30, 1), bench=bench
    )
    measured = step.measured
    if strength is None:
        off = measured.step * bench.weighings(measured.exact)
        dye_in = measured.amount + reading * off
    else:
        off = Fraction(measured.step, 2) * bench.fillings(measured.exact)
        dye_in = (measured.amount + reading * off) * strength / 1_000_000

    asked = Fraction(hundredths, 100)
    departs = abs(dye_in / Fraction(dry) * 100 - asked) / asked * 100
    assert departs <= measured.worst_percent <= said_at_worst(measured)
