"""Class tables and caps against the sheets that they are from."""

from __future__ import annotations

import pytest

from recipes.dyeing.classes import CLASSES
from recipes.dyeing.fibres import FIBRES
from recipes.dyeing.temperatures import StepKind, default_programme, temperature_cap
from recipes.dyeing.units import centi_celsius
from tests.recipes.dyeing.near import near


@pytest.mark.parametrize(
    ("fibres", "superwash", "cap"),
    [
        # Training note on acid dyes on silk: not above 85 °C. Cookson, Hine and McPhee 1964: superwash usually 85 to 90 °C.
        (["silk"], None, 8500),
        (["wool", "silk"], True, 8500),
        (["wool"], True, 9000),
        (["wool", "nylon"], True, 9000),
        ([], True, 9000),
        (["wool"], False, None),
        (["wool"], None, None),
        (["cotton"], None, None),
    ],
)
def test_the_most_delicate_fibre_sets_the_cap(fibres, superwash, cap):
    found = temperature_cap(fibres, superwash)

    assert (None if found is None else found.centi_celsius) == cap


def test_a_milling_dye_follows_its_makers_bulletin():
    # 110 °F, 1.5 to 2.0 °F a minute, 205 °F for 20 to 30 min, 160 °F before the bath is dropped (misprinted as 171 °C).
    start, rise, hold, cool = default_programme("milling", "wool", False).steps

    assert near(start.to_centi_celsius, str(centi_celsius(110, fahrenheit=True)), "5")
    assert near(rise.to_centi_celsius, str(centi_celsius(205, fahrenheit=True)), "5")
    assert near(rise.minutes, "47.5", "0.1")
    assert near(rise.most_minutes, "63.3", "0.1")
    assert (hold.minutes, hold.most_minutes) == (20, 30)
    assert near(cool.to_centi_celsius, str(centi_celsius(160, fahrenheit=True)), "5")
    assert cool.to_centi_celsius < 10_000


def test_the_mixed_range_follows_its_suppliers_sheet():
    _, rise, hold, cool = default_programme("mixed_1_2_reactive", "wool", False).steps

    assert near(hold.to_centi_celsius, str(centi_celsius(200, fahrenheit=True)), "5")
    assert {(step.minutes, step.most_minutes) for step in (rise, hold, cool)} == {(30, 45)}


def test_cold_reactive_dye_is_boiled_on_wool_and_kept_warm_on_cotton():
    # Suppliers' sheet on cold reactive dyes on wool; dye maker's answers on immersion, 105 °F.
    assert default_programme("cold_reactive", "wool", False).hold.to_centi_celsius == 10_000
    assert near(
        default_programme("cold_reactive", "cotton").hold.to_centi_celsius,
        str(centi_celsius(105, fahrenheit=True)),
        "10",
    )


def test_a_capped_rise_keeps_its_rate_and_says_why():
    free = default_programme("milling", "wool", False)
    capped = default_programme("milling", "wool", True)

    assert free.capped == ""
    assert capped.capped.startswith("It was capped at 90 °C.")
    rates = {programme.steps[1].centi_celsius_per_minute for programme in (free, capped)}
    assert len(rates) == 1
    assert capped.hold.to_centi_celsius == 9000


def test_every_programme_says_that_it_is_a_table_and_where_it_is_from():
    for dye_class in CLASSES:
        for fibre in FIBRES:
            for superwash in (True, False, None):
                programme = default_programme(dye_class, fibre.slug, superwash)
                if programme is None:
                    continue
                assert "published table" in programme.says
                assert str(programme.source)
                assert all(step.from_table and step.line for step in programme.steps)


def test_no_programme_goes_above_its_fibres_cap():
    for dye_class in CLASSES:
        for fibres in (("silk",), ("wool", "silk"), ("wool",), ("wool", "nylon")):
            programme = default_programme(dye_class, fibres, True)
            cap = temperature_cap(fibres, True)
            for step in programme.steps if programme is not None else ():
                assert (step.to_centi_celsius or 0) <= cap.centi_celsius
                assert (step.from_centi_celsius or 0) <= cap.centi_celsius


@pytest.mark.parametrize(
    ("dye_class", "fibre"),
    [
        ("direct", "cotton"),
        ("other", "wool"),
        ("other_reactive", "cotton"),
        ("levelling", "cotton"),
        ("milling", "polyester"),
    ],
)
def test_where_no_sheet_covers_a_pairing_there_is_no_programme(dye_class, fibre):
    assert default_programme(dye_class, fibre) is None


def test_a_step_reads_as_a_sentence_says_it():
    start, rise, hold, cool = default_programme("levelling", "wool", False).steps

    assert start.line == "Start at 40 °C for 10 min to 15 min: with salt and half the acid, then the dye"
    assert rise.line == "Rise to 100 °C in 30 min: or slower"
    assert hold.line == "Hold at 100 °C for 20 min: from when the bath is clear"
    assert cool.line == "Cool: slowly, in the bath"
    assert [step.kind for step in (start, rise, hold, cool)] == list(StepKind)
