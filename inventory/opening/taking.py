"""A whole list of opening stock is taken in at once, or nothing of it; the same list again changes nothing."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence
from dataclasses import dataclass, field

from django.db import transaction
from django.utils import timezone

from dyehouse.ledger.models import Item, Movement, Place
from dyehouse.ledger.operations import Bucket, Step, post
from dyehouse.ledger.places import fixed_place
from dyehouse.studio.models import Studio, User
from inventory.opening.columns import BY_KEY
from inventory.opening.dyed import SOURCE, WHY, lot_from_before
from inventory.opening.house import House, Planned, check_against, check_rows
from inventory.opening.rows import (
    AuxiliaryRow,
    DyedRow,
    DyeRow,
    OpeningRow,
    Pieces,
    StockRow,
    YarnRow,
    read_rows,
)
from inventory.shelf import add_shelf_place
from recipes.colourways import dyed_yarn, new_colourway
from recipes.dyeing.stock_life import best_before
from recipes.dyestuff import add_auxiliary, add_dye, add_jar, make_stock, receive_auxiliary
from recipes.lists.cells import ListWrong, Wrong
from recipes.lists.reading import Table, read_table
from recipes.models import Auxiliary, Base, Colourway, Dye, MillLot, PutUp
from recipes.yarn import add_base, add_mill_lot, add_put_up, unknown_mill_lot

NAMESPACE = uuid.UUID("0c1f6e5c-55ab-4d0c-9d43-6f7f8f3f9f26")


@dataclass(frozen=True, slots=True)
class Looked:
    """A list as it was looked at: what would be taken in, what is wrong, and whether it was taken in before."""

    table: Table
    planned: list[Planned]
    wrong: list[Wrong]
    taken_before: bool


@dataclass(frozen=True, slots=True)
class TakenIn:
    """How many rows were taken in; none when the list was taken in before."""

    rows: int
    taken_before: bool = False
    dyed: bool = False


def look_at(text: str) -> Looked:
    """Read a list and check it against the house; nothing changes. Raises FileRefused."""
    table = read_table(text, columns=BY_KEY)
    rows, wrong = read_rows(table)
    if _taken_before(table, rows):
        return Looked(table, [], [], taken_before=True)
    planned, more = check_rows(rows)
    # A cell that is wrong by itself and against the house is named once.
    seen = {(each.row, each.column) for each in wrong}
    wrong += [each for each in more if (each.row, each.column) not in seen]
    return Looked(table, planned, sorted(wrong, key=lambda each: each.row), taken_before=False)


@transaction.atomic
def take_in(*, text: str, who: User) -> TakenIn:
    """Take in a whole list, pieces in one movement: all of it or nothing. The same list again changes nothing.

    The list counts as the same when its cells are, however it was saved. Raises FileRefused and ListWrong.
    """
    Studio.current()
    # The studio's row lets two people who send the same list at once take turns.
    Studio.objects.select_for_update().get(pk=1)
    table = read_table(text, columns=BY_KEY)
    rows, wrong = read_rows(table)
    if _taken_before(table, rows):
        return TakenIn(0, taken_before=True)
    house = House.now(rows)
    planned, more = check_against(house, rows)
    if wrong or more:
        raise ListWrong([*wrong, *more])
    taking = _Taking(house, who, table.digest)
    # A jar without a label is numbered past every label that stands further down.
    for row in rows:
        if isinstance(row, DyeRow) and row.lot:
            taking.jar_labels.setdefault(row.name.casefold(), set()).add(row.lot)
    for one in planned:
        taking.take(one.row)
    taking.post_pieces()
    return TakenIn(len(planned), dyed=any(isinstance(row, DyedRow) for row in rows))


def _key(digest: str, part: object) -> uuid.UUID:
    return uuid.uuid5(NAMESPACE, f"{digest}:{part}")


def _taken_before(table: Table, rows: Sequence[OpeningRow]) -> bool:
    other = next((row.row for row in rows if not isinstance(row, Pieces)), None)
    keys = [_key(table.digest, "pieces"), *([] if other is None else [_key(table.digest, other)])]
    return Movement.objects.filter(key__in=keys).exists()


@dataclass(slots=True)
class _Taking:
    """Takes rows in, one after the other; what a row makes is there for those below it."""

    house: House
    who: User
    digest: str
    steps: list[Step] = field(default_factory=list)
    jar_labels: dict[str, set[str]] = field(default_factory=dict)
    items: dict[tuple[int, int, str], Item] = field(default_factory=dict)
    outside: Bucket = field(default_factory=lambda: Bucket(fixed_place("before_the_house")))
    store: Bucket = field(default_factory=lambda: Bucket(fixed_place("store")))
    dry: Bucket = field(default_factory=lambda: Bucket(fixed_place("dry")))

    def take(self, row: OpeningRow) -> None:
        if isinstance(row, YarnRow):
            put_up, lot = self._put_up(row), self._mill_lot(row)
            self.steps.append(Step(put_up.item, lot.lot, row.pieces, self.outside, self.store))
        elif isinstance(row, DyedRow):
            self._dyed(row)
        elif isinstance(row, DyeRow):
            self._jar(row)
        elif isinstance(row, StockRow):
            self._bottle(row)
        else:
            self._auxiliary(row)

    def post_pieces(self) -> None:
        """Post all pieces of the list as one movement, so that one taking back undoes them."""
        if self.steps:
            post(key=_key(self.digest, "pieces"), who=self.who, steps=self.steps, why=WHY, source=SOURCE)

    def _base(self, name: str) -> Base:
        key = name.casefold()
        if key not in self.house.bases:
            self.house.bases[key] = add_base(name=name)
        return self.house.bases[key]

    def _put_up(self, row: Pieces) -> PutUp:
        key = (row.base.casefold(), row.milligrams)
        known = self.house.put_ups.get(key)
        if known is None:
            known = add_put_up(
                base=self._base(row.base), nominal_milligrams=row.milligrams, metres=row.metres
            )
            self.house.put_ups[key] = known
        elif known.metres is None and row.metres is not None:
            known.metres = row.metres
            known.save(update_fields=["metres"])
        return known

    def _mill_lot(self, row: YarnRow) -> MillLot:
        key = (row.base.casefold(), row.lot.casefold())
        if key not in self.house.mill_lots:
            base = self._base(row.base)
            self.house.mill_lots[key] = (
                add_mill_lot(base=base, number=row.lot) if row.lot else unknown_mill_lot(base)
            )
        return self.house.mill_lots[key]

    def _dyed(self, row: DyedRow) -> None:
        colourway, put_up = self._colourway(row.colourway), self._put_up(row)
        what = (colourway.pk, put_up.pk, row.grade)
        if what not in self.items:
            self.items[what] = dyed_yarn(colourway=colourway, put_up=put_up, grade=row.grade).item
        lot = self.house.dye_lots.get(row.lot) if row.lot else None
        if lot is None:
            lot = lot_from_before(colourway=colourway, code=row.lot, dyed_on=row.dyed_on)
            self.house.dye_lots[lot.code] = lot
        target = Bucket(self._place(row.place)) if row.place else self.dry
        self.steps.append(Step(self.items[what], lot.lot, row.pieces, self.outside, target))

    def _colourway(self, name: str) -> Colourway:
        known = self.house.colourway_named(name)
        if known is None:
            known = new_colourway(name=name)
            self.house.colourways[name.casefold()] = known
        return known

    def _place(self, name: str) -> Place:
        key = name.casefold()
        if key not in self.house.places:
            self.house.places[key] = add_shelf_place(name=name)
        return self.house.places[key]

    def _dye(self, row: DyeRow | StockRow) -> Dye:
        key = row.name.casefold()
        if key not in self.house.dyes:
            self.house.dyes[key] = add_dye(name=row.name, dye_class=row.dye_class or Dye.Class.ACID_UNKNOWN)
        return self.house.dyes[key]

    def _jar(self, row: DyeRow) -> None:
        jar = add_jar(
            key=_key(self.digest, row.row),
            dye=self._dye(row),
            label=row.lot,
            milligrams=row.milligrams,
            gross_milligrams=row.gross_milligrams,
            tare_milligrams=row.tare_milligrams,
            who=self.who,
            from_before=True,
            besides=self.jar_labels.get(row.name.casefold(), ()),
        )
        self.house.jars[row.name.casefold(), jar.label.casefold()] = jar

    def _bottle(self, row: StockRow) -> None:
        dye = self._dye(row)
        make_stock(
            key=_key(self.digest, row.row),
            dye=dye,
            jar=self.house.jars.get((row.name.casefold(), row.lot.casefold())) if row.lot else None,
            strength_mg_per_litre=row.strength_mg_per_litre,
            microlitres=row.microlitres,
            made_at=timezone.make_aware(dt.datetime.combine(row.made_on, dt.time(12))),
            who=self.who,
            best_before=best_before(dye.dye_class, row.made_on),
            from_before=True,
        )

    def _auxiliary(self, row: AuxiliaryRow) -> None:
        key = row.name.casefold()
        if key not in self.house.auxiliaries:
            self.house.auxiliaries[key] = add_auxiliary(
                name=row.name,
                role=row.role or Auxiliary.Role.OTHER,
                form=Auxiliary.Form.LIQUID if row.liquid else Auxiliary.Form.POWDER,
                strength_hundredths_percent=row.strength_hundredths_percent,
            )
        receive_auxiliary(
            key=_key(self.digest, row.row),
            auxiliary=self.house.auxiliaries[key],
            amount=row.amount,
            who=self.who,
            from_before=True,
        )
