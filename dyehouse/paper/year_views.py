"""The stock list of a closed year on paper, for an accountant. The owner's alone; secrets stand by their code."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_safe

from dyehouse.paper.html_to_pdf import PaperUnavailable, pdf_from_template
from dyehouse.paper.lists import paper_of
from dyehouse.paper.printouts import pdf_answer
from dyehouse.studio.access import SignedInRequest, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.models import Studio
from dyehouse.studio.money import format_money, places_of
from inventory.costing.models import ClosedRow, ClosedYear
from inventory.costing.sums import ROUNDING
from inventory.costing.worth import CATEGORIES
from inventory.costing.year_list import METHOD, ListLine, list_lines
from inventory.costing.years import CHANGES, ROWS, closed_sums


@dataclass(frozen=True, slots=True)
class AtPlace:
    """What lay at one place of one category, and its value together."""

    place: str
    lines: list[tuple[ListLine, str]]
    value: str


@dataclass(frozen=True, slots=True)
class OfCategory:
    """A category place by place."""

    name: str
    places: list[AtPlace]
    value: str


@dataclass(frozen=True, slots=True)
class YearList:
    """The whole list: how the closing came about, then the rows."""

    studio: str
    date: str
    paper: str
    closed: str
    currency: str
    heads: list[str]
    sums: list[tuple[str, list[str], bool]]
    categories: list[OfCategory]
    total: str
    method: str
    rounding: str


def year_list(year: ClosedYear, *, studio: Studio) -> YearList:
    """A closed year as it goes on paper. Two queries."""
    rows = ClosedRow.objects.filter(year=year).select_related("item")
    order = list(CATEGORIES)
    ordered = sorted(
        rows, key=lambda row: (order.index(row.category), row.where, row.what, row.which, row.pk)
    )
    lines = list_lines(ordered, places=places_of(year.currency))
    sums = closed_sums(year)
    plain = [
        (
            words,
            [_plain(each, year) for each in (*sums[row].values(), sum(sums[row].values()))],
            row not in CHANGES,
        )
        for row, words in ROWS.items()
        if row not in CHANGES or any(sums[row].values())
    ]
    return YearList(
        studio=studio.name,
        date=f"{year.ends_on:%-d %B %Y}",
        paper=paper_of(studio),
        closed=f"{year.closed_at:%-d %B %Y}",
        currency=year.currency,
        heads=[*CATEGORIES.values(), "Together"],
        sums=plain,
        categories=[
            _category(name, list(of), year) for name, of in groupby(lines, key=lambda line: line.category)
        ],
        total=format_money(sum(line.minor for line in lines), year.currency),
        method=METHOD,
        rounding=ROUNDING,
    )


def _plain(minor: int, year: ClosedYear) -> str:
    return format_money(minor, year.currency).removesuffix(year.currency).strip()


def _category(name: str, lines: list[ListLine], year: ClosedYear) -> OfCategory:
    places = []
    for place, of in groupby(lines, key=lambda line: line.where):
        there = list(of)
        values = [(line, _plain(line.minor, year)) for line in there]
        places.append(AtPlace(place, values, _plain(sum(line.minor for line in there), year)))
    return OfCategory(name, places, _plain(sum(line.minor for line in lines), year))


def year_list_pdf(what: YearList) -> bytes:
    """The list as a PDF. Raises PaperUnavailable."""
    return pdf_from_template("paper/year_list.html", {"list": what}, stylesheet="lists.css")


@owner
@require_safe
def print_year(request: SignedInRequest, pk: int) -> HttpResponse:
    """The stock list of a closed year as a PDF."""
    closed = get_object_or_404(ClosedYear, pk=pk)
    try:
        content = year_list_pdf(year_list(closed, studio=request.studio))
    except PaperUnavailable as reason:
        messages.error(request, str(reason))
        return SeeOther(reverse("costs-year", args=[closed.pk]))
    return pdf_answer(content, f"stock-{closed.ends_on:%Y-%m-%d}")
