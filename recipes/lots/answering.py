"""Answering what a log entry left open: the entry is corrected, and what it took from the store is posted then."""

from __future__ import annotations

from decimal import Decimal
from typing import Any
from uuid import UUID, uuid5

from django.db import transaction

from dyehouse.studio.models import User
from recipes.dyeing.units import parse_decimal, whole
from recipes.dyestuff import add_auxiliary, add_dye
from recipes.lots.log import NotAnEntry, correct, strike
from recipes.lots.models import LogEntry
from recipes.models import Auxiliary, Dye, Jar, Mix, StockBottle

Kind = LogEntry.Kind


@transaction.atomic
def answer(
    *,
    entry: LogEntry,
    key: UUID,
    who: User,
    bottle: StockBottle | None = None,
    strength_mg_per_litre: int | None = None,
    jar: Jar | None = None,
    mix: Mix | None = None,
    dye: Dye | None = None,
    auxiliary: Auxiliary | None = None,
) -> LogEntry:
    """Say which bottle, strength, jar, mix, dye or auxiliary an entry meant. The amount stays as it was typed.

    The same key again returns the first answer. Raises StruckAlready, and NotAnEntry when nothing was said.
    """
    if bottle is not None:
        return correct(entry=entry, key=key, who=who, kind=Kind.STOCK, dye=bottle.dye, bottle=bottle)
    if jar is not None:
        return correct(entry=entry, key=key, who=who, kind=Kind.POWDER, dye=jar.dye, jar=jar)
    if mix is not None:
        return correct(
            entry=entry, key=key, who=who, kind=Kind.MIX, mix=mix, dye=None, strength_mg_per_litre=None
        )
    if strength_mg_per_litre is not None:
        return correct(entry=entry, key=key, who=who, strength_mg_per_litre=strength_mg_per_litre)
    if dye is not None:
        liquid = entry.microlitres is not None or (entry.kind == Kind.STOCK and entry.milligrams is None)
        kind = Kind.STOCK if liquid else Kind.POWDER
        return correct(entry=entry, key=key, who=who, kind=kind, dye=dye, auxiliary=None)
    if auxiliary is not None:
        return correct(
            entry=entry,
            key=key,
            who=who,
            kind=Kind.AUXILIARY,
            auxiliary=auxiliary,
            dye=None,
            strength_mg_per_litre=None,
        )
    raise NotAnEntry("Choose one of the answers, or write what went in as a new line.")


@transaction.atomic
def add_to_store(*, entry: LogEntry, key: UUID, who: User, what: str) -> LogEntry:
    """Write down what an entry names as a new dye or auxiliary of the store, and link the entry to it.

    `what` is dye or auxiliary. A name that the store has by now is linked. Raises NotAnEntry without a name.
    """
    first = LogEntry.objects.filter(key=key).first()
    if first is not None:
        return first
    name = entry.name.strip()
    if not name:
        raise NotAnEntry("This entry names nothing. Correct it and write the name.")
    name = f"{name[:1].upper()}{name[1:]}"[:60]
    if what == "auxiliary":
        auxiliary = Auxiliary.objects.filter(name__iexact=name).first() or add_auxiliary(
            name=name,
            role=Auxiliary.Role.OTHER,
            form=Auxiliary.Form.LIQUID if entry.microlitres else Auxiliary.Form.POWDER,
        )
        return answer(entry=entry, key=key, who=who, auxiliary=auxiliary)
    dye = Dye.objects.filter(name__iexact=name).first() or add_dye(name=name)
    return answer(entry=entry, key=key, who=who, dye=dye)


@transaction.atomic
def correct_instead(*, note: LogEntry, wrong: LogEntry, key: UUID, who: User, amount: Decimal) -> LogEntry:
    """Put right the amount of the entry that a note such as “no, 15 not 5” speaks of; the note is struck, being done.

    `amount` is millilitres or grams, as the entry's. The same key again changes nothing. Raises NotAnEntry.
    """
    stored = whole(amount * 1000)
    if stored < 1:
        raise NotAnEntry("Write how much went in: more than nothing.")
    fields: dict[str, Any] = {"microlitres": stored} if wrong.microlitres else {"milligrams": stored}
    # Two weighings of a jar say another amount, so they go with it.
    fields |= {"jar_before_milligrams": None, "jar_after_milligrams": None}
    corrected = correct(entry=wrong, key=key, who=who, **fields)
    strike(entry=note, key=uuid5(key, "note"), who=who)
    return corrected


def read_instead(sent: str) -> tuple[UUID, Decimal] | None:
    """The entry and the amount that a button for correct_instead sends; None for anything else."""
    key, _, amount = sent.partition(" ")
    try:
        return UUID(key), parse_decimal(amount)
    except ValueError:
        return None
