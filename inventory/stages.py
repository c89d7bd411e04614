"""The way from the pot to the shelf: pieces move on to any later stage, and go by another name with a reason."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.db.models import Exists, OuterRef, QuerySet

from dyehouse.ledger.models import Balance, Held, Movement, Place
from dyehouse.ledger.operations import Bucket, Step, hold, post, release
from dyehouse.ledger.places import FIXED_PLACES, fixed_place
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from recipes.colourways import dyed_yarn
from recipes.lots.jugs import count_of_pots, together_words
from recipes.lots.models import DyeLot
from recipes.models import DyedYarn
from recipes.words import one_line

STAGES = tuple(code for code, fixed in FIXED_PLACES.items() if fixed.kind == Place.Kind.STAGE)
LONGEST_REASON = 300
#: What a piece may come to be by another look, and where it goes when it leaves the house with that.
ANOTHER = {
    "good": "good",
    "second": "second",
    "redye": "to redye",
    "sample": "sample",
    "gift": "given away",
    "bin": "binned",
}
LEAVES = {"gift": "given_away", "bin": "written_off"}


class NotOnTheWay(Refused):
    """Nothing was chosen, or it cannot go there."""


class GoesBack(Refused):
    """The place lies before the one it is at."""


class WhyAnother(Refused):
    """A piece goes by another name with a reason only."""


class HeldForSomebody(Refused):
    """What would be taken is held; the sentence says for whom."""


@dataclass(frozen=True, slots=True)
class Moving:
    """Pieces of one lot that lie at a place and move on from there."""

    dyed: DyedYarn
    dye_lot: DyeLot
    place: Place
    pieces: int


@dataclass(frozen=True, slots=True)
class Instead:
    """Free pieces that could take the place of a held one: of the same colourway and put-up, the best match first."""

    row: Balance
    same_lot: bool
    together: str = ""

    @property
    def words(self) -> str:
        match = (self.together or "of this lot") if self.same_lot else "another lot"
        return f"lot {self.row.lot} in {self.row.place}, {match}, {self.row.free} free"


@transaction.atomic
def move_on(
    *, key: UUID, moving: Sequence[Moving], to: Place, who: User, happened_at: datetime | None = None
) -> Movement:
    """Move pieces on to a later stage or a shelf, many lots at once; the stages between count as passed.

    Held pieces go along with what they are held for, after the free ones. The same key again gives the first movement.
    Raises NotOnTheWay when nothing is chosen, when pieces to redye or not yet judged would go onto a shelf, GoesBack for an
    earlier stage, and the ledger's NotEnough.
    """
    first = Movement.objects.filter(key=key).first()
    if first is not None:
        return first
    chosen = [each for each in moving if each.pieces]
    if not chosen:
        raise NotOnTheWay("Choose at least one lot to move on.")
    if to.kind not in (Place.Kind.STAGE, Place.Kind.SHELF) or to.closed_at is not None:
        raise NotOnTheWay(f"{to.name} is no stage or shelf place in use. Choose one that is.")
    steps: list[Step] = []
    for each in chosen:
        _refuse_the_wrong_way(each, to)
        steps += _steps(each, to)
    lots = {each.dye_lot.code for each in chosen}
    source = f"lot:{next(iter(lots))}" if len(lots) == 1 else f"way:{to.code}"
    return post(key=key, who=who, steps=steps, why=f"To {to.name}", source=source, happened_at=happened_at)


def _refuse_the_wrong_way(each: Moving, to: Place) -> None:
    if to.order <= each.place.order and not (to.kind == each.place.kind == Place.Kind.SHELF):
        raise GoesBack(
            f"Lot {each.dye_lot.code} is at {each.place.name} already, which comes after {to.name}."
        )
    if to.kind == Place.Kind.SHELF and each.dyed.grade == DyedYarn.Grade.UNJUDGED:
        raise NotOnTheWay(
            f"Lot {each.dye_lot.code} is not judged yet. Judge it, then it may go onto a shelf."
        )
    if to.kind == Place.Kind.SHELF and each.dyed.grade == DyedYarn.Grade.REDYE:
        raise NotOnTheWay(f"Pieces of lot {each.dye_lot.code} wait to be redyed and do not go onto a shelf.")


def _steps(each: Moving, to: Place) -> list[Step]:
    """The free pieces first, then held ones with what they are held for."""
    row = (
        Balance.objects.select_for_update()
        .filter(place=each.place, item=each.dyed.item_id, lot=each.dye_lot.lot_id)
        .first()
    )
    here, there = Bucket(each.place), Bucket(to)
    if row is None or each.pieces > row.on_hand:
        # Asked as it stands, so that the ledger refuses it in its own words.
        return [Step(each.dyed.item, each.dye_lot.lot, each.pieces, here, there)]
    free = min(row.free, each.pieces)
    steps = [Step(each.dyed.item, each.dye_lot.lot, free, here, there)] if free else []
    rest = each.pieces - free
    for held in _held(each) if rest else ():
        along = min(rest, held.quantity)
        rest -= along
        if along:
            source, target = Bucket(each.place, held.claim), Bucket(to, held.claim)
            steps.append(Step(each.dyed.item, each.dye_lot.lot, along, source, target))
    return steps


def _held(each: Moving) -> QuerySet[Held]:
    return (
        Held.objects.filter(place=each.place, item=each.dyed.item_id, lot=each.dye_lot.lot_id, quantity__gt=0)
        .select_related("claim")
        .order_by("id")
    )


@transaction.atomic
def call_it(
    *,
    key: UUID,
    moving: Moving,
    outcome: str,
    who: User,
    why: str,
    held: Held | None = None,
    instead: Balance | None = None,
) -> Movement:
    """Pieces that were judged are something else after another look: good, second, to redye, sample, a gift, or binned.

    With `held` they are pieces of that hold, and `instead` is where as many are held in their place, in the same movement.
    The same key again gives the first movement. Raises WhyAnother without a reason, NotOnTheWay for what cannot be,
    HeldForSomebody when they are held and nothing is held instead, and the ledger's NotEnough.
    """
    first = Movement.objects.filter(key=key).first()
    if first is not None:
        return first
    reason = one_line(why)[:LONGEST_REASON]
    if not reason:
        raise WhyAnother("Say in a few words why, for example “a streak shows in daylight”.")
    dyed, lot, place = moving.dyed, moving.dye_lot, moving.place
    if outcome not in ANOTHER or outcome == dyed.grade:
        raise NotOnTheWay("Choose what they are now: something else than before.")
    if dyed.grade == DyedYarn.Grade.UNJUDGED:
        raise NotOnTheWay("These are not judged yet. Judge them first.")
    if moving.pieces < 1:
        raise NotOnTheWay("Count at least one piece.")
    steps: list[Step] = []
    if held is not None:
        steps += _held_instead(moving, held, instead)
    else:
        _refuse_held(moving)
    here = Bucket(place)
    if outcome in LEAVES:
        steps.append(Step(dyed.item, lot.lot, moving.pieces, here, Bucket(fixed_place(LEAVES[outcome]))))
    else:
        graded = dyed_yarn(colourway=lot.colourway, put_up=dyed.put_up, grade=outcome)
        steps.append(Step(dyed.item, lot.lot, moving.pieces, here, Bucket(fixed_place("consumed"))))
        steps.append(Step(graded.item, lot.lot, moving.pieces, Bucket(fixed_place("made")), here))
    return post(
        key=key,
        who=who,
        steps=steps,
        why=f"{ANOTHER[outcome].capitalize()}: {reason}",
        source=f"lot:{lot.code}",
    )


def _held_instead(moving: Moving, held: Held, instead: Balance | None) -> list[Step]:
    if instead is None:
        raise HeldForSomebody(
            f"These are held for {held.claim}. Choose which are held instead, or let the hold go."
        )
    return [
        release(
            item=moving.dyed.item,
            lot=moving.dye_lot.lot,
            quantity=moving.pieces,
            place=moving.place,
            claim=held.claim,
        ),
        hold(
            item=instead.item,
            lot=instead.lot,
            quantity=moving.pieces,
            place=instead.place,
            claim=held.claim,
        ),
    ]


def _refuse_held(moving: Moving) -> None:
    row = Balance.objects.filter(
        place=moving.place, item=moving.dyed.item_id, lot=moving.dye_lot.lot_id
    ).first()
    if row is None or moving.pieces <= row.free or moving.pieces > row.on_hand:
        return
    names = ", ".join(str(each.claim) for each in _held(moving))
    raise HeldForSomebody(
        f"Only {row.free} of these are free; the others are held for {names}. Say which held ones they are."
    )


def next_best(*, held: Held, pieces: int) -> list[Instead]:
    """Where as many free good pieces lie that could be held instead: the same lot first, then the newest lots.

    Only of the same colourway and put-up, and no one-offs. One query.
    """
    rows = Balance.objects.filter(
        item=held.item_id, place__kind__in=(Place.Kind.STAGE, Place.Kind.SHELF), lot__dye_lot__own_name=""
    )
    # A one-off was dyed with the lot it was taken from.
    dyed_with = Exists(DyeLot.objects.filter(lot=held.lot_id, taken_from__lot=OuterRef("lot")))
    rows = rows.annotate(pots=count_of_pots("lot__dye_lot"), dyed_with=dyed_with)
    fitting = [
        Instead(
            row,
            row.lot_id == held.lot_id or bool(getattr(row, "dyed_with", False)),
            together_words(getattr(row, "pots", None) or 0),
        )
        for row in rows.select_related("item", "lot", "place")
        if row.free >= pieces
    ]
    return sorted(fitting, key=lambda each: (not each.same_lot, -each.row.lot_id, each.row.place_id))
