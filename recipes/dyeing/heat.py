"""Heat: what a bath takes in, what the hob must give, and how fast it can rise.

Water takes 4.186 kJ per kilogram and degree (the 15 °C calorie, from memory); wool 1.36 and steel 0.50 (from memory).
Temperatures are hundredths of a degree Celsius, powers watts at the plug or of the burner.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from recipes.dyeing import sources
from recipes.dyeing.units import format_celsius, format_litres, format_minutes, format_number
from recipes.dyeing.working import (
    Exact,
    Figure,
    NothingToReckonWith,
    Source,
    Working,
    above_zero,
    exact,
    not_negative,
)

WATER_KJ_PER_KG_KELVIN = Fraction("4.186")
FIBRE_KJ_PER_KG_KELVIN = Fraction("1.36")
STEEL_KJ_PER_KG_KELVIN = Fraction("0.50")
KJ_PER_KWH = 3600


@dataclass(frozen=True, slots=True)
class Hob:
    """A kind of hob and the share of what it takes that reaches the pot, in percent."""

    slug: str
    name: str
    efficiency_percent: int
    source: Source


HOBS: dict[str, Hob] = {
    hob.slug: hob
    for hob in (
        Hob("induction", "induction", 84, sources.COOKTOP_TESTS),
        Hob("electric", "electric coil or smooth top", 74, sources.COOKTOP_TESTS),
        Hob("gas", "gas", 40, sources.COOKTOP_TESTS),
    )
}
#: Where the kind of hob is not known: the electric one, since watts are what its plate says.
USUAL_HOB = HOBS["electric"]


def hob_of(kind: str) -> Hob:
    """The hob of a kind; an empty or unknown kind is reckoned as the usual one."""
    return HOBS.get(kind, USUAL_HOB)


def hob_words(kind: str) -> str:
    """What share of its power a hob of this kind is reckoned to give the pot, in a sentence with its source."""
    hob = hob_of(kind)
    share = f"{hob.efficiency_percent} % of what it takes reaches the pot"
    if kind not in HOBS:
        return f"The kind of hob is not known, so it is reckoned as electric: {share}. Source: {hob.source}."
    return f"Reckoned for this hob, {hob.name}: {share}. Source: {hob.source}."


def energy_kilojoules(
    *,
    bath_microlitres: Exact,
    from_centi_celsius: Exact,
    to_centi_celsius: Exact,
    dry_milligrams: Exact = 0,
    steel_milligrams: Exact = 0,
) -> Figure[Fraction]:
    """Kilojoules that the bath, and the yarn and the pot when given, take up; no loss to the room, nothing boiled off.

    Raises NothingToReckonWith when it is to become colder.
    """
    rise = exact(to_centi_celsius) - exact(from_centi_celsius)
    if rise < 0:
        raise NothingToReckonWith("The bath is to become colder, which takes no heat from the hob.")
    kelvin = rise / 100
    bath = not_negative(bath_microlitres, "The bath cannot be below zero.") / 1_000_000
    energy = (
        bath * WATER_KJ_PER_KG_KELVIN
        + exact(dry_milligrams) / 1_000_000 * FIBRE_KJ_PER_KG_KELVIN
        + exact(steel_milligrams) / 1_000_000 * STEEL_KJ_PER_KG_KELVIN
    ) * kelvin
    return Figure(
        energy,
        Working(
            title="Heat into the bath",
            formula="litres × 4.186 kJ × rise in °C",
            substitution=(
                f"{format_litres(bath_microlitres)} × 4.186 × "
                f"({format_celsius(to_centi_celsius)} − {format_celsius(from_centi_celsius)})"
            ),
            result=f"{format_number(energy, 1)} kJ = {format_number(energy / KJ_PER_KWH)} kWh",
            source=sources.HEAT_BALANCE,
        ),
    )


def kilowatt_hours(kilojoules: Exact) -> Fraction:
    """Kilowatt-hours in so many kilojoules."""
    return exact(kilojoules) / KJ_PER_KWH


def bought_kilowatt_hours(*, kilojoules: Exact, efficiency_percent: Exact) -> Figure[Fraction]:
    """What the meter counts for so much heat in the pot: heat ÷ efficiency."""
    efficiency = above_zero(efficiency_percent, "The efficiency must be above 0 %.")
    bought = kilowatt_hours(kilojoules) / efficiency * 100
    return Figure(
        bought,
        Working(
            title="Energy to pay for",
            formula="heat ÷ efficiency of the hob",
            substitution=f"{format_number(kilowatt_hours(kilojoules))} kWh ÷ {format_number(efficiency)} %",
            result=f"{format_number(bought)} kWh",
            source=sources.HEAT_BALANCE,
        ),
    )


def minutes_to_heat(
    *,
    bath_microlitres: Exact,
    from_centi_celsius: Exact,
    to_centi_celsius: Exact,
    hob_watts: Exact,
    efficiency_percent: Exact = USUAL_HOB.efficiency_percent,
    dry_milligrams: Exact = 0,
) -> Figure[Fraction]:
    """Minutes that this hob needs at full power. The pot's own loss to the room makes it longer, a lid shorter."""
    watts = above_zero(hob_watts, "The hob's watts must be above zero.")
    efficiency = above_zero(efficiency_percent, "The efficiency must be above 0 %.")
    heat = energy_kilojoules(
        bath_microlitres=bath_microlitres,
        from_centi_celsius=from_centi_celsius,
        to_centi_celsius=to_centi_celsius,
        dry_milligrams=dry_milligrams,
    )
    minutes = heat.value / (watts / 1000 * efficiency / 100) / 60
    return Figure(
        minutes,
        Working(
            title="Time on this hob",
            formula="heat in kJ ÷ (kW × efficiency) ÷ 60",
            substitution=(
                f"{format_number(heat.value, 1)} kJ ÷ ({format_number(watts / 1000)} kW × {format_number(efficiency)} %) ÷ 60"
            ),
            result=format_minutes(minutes),
            source=sources.COOKTOP_TESTS,
            steps=(heat.working,),
        ),
    )


