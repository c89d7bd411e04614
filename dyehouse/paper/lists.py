"""Lists on whole pages: what to mix before a dye day, and what to count on a shelf. Open paper: secrets stand by their code."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from fractions import Fraction
from typing import Any

from django.utils import timezone

from dyehouse.ledger.models import Balance, Item, Place
from dyehouse.paper.html_to_pdf import pdf_from_template
from dyehouse.studio.models import Studio
from recipes.dyeing.units import format_grams, format_millilitres
from recipes.lots.in_store import in_store_today
from recipes.lots.models import Pot
from recipes.lots.redye_amounts import studio_bench
from recipes.lots.redye_queries import planned_pot
from recipes.lots.redye_stocks import what_to_have_ready
from recipes.models import Rule

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


def planned_to_mix() -> list[Pot]:
    """The planned pots that come from a plan, in the order they were made. Four queries."""
    return list(
        Pot.objects.filter(plan__isnull=False, loaded_at=None, dropped_at=None)
        .select_related("plan__way", "plan__put_up__base", "vessel", "colourway")
        .prefetch_related("loads")
        .order_by("id")
    )


def mixing_list(pots: Sequence[Pot], *, studio: Studio) -> MixingList:
    """The list for these pots of `planned_to_mix`. Three queries."""
    rules: dict[int, list[Rule]] = {}
    ways = {pot.plan.way_id for pot in pots if pot.plan is not None}
    for rule in (
        Rule.objects.filter(way__in=ways).select_related("dye", "auxiliary").order_by("way_id", "number")
    ):
        rules.setdefault(rule.way_id, []).append(rule)
    bench = studio_bench()
    planned = [
        planned_pot(
            pot,
            rules=rules.get(pot.plan.way_id, []),
            bench=bench,
            ratio=Fraction(pot.plan.liquor_ratio_tenths, 10),
            pieces_then=pot.plan.way.pieces,
        )
        for pot in pots
        if pot.plan is not None
    ]
    ready = what_to_have_ready(planned, in_store_today())
    us = studio.units == Studio.Units.US
    return MixingList(
        studio=studio.name,
        date=f"{timezone.localdate():%d %B %Y}",
        paper=paper_of(studio),
        pots=tuple(
            PotRow(
                code=pot.code,
                colourway=pot.colourway.shown_name(None),
                base=pot.plan.put_up.base.name if pot.plan is not None else "",
                pieces=sum(load.pieces for load in pot.loads.all()),
                vessel=pot.vessel.name if pot.vessel is not None else "",
            )
            for pot in pots
        ),
        stocks=tuple(
            MixRow(
                stock.name,
                format_millilitres(stock.needed_microlitres, us=us),
                format_millilitres(stock.left_microlitres, us=us),
                stock.to_do,
                stock.suffices,
            )
            for stock in ready.stocks
        ),
        powders=tuple(
            MixRow(each.name, each.needed_words, each.left_words, each.to_do, each.suffices)
            for each in ready.powders
        ),
    )


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
                colourway=lot.colourway.shown_name(None),
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
        }
    )


def count_sheet_from(payload: Mapping[str, Any]) -> CountSheet:
    """The sheet that `list_payload` put down."""
    return CountSheet(**{**payload, "rows": tuple(CountRow(**row) for row in payload["rows"])})
