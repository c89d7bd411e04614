"""Years: the one that runs, closing it, and those that are closed. The owner's alone."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Sum
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from dyehouse.studio.access import SignedInRequest, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.cells import list_of
from dyehouse.studio.money import places_of
from dyehouse.studio.refusing import refusals_beside
from inventory.costing.forms import CloseForm
from inventory.costing.models import ClosedRow, ClosedYear
from inventory.costing.sums import NANO
from inventory.costing.worth import CATEGORIES
from inventory.costing.year_list import METHODS, csv_rows, list_lines
from inventory.costing.years import (
    CHANGES,
    ROWS,
    CannotClose,
    Sums,
    close_year,
    closed_sums,
    last_closed,
    year_until,
)
from recipes.paging import page_asked

ROWS_A_PAGE = 100


@dataclass(frozen=True, slots=True)
class SumLine:
    """One row of how a closing came about: its figure in every category, and together."""

    words: str
    by_name: list[tuple[str, int]]
    total: int
    is_end: bool


def sum_lines(sums: Sums) -> list[SumLine]:
    """The rows that are not empty, with opening and closing always."""
    lines = []
    for slug, words in ROWS.items():
        minors = [sums[slug][name] for name in CATEGORIES]
        if slug not in CHANGES or any(minors):
            by_name = list(zip(CATEGORIES.values(), minors, strict=True))
            lines.append(SumLine(words, by_name, sum(minors), slug not in CHANGES))
    return lines


@owner
@require_http_methods(["GET", "POST"])
def closed_years(request: SignedInRequest) -> HttpResponse:
    """The years that are closed, and the form that closes the next one."""
    form = CloseForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        told, year = form.cleaned_data, None
        with refusals_beside(form, ends_on=CannotClose):
            year = close_year(key=told["key"], ends_on=told["ends_on"], who=request.user, note=told["note"])
        if year is not None:
            messages.success(request, "Closed. What is entered later counts in the new year.")
            return SeeOther(reverse("costs-year", args=[year.pk]))
    known = ClosedYear.objects.select_related("closed_by").annotate(value=Sum("rows__value_minor"))
    context = {"years": known.order_by("-ends_on"), "form": form}
    return render(request, "costing/years.html", context, status=422 if form.errors else 200)


@owner
@require_safe
def year_now(request: SignedInRequest) -> HttpResponse:
    """The year that runs: from the last closing to today, with what came late into the closed one."""
    today, before = timezone.localdate(), last_closed()
    year = None
    if before is None or today > before.ends_on:
        year = year_until(today, currency=request.studio.currency)
    context = {
        "before": before,
        "year": year,
        "categories": CATEGORIES,
        "lines": sum_lines(year.sums) if year is not None else [],
        "unexplained": year is not None and any(abs(nano) >= NANO for nano in year.unexplained.values()),
    }
    return render(request, "costing/year_now.html", context)


@owner
@require_safe
def year(request: SignedInRequest, pk: int) -> HttpResponse:
    """A closed year: how its stock came about, and the list."""
    closed = get_object_or_404(ClosedYear.objects.select_related("closed_by", "before"), pk=pk)
    rows = (
        ClosedRow.objects.filter(year=closed)
        .select_related("item")
        .order_by("category", "where", "what", "which", "id")
    )
    page = Paginator(rows, ROWS_A_PAGE).get_page(page_asked(request))
    context = {
        "year": closed,
        "categories": CATEGORIES,
        "lines": sum_lines(closed_sums(closed)),
        "page": page,
        "rows": list_lines(page.object_list, places=places_of(closed.currency)),
        "methods": METHODS,
    }
    return render(request, "costing/year.html", context)


@owner
@require_safe
def year_csv(request: SignedInRequest, pk: int) -> HttpResponse:
    """The list of a closed year as a spreadsheet reads it."""
    closed = get_object_or_404(ClosedYear, pk=pk)
    return HttpResponse(
        list_of(csv_rows(closed, studio=request.studio.name)),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="stock-{closed.ends_on:%Y-%m-%d}.csv"'},
    )
