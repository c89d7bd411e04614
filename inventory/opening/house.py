"""What the house has already, and what the rows of a list would add to it: checked row by row, in the list's order."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from dyehouse.ledger.models import Balance, Item, Place
from dyehouse.studio.codes import tidy
from dyehouse.studio.models import ShortCode
from inventory.opening.dyed import LotCodeTaken, code_taken_words, refuse_other_lot
from inventory.opening.rows import AuxiliaryRow, DyedRow, DyeRow, OpeningRow, StockRow, YarnRow
from recipes.dyeing.units import format_number
from recipes.lists.cells import Wrong
from recipes.lots.models import DyeLot
from recipes.models import Auxiliary, Base, Colourway, Dye, Jar, MillLot, PutUp


@dataclass(slots=True)
class House:
    """Everything that a row may name, by the name in small letters."""

    bases: dict[str, Base]
    put_ups: dict[tuple[str, int], PutUp]
    mill_lots: dict[tuple[str, str], MillLot]
    dyes: dict[str, Dye]
    jars: dict[tuple[str, str], Jar]
    auxiliaries: dict[str, Auxiliary]
    colourways: dict[str, Colourway]
    dye_lots: dict[str, DyeLot]
    places: dict[str, Place]
    pieces_there: dict[tuple[int, int], int]

    @classmethod
    def now(cls, rows: Sequence[OpeningRow]) -> House:
        """What the house has at this moment of the kinds of thing that these rows name; each kind is read once."""
        kinds = {type(row) for row in rows}
        yarn, dyed = YarnRow in kinds, DyedRow in kinds
        bases = Base.objects.all() if yarn or dyed else Base.objects.none()
        put_ups = PutUp.objects.select_related("base", "item") if yarn or dyed else PutUp.objects.none()
        mill_lots = MillLot.objects.select_related("base", "lot") if yarn else MillLot.objects.none()
        powder = bool({DyeRow, StockRow} & kinds)
        dyes = Dye.objects.select_related("item", "stock_item") if powder else Dye.objects.none()
        jars = Jar.objects.select_related("dye", "lot") if powder else Jar.objects.none()
        auxiliaries = Auxiliary.objects.select_related("item", "lot")
        colourways = list(Colourway.objects.all()) if dyed else []
        codes = {row.lot for row in rows if isinstance(row, DyedRow) and row.lot}
        shelves = Place.objects.filter(kind=Place.Kind.SHELF)
        return cls(
            bases={base.name.casefold(): base for base in bases},
            put_ups={(each.base.name.casefold(), each.nominal_milligrams): each for each in put_ups},
            mill_lots={
                (each.base.name.casefold(), "" if each.unknown else each.number.casefold()): each
                for each in mill_lots
            },
            dyes={dye.name.casefold(): dye for dye in dyes},
            jars={(jar.dye.name.casefold(), jar.label.casefold()): jar for jar in jars},
            auxiliaries={each.name.casefold(): each for each in auxiliaries} if AuxiliaryRow in kinds else {},
            # A name goes before a code that happens to be spelled like it.
            colourways={each.code.casefold(): each for each in colourways}
            | {each.name.casefold(): each for each in colourways if each.name},
            dye_lots={
                lot.code: lot
                for lot in DyeLot.objects.select_related("lot", "colourway")
                if lot.code in codes
            }
            if codes
            else {},
            places={place.name.casefold(): place for place in shelves} if dyed else {},
            pieces_there=_pieces_there() if yarn else {},
        )

    def colourway_named(self, typed: str) -> Colourway | None:
        """A colourway by its name or its code."""
        return self.colourways.get(typed.casefold()) or self.colourways.get(tidy(typed).casefold())


@dataclass(frozen=True, slots=True)
class Planned:
    """A row that can be taken in, and what it adds beside its amount: a new base, a new lot, more of what is there."""

    row: OpeningRow
    news: tuple[str, ...] = ()


@dataclass(slots=True)
class Checking:
    """Checks rows against the house and against the rows above them."""

    house: House
    codes_taken: set[str]
    wrong: list[Wrong] = field(default_factory=list)
    metres: dict[tuple[str, int], int | None] = field(default_factory=dict)
    classes: dict[str, str | None] = field(default_factory=dict)
    jars: set[tuple[str, str]] = field(default_factory=set)
    auxiliaries: dict[str, AuxiliaryRow] = field(default_factory=dict)
    lots: dict[str, str] = field(default_factory=dict)
    new: set[tuple[str, str]] = field(default_factory=set)

    def check(self, row: OpeningRow) -> Planned | None:
        """What the row would add, or None after noting what is wrong with it."""
        before = len(self.wrong)
        if isinstance(row, YarnRow):
            news = self._yarn(row)
        elif isinstance(row, DyedRow):
            news = self._dyed(row)
        elif isinstance(row, DyeRow):
            news = self._dye(row)
        elif isinstance(row, StockRow):
            news = self._stock(row)
        else:
            news = self._auxiliary(row)
        return Planned(row, tuple(word for word in news if word)) if len(self.wrong) == before else None

    def _refuse(self, row: OpeningRow, column: str, typed: object, sentence: str) -> None:
        self.wrong.append(Wrong(row.row, column, str(typed), sentence))

    def _first(self, kind: str, name: str, known: object) -> str:
        """“new base” when neither the house nor a row above has it."""
        key = (kind, name.casefold())
        if known is not None or key in self.new:
            return ""
        self.new.add(key)
        return f"new {kind}"

    def _of_base(self, row: YarnRow | DyedRow) -> list[str]:
        name = row.base.casefold()
        put_up = self.house.put_ups.get((name, row.milligrams))
        key = (name, row.milligrams)
        known = self.metres.get(key) or (put_up.metres if put_up is not None else None)
        if row.metres is not None and known is not None and row.metres != known:
            grams = format_number(Fraction(row.milligrams, 1000))
            self._refuse(
                row,
                "metres",
                row.metres,
                f"A piece of {row.base} of {grams} g has {known} m elsewhere. Write the same, or leave this empty.",
            )
        self.metres[key] = known or row.metres
        return [
            self._first("base", row.base, self.house.bases.get(name)),
            self._first("put-up", f"{row.base} {row.milligrams}", put_up),
        ]

    def _yarn(self, row: YarnRow) -> list[str]:
        news = self._of_base(row)
        lot = self.house.mill_lots.get((row.base.casefold(), row.lot.casefold()))
        put_up = self.house.put_ups.get((row.base.casefold(), row.milligrams))
        if row.lot:
            news.append(self._first("mill lot", f"{row.base} {row.lot}", lot))
        there = self.house.pieces_there.get((put_up.item_id, lot.lot_id), 0) if put_up and lot else 0
        return [*news, f"beside {there} there already" if there else ""]

    def _dyed(self, row: DyedRow) -> list[str]:
        news = self._of_base(row)
        colourway = self.house.colourway_named(row.colourway)
        news.append(self._first("colourway", row.colourway, colourway))
        self._lot_of(row, colourway)
        place = self.house.places.get(row.place.casefold()) if row.place else None
        if place is not None and place.closed_at is not None:
            self._refuse(row, "place", row.place, "This place is not in use any more. Write another one.")
        if row.place:
            news.append(self._first("place", row.place, place))
        return news

    def _lot_of(self, row: DyedRow, colourway: Colourway | None) -> None:
        if not row.lot:
            return
        known, said = (
            self.house.dye_lots.get(row.lot),
            str(colourway.pk) if colourway else row.colourway.casefold(),
        )
        if known is not None:
            try:
                refuse_other_lot(known, colourway)
            except LotCodeTaken as refused:
                self._refuse(row, "lot", row.lot, str(refused))
        elif row.lot in self.codes_taken:
            self._refuse(row, "lot", row.lot, code_taken_words(row.lot))
        elif self.lots.setdefault(row.lot, said) != said:
            self._refuse(
                row, "lot", row.lot, "A row above has this lot in another colourway. A lot has one colourway."
            )

    def _class_of(self, row: DyeRow | StockRow) -> str:
        name = row.name.casefold()
        dye = self.house.dyes.get(name)
        known = dye.dye_class if dye is not None else self.classes.get(name)
        if row.dye_class is not None and known is not None and row.dye_class != known:
            label = Dye.Class(known).label
            self._refuse(
                row,
                "dye class",
                Dye.Class(row.dye_class).label,
                f"{row.name} is “{label}” elsewhere. Write the same, or change it on the dye's page.",
            )
        self.classes[name] = known or row.dye_class
        return self._first("dye", row.name, dye)

    def _dye(self, row: DyeRow) -> list[str]:
        news = [self._class_of(row)]
        jar = (row.name.casefold(), row.lot.casefold())
        if row.lot and (jar in self.house.jars or jar in self.jars):
            self._refuse(
                row,
                "lot",
                row.lot,
                f"{row.name} has a jar {row.lot} already. Write another label, or weigh that jar instead.",
            )
        self.jars.add(jar)
        return news

    def _stock(self, row: StockRow) -> list[str]:
        news = [self._class_of(row)]
        jar = (row.name.casefold(), row.lot.casefold())
        if row.lot and jar not in self.house.jars and jar not in self.jars:
            self._refuse(
                row,
                "lot",
                row.lot,
                f"No jar of {row.name} is labelled {row.lot}. Put the jar's row above this one, or leave this empty.",
            )
        return news

    def _auxiliary(self, row: AuxiliaryRow) -> list[str]:
        name = row.name.casefold()
        known, above = self.house.auxiliaries.get(name), self.auxiliaries.setdefault(name, row)
        liquid = known.is_liquid if known is not None else above.liquid
        if row.liquid != liquid:
            units = "ml or l" if liquid else "g or kg"
            self._refuse(
                row, "unit", "", f"{row.name} is measured in {units} elsewhere. Write its amount in {units}."
            )
        role = known.role if known is not None else above.role
        if row.role is not None and role is not None and row.role != role:
            label = Auxiliary.Role(role).label
            self._refuse(
                row,
                "role",
                Auxiliary.Role(row.role).label,
                f"{row.name} is “{label}” elsewhere. Write the same.",
            )
        strength = (
            known.strength_hundredths_percent if known is not None else above.strength_hundredths_percent
        )
        if (
            None not in (row.strength_hundredths_percent, strength)
            and row.strength_hundredths_percent != strength
        ):
            self._refuse(
                row,
                "strength",
                "",
                f"{row.name} has another strength elsewhere. Write the same, or give this one a name of its own.",
            )
        return [self._first("auxiliary", row.name, known)]


def check_rows(rows: Sequence[OpeningRow]) -> tuple[list[Planned], list[Wrong]]:
    """What a list would add to the house as it is, and what is wrong with it."""
    return check_against(House.now(rows), rows)


def check_against(house: House, rows: Sequence[OpeningRow]) -> tuple[list[Planned], list[Wrong]]:
    """The same against a house that was read before."""
    checking = Checking(house=house, codes_taken=_taken(row.lot for row in rows if isinstance(row, DyedRow)))
    planned = [one for one in map(checking.check, rows) if one is not None]
    return planned, checking.wrong


def _pieces_there() -> dict[tuple[int, int], int]:
    """Undyed pieces by item and lot, wherever they are."""
    there: dict[tuple[int, int], int] = {}
    rows = Balance.objects.filter(item__kind=Item.Kind.UNDYED, on_hand__gt=0)
    for item, lot, on_hand in rows.values_list("item_id", "lot_id", "on_hand"):
        there[item, lot] = there.get((item, lot), 0) + on_hand
    return there


def _taken(codes: Iterable[str]) -> set[str]:
    """Those of the codes that were given out. Read in parts: a database takes so many values at once."""
    wanted = sorted({code for code in codes if code})
    found: set[str] = set()
    for start in range(0, len(wanted), 500):
        part = wanted[start : start + 500]
        found |= set(ShortCode.objects.filter(code__in=part).values_list("code", flat=True))
    return found
