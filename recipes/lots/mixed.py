"""What a pour of a mix is made of: one portion a dye, so that whatever counts dye counts it like any other."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from uuid import uuid5

from recipes.dyeing.mixing import dye_from_mix
from recipes.dyeing.working import Figure
from recipes.lots.models import LogEntry
from recipes.mixes import dyes_of, parts_of, parts_through
from recipes.models import Mix

#: For queries over log entries: the parts of their mixes, in one query and only where there are any.
PARTS = parts_through("mix")


def mix_words(mix: Mix) -> str:
    """A mix as it is called in the log: mix evening, or mix K7Q2B."""
    return f"mix {mix}"


def by_dye(entries: Iterable[LogEntry]) -> list[LogEntry]:
    """The entries, with each pour of a mix as its portions: entries of the same moment, one a dye, that are never kept."""
    return [portion for entry in entries for portion in portions(entry)]


def portions(entry: LogEntry) -> list[LogEntry]:
    """A pour of a mix as one entry a dye, with the jar or bottle it came from; any other entry as it is."""
    if entry.kind != LogEntry.Kind.MIX or entry.mix is None or entry.dye_id is not None:
        return [entry]
    came_from = {part.dye_id: part for part in parts_of(entry.mix)}
    return [
        LogEntry(
            pot_id=entry.pot_id,
            key=uuid5(entry.key, f"dye {each.dye.pk}"),
            kind=entry.kind,
            happened_at=entry.happened_at,
            who_id=entry.who_id,
            typed=entry.typed,
            mix=entry.mix,
            dye=each.dye,
            jar=came_from[each.dye.pk].jar,
            bottle=came_from[each.dye.pk].bottle,
            microlitres=entry.microlitres,
            as_typed=entry.as_typed,
            about=entry.about,
            section=entry.section,
            technique=entry.technique,
            planned_id=entry.planned_id,
        )
        for each in dyes_of(entry.mix)
    ]


def dye_in_portion(portion: LogEntry) -> Figure[Fraction] | None:
    """Exact milligrams of its dye in a portion, with the working; None where nobody knows how much was poured."""
    mix, dye = portion.mix, portion.dye
    if portion.kind != LogEntry.Kind.MIX or mix is None or dye is None or not portion.microlitres:
        return None
    of_it = next((each for each in dyes_of(mix) if each.dye.pk == dye.pk), None)
    if of_it is None:
        return None
    return dye_from_mix(
        dye=f"{dye.name} in {mix_words(mix)}",
        poured_microlitres=portion.microlitres,
        dye_milligrams=of_it.milligrams,
        made_microlitres=mix.made_microlitres,
    )
