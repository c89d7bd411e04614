"""What may have been written down twice: by two phones, or by one wet glove. Only asked, never dropped and never in the way.

It is computed anew whenever a log is read, so that both phones see it whichever came first.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from uuid import uuid5

from recipes.lots.contents import ACIDS, counts
from recipes.lots.models import LogEntry
from recipes.lots.planned import IN_TIME_MINUTES

Kind = LogEntry.Kind

#: The same within so long is asked about: nobody pours twice as fast as that, but two people write it down so.
TWICE_WITHIN = timedelta(seconds=10)
MOST_IN_A_LINE = 60

#: What makes two entries the same deed: their kind, what it was, and how much of it.
_SAME = (
    "kind",
    "dye_id",
    "bottle_id",
    "jar_id",
    "mix_id",
    "auxiliary_id",
    "milligrams",
    "microlitres",
    "strength_mg_per_litre",
    "as_typed",
    "section",
    "technique",
    "seconds",
    "millimetres",
    "hanks",
    "centi_celsius",
    "ph_hundredths",
    "heat_on",
    "heat_level",
)
_ACID_BY_NAME = re.compile(r"\b(acid|vinegar)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Twice:
    """An entry that may be there a second time, and the one before it."""

    last: LogEntry


def is_acid(entry: LogEntry) -> bool:
    """Whether an entry put acid in, or something that turns to acid; what is not in the store is told by its name."""
    if entry.kind != Kind.AUXILIARY:
        return False
    if entry.auxiliary is not None:
        return entry.auxiliary.role in ACIDS
    return bool(_ACID_BY_NAME.search(entry.name))


def written_twice(entries: Sequence[LogEntry]) -> dict[int, Twice]:
    """The entries of pots' logs that may be there twice, by their id; each pot is looked at by itself.

    An entry is asked about when the same was written down before it and happened within ten seconds of it, or when it is
    acid and acid was written down already. Not asked about: parts of one line, portions that the plan holds, and what is
    struck.
    """
    by_pot: dict[int, list[LogEntry]] = {}
    for entry in entries:
        by_pot.setdefault(entry.pot_id, []).append(entry)
    return {pk: twice for log in by_pot.values() for pk, twice in _in_one_pot(log).items()}


def _in_one_pot(entries: Sequence[LogEntry]) -> dict[int, Twice]:
    turns = _turns(entries)
    kept = [entry for entry in entries if counts(entry) and entry.kind not in (Kind.NOTE, Kind.PHOTO)]
    kept.sort(key=lambda entry: turns[entry.pk])
    found: dict[int, Twice] = {}
    by_deed: dict[tuple[object, ...], list[LogEntry]] = {}
    acids: list[LogEntry] = []
    for entry in kept:
        same = by_deed.setdefault(_deed(entry), [])
        asking = [each for each in same if _is_close(each, entry) and not _at_one_time(each, entry)]
        if is_acid(entry):
            asking += [each for each in acids if not _is_another_step(each, entry)]
        asking = [each for each in asking if not _of_one_line(each, entry, entries)]
        if asking:
            found[entry.pk] = Twice(max(asking, key=lambda each: (each.happened_at, each.pk)))
        same.append(entry)
        if is_acid(entry):
            acids.append(entry)
    return found


def _turns(entries: Sequence[LogEntry]) -> dict[int, int]:
    """In which order entries were written down; a correction stands in the place of what it corrects."""
    corrects = {entry.pk: entry.corrects_id for entry in entries}
    turns = {}
    for entry in entries:
        first = entry.pk
        while (before := corrects.get(first)) is not None:
            first = before
        turns[entry.pk] = first
    return turns


def _deed(entry: LogEntry) -> tuple[object, ...]:
    named = entry.name.casefold() if entry.dye_id is None and entry.auxiliary_id is None else ""
    return (*(getattr(entry, name) for name in _SAME), named)


def _is_close(first: LogEntry, second: LogEntry) -> bool:
    return abs(second.happened_at - first.happened_at) <= TWICE_WITHIN


def _is_another_step(first: LogEntry, second: LogEntry) -> bool:
    """Whether the plan holds the second for itself, as a further portion."""
    return second.planned_id is not None and first.planned_id != second.planned_id


def _at_one_time(first: LogEntry, second: LogEntry) -> bool:
    """Whether the plan holds both, one right after the other."""
    if first.planned is None or second.planned is None or first.planned_id == second.planned_id:
        return False
    minutes = first.planned.minute, second.planned.minute
    if None in minutes:
        return True
    return abs((minutes[1] or 0) - (minutes[0] or 0)) <= IN_TIME_MINUTES


def _of_one_line(first: LogEntry, second: LogEntry, entries: Sequence[LogEntry]) -> bool:
    """Whether the keys of two entries are those of one line: its own, and those made from it by number."""
    if not second.typed or first.typed != second.typed:
        return False
    for root in entries:
        if root.typed == second.typed:
            keys = {root.key, *(uuid5(root.key, str(number)) for number in range(1, MOST_IN_A_LINE))}
            if {first.key, second.key} <= keys:
                return True
    return False
