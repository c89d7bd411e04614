"""Every computed amount can be opened: formula, this pot's numbers, result and source."""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest

from recipes.dyeing import auxiliaries, bath, depth, heat, loads, regain, rounding, scaling, sources
from recipes.dyeing.working import Figure, Source, Standing, exact

FIGURES = {
    "dye": depth.dye_milligrams(dry_milligrams=500_000, depth_percent=Decimal("1.5")),
    "depth": depth.depth_percent(dye_milligrams=7_500, dry_milligrams=500_000),
    "stock": depth.stock_microlitres(dye_milligrams=7_500, strength_mg_per_litre=10_000),
    "stock for a depth": depth.stock_for_depth(
        dry_milligrams=500_000, depth_percent=Decimal("1.5"), strength_mg_per_litre=10_000
    ),
    "dye in stock": depth.dye_in_stock(stock_microlitres=750_000, strength_mg_per_litre=10_000),
    "powder for stock": depth.powder_for_stock(make_microlitres=500_000, strength_mg_per_litre=10_000),
    "dilution": depth.dilution(from_mg_per_litre=10_000, to_mg_per_litre=1_000, make_microlitres=500_000),
    "type": depth.at_strength_of_type(depth_percent=1, from_type_percent=100, to_type_percent=200),
    "bath": bath.bath_microlitres(dry_milligrams=500_000, liquor_ratio=30),
    "liquor ratio": bath.liquor_ratio(bath_microlitres=15_000_000, dry_milligrams=500_000),
    "water": bath.make_up_water(
        bath_microlitres=15_000_000, solutions_microlitres=[750_000], wet_out_microlitres=500_000
    ),
    "by the litre": bath.per_litre_milligrams(bath_microlitres=15_000_000, grams_per_litre=1),
    "stock by the litre": bath.per_litre_stock_microlitres(
        bath_microlitres=15_000_000, grams_per_litre=1, strength_mg_per_litre=200_000
    ),
    "alkalinity": bath.acid_for_alkalinity(alkalinity_mg_per_litre=200, bath_microlitres=15_000_000),
    "exhaustion": bath.exhaustion_percent(partition=100, liquor_ratio=20),
    "dye left": bath.dye_left_in_bath(dye_milligrams=2_000, taken_up_percent=80),
    "refill": bath.refill_milligrams(target_milligrams=2_000, left_milligrams=200),
    "carried out": bath.liquor_carried_out_percent(
        dry_milligrams=500_000, pick_up_litres_per_kg=1, bath_microlitres=10_000_000
    ),
    "ratio for a shade": bath.liquor_ratio_for_shade(
        on_fibre_percent=2, taken_up_percent=50, bath_grams_per_litre=1
    ),
    "heat": heat.energy_kilojoules(
        bath_microlitres=10_000_000, from_centi_celsius=1500, to_centi_celsius=9500
    ),
    "bought": heat.bought_kilowatt_hours(kilojoules=3_349, efficiency_percent=84),
    "minutes": heat.minutes_to_heat(
        bath_microlitres=10_000_000, from_centi_celsius=1500, to_centi_celsius=9500, hob_watts=2000
    ),
    "watts": heat.watts_for_rise(bath_microlitres=10_000_000, centi_celsius_per_minute=100),
    "rise": heat.steepest_rise(bath_microlitres=10_000_000, hob_watts=2000),
    "ramp": heat.ramp_minutes(from_centi_celsius=2000, to_centi_celsius=8500, centi_celsius_per_minute=100),
    "pieces": loads.pieces_a_pot(piece_dry_milligrams=100_000, vessel_millilitres=12_000, liquor_ratio=30),
    "amount": scaling.scale(scaling.RuleAmount.share(2), dry_milligrams=500_000),
    "rule": scaling.rule_from_amount(7_500, basis="fibre", dry_milligrams=500_000),
    "difference": rounding.weighed_by_difference(
        before_milligrams=25_430, after_milligrams=25_060, step_milligrams=10
    ),
    "acid": auxiliaries.swap_acid(microlitres=10_000, from_percent=56, to_percent=5),
    "acid share": auxiliaries.acid_share_percent(microlitres=330_000, acid_percent=5, dry_milligrams=500_000),
    "share": auxiliaries.share_of_fibre_percent(milligrams=15_000, dry_milligrams=500_000),
    "crystals": auxiliaries.other_form_milligrams(
        milligrams=100_000, have="glauber_crystals", want="glauber_anhydrous"
    ),
    "salt": auxiliaries.reactive_salt_milligrams(depth_percent=Decimal("1.5"), bath_microlitres=20_000_000),
    "content": regain.content_percent(16),
    "dry": regain.dry_milligrams(observed_milligrams=100_000, regain_percent=14),
    "commercial": regain.commercial_milligrams(milligrams=100_000, fibre="wool"),
    "blend": regain.blend_percent({("wool", "combed"): 75, ("nylon", "staple"): 25}),
}


@pytest.mark.parametrize("name", FIGURES)
def test_a_figure_shows_how_it_was_worked_out(name):
    working = FIGURES[name].working

    assert working.title
    assert working.formula
    assert re.search(r"\d", working.substitution)
    assert re.search(r"\d", working.result)
    assert re.search(r"\((read|second-hand|from memory|worked out|common practice)", str(working.source))


@pytest.mark.parametrize(
    ("name", "line"),
    [
        (
            "stock for a depth",
            "Stock solution: dry fibre in g × depth of shade ÷ stock strength = ml of stock = 500 g × 1.5 % ÷ 1 % = 750 ml",
        ),
        (
            "water",
            "Water to add: bath − all solutions − water in the wet skeins = 15 litres − 750 ml − 500 ml in the wet skeins = 13.75 litres",
        ),
        ("bath", "Bath: dry fibre in kg × liquor ratio = litres = 0.5 kg × 30 = 15 litres"),
    ],
)
def test_a_working_reads_in_one_line(name, line):
    assert FIGURES[name].working.line == line


def test_a_figure_keeps_its_working_when_it_is_rounded():
    figure: Figure[Fraction] = FIGURES["minutes"]
    rounded = figure.map(round)

    assert rounded.working is figure.working
    assert isinstance(rounded.value, int)


@pytest.mark.parametrize("number", [0.1, True, "1"])
def test_only_exact_numbers_are_reckoned_with(number):
    with pytest.raises(TypeError):
        exact(number)


def test_a_source_from_memory_says_so():
    remembered = Source("a handbook", Standing.FROM_MEMORY)

    assert str(remembered) == "a handbook (from memory, not checked)"
    assert remembered.from_memory


def test_every_source_has_a_title_and_is_used():
    room = Path(sources.__file__).parent
    text = "\n".join(path.read_text() for path in room.glob("*.py") if path.name != "sources.py")
    named = {name for name, value in vars(sources).items() if isinstance(value, Source)}

    assert all(vars(sources)[name].title for name in named)
    assert {name for name in named if not re.search(rf"\b{name}\b", text)} == set()
