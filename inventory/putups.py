"""Put-ups change: skeins wound off into minis, a cone skeined off, half skeins re-skeined. The lot stays; the waste is named."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.db.models import Q, QuerySet

from dyehouse.ledger.models import Balance, Held, Item, Lot, Movement, Place
from dyehouse.ledger.operations import Bucket, Step, post, reverse
from dyehouse.ledger.places import fixed_place
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.models import PutUpChange, PutUpMade
from recipes.colourways import dyed_yarn
from recipes.dyeing import sources
from recipes.dyeing.units import format_grams
from recipes.dyeing.working import Figure, Working
from recipes.lots.models import DyeLot
from recipes.models import DyedYarn, MillLot, PutUp
from recipes.words import one_line

LONGEST_REASON = 300
MOST_PIECES = 9_999


class NotWound(Refused):
    """Nothing is taken, nothing is made, or what is made is not of the same base."""


class MoreOutThanIn(Refused):
    """The new pieces weigh more than went in."""


class WhyWaste(Refused):
    """What is lost is lost with a reason only."""


class NotFree(Refused):
    """Fewer pieces are free there; the sentence says for whom the others are held."""


@dataclass(frozen=True, slots=True)
class Dyed:
    """Pieces of a dye lot on one put-up and grade, at a place."""

    yarn: DyedYarn
    lot: DyeLot
    place: Place


@dataclass(frozen=True, slots=True)
class Undyed:
    """Pieces of a mill lot on one put-up, in the store."""

    put_up: PutUp
    lot: MillLot


def put_ups_for(put_up: PutUp) -> list[PutUp]:
    """The other put-ups in use of the same base, the heaviest first. One query."""
    others = PutUp.objects.filter(base=put_up.base_id, retired_at__isnull=True).exclude(pk=put_up.pk)
    return list(others.select_related("base", "item").order_by("-nominal_milligrams"))


def waste(*, put_up: PutUp, pieces: int, made: Mapping[PutUp, int]) -> Figure[int]:
    """What is lost, in milligrams of the put-ups' nominal weights: what goes in less what comes out; below zero when more would."""
    goes_in = pieces * put_up.nominal_milligrams
    comes_out = sum(count * each.nominal_milligrams for each, count in made.items())
    lost = goes_in - comes_out
    out = " − ".join(
        f"{count} × {format_grams(each.nominal_milligrams)}" for each, count in made.items() if count
    )
    return Figure(
        lost,
        Working(
            title="Waste",
            formula="what goes in − what comes out, by the weights on the labels",
            substitution=f"{pieces} × {format_grams(put_up.nominal_milligrams)} − {out or '0 g'}",
            result=f"{'−' if lost < 0 else ''}{format_grams(abs(lost))}",
            source=sources.DEFINITION,
        ),
    )


