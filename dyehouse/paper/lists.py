"""Lists on whole pages: what to mix before a dye day, and what to count on a shelf. Open paper: secrets stand by their code."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from django.utils import timezone

from dyehouse.ledger.models import Balance, Item, Place
from dyehouse.paper.html_to_pdf import pdf_from_template
from dyehouse.studio.models import Studio
from recipes.dyeing.units import format_grams, format_millilitres
from recipes.lots.before_day import BeforeDay, StockLine

LETTER_COUNTRIES = ("US", "CA", "MX")


@dataclass(frozen=True, slots=True)
class MixRow:
    """One stock or powder: what all pots together take of it, what there is, and what to do."""

    name: str
    needed: str
    left: str
    to_do: str
    enough: bool


@dataclass(frozen=True, slots=True)
class PotRow:
    """One planned pot, by its code."""

    code: str
    colourway: str
    base: str
    pieces: int
    vessel: str


@dataclass(frozen=True, slots=True)
class MixingList:
    """What to mix and weigh for planned pots."""

    studio: str
    date: str
    paper: str
    pots: tuple[PotRow, ...]
    stocks: tuple[MixRow, ...]
    powders: tuple[MixRow, ...]
    yarn: tuple[MixRow, ...] = ()
    short: tuple[str, ...] = ()

    @property
    def codes(self) -> list[str]:
        return [pot.code for pot in self.pots]


@dataclass(frozen=True, slots=True)
class CountRow:
    """One lot on one put-up and grade at a place; `book` is how many the book has there."""

    code: str
    colourway: str
    yarn: str
    grade: str
    book: int


@dataclass(frozen=True, slots=True)
class CountSheet:
    """What to count at one place. With the book's numbers left out it is counted without being led."""

    studio: str
    date: str
    paper: str
    place: str
    rows: tuple[CountRow, ...]
    shows_book: bool


def mixing_list(page: BeforeDay, *, studio: Studio) -> MixingList:
    """The list of what `before_day` reckoned for its chosen pots. Asks the database nothing."""
    us = studio.units == Studio.Units.US
    return MixingList(
        studio=studio.name,
        date=f"{timezone.localdate():%d %B %Y}",
        paper=paper_of(studio),
        pots=tuple(
            PotRow(
                code=line.pot.code,
                colourway=line.pot.colourway.shown_name(None),
                base=", ".join(dict.fromkeys(load.put_up.base.name for load in line.loads)),
                pieces=sum(load.pieces for load in line.loads),
                vessel=line.pot.vessel.name if line.pot.vessel is not None else "",
            )
            for line in page.chosen
        ),
        stocks=tuple(
            MixRow(
                line.needed.name,
                format_millilitres(line.needed.needed_microlitres, us=us),
                format_millilitres(line.needed.left_microlitres, us=us),
                _mixing_words(line),
                line.needed.suffices,
            )
            for line in page.stocks
        ),
        powders=tuple(
            MixRow(each.name, each.needed_words, each.left_words, each.to_do, each.suffices)
            for each in page.powders
        ),
        yarn=tuple(
            MixRow(
                f"{each.put_up}, {f'mill lot {each.mill_lot}' if each.mill_lot is not None else 'any mill lot'}",
                str(each.wanted),
                str(each.there),
                f"{each.short} too few." if each.short else "Enough.",
                not each.short,
            )
            for each in page.yarn
        ),
        short=tuple(page.short),
    )


def _mixing_words(line: StockLine) -> str:
    return f"{line.needed.to_do} Some of it is past its day." if line.only_with_past else line.needed.to_do


def count_sheets(places: Sequence[Place], *, studio: Studio, shows_book: bool) -> list[CountSheet]:
    """A sheet for each place that has something, lots in the order of their colourways. One query."""
    balances = (
        Balance.objects.filter(
            place__in=places, on_hand__gt=0, item__kind=Item.Kind.DYED, lot__dye_lot__isnull=False
        )
        .select_related("item__dyed__put_up__base", "lot__dye_lot__colourway")
        .order_by("place_id", "lot_id", "item_id")
    )
    rows: dict[int, list[CountRow]] = {}
    for balance in balances:
        dyed, lot = balance.item.dyed, balance.lot.dye_lot
        rows.setdefault(balance.place_id, []).append(
            CountRow(
                code=lot.code,
                colourway=lot.shown_name(None),
                yarn=f"{dyed.put_up.base.name}, {format_grams(dyed.put_up.nominal_milligrams)}",
                grade=str(dyed.get_grade_display()),
                book=balance.on_hand,
            )
        )
    return [
        CountSheet(
            studio=studio.name,
            date=f"{timezone.localdate():%d %B %Y}",
            paper=paper_of(studio),
            place=place.name,
            rows=tuple(sorted(rows[place.pk], key=lambda row: (row.colourway.lower(), row.code))),
            shows_book=shows_book,
        )
        for place in places
        if place.pk in rows
    ]


def paper_of(studio: Studio) -> str:
    """The size of a whole page where the studio is."""
    return "Letter" if studio.country in LETTER_COUNTRIES else "A4"


def mixing_list_pdf(what: MixingList) -> bytes:
    """The list as a PDF. Raises PaperUnavailable."""
    return pdf_from_template("paper/mixing_list.html", {"list": what}, stylesheet="lists.css")


def count_sheets_pdf(sheets: Sequence[CountSheet]) -> bytes:
    """The sheets as one PDF, each place on a page of its own. Raises PaperUnavailable."""
    return pdf_from_template(
        "paper/count_sheets.html", {"sheets": sheets, "list": sheets[0]}, stylesheet="lists.css"
    )


def list_payload(what: MixingList | CountSheet) -> dict[str, Any]:
    """A list word for word, as plain JSON."""
    return asdict(what)


def mixing_list_from(payload: Mapping[str, Any]) -> MixingList:
    """The list that `list_payload` put down."""
    return MixingList(
        **{
            **payload,
            "pots": tuple(PotRow(**row) for row in payload["pots"]),
            "stocks": tuple(MixRow(**row) for row in payload["stocks"]),
            "powders": tuple(MixRow(**row) for row in payload["powders"]),
            "yarn": tuple(MixRow(**row) for row in payload["yarn"]),
            "short": tuple(payload["short"]),
        }
    )


def count_sheet_from(payload: Mapping[str, Any]) -> CountSheet:
    """The sheet that `list_payload` put down."""
    return CountSheet(**{**payload, "rows": tuple(CountRow(**row) for row in payload["rows"])})
