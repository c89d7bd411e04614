"""A log entry in the words of the trade: "5 ml Red 1 %", "Heat off", "82 °C"."""

from __future__ import annotations

from datetime import datetime

from django.utils import timezone

from recipes.dyeing.techniques import on_section, technique_name, technique_words
from recipes.dyeing.units import (
    format_celsius,
    format_grams,
    format_litres,
    format_millilitres,
    format_ph,
)
from recipes.lots.beside import EARLIER_BATH
from recipes.lots.mixed import mix_words
from recipes.lots.models import LogEntry, PlannedStep
from recipes.lots.planned import step_as_entry
from recipes.mixes import dyes_of, parts_of
from recipes.models import Mix, MixPart, StockBottle
from recipes.way_words import strength_words

Kind = LogEntry.Kind
LITRES_FROM_MICROLITRES = 1_000_000


def entry_words(entry: LogEntry, *, us: bool = False) -> str:
    """What an entry says was done or seen, in a line."""
    if entry.kind in (Kind.STOCK, Kind.POWDER, Kind.AUXILIARY):
        return _addition(entry, us)
    if entry.kind == Kind.MIX and entry.mix is not None:
        return _poured(entry, us)
    if entry.kind == Kind.WATER:
        of = f"the {EARLIER_BATH}" if entry.name == EARLIER_BATH else "water"
        return f"{_about(entry)}{_water(entry, us)} of {of}"
    if entry.kind == Kind.TEMPERATURE:
        return "Temperature" if entry.centi_celsius is None else format_celsius(entry.centi_celsius, us=us)
    if entry.kind == Kind.PH:
        return "pH" if entry.ph_hundredths is None else f"pH {format_ph(entry.ph_hundredths)}"
    if entry.kind == Kind.HEAT:
        return f"Heat {'on' if entry.heat_on else 'off'}" + (
            f", {entry.heat_level}" if entry.heat_level else ""
        )
    if entry.kind == Kind.EXHAUSTED:
        return "Bath clear"
    if entry.kind == Kind.TECHNIQUE:
        return _technique(entry, us)
    if entry.kind == Kind.PHOTO:
        return "Photo"
    if entry.kind == Kind.STRIKE:
        return "Struck"
    return entry.text or entry.typed


def entry_detail(entry: LogEntry) -> str:
    """What lies behind an amount: the two weighings of a jar, or which jar it was."""
    before, after = entry.jar_before_milligrams, entry.jar_after_milligrams
    if entry.kind == Kind.POWDER and before is not None and after is not None:
        return f"jar {format_grams(before)} before, {format_grams(after)} after"
    if entry.kind == Kind.POWDER and entry.jar is not None:
        return f"from {entry.jar.label}"
    if entry.kind == Kind.STOCK and entry.bottle is not None:
        return bottle_words(entry.bottle)
    if entry.kind == Kind.MIX and entry.mix is not None and entry.dye is None:
        return mix_detail(entry.mix)
    return ""


def bottle_words(bottle: StockBottle) -> str:
    """Which bottle it was: when it was made, and from which jar where that is known."""
    jar = f" from {bottle.jar.label}" if bottle.jar is not None else ""
    return f"bottle made {_on(bottle.made_at)}{jar}"


def mix_detail(mix: Mix) -> str:
    """When a mix was made, and each dye in it with its strength and the jar or bottle it came from."""
    parts = parts_of(mix)
    dyes = "; ".join(
        f"{each.dye.name} {strength_words(each.strength.value)} "
        + " and ".join(_part_words(part) for part in parts if part.dye_id == each.dye.pk)
        for each in dyes_of(mix)
    )
    return f"made {_on(mix.made_at)}: {dyes}"


def _part_words(part: MixPart) -> str:
    if part.bottle is not None:
        return f"from the {bottle_words(part.bottle)}"
    return f"from {part.jar.label}" if part.jar is not None else ""


def _on(at: datetime) -> str:
    local = timezone.localtime(at)
    return f"{local.day} {local:%B %Y}"


def _addition(entry: LogEntry, us: bool) -> str:
    named = entry.dye or entry.auxiliary
    words = [f"{_about(entry)}{_amount(entry, us)}", named.name if named is not None else entry.name]
    if entry.kind == Kind.STOCK and entry.strength_mg_per_litre:
        words.append(strength_words(entry.strength_mg_per_litre))
    words.append(on_section(entry.section))
    # Said first, as it is typed at the pot: "Hand-paint 30 ml Red 1 % on section A".
    words.insert(0, technique_name(entry.technique) if entry.technique else "")
    return " ".join(word for word in words if word)


def _technique(entry: LogEntry, us: bool) -> str:
    said = technique_words(
        entry.technique,
        seconds=entry.seconds,
        millimetres=entry.millimetres,
        hanks=entry.hanks,
        section=entry.section,
        centi_celsius=entry.centi_celsius,
        name=entry.name,
        us=us,
    )
    return f"{said}, about" if entry.about else said


def _poured(entry: LogEntry, us: bool) -> str:
    """A pour of a mix; of one of its dyes alone where the entry is a portion."""
    assert entry.mix is not None
    words = f"{_about(entry)}{_amount(entry, us)} of {mix_words(entry.mix)}"
    if entry.dye is not None:
        words = f"{entry.dye.name} in {words}"
    how = technique_name(entry.technique) if entry.technique else ""
    return " ".join(part for part in (how, words, on_section(entry.section)) if part)


def _amount(entry: LogEntry, us: bool) -> str:
    if entry.milligrams:
        return format_grams(entry.milligrams, us=us)
    if entry.microlitres:
        return format_millilitres(entry.microlitres, us=us)
    return entry.as_typed


def _water(entry: LogEntry, us: bool) -> str:
    if not entry.microlitres:
        return entry.as_typed or "some"
    if entry.microlitres < LITRES_FROM_MICROLITRES:
        return format_millilitres(entry.microlitres, us=us)
    return format_litres(entry.microlitres, us=us)


def _about(entry: LogEntry) -> str:
    return "about " if entry.about else ""


def step_words(step: PlannedStep, *, us: bool = False) -> str:
    """What a planned step means to do, in the words of the log."""
    kind, fields = step_as_entry(step)
    return entry_words(LogEntry(kind=kind, **fields), us=us)
