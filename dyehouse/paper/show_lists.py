"""Lists of a show on whole pages: what to pack, what is there, what comes back. They lie open: secrets stand by their code."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from django.utils import timezone

from dyehouse.ledger.models import Balance, Lot
from dyehouse.paper.html_to_pdf import pdf_from_template
from dyehouse.paper.lists import paper_of
from dyehouse.studio.models import Studio
from inventory.shows.models import Show
from inventory.shows.packing import lines_taken, pack_list
from inventory.shows.things import OF_A_THING, Named, named_thing

PACK, STOCK, BACK = "pack", "stock", "back"
KINDS = {PACK: "What to pack", STOCK: "What is at the show", BACK: "What came back"}


@dataclass(frozen=True, slots=True)
class ShowRow:
    """One lot of one item; `pieces` is how many to pack, how many are there, or how many were taken."""

    code: str
    what: str
    detail: str
    pieces: int


@dataclass(frozen=True, slots=True)
class ShowGroup:
    """The rows of one shelf place, or all of them without a heading."""

    heading: str
    rows: tuple[ShowRow, ...]

    @property
    def pieces(self) -> int:
        return sum(row.pieces for row in self.rows)


@dataclass(frozen=True, slots=True)
class ShowList:
    """A list of a show. With the numbers left out what came back is counted without being led."""

    studio: str
    date: str
    paper: str
    kind: str
    show: str
    days: str
    groups: tuple[ShowGroup, ...]
    short: tuple[str, ...] = ()
    shows_numbers: bool = True

    @property
    def heading(self) -> str:
        return KINDS[self.kind]

    @property
    def pieces(self) -> int:
        return sum(group.pieces for group in self.groups)

    @property
    def rows(self) -> int:
        return sum(len(group.rows) for group in self.groups)


def show_list(show: Show, *, kind: str, studio: Studio, shows_numbers: bool = True) -> ShowList:
    """The list of one kind as the book has it now; names are those that anybody may read."""
    short: tuple[str, ...] = ()
    if kind == PACK:
        page = pack_list(show, user=None)
        groups = tuple(
            ShowGroup(
                place.name,
                tuple(_row(row.named, row.lot, row.pieces) for row in rows if row.pieces),
            )
            for place, rows in page.places
        )
        short = tuple(f"{line.named}: {line.short} short of {line.normal}" for line in page.short)
    elif kind == STOCK:
        balances = Balance.objects.filter(place=show.place_id, on_hand__gt=0)
        groups = _one_group(
            _row(named_thing(each.item, each.lot, None), each.lot, each.on_hand)
            for each in balances.select_related("lot", *OF_A_THING)
        )
    else:
        taken: dict[tuple[int, int], ShowRow] = {}
        for line in lines_taken(show):
            what = (line.item_id, line.lot_id)
            before = taken[what].pieces if what in taken else 0
            taken[what] = _row(named_thing(line.item, line.lot, None), line.lot, before + line.quantity)
        groups = _one_group(taken.values())
    return ShowList(
        studio=studio.name,
        date=f"{timezone.localdate():%d %B %Y}",
        paper=paper_of(studio),
        kind=kind,
        show=show.name,
        days=_days(show),
        groups=tuple(group for group in groups if group.rows),
        short=short,
        shows_numbers=shows_numbers or kind != BACK,
    )


def _one_group(rows: Iterable[ShowRow]) -> tuple[ShowGroup, ...]:
    return (ShowGroup("", tuple(sorted(rows, key=lambda row: (row.what.lower(), row.detail, row.code)))),)


def _row(named: Named, lot: Lot, pieces: int) -> ShowRow:
    return ShowRow(lot.name, named.title, named.detail, pieces)


def _days(show: Show) -> str:
    first, last = show.starts_on, show.ends_on
    words = f"{first.day} {first:%B %Y}"
    return words if first == last else f"{words} to {last.day} {last:%B %Y}"


def show_list_pdf(what: ShowList) -> bytes:
    """The list as a PDF. Raises PaperUnavailable."""
    return pdf_from_template("paper/show_list.html", {"list": what}, stylesheet="lists.css")


def show_list_payload(what: ShowList) -> dict[str, Any]:
    """A list word for word, as plain JSON."""
    return asdict(what)


def show_list_from(payload: Mapping[str, Any]) -> ShowList:
    """The list that `show_list_payload` put down."""
    groups = tuple(
        ShowGroup(group["heading"], tuple(ShowRow(**row) for row in group["rows"]))
        for group in payload["groups"]
    )
    return ShowList(**{**payload, "groups": groups, "short": tuple(payload["short"])})
