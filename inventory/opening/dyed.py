"""Dyed yarn that was there before the house: its lot has no log, and its pieces are taken in as they were found."""

from __future__ import annotations

import datetime as dt
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from dyehouse.ledger.models import Lot, Movement, Place
from dyehouse.ledger.operations import Bucket, Step, post
from dyehouse.ledger.places import fixed_place
from dyehouse.studio.codes import take_code
from dyehouse.studio.models import ShortCode, User
from dyehouse.studio.refusals import Refused
from recipes.colourways import dyed_yarn, new_colourway
from recipes.lots.models import DyeLot
from recipes.models import Colourway, DyedYarn, PutUp

WHY = "There before the house"
SOURCE = "opening:dyed"


class LotCodeTaken(Refused):
    """The code belongs to something else: a pot, a colourway, or a lot of another colourway."""


class NothingThere(Refused):
    """No piece was counted, or pieces that a shelf does not take."""


@transaction.atomic
def lot_from_before(*, colourway: Colourway, code: str = "", dyed_on: dt.date | None = None) -> DyeLot:
    """The lot of a code that was dyed before the house, made when first asked for; without a code it takes a new one.

    `dyed_on` is the day it was dyed, where somebody knows it. Raises LotCodeTaken.
    """
    known = DyeLot.objects.filter(code=code).select_related("lot", "colourway").first() if code else None
    if known is not None:
        refuse_other_lot(known, colourway)
        return known
    if code:
        _, taken_now = ShortCode.objects.get_or_create(code=code)
        if not taken_now:
            raise LotCodeTaken(code_taken_words(code))
    code = code or take_code()
    made_at = (
        timezone.now() if dyed_on is None else timezone.make_aware(dt.datetime.combine(dyed_on, dt.time(12)))
    )
    return DyeLot.objects.create(
        code=code,
        colourway=colourway,
        made_at=made_at,
        lot=Lot.objects.create(kind=Lot.Kind.DYE_LOT, name=code),
        from_before=True,
    )


def refuse_other_lot(lot: DyeLot, colourway: Colourway | None) -> None:
    """Raise LotCodeTaken when pieces of a colourway cannot be added to a lot as from before the house."""
    if not lot.from_before:
        raise LotCodeTaken(
            f"Lot {lot.code} was dyed in this house. Count it on the shelf's page instead of taking it in."
        )
    if colourway is None or lot.colourway_id != colourway.pk:
        raise LotCodeTaken(f"Lot {lot.code} is of another colourway. Write another code, or leave it empty.")


def code_taken_words(code: str) -> str:
    """That a code is somebody else's."""
    return f"{code} is the code of a pot or a colourway already. Write another one, or leave it empty to take a new code."


@transaction.atomic
def dyed_from_before(
    *,
    key: UUID,
    colourway: Colourway | None,
    put_up: PutUp,
    pieces: int,
    who: User,
    new_name: str = "",
    grade: str = DyedYarn.Grade.GOOD,
    lot_code: str = "",
    place: Place | None = None,
    dyed_on: dt.date | None = None,
) -> DyeLot:
    """Take in pieces that were dyed before the house: on a shelf place, or dry and waiting for one.

    Without a colourway one is started under `new_name`. The same key again returns the lot of the first call.
    Raises LotCodeTaken, NothingThere, ColourwayNameTaken.
    """
    first = Movement.objects.filter(key=key).first()
    if first is not None:
        return DyeLot.objects.get(lot__lines__movement=first)
    if pieces < 1:
        raise NothingThere("Count at least one piece.")
    if grade in (DyedYarn.Grade.UNJUDGED, DyedYarn.Grade.REDYE):
        raise NothingThere("What was there before is good, a second or a sample.")
    if place is not None and (place.kind != Place.Kind.SHELF or place.closed_at is not None):
        raise NothingThere(f"{place.name} is not a shelf place in use. Choose one that is.")
    colourway = colourway or new_colourway(name=new_name)
    lot = lot_from_before(colourway=colourway, code=lot_code, dyed_on=dyed_on)
    item = dyed_yarn(colourway=colourway, put_up=put_up, grade=grade).item
    there = Bucket(place if place is not None else fixed_place("dry"))
    outside = Bucket(fixed_place("before_the_house"))
    post(key=key, who=who, steps=[Step(item, lot.lot, pieces, outside, there)], why=WHY, source=SOURCE)
    return lot
