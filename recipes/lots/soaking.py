"""Yarn that was weighed out and soaks for a planned pot: out of the store, held for that pot, and not in it yet.

What soaks is held by a claim of the pot, so that no other pot takes it; loading takes it from there, and giving the pot up
returns it to where it lay.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID, uuid5

from django.db import transaction
from django.db.models import OuterRef, QuerySet, Subquery, Value
from django.db.models.functions import Concat
from django.utils import timezone

from dyehouse.ledger.models import Claim, Held, Item, Line, Lot, Movement, Place
from dyehouse.ledger.operations import Bucket, Step, claim_for, post
from dyehouse.ledger.places import fixed_place
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from recipes.lots.in_store import LotPieces
from recipes.lots.load_lines import steps_in, what_lies
from recipes.lots.models import Pot, PotLoad

NAMESPACE = UUID("5a7f2d0e-6a4b-4f4e-9a0e-0f5d8f0c9b31")
#: What the claim of a soaking pot is for; the pot's code follows.
HELD_FOR = "pot "
OF_A_LOAD = ("put_up__item", "put_up__base", "mill_lot__lot", "was__item", "overdyes__lot", "from_place")


class NothingToSoak(Refused):
    """No pot was chosen, or it is not planned any more, or has no pieces."""


@dataclass(frozen=True, slots=True)
class Soaking:
    """So many pieces of one lot that soak for a pot, and since when."""

    claim_key: UUID
    item: Item
    lot: Lot
    pieces: int
    since: datetime


def claim_key(pot: Pot) -> UUID:
    """The key of the claim that holds what soaks for a pot."""
    return uuid5(NAMESPACE, pot.code)


@transaction.atomic
def soak(*, key: UUID, pots: Sequence[Pot], who: User, happened_at: datetime | None = None) -> Movement:
    """Put the yarn of planned pots to soak, many at once: from where it lies, held for its pot. A soaking pot stays as it is.

    What the book does not have is found in the same movement, as when a pot is loaded. The same key again gives the first
    movement. Raises NothingToSoak.
    """
    first = Movement.objects.filter(key=key).first()
    if first is not None:
        return first
    locked = list(Pot.objects.select_for_update().filter(pk__in=[pot.pk for pot in pots]).order_by("pk"))
    over = next((pot for pot in locked if pot.state != "planned"), None)
    if over is not None:
        raise NothingToSoak(f"Pot {over.code} is {over.state}; only yarn of planned pots is put to soak.")
    wet = {each.claim_key for each in soaking_for(locked)}
    dry = {pot.pk: pot for pot in locked if claim_key(pot) not in wet}
    loads = list(PotLoad.objects.filter(pot__in=dry).select_related(*OF_A_LOAD).order_by("pot_id", "id"))
    if not loads:
        raise NothingToSoak("Choose at least one planned pot whose yarn does not soak yet.")
    place = fixed_place("soaking")
    steps = []
    for load in loads:
        claim = claim_for(key=claim_key(dry[load.pot_id]), held_for=f"{HELD_FOR}{dry[load.pot_id].code}")
        steps += [
            Step(step.item, step.lot, step.quantity, step.source, Bucket(place, claim))
            for step in steps_in([load])
        ]
    codes = sorted({dry[load.pot_id].code for load in loads})
    return post(
        key=key,
        who=who,
        steps=steps,
        why=f"Soaking for {'pot' if len(codes) == 1 else 'pots'} {', '.join(codes)}"[:300],
        source=f"soak:{codes[0]}" if len(codes) == 1 else "soak:pots",
        happened_at=happened_at,
        find_missing=True,
    )


@transaction.atomic
def leave_off_soaking(*, key: UUID, pots: Sequence[Pot], who: User | None) -> Movement | None:
    """What soaks for some pots goes back to where it lay; None where nothing does. The same key again changes nothing."""
    first = Movement.objects.filter(key=key).first()
    if first is not None:
        return first
    locked = list(Pot.objects.select_for_update().filter(pk__in=[pot.pk for pot in pots]).order_by("pk"))
    steps = [step for pot in locked for step in steps_back(pot)]
    if not steps:
        return None
    codes = sorted(pot.code for pot in locked)
    source = f"soak:{codes[0]}" if len(codes) == 1 else "soak:pots"
    return post(key=key, who=who, steps=steps, why=f"Not soaked: {', '.join(codes)}"[:300], source=source)


def soaking_for(pots: Iterable[Pot] | None = None) -> list[Soaking]:
    """What soaks for some pots, or all that soaks, by claim and lot. One query."""
    rows = Held.objects.filter(place__code="soaking", quantity__gt=0)
    if pots is not None:
        rows = rows.filter(claim__key__in=[claim_key(pot) for pot in pots])
    rows = rows.select_related("claim", "item", "lot", "last_line__movement").order_by("claim_id", "id")
    return [
        Soaking(row.claim.key, row.item, row.lot, row.quantity, row.last_line.movement.happened_at)
        for row in rows
    ]


def with_soaking(loads: QuerySet[PotLoad]) -> QuerySet[PotLoad]:
    """Lines of pots, each knowing how many of its undyed pieces soak already, as `soaks`."""
    soaking = Held.objects.filter(
        place__code="soaking",
        claim__held_for=Concat(Value(HELD_FOR), OuterRef("pot__code")),
        item=OuterRef("put_up__item"),
        lot=OuterRef("mill_lot__lot"),
    )
    return loads.annotate(soaks=Subquery(soaking.values("quantity")[:1]))


def there_or_soaking(there: Sequence[LotPieces], loads: Iterable[PotLoad]) -> list[LotPieces]:
    """What the store has by mill lot, and beside it what soaks for lines read `with_soaking`."""
    pieces = {each.mill_lot.pk: each for each in there}
    for load in loads:
        soaks = getattr(load, "soaks", None) or 0
        if soaks:
            before = pieces.get(load.mill_lot_id)
            more = soaks + (before.pieces if before is not None else 0)
            pieces[load.mill_lot_id] = LotPieces(load.mill_lot, more)
    return list(pieces.values())


def steps_into(pot: Pot, loads: Sequence[PotLoad]) -> tuple[list[Step], datetime | None]:
    """The steps that load a planned pot: what soaks for it first, the rest from where it lies; and since when it soaked.

    What soaks and is not loaded goes back to where it lay, in the same movement.
    """
    wet = soaking_for([pot])
    if not wet:
        return steps_in(loads), None
    soaks, in_pots = fixed_place("soaking"), Bucket(fixed_place("in_pots"))
    claim = Claim.objects.get(key=claim_key(pot))
    left = {(each.item.pk, each.lot.pk): each.pieces for each in wet}
    steps: list[Step] = []
    for load in loads:
        item, lot = what_lies(load)
        took = min(load.pieces, left.get((item.pk, lot.pk), 0))
        if took:
            left[item.pk, lot.pk] -= took
            steps.append(Step(item, lot, took, Bucket(soaks, claim), in_pots))
        for step in steps_in([load]) if took < load.pieces else ():
            steps.append(Step(step.item, step.lot, load.pieces - took, step.source, step.target))
    steps += _back(claim, [each for each in wet if left[each.item.pk, each.lot.pk]], left)
    return steps, min(each.since for each in wet)


def steps_back(pot: Pot) -> list[Step]:
    """The steps that return all that soaks for a pot to where it lay."""
    wet = soaking_for([pot])
    if not wet:
        return []
    return _back(
        Claim.objects.get(key=claim_key(pot)),
        wet,
        {(each.item.pk, each.lot.pk): each.pieces for each in wet},
    )


def _back(claim: Claim, wet: Iterable[Soaking], left: Mapping[tuple[int, int], int]) -> list[Step]:
    soaks = Bucket(fixed_place("soaking"), claim)
    return [
        Step(
            each.item,
            each.lot,
            left[each.item.pk, each.lot.pk],
            soaks,
            Bucket(_where_it_lay(claim, each)),
        )
        for each in wet
    ]


def _where_it_lay(claim: Claim, each: Soaking) -> Place:
    came = (
        Line.objects.filter(to_claim=claim, item=each.item, lot=each.lot, to_place__code="soaking")
        .exclude(from_place__kind__in=(Place.Kind.POT, Place.Kind.BOUNDARY))
        .select_related("from_place")
        .order_by("-id")
        .first()
    )
    return came.from_place if came is not None else fixed_place("store")


def minutes_soaked(since: datetime, until: datetime | None = None) -> int:
    """Whole minutes from when yarn was put to soak."""
    return max(0, int(((until or timezone.now()) - since).total_seconds() // 60))
