"""Heat against sums from the definition, with published hob efficiencies."""

from __future__ import annotations

from decimal import Decimal

import pytest

from recipes.dyeing.heat import (
    HOBS,
    bought_kilowatt_hours,
    energy_kilojoules,
    kilowatt_hours,
    minutes_to_heat,
    ramp_minutes,
    steepest_rise,
    watts_for_rise,
)
from recipes.dyeing.units import fahrenheit_step_to_celsius, fahrenheit_to_celsius
from recipes.dyeing.working import NothingToReckonWith
from tests.recipes.dyeing.near import near


def ten_litres():
    return energy_kilojoules(bath_microlitres=10_000_000, from_centi_celsius=1500, to_centi_celsius=9500)


def test_the_heat_in_ten_litres_of_water():
    # Row 42; source: 4.186 kJ/(kg K), the 15 °C calorie (from memory).
    assert ten_litres().value == Decimal("3348.8")
    assert near(kilowatt_hours(ten_litres().value), "0.930", "0.001")


@pytest.mark.parametrize(("hob", "bought"), [("induction", "1.107"), ("electric", "1.257"), ("gas", "2.326")])
def test_the_energy_to_pay_for_on_each_hob(hob, bought):
    # Row 43; efficiencies 84, 74 and 40 %: US DOE cooktop tests as quoted in the trade.
    energy = bought_kilowatt_hours(
        kilojoules=ten_litres().value, efficiency_percent=HOBS[hob].efficiency_percent
    )

    assert near(energy.value, bought, "0.001")


def test_yarn_and_pot_take_their_share():
    # 0.015 kWh for 0.5 kg wool and 0.022 kWh for 2 kg steel over 80 °C; heat capacities from memory (Morton and Hearle).
    with_both = energy_kilojoules(
        bath_microlitres=10_000_000,
        from_centi_celsius=1500,
        to_centi_celsius=9500,
        dry_milligrams=500_000,
        steel_milligrams=2_000_000,
    )

    more = kilowatt_hours(with_both.value - ten_litres().value)
    assert near(more, "0.037", "0.001")


def test_forty_litres_on_an_induction_plate_of_three_kilowatts():
    # 83 min at 84 %, 0.90 °C a minute on average; source: heat balance.
    minutes = minutes_to_heat(
        bath_microlitres=40_000_000,
        from_centi_celsius=2000,
        to_centi_celsius=9500,
        hob_watts=3000,
        efficiency_percent=84,
    )
    rise = steepest_rise(bath_microlitres=40_000_000, hob_watts=3000, efficiency_percent=84)

    assert round(minutes.value) == 83
    assert near(rise.value, "90", "1")


def test_one_degree_a_minute_on_forty_litres():
    # 2.79 kW into the water, 3.32 kW at the plug at 84 %; source: heat balance.
    water = watts_for_rise(bath_microlitres=40_000_000, centi_celsius_per_minute=100)
    plug = watts_for_rise(bath_microlitres=40_000_000, centi_celsius_per_minute=100, efficiency_percent=84)

    assert near(water.value, "2790", "5")
    assert near(plug.value, "3320", "5")


@pytest.mark.parametrize(("per_minute", "minutes"), [("2.0", "47.5"), ("1.5", "63.3")])
def test_the_ramp_of_a_milling_dye(per_minute, minutes):
    # Row 46: 110 to 205 °F; dye maker's bulletin on wool with milling dyes.
    ramp = ramp_minutes(
        from_centi_celsius=fahrenheit_to_celsius(110) * 100,
        to_centi_celsius=fahrenheit_to_celsius(205) * 100,
        centi_celsius_per_minute=fahrenheit_step_to_celsius(Decimal(per_minute)) * 100,
    )

    assert near(ramp.value, minutes, "0.1")


def test_a_bath_that_is_to_cool_takes_no_heat():
    with pytest.raises(NothingToReckonWith, match="colder"):
        energy_kilojoules(bath_microlitres=1, from_centi_celsius=9000, to_centi_celsius=2000)


def test_a_hob_without_watts_is_asked_for():
    with pytest.raises(NothingToReckonWith, match="watts"):
        minutes_to_heat(bath_microlitres=1, from_centi_celsius=0, to_centi_celsius=1, hob_watts=0)
