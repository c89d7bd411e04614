"""What the pages of counting read."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import F, Q

from dyehouse.ledger.models import Balance, Item, Place
from dyehouse.studio.codes import tidy
from dyehouse.studio.models import User
from inventory.counting import CountRow, RoundState, state_of
from inventory.models import BuiltKit, CountRound
from recipes.lots.models import DyeLot
from recipes.models import DyedYarn

CLOSED_SHOWN = 12


@dataclass(frozen=True, slots=True)
class ShownRow:
    """A row of a round in words: what it is, the code on its label, and its numbers."""

    row: CountRow
    code: str
    title: str
    detail: str
    found_by_code: bool = False

    @property
    def field(self) -> str:
        return f"n_{self.row.item.pk}_{self.row.lot.pk}"


@dataclass(frozen=True, slots=True)
class PlaceLine:
    """A place that may be counted: what the book has there, and the round that is open."""

    place: Place
    pieces: int
    round: CountRound | None


@dataclass(frozen=True, slots=True)
class RoundPage:
    """The page of a round; `asked` is a code that was scanned or typed, and whether anything here has it."""

    state: RoundState
    rows: list[ShownRow]
    asked: str = ""
    elsewhere: list[ShownRow] | None = None

    @property
    def asked_is_here(self) -> bool:
        return any(row.found_by_code for row in self.rows)


def places_to_count() -> tuple[list[PlaceLine], list[CountRound]]:
    """The places that hold dyed yarn or kits, and the rounds settled last. Three queries."""
    pieces: dict[int, int] = {}
    balances = Balance.objects.filter(
        item__kind__in=(Item.Kind.DYED, Item.Kind.KIT), on_hand__gt=0
    ).values_list("place", "on_hand")
    for place_id, on_hand in balances:
        pieces[place_id] = pieces.get(place_id, 0) + on_hand
    rounds = list(
        CountRound.objects.select_related("place", "started_by", "closed_by", "movement").order_by(
            F("closed_at").desc(nulls_first=True), "-id"
        )[: CLOSED_SHOWN + 100]
    )
    open_rounds = {each.place_id: each for each in rounds if each.closed_at is None}
    places = Place.objects.filter(
        Q(kind=Place.Kind.SHELF, closed_at__isnull=True) | Q(pk__in=pieces) | Q(pk__in=open_rounds)
    ).exclude(kind__in=(Place.Kind.BOUNDARY, Place.Kind.POT, Place.Kind.SHOW))
    lines = [
        PlaceLine(place, pieces.get(place.pk, 0), open_rounds.get(place.pk))
        for place in places.order_by("order", "name", "id")
    ]
    # Where somebody stopped is gone on with before anything new is begun.
    lines.sort(key=lambda line: line.round is None)
    return lines, [each for each in rounds if each.closed_at is not None][:CLOSED_SHOWN]


def round_page(round: CountRound, *, user: User, code: str = "") -> RoundPage:
    """A round with its rows in words; `code` marks the row of that lot, or offers what of it could be found here."""
    state = state_of(round)
    asked = tidy(code)[:20]
    items = {row.item.pk for row in state.rows}
    dyed = {
        each.item_id: each
        for each in DyedYarn.objects.filter(item__in=items).select_related("colourway", "put_up__base")
    }
    kits = {
        each.lot_id: each
        for each in BuiltKit.objects.filter(lot__in={row.lot.pk for row in state.rows}).select_related("kit")
    }
    rows = []
    for row in state.rows:
        shown = _in_words(row, dyed.get(row.item.pk), kits.get(row.lot.pk), user, asked)
        if shown is not None:
            rows.append(shown)
    rows.sort(key=lambda each: (each.title.casefold(), each.code, each.row.item.pk))
    page = RoundPage(state, rows, asked)
    if asked and not page.asked_is_here:
        return RoundPage(state, rows, asked, _elsewhere(asked, user))
    return page


def _in_words(
    row: CountRow, dyed: DyedYarn | None, kit: BuiltKit | None, user: User, asked: str
) -> ShownRow | None:
    if dyed is not None:
        name = dyed.colourway.shown_name(user)
        grade = "" if dyed.grade == DyedYarn.Grade.GOOD else f", {dyed.get_grade_display()}"
        return ShownRow(row, row.lot.name, name, f"{dyed.put_up}{grade}", row.lot.name == asked)
    if kit is not None:
        return ShownRow(row, kit.code, str(kit.kit), "kit", kit.code == asked)
    return None


def _elsewhere(code: str, user: User) -> list[ShownRow]:
    """What of a lot or kit the book has, though not here: any of it may have been found here."""
    lot = DyeLot.objects.filter(code=code).select_related("lot").first()
    if lot is not None:
        # What waits to be judged is offered only while some of it does: pieces that were judged are good, seconds or others.
        graded = DyedYarn.objects.filter(
            ~Q(grade=DyedYarn.Grade.UNJUDGED) | Q(item__balances__on_hand__gt=0),
            colourway=lot.colourway_id,
            item__balances__lot=lot.lot_id,
        )
        rows = [
            (CountRow(each.item, lot.lot, 0, 0), each)
            for each in graded.select_related("item", "colourway", "put_up__base").distinct().order_by("pk")
        ]
        shown = [_in_words(row, each, None, user, code) for row, each in rows]
        return [each for each in shown if each is not None]
    kit = BuiltKit.objects.filter(code=code).select_related("kit__item", "lot").first()
    if kit is None:
        return []
    one = _in_words(CountRow(kit.kit.item, kit.lot, 0, 0), None, kit, user, code)
    return [one] if one is not None else []