def watts_for_rise(
    *, bath_microlitres: Exact, centi_celsius_per_minute: Exact, efficiency_percent: Exact = 100
) -> Figure[Fraction]:
    """Watts needed for a rise: kW = litres × 4.186 × (°C a minute) ÷ 60, over the efficiency."""
    bath = not_negative(bath_microlitres, "The bath cannot be below zero.") / 1_000_000
    rate = not_negative(centi_celsius_per_minute, "A rise cannot be below zero.") / 100
    efficiency = above_zero(efficiency_percent, "The efficiency must be above 0 %.")
    watts = bath * WATER_KJ_PER_KG_KELVIN * rate / 60 * 1000 / efficiency * 100
    return Figure(
        watts,
        Working(
            title="Power for this rise",
            formula="litres × 4.186 × °C a minute ÷ 60 ÷ efficiency, in kW",
            substitution=(
                f"{format_litres(bath_microlitres)} × 4.186 × {format_number(rate, 2)} ÷ 60 ÷ {format_number(efficiency)} %"
            ),
            result=f"{format_number(watts / 1000, 2)} kW",
            source=sources.HEAT_BALANCE,
        ),
    )


def steepest_rise(
    *,
    bath_microlitres: Exact,
    hob_watts: Exact,
    efficiency_percent: Exact = USUAL_HOB.efficiency_percent,
) -> Figure[Fraction]:
    """The most hundredths of a °C a minute that this hob can give this bath."""
    bath = above_zero(bath_microlitres, "The bath must be above zero.") / 1_000_000
    watts = above_zero(hob_watts, "The hob's watts must be above zero.")
    efficiency = above_zero(efficiency_percent, "The efficiency must be above 0 %.")
    rate = watts / 1000 * efficiency / 100 * 60 / (bath * WATER_KJ_PER_KG_KELVIN)
    return Figure(
        rate * 100,
        Working(
            title="Steepest rise on this hob",
            formula="kW × efficiency × 60 ÷ (litres × 4.186)",
            substitution=(
                f"{format_number(watts / 1000)} kW × {format_number(efficiency)} % × 60 ÷ "
                f"({format_litres(bath_microlitres)} × 4.186)"
            ),
            result=f"{format_number(rate, 2)} °C a minute",
            source=sources.HEAT_BALANCE,
        ),
    )


def ramp_minutes(
    *, from_centi_celsius: Exact, to_centi_celsius: Exact, centi_celsius_per_minute: Exact
) -> Figure[Fraction]:
    """Minutes from one temperature to another at a rate, up or down."""
    rate = above_zero(centi_celsius_per_minute, "The rise must be above zero.")
    way = abs(exact(to_centi_celsius) - exact(from_centi_celsius))
    minutes = way / rate
    return Figure(
        minutes,
        Working(
            title="Time of the ramp",
            formula="degrees ÷ degrees a minute",
            substitution=f"{format_number(way / 100, 1)} °C ÷ {format_number(rate / 100, 2)} °C a minute",
            result=format_minutes(minutes),
            source=sources.DEFINITION,
        ),
    )
