"""What the stock is worth, what a lot cost, and what is left of a price. The owner's alone."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from fractions import Fraction

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from dyehouse.ledger.models import Item
from dyehouse.studio.access import SignedInRequest, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.money import format_money, places_of
from dyehouse.studio.refusing import refusals_beside
from inventory.costing.forms import DayForm, PotCostsForm
from inventory.costing.lot_cost import GUESSED, LACKS, lot_cost
from inventory.costing.margin_queries import margins_now
from inventory.costing.prices import retail_prices
from inventory.costing.sums import NANO, ROUNDING
from inventory.costing.usual import SECONDS, NotUsual, pot_costs, say_pot_costs, usual_now
from inventory.costing.worth import CATEGORIES, Row, Worth, end_of, worth
from recipes.dyeing.units import format_grams, format_millilitres, format_number
from recipes.lots.models import DyeLot, Pot
from recipes.paging import page_asked

ROWS_A_PAGE = 100


@dataclass(frozen=True, slots=True)
class CategoryLine:
    """A category with its value and how many of its rows are guessed or not known altogether."""

    slug: str
    name: str
    minor: int
    rows: int
    guessed: int
    lacking: int


@dataclass(frozen=True, slots=True)
class StockLine:
    """A row of the stock in words."""

    what: str
    which: str
    where: str
    quantity: str
    unit_cost: str
    minor: int
    guess: str
    lacks: str
    written_down: bool


def quantity_words(quantity: int, unit: str) -> str:
    """A quantity of any unit: 3, 2.5 g, 40 ml."""
    if unit == Item.Unit.PIECE:
        return str(quantity)
    return format_grams(quantity) if unit == Item.Unit.MILLIGRAM else format_millilitres(quantity)


def unit_words(cost_nano: int, quantity: int, unit: str, places: int) -> str:
    """What one piece, 100 g or a litre costs, to a hundredth of the smallest unit."""
    if not quantity:
        return ""
    per = {Item.Unit.PIECE: (1, ""), Item.Unit.MILLIGRAM: (100_000, " / 100 g")}.get(
        Item.Unit(unit), (1_000_000, " / litre")
    )
    amount = Fraction(cost_nano, quantity) * per[0] / NANO / 10**places
    return f"{format_number(amount, places + 2)}{per[1]}"


def _lines(stock: Worth, rows: list[Row], places: int) -> list[StockLine]:
    things = stock.things
    return [
        StockLine(
            what=things.names[row.item],
            which=stock.lot_names.get(row.lot, ""),
            where=things.places[row.place].name,
            quantity=quantity_words(row.quantity, things.unit[row.item]),
            unit_cost=unit_words(row.cost, row.quantity, things.unit[row.item], places),
            minor=stock.minor[row.where],
            guess="; ".join(GUESSED[each] for each in row.guesses),
            lacks="; ".join(LACKS[each] for each in row.lacking),
            written_down=row.carried != row.cost,
        )
        for row in rows
    ]


def _asked_day(request: SignedInRequest) -> tuple[DayForm, dt.date]:
    today = timezone.localdate()
    form = DayForm(request.GET if request.GET.get("on") else None, initial={"on": today})
    if form.is_bound and form.is_valid() and form.cleaned_data["on"]:
        return form, min(form.cleaned_data["on"], today)
    return form, today


@owner
@require_safe
def costs(request: SignedInRequest) -> HttpResponse:
    """What the stock is worth at the end of a day, by category."""
    form, day = _asked_day(request)
    stock = worth(end_of(day), currency=request.studio.currency)
    lines = []
    for slug, name in CATEGORIES.items():
        rows = [row for row in stock.rows if row.category == slug]
        guessed, lacking = sum(1 for row in rows if row.guesses), sum(1 for row in rows if row.lacking)
        lines.append(CategoryLine(slug, name, stock.of(slug), len(rows), guessed, lacking))
    context = {
        "form": form, "day": day, "stock": stock, "lines": lines, "rounding": ROUNDING,
        "lacking": len(stock.lacking),
    }  # fmt: skip
    return render(request, "costing/costs.html", context, status=422 if form.errors else 200)


@owner
@require_safe
def stock_list(request: SignedInRequest, category: str) -> HttpResponse:
    """Every row of a category: what, where, how much, at what cost, and what of it is not known."""
    _, day = _asked_day(request)
    stock = worth(end_of(day), currency=request.studio.currency)
    rows = sorted(
        (row for row in stock.rows if row.category == category),
        key=lambda row: (not row.lacking, stock.things.names[row.item].lower(), row.lot, row.place),
    )
    pages = Paginator(rows, ROWS_A_PAGE)
    page = pages.get_page(page_asked(request))
    places = places_of(request.studio.currency)
    context = {
        "category": CATEGORIES.get(category, ""), "day": day, "page": page, "total": stock.of(category),
        "lines": _lines(stock, list(page.object_list), places),
    }  # fmt: skip
    return render(request, "costing/stock_list.html", context, status=200 if category in CATEGORIES else 404)


@owner
@require_safe
def lot(request: SignedInRequest, code: str) -> HttpResponse:
    """What a lot cost, part by part, and what is left of its price."""
    dye_lot = get_object_or_404(DyeLot.objects.select_related("colourway"), code=code)
    prices = retail_prices(currency=request.studio.currency)
    cost = lot_cost(dye_lot, prices=prices)
    pots = list(Pot.objects.filter(dye_lot=dye_lot).order_by("pk"))
    context = {"lot": dye_lot, "name": dye_lot.colourway.shown_name(request.user), "cost": cost, "pots": pots}
    return render(request, "costing/lot.html", context)


@owner
@require_http_methods(["GET", "POST"])
def pot(request: SignedInRequest, code: str) -> HttpResponse:
    """What one pot really took, beside what is usual."""
    of = get_object_or_404(Pot.objects.select_related("colourway", "dye_lot"), code=code)
    own, usual, currency = pot_costs(of), usual_now(), request.studio.currency
    hints: dict[str, str] = {}
    for name in SECONDS:
        seconds = getattr(usual, name, None)
        if seconds is not None:
            per = "a pot" if name in ("load_seconds", "dye_seconds", "rinse_seconds") else "a piece"
            hints[name] = f"Usually {format_number(Fraction(seconds, 60), 2)} min {per}."
    if usual is not None and usual.energy_minor is not None:
        hints["energy_minor"] = f"Usually {format_money(usual.energy_minor, currency)}."
    initial = {name: getattr(own, name, None) for name in (*SECONDS, "energy_minor")}
    form = PotCostsForm(
        request.POST if request.method == "POST" else None, currency=currency, usual=hints, initial=initial
    )
    if form.is_bound and form.is_valid():
        with refusals_beside(form, energy_minor=NotUsual):
            say_pot_costs(key=form.cleaned_data["key"], pot=of, figures=form.figures, who=request.user)
        if not form.errors:
            messages.success(request, f"Kept for pot {of.code}.")
            there = ("costs-lot", of.dye_lot.code) if of.dye_lot is not None else ("pot", of.code)
            return SeeOther(reverse(there[0], args=[there[1]]))
    context = {"pot": of, "form": form, "name": of.colourway.shown_name(request.user)}
    return render(request, "costing/pot.html", context, status=422 if form.errors else 200)


@owner
@require_safe
def margin_list(request: SignedInRequest) -> HttpResponse:
    """What is left of every price at retail, half and sixty-forty."""
    prices = retail_prices(currency=request.studio.currency)
    found = margins_now(prices=prices)
    search = request.GET.get("find", "").strip().lower()
    pieces = [row for row in found.pieces if search in f"{row.what} {row.detail}".lower()]
    page = Paginator(pieces, ROWS_A_PAGE).get_page(page_asked(request))
    context = {"found": found, "page": page, "search": request.GET.get("find", "").strip()}
    return render(request, "costing/margins.html", context)
