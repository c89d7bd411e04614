"""Shows for tests: written down, packed and taken, counted back."""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import dataclass

from django.utils import timezone

from dyehouse.ledger.models import Item, Lot, Place
from dyehouse.studio.models import User
from inventory.shows import closing, packing, planning
from inventory.shows.models import Load, Show
from inventory.shows.packing import Taking
from inventory.shows.things import Sort, SortKind, Thing
from recipes.lots.models import DyeLot
from recipes.models import DyedYarn
from tests import factories


def show(name: str = "Tarn Wool Fair", *, who: User | None = None, days: int = 10) -> Show:
    """A show of two days."""
    starts_on = timezone.localdate() + dt.timedelta(days=days)
    return planning.plan_show(
        name=name,
        where="Tarn Mill",
        starts_on=starts_on,
        ends_on=starts_on + dt.timedelta(days=1),
        who=who or factories.OwnerFactory(),
    )


@dataclass
class Booth:
    """A show with one colourway on one put-up: a shelved lot, of which some were taken."""

    who: User
    show: Show
    lot: DyeLot
    place: Place
    yarn: DyedYarn

    @property
    def sort(self) -> Sort:
        return Sort(SortKind.YARN, self.yarn.colourway_id, self.yarn.put_up_id)

    @property
    def thing(self) -> Thing:
        return Thing(self.item.pk)

    @property
    def item(self) -> Item:
        return self.yarn.item

    @property
    def ledger_lot(self) -> Lot:
        return self.lot.lot

    def usually(self, pieces: int) -> None:
        planning.keep_normal_numbers(numbers={self.sort: pieces}, who=self.who)

    def take(self, pieces: int, lot: DyeLot | None = None) -> Load:
        taking = Taking(self.item, (lot or self.lot).lot, self.place, pieces)
        return packing.take(key=uuid.uuid4(), show=self.show, takings=[taking], who=self.who)

    def another_lot(self, pieces: int) -> DyeLot:
        """Another lot of the same yarn on the same shelf."""
        lot, _, _ = factories.shelved_lot(
            good=pieces, second=0, who=self.who, place=self.place,
            put_up=self.yarn.put_up, colourway=self.lot.colourway,
        )  # fmt: skip
        return lot

    def count(self, pieces: int, lot: DyeLot | None = None) -> None:
        closing.count_back(
            show=self.show, item=self.item, lot=(lot or self.lot).lot, pieces=pieces, who=self.who
        )

    def sold(self, pieces: int | None) -> None:
        closing.say_sold(show=self.show, thing=self.thing, pieces=pieces, who=self.who)

    def close(self, why: str = "", **more):
        return closing.close(key=uuid.uuid4(), show=self.show, who=self.who, why=why, **more)


def booth(pieces: int = 10, *, taken: int = 0, name: str = "", who: User | None = None) -> Booth:
    """A show and a shelf with so many good pieces of one lot, some of them taken."""
    owner = who or factories.OwnerFactory()
    colourway = factories.colourway(name)
    lot, place, yarn = factories.shelved_lot(good=pieces, second=0, who=owner, colourway=colourway)
    made = Booth(owner, show(who=owner), lot, place, yarn)
    if taken:
        made.take(taken)
    return made


def closed_booth() -> Booth:
    """A show of which eight were taken and three came back."""
    made = booth(10, taken=8)
    made.count(3)
    made.close()
    return made