@transaction.atomic
def change_put_up(
    *,
    key: UUID,
    of: Dyed | Undyed,
    pieces: int,
    made: Mapping[PutUp, int],
    who: User,
    why: str = "",
    happened_at: datetime | None = None,
) -> PutUpChange:
    """Wind free pieces off into other put-ups of their base, in one movement; the lot, the grade and the place stay.

    `made` gives the new pieces by put-up. Their nominal weights may not exceed what went in; the difference is the waste,
    which wants a word of why. The same key again gives the first change. Raises NotWound, MoreOutThanIn, WhyWaste, NotFree.
    """
    first = PutUpChange.objects.filter(movement__key=key).first()
    if first is not None:
        return first
    put_up = of.yarn.put_up if isinstance(of, Dyed) else of.put_up
    wanted = {each: count for each, count in made.items() if count}
    _refuse_what_is_not_wound(of, put_up, pieces, wanted)
    lost = waste(put_up=put_up, pieces=pieces, made=wanted)
    if lost.value < 0:
        raise MoreOutThanIn(
            f"{format_grams(pieces * put_up.nominal_milligrams)} go in and "
            f"{format_grams(pieces * put_up.nominal_milligrams - lost.value)} would come out. "
            "Make fewer pieces, or take more."
        )
    reason = one_line(why)[:LONGEST_REASON]
    if lost.value and not reason:
        raise WhyWaste(
            f"{format_grams(lost.value)} are lost. Say in a word or two why, for example “ties and ends”."
        )
    item, lot, place = _what(of)
    _refuse_held(item, lot, place, pieces)
    here, consumed, made_here = Bucket(place), Bucket(fixed_place("consumed")), Bucket(fixed_place("made"))
    steps = [Step(item, lot, pieces, here, consumed)]
    steps += [Step(_new_item(of, each), lot, count, made_here, here) for each, count in wanted.items()]
    movement = post(
        key=key,
        who=who,
        steps=steps,
        why=words_of(pieces=pieces, put_up=put_up, made=wanted, lost=lost.value, why=reason),
        source=f"lot:{of.lot.code}" if isinstance(of, Dyed) else "store:yarn",
        happened_at=happened_at,
    )
    change = PutUpChange.objects.create(
        movement=movement,
        dye_lot=of.lot if isinstance(of, Dyed) else None,
        mill_lot=None if isinstance(of, Dyed) else of.lot,
        colourway=of.yarn.colourway if isinstance(of, Dyed) else None,
        grade=of.yarn.grade if isinstance(of, Dyed) else "",
        place=place,
        put_up=put_up,
        pieces=pieces,
        waste_milligrams=lost.value,
        waste_why=reason if lost.value else "",
        changed_at=movement.happened_at,
        by=who,
    )
    PutUpMade.objects.bulk_create(
        PutUpMade(change=change, put_up=each, pieces=count) for each, count in wanted.items()
    )
    return change


def words_of(*, pieces: int, put_up: PutUp, made: Mapping[PutUp, int], lost: int, why: str) -> str:
    """A change in a line: 1 × 100 g into 4 × 20 g; 20 g lost, ties and ends."""
    out = " and ".join(f"{count} × {format_grams(each.nominal_milligrams)}" for each, count in made.items())
    line = f"{pieces} × {format_grams(put_up.nominal_milligrams)} into {out}"
    return (f"{line}; {format_grams(lost)} lost, {why}" if lost else line)[:LONGEST_REASON]


def _refuse_what_is_not_wound(
    of: Dyed | Undyed, put_up: PutUp, pieces: int, made: Mapping[PutUp, int]
) -> None:
    if isinstance(of, Dyed):
        if of.yarn.grade == DyedYarn.Grade.UNJUDGED:
            raise NotWound("These pieces are not judged yet. Judge them first, then wind them off.")
        if of.place.kind not in (Place.Kind.STAGE, Place.Kind.SHELF):
            raise NotWound(f"What is in {of.place.name} is not wound off there.")
    if not 1 <= pieces <= MOST_PIECES:
        raise NotWound("Take at least one piece.")
    if not made:
        raise NotWound("Say what it is wound into: at least one piece of another put-up.")
    if any(not 1 <= count <= MOST_PIECES for count in made.values()):
        raise NotWound(f"Pieces are counted from 1 to {MOST_PIECES}.")
    if any(each.base_id != put_up.base_id for each in made):
        raise NotWound("A skein stays on its base. Choose a put-up of the same base.")
    if put_up in made:
        raise NotWound("What stays as it is need not be taken. Take fewer pieces instead.")


def _what(of: Dyed | Undyed) -> tuple[Item, Lot, Place]:
    if isinstance(of, Dyed):
        return of.yarn.item, of.lot.lot, of.place
    return of.put_up.item, of.lot.lot, fixed_place("store")


def _new_item(of: Dyed | Undyed, put_up: PutUp) -> Item:
    if isinstance(of, Dyed):
        return dyed_yarn(colourway=of.yarn.colourway, put_up=put_up, grade=of.yarn.grade).item
    return put_up.item


