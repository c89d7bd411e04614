"""What a line of a load can be chosen from: undyed yarn by its mill lot, and lots that were dyed before."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import F, Q, QuerySet

from dyehouse.ledger.models import Balance, Item, Place
from dyehouse.studio.models import User
from recipes.dyeing.units import format_grams
from recipes.lots.load_lines import MAY_BE_OVERDYED, DyedBefore
from recipes.lots.models import DyeLot, PotLoad
from recipes.models import DyedYarn, MillLot, PutUp

MOST_TO_REDYE = 40
UNKNOWN = "unknown"
Groups = list[tuple[str, list[tuple[str, str]]]]


@dataclass(frozen=True, slots=True)
class Yarn:
    """What was chosen: a put-up of a mill lot, None being the one nobody knows; of an earlier lot where it was dyed before."""

    put_up: PutUp
    mill_lot: MillLot | None = None
    dyed_before: DyedBefore | None = None


@dataclass(frozen=True, slots=True)
class Lying:
    """Free pieces of an earlier lot at one place."""

    before: DyedBefore
    pieces: int

    @property
    def value(self) -> str:
        return dyed_value(self.before)

    def words(self, user: User) -> str:
        """Moss K7Q2M, Heron Sock 100 g, to redye (2, Dry)."""
        lot, was = self.before.lot, self.before.was
        name = lot.shown_name(user)
        called = f"{name} {lot.code}" if name != lot.code else lot.code
        return f"{called}, {_put_up_words(was.put_up)}, {was.get_grade_display()} ({self.pieces}, {self.before.place.name})"


def undyed_value(put_up: PutUp, mill_lot: MillLot | None) -> str:
    """How a choice of undyed yarn is sent."""
    lot = UNKNOWN if mill_lot is None or mill_lot.unknown else str(mill_lot.pk)
    return f"undyed-{put_up.pk}-{lot}"


def dyed_value(before: DyedBefore) -> str:
    """How a choice of pieces that were dyed before is sent."""
    return f"dyed-{before.lot.pk}-{before.was.pk}-{before.place.pk}"


def value_of(load: PotLoad) -> str:
    """The choice that a line of a load was."""
    if load.overdyes is not None and load.was is not None and load.from_place is not None:
        return dyed_value(DyedBefore(load.overdyes, load.was, load.from_place))
    return undyed_value(load.put_up, load.mill_lot)


def free_to_overdye(code: str) -> list[Lying]:
    """The free pieces of the lot of a code that may be dyed again, those to redye first. One query."""
    return _lying(_dyed().filter(lot__dye_lot__code=code))


def to_redye() -> list[Lying]:
    """The free pieces that were judged to be redyed, the oldest lot first. One query."""
    return _lying(_dyed().filter(item__dyed__grade=DyedYarn.Grade.REDYE)[:MOST_TO_REDYE])


def _dyed() -> QuerySet[Balance]:
    places = Q(place__kind__in=(Place.Kind.SHELF, Place.Kind.STAGE))
    return (
        Balance.objects.filter(
            places,
            item__kind=Item.Kind.DYED,
            item__dyed__grade__in=MAY_BE_OVERDYED,
            on_hand__gt=F("held"),
            lot__dye_lot__isnull=False,
        )
        .select_related("place", "item__dyed__put_up__base", "item__dyed__item", "lot__dye_lot__colourway")
        .order_by("lot__dye_lot__made_at", "lot_id", "place__order", "item_id")
    )


def _lying(rows: Iterable[Balance]) -> list[Lying]:
    found = [
        Lying(DyedBefore(row.lot.dye_lot, row.item.dyed, row.place), row.on_hand - row.held) for row in rows
    ]
    return sorted(found, key=lambda each: each.before.was.grade != DyedYarn.Grade.REDYE)


def yarn_choices(
    *,
    user: User,
    lying: Sequence[Lying] = (),
    sent: Iterable[str] = (),
    dyed_first: bool = False,
    put_ups: Iterable[PutUp] | None = None,
) -> Groups:
    """The choices of a line by base, and what was dyed before (`lying`) after them or first.

    Two queries, one where the put-ups are given with their bases.

    `sent` are values that were chosen before: they stay among the choices whatever the book says by now.
    """
    dyed: Groups = [("Dyed before", [(each.value, each.words(user)) for each in lying])] if lying else []
    in_store = _lots_in_store()
    by_base: dict[str, list[tuple[str, str]]] = {}
    if put_ups is None:
        put_ups = PutUp.objects.filter(retired_at__isnull=True, base__retired_at__isnull=True).select_related(
            "base"
        )
    for put_up in sorted(put_ups, key=lambda each: (each.base.name, -each.nominal_milligrams)):
        mine = by_base.setdefault(put_up.base.name, [])
        for lot, pieces in in_store.get(put_up.item_id, []):
            mine.append((undyed_value(put_up, lot), f"{_put_up_words(put_up)}, lot {lot.number} ({pieces})"))
        mine.append((undyed_value(put_up, None), f"{_put_up_words(put_up)}, lot not known"))
    groups: Groups = [*dyed, *by_base.items()] if dyed_first else [*by_base.items(), *dyed]
    known = {value for _, choices in groups for value, _ in choices}
    gone = [value for value in dict.fromkeys(sent) if value and value not in known]
    if gone:
        chosen = chosen_yarns(gone)
        groups.append(("Chosen", [(value, _yarn_words(yarn)) for value, yarn in chosen.items()]))
    return groups


def _put_up_words(put_up: PutUp) -> str:
    return f"{put_up.base.name} {format_grams(put_up.nominal_milligrams)}"


def _yarn_words(yarn: Yarn) -> str:
    if yarn.dyed_before is not None:
        return f"{yarn.dyed_before.lot.code}, {_put_up_words(yarn.put_up)}, {yarn.dyed_before.was.get_grade_display()}"
    lot = yarn.mill_lot.number if yarn.mill_lot is not None else "not known"
    return f"{_put_up_words(yarn.put_up)}, lot {lot}"


def _lots_in_store() -> dict[int, list[tuple[MillLot, int]]]:
    """The known mill lots that have pieces in the store, by item, the newest first."""
    rows = (
        Balance.objects.filter(
            place__code="store",
            item__kind=Item.Kind.UNDYED,
            on_hand__gt=0,
            lot__mill_lot__isnull=False,
            lot__mill_lot__unknown=False,
        )
        .select_related("lot__mill_lot")
        .order_by("-lot_id")
    )
    lots: dict[int, list[tuple[MillLot, int]]] = {}
    for row in rows:
        lots.setdefault(row.item_id, []).append((row.lot.mill_lot, row.on_hand))
    return lots


def chosen_yarns(values: Iterable[str]) -> dict[str, Yarn]:
    """What choices stand for; a value that means nothing is left out. Two queries for undyed yarn, three for dyed."""
    wanted = {value: value.split("-") for value in values}
    undyed = {value: parts for value, parts in wanted.items() if parts[0] == "undyed" and len(parts) == 3}
    dyed = {
        value: [int(part) for part in parts[1:]]
        for value, parts in wanted.items()
        if parts[0] == "dyed" and len(parts) == 4 and all(map(_is_id, parts[1:]))
    }
    return {**_undyed(undyed), **_dyed_before(dyed)}


def _is_id(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) < 12


def _undyed(wanted: dict[str, list[str]]) -> dict[str, Yarn]:
    if not wanted:
        return {}
    ids = {int(parts[1]) for parts in wanted.values() if _is_id(parts[1])}
    put_ups = {each.pk: each for each in PutUp.objects.filter(pk__in=ids).select_related("base", "item")}
    lot_ids = {int(parts[2]) for parts in wanted.values() if _is_id(parts[2])}
    lots = {each.pk: each for each in MillLot.objects.filter(pk__in=lot_ids).select_related("base", "lot")}
    found = {}
    for value, (_, put_up_id, lot_id) in wanted.items():
        put_up = put_ups.get(int(put_up_id)) if _is_id(put_up_id) else None
        lot = lots.get(int(lot_id)) if _is_id(lot_id) else None
        if put_up is not None and (lot is not None or lot_id == UNKNOWN):
            found[value] = Yarn(put_up, lot)
    return found


def _dyed_before(wanted: dict[str, list[int]]) -> dict[str, Yarn]:
    if not wanted:
        return {}
    lots = DyeLot.objects.select_related("colourway", "lot").in_bulk([ids[0] for ids in wanted.values()])
    dyed = DyedYarn.objects.select_related("item", "put_up__base", "put_up__item").in_bulk(
        [ids[1] for ids in wanted.values()]
    )
    places = Place.objects.in_bulk([ids[2] for ids in wanted.values()])
    found = {}
    for value, (lot_id, was_id, place_id) in wanted.items():
        if lot_id in lots and was_id in dyed and place_id in places:
            before = DyedBefore(lots[lot_id], dyed[was_id], places[place_id])
            found[value] = Yarn(before.was.put_up, None, before)
    return found
