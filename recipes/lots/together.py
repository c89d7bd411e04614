"""One thing kept for several pots at once: each pot keeps it in its own log, and it can be struck in all of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID, uuid5

from django.db import transaction
from django.utils import timezone

from dyehouse.studio.codes import tidy
from dyehouse.studio.models import User
from recipes.lots.log import NotAnEntry, add_entry, keep_line, strike
from recipes.lots.models import LogEntry, Pot
from recipes.lots.resolving import what_was_said

ONE_JAR = "A jar weighed before and after tells of one pot. Keep it for each pot by itself, with its own two weighings."


def pots_called(codes: Iterable[str], *, besides: Pot) -> list[Pot]:
    """The pots that a form names beside its own, each once. Raises NotAnEntry for a code that no pot has."""
    wanted = dict.fromkeys(tidy(code) for code in codes)
    wanted.pop(besides.code, None)
    found = {pot.code: pot for pot in Pot.objects.filter(code__in=wanted)} if wanted else {}
    unknown = [code for code in wanted if code not in found]
    if unknown:
        raise NotAnEntry(f"There is no pot {unknown[0]}. Choose again which pots it goes into.")
    return [found[code] for code in wanted]


@transaction.atomic
def keep_line_in(
    *,
    pot: Pot,
    also: Sequence[Pot],
    key: UUID,
    typed: str,
    who: User,
    clock: datetime | None = None,
    fahrenheit: bool = False,
) -> None:
    """Keep a line at a pot and at others too: all of them or none.

    It is read once, as it is shown at the first pot. The same key again changes nothing.
    Raises NothingTyped, NotLoaded, and NotAnEntry for a jar's two weighings.
    """
    if not also:
        keep_line(pot=pot, key=key, typed=typed, who=who, clock=clock, fahrenheit=fahrenheit)
        return
    arrived = timezone.now()
    for each in _one_at_a_time([pot, *also]):
        kept = keep_line(
            pot=each,
            key=uuid5(key, each.code),
            typed=typed,
            who=who,
            clock=clock,
            now=arrived,
            fahrenheit=fahrenheit,
            together=key,
            read_at=pot,
        )
        if any(entry.jar_before_milligrams or entry.jar_after_milligrams for entry in kept):
            raise NotAnEntry(ONE_JAR)


@transaction.atomic
def add_entry_in(
    *,
    pot: Pot,
    also: Sequence[Pot],
    key: UUID,
    kind: str,
    who: User,
    happened_at: datetime,
    **fields: Any,
) -> None:
    """Keep one thing done or seen at a pot and at others too: all of them or none.

    The same key again changes nothing. Raises NotLoaded and NotAnEntry.
    """
    if not also:
        add_entry(pot=pot, key=key, kind=kind, who=who, happened_at=happened_at, **fields)
        return
    if fields.get("jar_before_milligrams") or fields.get("jar_after_milligrams"):
        raise NotAnEntry(ONE_JAR)
    for each in _one_at_a_time([pot, *also]):
        add_entry(
            pot=each,
            key=uuid5(key, each.code),
            kind=kind,
            who=who,
            happened_at=happened_at,
            together=key,
            **fields,
        )


def keep_again(
    *, pot: Pot, also: Sequence[Pot], of: LogEntry, key: UUID, who: User, happened_at: datetime
) -> None:
    """Put the same in once more. A second scoop is another weighing, and one more than planned.

    The same key again changes nothing. Raises NotLoaded and NotAnEntry.
    """
    said = what_was_said(of)
    said.update(typed="", planned=None, jar_before_milligrams=None, jar_after_milligrams=None)
    kind = said.pop("kind")
    add_entry_in(pot=pot, also=also, key=key, kind=kind, who=who, happened_at=happened_at, **said)


@transaction.atomic
def strike_in_all(*, entry: LogEntry, key: UUID, who: User, now: datetime | None = None) -> None:
    """Strike an entry in every pot that it was kept for at once. What is struck already stays so."""
    if entry.together is None:
        strike(entry=entry, key=key, who=who, now=now)
        return
    everywhere = LogEntry.objects.filter(together=entry.together).select_related("pot").order_by("pot_id")
    _one_at_a_time([each.pot for each in everywhere])
    for each in everywhere:
        strike(entry=each, key=uuid5(key, each.pot.code), who=who, now=now)


def _one_at_a_time(pots: Iterable[Pot]) -> list[Pot]:
    """The pots, each once, all locked before anything leaves the store, so that no two phones wait for each other."""
    wanted = {pot.pk for pot in pots}
    return list(Pot.objects.select_for_update().filter(pk__in=wanted).order_by("pk"))
