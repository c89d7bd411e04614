"""Colourways: their codes, names, secrets, and the dyed yarn that carries them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from dyehouse.ledger.models import Item
from dyehouse.studio.codes import take_code
from dyehouse.studio.refusals import Refused
from recipes.dyeing import families as dyeing
from recipes.dyeing.families import in_order
from recipes.models import Colourway, DyedYarn, PutUp, hex_colour
from recipes.words import one_line

LONGEST_SNIP = 120


class ColourwayNameTaken(Refused):
    """Another colourway has this name."""


class ColourwayCodeTaken(Refused):
    """Another colourway has this code."""


class NotAFamily(Refused):
    """A colour family that the short list does not have."""


class NotAColour(Refused):
    """A colour is not written as # and six digits."""


@transaction.atomic
def new_colourway(
    *,
    code: str | None = None,
    name: str = "",
    chips: Sequence[str] = (),
    secret_until: dt.datetime | None = None,
) -> Colourway:
    """Start a colourway. Without a code it takes a new one; a trial gives it the code of its pot.

    `chips` are hex colours that stand for it until there is a photo.
    Raises ColourwayNameTaken, ColourwayCodeTaken, NotAColour.
    """
    name = one_line(name)
    _refuse_taken_name(name)
    _refuse_what_is_no_colour(chips)
    if code is not None and Colourway.objects.filter(code=code).exists():
        raise ColourwayCodeTaken(
            f"There is a colourway with the code {code} already. Use that one, or take a new code."
        )
    return Colourway.objects.create(
        code=code or take_code(),
        name=name,
        chips=[chip.lower() for chip in chips],
        secret_until=secret_until,
        made_at=timezone.now(),
    )


@transaction.atomic
def name_colourway(*, colourway: Colourway, name: str) -> Colourway:
    """Give a colourway its name, or take it away with an empty one; the code stays. Raises ColourwayNameTaken."""
    name = one_line(name)
    _refuse_taken_name(name, other_than=colourway)
    colourway.name = name
    colourway.save(update_fields=["name"])
    return colourway


@transaction.atomic
def keep_secret(*, colourway: Colourway, until: dt.datetime | None) -> Colourway:
    """Show only the code to everybody but the owner until a day; None makes it known now."""
    colourway.secret_until = until
    colourway.save(update_fields=["secret_until"])
    return colourway


@transaction.atomic
def colour_chips(*, colourway: Colourway, chips: Sequence[str]) -> Colourway:
    """Set the hex colours that stand for it until there is a photo. Raises NotAColour."""
    _refuse_what_is_no_colour(chips)
    colourway.chips = [chip.lower() for chip in chips]
    colourway.save(update_fields=["chips"])
    return colourway


@transaction.atomic
def sort_into_families(*, colourway: Colourway, families: Sequence[str]) -> Colourway:
    """Say which colour families it is of, in place of those said before. Raises NotAFamily."""
    try:
        colourway.families = in_order(families)
    except dyeing.NotAFamily as unknown:
        raise NotAFamily(str(unknown)) from None
    colourway.save(update_fields=["families"])
    return colourway


@transaction.atomic
def note_snip(*, colourway: Colourway, where: str) -> Colourway:
    """Say where the snip of it is kept: a book and page, a tin, a ring. Empty: there is none."""
    colourway.snip = one_line(where)[:LONGEST_SNIP]
    colourway.save(update_fields=["snip"])
    return colourway


def dyed_yarn(*, colourway: Colourway, put_up: PutUp, grade: str) -> DyedYarn:
    """A colourway on a base at a put-up and grade, with its place in the ledger; made when first asked for."""
    known = _known_dyed_yarn(colourway, put_up, grade)
    if known is not None:
        return known
    try:
        with transaction.atomic():
            # The ledger's own words name the code, so that no message of its tells a secret name.
            words = f"{colourway.code} on {put_up}, {DyedYarn.Grade(grade).label}"
            item = Item.objects.create(kind=Item.Kind.DYED, unit=Item.Unit.PIECE, name=words)
            return DyedYarn.objects.create(colourway=colourway, put_up=put_up, grade=grade, item=item)
    except IntegrityError:
        made_meanwhile = _known_dyed_yarn(colourway, put_up, grade)
        if made_meanwhile is None:
            raise
        return made_meanwhile


def _known_dyed_yarn(colourway: Colourway, put_up: PutUp, grade: str) -> DyedYarn | None:
    return (
        DyedYarn.objects.filter(colourway=colourway, put_up=put_up, grade=grade)
        .select_related("item")
        .first()
    )


def _refuse_taken_name(name: str, *, other_than: Colourway | None = None) -> None:
    if not name:
        return
    others = Colourway.objects.filter(name__iexact=name)
    if other_than is not None:
        others = others.exclude(pk=other_than.pk)
    if others.exists():
        raise ColourwayNameTaken(f"There is a colourway called {name} already. Choose another name.")


def _refuse_what_is_no_colour(chips: Sequence[str]) -> None:
    for chip in chips:
        try:
            hex_colour(chip)
        except ValidationError as wrong:
            raise NotAColour(" ".join(wrong.messages)) from None
