"""What a log entry takes from the store, and how it comes back when the entry is struck.

A bottle or a jar that was in the dyer's hand but not in the book is written down at once, so that its use can be posted.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID, uuid5

from dyehouse.ledger.models import Lot, Movement
from dyehouse.ledger.operations import Bucket, Step, post, reverse
from dyehouse.ledger.places import fixed_place
from dyehouse.studio.models import User
from recipes.lots.models import LogEntry
from recipes.models import Dye, Jar, StockBottle

Kind = LogEntry.Kind
FOUND_LABEL = "found at the pot"


def entry_source(key: UUID) -> str:
    """How the ledger names a log entry as the cause of a movement."""
    return f"entry:{key}"


def post_use(entry: LogEntry) -> Movement | None:
    """Post what an entry takes from the store; what the book lacks is found in the same movement.

    Nothing is posted while its bottle, jar or amount is not certain: that waits for the answer to its question.
    """
    steps = _steps(entry)
    if not steps:
        return None
    return post(
        key=uuid5(entry.key, "use"),
        who=entry.who,
        steps=steps,
        why=f"Into pot {entry.pot.code}",
        source=entry_source(entry.key),
        happened_at=entry.happened_at,
        find_missing=True,
    )


def give_back(entry: LogEntry, *, key: UUID, who: User) -> Movement | None:
    """Put back into the store what a struck entry had taken."""
    used = Movement.objects.filter(source=entry_source(entry.key), reverses__isnull=True).first()
    if used is None:
        return None
    return reverse(movement=used, key=key, who=who, why="Struck in the pot log")


def _steps(entry: LogEntry) -> list[Step]:
    store, consumed = Bucket(fixed_place("store")), Bucket(fixed_place("consumed"))
    if entry.kind == Kind.STOCK and entry.bottle is not None and entry.dye is not None and entry.microlitres:
        return [Step(entry.dye.stock_item, entry.bottle.lot, entry.microlitres, store, consumed)]
    if entry.kind == Kind.POWDER and entry.jar is not None and entry.dye is not None and entry.milligrams:
        return [Step(entry.dye.item, entry.jar.lot, entry.milligrams, store, consumed)]
    if entry.kind == Kind.MIX and entry.mix is not None and entry.microlitres:
        return [Step(entry.mix.item, entry.mix.lot, entry.microlitres, store, consumed)]
    if entry.kind == Kind.AUXILIARY and entry.auxiliary is not None:
        amount = entry.microlitres if entry.auxiliary.is_liquid else entry.milligrams
        if amount:
            return [Step(entry.auxiliary.item, entry.auxiliary.lot, amount, store, consumed)]
    return []


def find_bottle_or_jar(kind: str, fields: dict[str, Any], at: datetime) -> None:
    """Fill in the bottle or jar of an addition whose dye is known and of which the book has none."""
    dye: Dye | None = fields.get("dye")
    if dye is None:
        return
    strength, microlitres = fields.get("strength_mg_per_litre"), fields.get("microlitres")
    if kind == Kind.STOCK and fields.get("bottle") is None and strength and microlitres:
        fields["bottle"] = _found_bottle(dye, strength, microlitres, at)
    if kind == Kind.POWDER and fields.get("jar") is None and fields.get("milligrams"):
        fields["jar"] = _found_jar(dye)


def _found_bottle(dye: Dye, strength_mg_per_litre: int, microlitres: int, at: datetime) -> StockBottle:
    there = StockBottle.objects.filter(
        dye=dye, strength_mg_per_litre=strength_mg_per_litre, finished_at__isnull=True
    ).order_by("-id")
    bottle = there.select_related("lot").first()
    if bottle is not None:
        return bottle
    bottle = StockBottle(
        dye=dye, strength_mg_per_litre=strength_mg_per_litre, made_at=at, made_microlitres=microlitres
    )
    bottle.lot = Lot.objects.create(kind=Lot.Kind.BOTTLE, name=str(bottle))
    bottle.save()
    return bottle


def _found_jar(dye: Dye) -> Jar | None:
    """The one jar there is, or a new one where there is none; of several open ones none is guessed."""
    open_jars = list(Jar.objects.filter(dye=dye, finished_at__isnull=True).select_related("lot")[:2])
    if open_jars:
        return open_jars[0] if len(open_jars) == 1 else None
    before = Jar.objects.filter(dye=dye, label__startswith=FOUND_LABEL).count()
    label = f"{FOUND_LABEL} {before + 1}" if before else FOUND_LABEL
    lot = Lot.objects.create(kind=Lot.Kind.JAR, name=f"{dye.name} {label}")
    return Jar.objects.create(dye=dye, label=label, lot=lot)
