"""An order to a mill or dye maker on paper: to send, or to tick off what comes. The owner's alone, since it has prices."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from dyehouse.paper.html_to_pdf import PaperUnavailable, pdf_from_template
from dyehouse.paper.lists import paper_of
from dyehouse.paper.printouts import pdf_answer
from dyehouse.studio.access import SignedInRequest, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.models import Studio
from dyehouse.studio.money import format_money
from inventory.allocation.reorder import say_day, saying
from inventory.buying.models import Purchase
from inventory.buying.pages import OrderSummary, order_page


@dataclass(frozen=True, slots=True)
class OrderRow:
    """One line of the order."""

    their_number: str
    what: str
    packs: str
    altogether: str
    price: str


@dataclass(frozen=True, slots=True)
class OrderPaper:
    """The whole order."""

    studio: str
    address: str
    email: str
    date: str
    paper: str
    number: int
    supplier: str
    ordered: str
    expected: str
    note: str
    rows: tuple[OrderRow, ...]
    total: str


def order_paper(order: OrderSummary, *, studio: Studio) -> OrderPaper:
    """An order as it is printed. Asks the database nothing."""
    purchase, currency = order.purchase, order.purchase.currency
    ordered, expected, total = purchase.ordered_on, purchase.expected_on, order.total_minor
    lines = [came.line for came in order.lines]
    return OrderPaper(
        studio=studio.name,
        address=studio.postal_address,
        email=studio.email,
        date=f"{timezone.localdate():%d %B %Y}",
        paper=paper_of(studio),
        number=purchase.pk,
        supplier=purchase.supplier.name,
        ordered=say_day(ordered) if ordered is not None else "",
        expected=say_day(expected) if expected is not None else "",
        note=purchase.note,
        rows=tuple(
            OrderRow(
                their_number=line.offer.their_number,
                what=line.item.name,
                packs=f"{line.packs} × {saying(line.item.unit)(line.pack_quantity)}",
                altogether=saying(line.item.unit)(line.ordered),
                price=""
                if line.price_minor is None
                else format_money(line.price_minor * line.packs, currency),
            )
            for line in lines
        ),
        total="" if total is None else format_money(total, currency),
    )


@owner
@require_GET
def order_on_paper(request: SignedInRequest, pk: int) -> HttpResponse:
    """The order as a PDF."""
    purchase = get_object_or_404(Purchase.objects.select_related("supplier"), pk=pk)
    what = order_paper(order_page(purchase).order, studio=request.studio)
    try:
        content = pdf_from_template("paper/order.html", {"list": what}, stylesheet="lists.css")
    except PaperUnavailable as reason:
        messages.error(request, str(reason))
        return SeeOther(reverse("buying-order", args=[pk]))
    return pdf_answer(content, f"order-{purchase.pk}")
