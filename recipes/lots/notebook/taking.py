"""A recipe from notes becomes a way of dyeing, with all that is new in it; or nothing of it does."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from uuid import UUID

from django.db import transaction

from dyehouse.studio.images import CleanPhoto
from dyehouse.studio.models import Studio, User
from dyehouse.studio.refusals import Refused
from recipes.colourways import new_colourway, note_snip, sort_into_families
from recipes.lots.models import Photo
from recipes.lots.notebook.reading import NotedPot, NotedRow, ReadRows, WrongCell, read_rows
from recipes.lots.notebook.things import Things
from recipes.lots.photos import add_photo
from recipes.models import Base, Colourway, WayOfDyeing
from recipes.ways import NotAWay, Notes, keep_way
from recipes.yarn import add_base


class RowsWrong(Refused):
    """Some cells of the recipe cannot be read; nothing was taken in."""

    def __init__(self, wrong: Sequence[WrongCell]) -> None:
        self.wrong = list(wrong)
        super().__init__("Some rows are not right. They say what is wrong beside them.")


@dataclass(frozen=True, slots=True)
class Recipe:
    """One recipe as it was typed. Without a colourway a new one is made, under `new_name` or by its code alone."""

    base: Base
    pot: NotedPot
    rows: Sequence[NotedRow]
    colourway: Colourway | None = None
    new_name: str = ""
    noted_on: dt.date | None = None
    as_written: str = ""
    families: Sequence[str] = ()
    snip: str = ""

    def read(self, things: Things, *, fahrenheit: bool = False) -> ReadRows:
        return read_rows(self.rows, pot=self.pot, base=self.base, things=things, fahrenheit=fahrenheit)


@transaction.atomic
def take_in_notes(
    *,
    key: UUID,
    recipe: Recipe,
    who: User,
    things: Things | None = None,
    photo: CleanPhoto | None = None,
    fahrenheit: bool = False,
) -> WayOfDyeing:
    """Write a recipe down as a way from notes; dyes, auxiliaries, base and colourway that are new come into the house.

    `things` are what the house has, where they were read before; what is new comes to stand among them. `photo` is of
    the page of notes. The same key again gives the way of the first call. Raises RowsWrong, NotAWay, and what making a
    colourway or base raises.
    """
    Studio.current()
    # The studio's row lets the same recipe sent twice at once come one after the other.
    Studio.objects.select_for_update().get(pk=1)
    first = WayOfDyeing.objects.filter(key=key).first()
    if first is not None:
        return first
    house = things or Things.now()
    read = recipe.read(house, fahrenheit=fahrenheit)
    if read.wrong:
        raise RowsWrong(read.wrong)
    if not read.steps:
        raise NotAWay("There is no step to keep. Write down what goes into the pot first.")
    house.keep_new()
    known = house.bases.get(recipe.base.name.casefold(), recipe.base)
    base = known if known.pk else add_base(name=recipe.base.name)
    house.bases[base.name.casefold()] = base
    colourway = recipe.colourway or new_colourway(name=recipe.new_name)
    house.colourways[(colourway.name or colourway.code).casefold()] = colourway
    if recipe.families:
        sort_into_families(colourway=colourway, families=[*colourway.families, *recipe.families])
    if recipe.snip:
        note_snip(colourway=colourway, where=recipe.snip)
    # Read again now that everything it names is there.
    steps = replace(recipe, base=base).read(house, fahrenheit=fahrenheit).steps
    way = keep_way(
        colourway=colourway,
        base=base,
        rules=steps,
        facts=recipe.pot.facts,
        who=who,
        notes=Notes(recipe.noted_on, recipe.as_written),
        key=key,
    )
    if photo is not None:
        add_photo(key=key, upload=photo, kind=Photo.Kind.NOTES, who=who, way=way)
    return way
