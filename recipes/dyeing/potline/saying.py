"""A reading said back in one line, as it stands under the pot line."""

from __future__ import annotations

from decimal import Decimal

from recipes.dyeing.potline.matching import plain_decimal, with_strength
from recipes.dyeing.potline.reading import Reading
from recipes.dyeing.techniques import on_section, technique_words
from recipes.dyeing.units import format_grams, format_litres, format_millilitres


def describe(reading: Reading, *, us: bool = False) -> str:
    """The reading in trade words: "5 ml of Red 1 % at 14:20". With `us`, US measures stand beside the metric ones."""
    said = _said(reading, us=us)
    return f"{said} at {reading.clock}" if reading.clock and reading.kind != "note" else said


def _said(reading: Reading, *, us: bool) -> str:
    match reading.kind:
        case "stock" | "powder" | "auxiliary" | "water":
            return _addition(reading, us=us)
        case "temperature":
            return f"{_about(reading)}{_celsius(reading.celsius or Decimal(0), us=us)}"
        case "ph":
            return f"{_about(reading)}pH {plain_decimal(reading.ph or Decimal(0))}"
        case "heat":
            level = f" {reading.level}" if reading.level else ""
            return f"Heat on{level}" if reading.on else "Heat off"
        case "technique":
            said = technique_words(
                reading.technique,
                seconds=reading.seconds,
                millimetres=reading.millimetres,
                hanks=reading.hanks,
                section=reading.section,
                centi_celsius=None if reading.celsius is None else int(reading.celsius * 100),
                name=reading.name,
                us=us,
            )
            return f"{said}, about" if reading.about else said
        case "exhausted":
            return "Bath clear"
        case "repeat":
            return "The last addition once more"
        case _:
            return f"Note: {reading.text}"


def _addition(reading: Reading, *, us: bool) -> str:
    amount = _amount(reading, us=us)
    if reading.as_typed and reading.as_typed != amount:
        amount = f"{reading.as_typed} ({amount})"
    said = f"{_about(reading)}{amount} of {_name(reading)}"
    if reading.jar_before_milligrams is not None and reading.jar_after_milligrams is not None:
        said += f" (jar {format_grams(reading.jar_before_milligrams)} to {format_grams(reading.jar_after_milligrams)})"
    return f"{said} {on_section(reading.section)}" if reading.section else said


def _about(reading: Reading) -> str:
    return "about " if reading.about and not reading.as_typed.startswith(("a few", "some", "about")) else ""


def _amount(reading: Reading, *, us: bool) -> str:
    if reading.milligrams is not None:
        return format_grams(reading.milligrams, us=us)
    if reading.microlitres is not None and reading.kind == "water" and reading.microlitres >= 1_000_000:
        return format_litres(reading.microlitres, us=us)
    if reading.microlitres is not None:
        return format_millilitres(reading.microlitres, us=us)
    return reading.as_typed


def _name(reading: Reading) -> str:
    if reading.kind == "water":
        return "water"
    name = reading.matched_name or reading.name
    strength = reading.strength_percent
    if not strength and reading.matched_strength_percent is not None:
        strength = plain_decimal(reading.matched_strength_percent)
    return with_strength(name, strength)


def _celsius(celsius: Decimal, *, us: bool) -> str:
    said = f"{plain_decimal(celsius)} °C"
    return f"{said} ({round(celsius * 9 / 5 + 32)} °F)" if us else said
