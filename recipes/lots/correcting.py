"""A step of a way written as at the pot: read by the same reader, reckoned for the way's own pot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from uuid import uuid4

from django.utils import timezone

from dyehouse.studio.refusals import Refused
from recipes.dyeing.potline import doubts, read_line
from recipes.lots.bench import Bench, set_bench
from recipes.lots.log import tidy_line
from recipes.lots.models import LogEntry
from recipes.lots.proposing import PotToLearnFrom, propose_rules
from recipes.lots.resolving import Meant, what_is_meant
from recipes.models import Base, Dye, Rule
from recipes.ways import PotSize, RuleDraft


class StepUnclear(Refused):
    """The line leaves something open that a way of dyeing must know."""


def steps_from_line(
    typed: str,
    *,
    base: Base,
    size: PotSize,
    minute: int | None,
    fahrenheit: bool = False,
    bench: Bench | None = None,
    sections: Sequence[str] = (),
) -> list[RuleDraft]:
    """The steps that a line means, for a pot of this size, all at one minute. `bench` where it was set before.

    `sections` are those of the way's lay.
    Raises StepUnclear with the question where the line leaves it open which dye, strength or amount it was.
    """
    line = tidy_line(typed)
    bench = bench or set_bench()
    readings = read_line(line, known=bench.known(), fahrenheit=fahrenheit, sections=sections)
    meant = what_is_meant(readings, typed=line, bench=bench, last_addition=None)
    for each in meant:
        if each.question:
            raise StepUnclear(each.question)
    entries = _entries(meant, timezone.now())
    shares = base.fibres.all() if base.pk else ()
    fibres = sorted(shares, key=lambda fibre: (-fibre.per_mille, fibre.pk))
    dyes = [entry.dye for entry in entries if entry.dye is not None]
    pot = PotToLearnFrom(
        size=size,
        fibres=tuple(fibre.fibre for fibre in fibres),
        dye_class=dyes[0].dye_class if dyes else Dye.Class.ACID_UNKNOWN.value,
    )
    drafts = [rule.draft for rule in propose_rules(entries, pot)]
    if not drafts:
        raise StepUnclear("This is no step. Write what goes in, a temperature, or a note.")
    return [replace(draft, minute=minute) for draft in drafts]


def technique_from_line(typed: str, *, sections: Sequence[str] = (), fahrenheit: bool = False) -> RuleDraft:
    """The technique that a line means: “dip 20 cm 30 s”. Raises StepUnclear where it is none, or leaves something open."""
    readings = read_line(tidy_line(typed), fahrenheit=fahrenheit, sections=sections)
    reading = readings[0] if len(readings) == 1 else None
    if reading is None or reading.kind != "technique" or reading.question:
        asked = readings[0].question if readings else ""
        raise StepUnclear(asked or doubts.TECHNIQUE)
    return RuleDraft(
        Rule.Kind.TECHNIQUE.value,
        technique=reading.technique,
        seconds=reading.seconds,
        millimetres=reading.millimetres,
        hanks=reading.hanks,
        section=reading.section,
        centi_celsius=None if reading.celsius is None else int(reading.celsius * 100),
        text=reading.name,
    )


def _entries(meant: Sequence[Meant], at: datetime) -> list[LogEntry]:
    """Entries that are read like those of a log and never kept."""
    return [LogEntry(key=uuid4(), kind=each.kind, happened_at=at, **each.fields) for each in meant]