def _refuse_held(item: Item, lot: Lot, place: Place, pieces: int) -> None:
    row = Balance.objects.select_for_update().filter(item=item, lot=lot, place=place).first()
    there, free = (row.on_hand, row.free) if row is not None else (0, 0)
    if pieces <= free:
        return
    if pieces <= there:
        rows = Held.objects.filter(item=item, lot=lot, place=place, quantity__gt=0).select_related("claim")
        names = ", ".join(str(each.claim) for each in rows.order_by("id"))
        raise NotFree(f"Only {free} of these are free; the others are held for {names}.")
    raise NotFree(f"{pieces} are taken and {there} are there. Count again.")


@transaction.atomic
def take_change_back(*, key: UUID, change: PutUpChange, who: User, why: str) -> Movement:
    """The new pieces are gone and the old ones are where they were, with a reason. The same key again changes nothing.

    Raises the ledger's ReasonMissing, AlreadyReversed, and NotEnough when new pieces have moved on, are held or were sold.
    """
    first = Movement.objects.filter(key=key).first()
    if first is not None:
        return first
    return reverse(movement=change.movement, key=key, who=who, why=one_line(why)[:LONGEST_REASON])


@dataclass(frozen=True, slots=True)
class ChangeLine:
    """One change as a page tells it. `name` is the lot's for this reader, empty for undyed yarn."""

    change: PutUpChange
    name: str
    words: str
    figure: Figure[int]
    taken_back: bool
    back_why: str = ""


def changes(
    *,
    user: User,
    dye_lot: DyeLot | None = None,
    mill_lot: MillLot | None = None,
    limit: int = 60,
) -> list[ChangeLine]:
    """What was wound off, the newest first; of one lot where one is named. Two queries."""
    rows: QuerySet[PutUpChange] = PutUpChange.objects.all()
    if dye_lot is not None:
        rows = rows.filter(dye_lot=dye_lot)
    if mill_lot is not None:
        rows = rows.filter(mill_lot=mill_lot)
    found = rows.select_related(
        "put_up__base", "dye_lot__colourway", "mill_lot", "place", "by", "movement__reversed_by"
    ).prefetch_related("made__put_up")
    return [_line(change, user) for change in found.order_by("-id")[:limit]]


def _line(change: PutUpChange, user: User) -> ChangeLine:
    made: dict[PutUp, int] = {each.put_up: each.pieces for each in change.made.all()}
    back = getattr(change.movement, "reversed_by", None)
    return ChangeLine(
        change=change,
        name=change.dye_lot.shown_name(user) if change.dye_lot is not None else "",
        words=words_of(
            pieces=change.pieces,
            put_up=change.put_up,
            made=made,
            lost=change.waste_milligrams,
            why=change.waste_why,
        ),
        figure=waste(put_up=change.put_up, pieces=change.pieces, made=made),
        taken_back=back is not None,
        back_why=back.why if back is not None else "",
    )


@dataclass(frozen=True, slots=True)
class ToWind:
    """Something that could be wound off: where it is, and how many of it are free."""

    of: Dyed | Undyed
    free: int
    held: int


def undyed_to_wind(*, mill_lot: MillLot, put_up: PutUp) -> ToWind:
    """Undyed pieces of a mill lot in the store. One query."""
    row = Balance.objects.filter(Q(place__code="store"), item=put_up.item_id, lot=mill_lot.lot_id).first()
    return ToWind(
        Undyed(put_up, mill_lot),
        row.free if row is not None else 0,
        row.held if row is not None else 0,
    )


def choices_words(put_ups: Sequence[PutUp]) -> list[str]:
    """Put-ups as a form names them: 20 g mini, 80 m."""
    return [
        f"{format_grams(each.nominal_milligrams)}{f' {each.name}' if each.name else ''}"
        f"{f', {each.metres} m' if each.metres else ''}"
        for each in put_ups
    ]
