"""Orders: placed, changed by a dated difference, cancelled, and how each stands from the quote to the parcel."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from uuid import uuid4

from django.db import transaction
from django.db.models import Max, Sum
from django.utils import timezone

from dyehouse.studio.models import User
from dyehouse.studio.money import format_money
from dyehouse.studio.refusals import Refused
from inventory.promises.boxes import (
    BoxPacked,
    BoxWanted,
    PartWanted,
    Stand,
    make_boxes,
    release_beyond,
    withdraw_box,
    write_parts,
)
from inventory.promises.models import (
    Box,
    Offer,
    Order,
    OrderChange,
    OrderLine,
    Parcel,
    Payment,
    Person,
    Product,
    ShopTerms,
)
from recipes.lots.models import DyeLot
from recipes.models import Colourway, PutUp
from recipes.words import one_line

LONGEST = 500
MOST_OF_A_LINE = 10_000


class OrderEmpty(Refused):
    """An order without a number, or with nothing in it."""


class OrderNumberTaken(Refused):
    """There is an order of this number from the same source."""


class SoldOut(Refused):
    """More are ordered than are still to be had."""


class OrderStands(Refused):
    """The order cannot be changed so: part of it is packed, on its way, or cancelled before."""


@dataclass(frozen=True, slots=True)
class LineWanted:
    """One line of an order: so many of an offer, or so many pieces of a put-up in a colourway (or one to be found)."""

    count: int
    offer: Offer | None = None
    colourway: Colourway | None = None
    put_up: PutUp | None = None
    each_minor: int | None = None
    reference_lot: DyeLot | None = None
    words: str = ""


@transaction.atomic
def place_order(
    *,
    kind: str,
    number: str,
    buyer: Person,
    lines: Sequence[LineWanted],
    placed_at: dt.datetime,
    currency: str,
    who: User,
    receiver: Person | None = None,
    source: str = "",
    due: dt.date | None = None,
    gift_note: str = "",
    note: str = "",
    beyond_limit: bool = False,
) -> Order:
    """Write down an order; each kit in it is a box of its own, and so are the pieces of any other line together.

    Raises OrderEmpty, OrderNumberTaken, and SoldOut unless `beyond_limit`: what a shop has sold already is sold.
    """
    called = one_line(number)[:60]
    if not called:
        raise OrderEmpty("Write the order's number.")
    if not lines or any(not 1 <= line.count <= MOST_OF_A_LINE for line in lines):
        raise OrderEmpty("An order has at least one line, and each line at least one piece.")
    if Order.objects.filter(source=source, number__iexact=called).exists():
        raise OrderNumberTaken(
            f"There is an order {called} already. Open that one, or give this another number."
        )
    if not beyond_limit:
        refuse_beyond_limit(lines)
    order = Order.objects.create(
        kind=kind,
        number=called,
        source=source,
        buyer=buyer,
        receiver=receiver or buyer,
        placed_at=placed_at,
        due=due,
        gift_note=gift_note.strip()[:LONGEST],
        note=one_line(note)[:LONGEST],
        currency=currency,
    )
    for line in lines:
        add_line(order=order, wanted=line, who=who, at_once=True)
    if kind == Order.Kind.WHOLESALE:
        record(order, OrderChange.Kind.QUOTED, who)
    return order


@transaction.atomic
def add_line(
    *, order: Order, wanted: LineWanted, who: User, at_once: bool = False, why: str = ""
) -> OrderLine:
    """One line more in an order, with its boxes; said as a dated change unless it is placed with the order at once."""
    last = order.lines.aggregate(last=Max("position"))["last"] or 0
    line = OrderLine.objects.create(
        order=order,
        position=last + 1,
        offer=wanted.offer,
        colourway=wanted.colourway,
        put_up=wanted.put_up,
        count=wanted.count,
        each_minor=wanted.each_minor,
        reference_lot=wanted.reference_lot,
        words=one_line(wanted.words)[:300],
    )
    _fit_boxes(line, who=who, why=why)
    if not at_once:
        record(
            order, OrderChange.Kind.CHANGED, who, after={"line": line.position, "count": line.count}, why=why
        )
    return line


@transaction.atomic
def change_line(*, line: OrderLine, count: int, who: User, why: str) -> OrderLine:
    """Another number of a line, as a dated difference: boxes are added, or the last that are not packed withdrawn.

    Raises OrderEmpty for no piece, OrderStands when what is packed or on its way is more than that.
    """
    line = _open_line(line)
    if not 1 <= count <= MOST_OF_A_LINE:
        raise OrderEmpty("Write at least one, or cancel the line.")
    if count == line.count:
        return line
    before, line.count = line.count, count
    _fit_boxes(line, who=who, why=why)
    line.save(update_fields=["count"])
    record(
        line.order,
        OrderChange.Kind.CHANGED,
        who,
        before={"line": line.position, "count": before},
        after={"line": line.position, "count": count},
        why=why,
    )
    return line


@transaction.atomic
def cancel_line(*, line: OrderLine, who: User, why: str) -> OrderLine:
    """Take a line back: what its boxes hold is free again. Raises OrderStands when something of it is packed or gone."""
    line = _open_line(line)
    _withdraw(list(line.boxes.filter(withdrawn_at__isnull=True)), who=who, why=why)
    line.cancelled_at = timezone.now()
    line.save(update_fields=["cancelled_at"])
    record(
        line.order,
        OrderChange.Kind.CHANGED,
        who,
        before={"line": line.position, "count": line.count},
        why=why,
    )
    return line


@transaction.atomic
def cancel_order(*, order: Order, who: User, why: str) -> Order:
    """Take a whole order back. Raises OrderStands when something of it is packed or gone, or it was cancelled before."""
    order = Order.objects.select_for_update().get(pk=order.pk)
    if order.changes.filter(kind=OrderChange.Kind.CANCELLED).exists():
        raise OrderStands("This order was cancelled before.")
    _withdraw(list(Box.objects.filter(order_line__order=order, withdrawn_at__isnull=True)), who=who, why=why)
    order.lines.filter(cancelled_at__isnull=True).update(cancelled_at=timezone.now())
    record(order, OrderChange.Kind.CANCELLED, who, why=why)
    return order


@transaction.atomic
def pay_order(
    *, order: Order, kind: str, who: User, amount_minor: int | None = None, why: str = ""
) -> Payment:
    """Say whether an order was paid. No payment is taken here; the newest word holds."""
    return Payment.objects.create(
        order=order, kind=kind, amount_minor=amount_minor, why=one_line(why)[:300], at=timezone.now(), by=who
    )


def record(
    order: Order,
    kind: str,
    who: User,
    *,
    before: dict[str, int] | None = None,
    after: dict[str, int] | None = None,
    why: str = "",
) -> OrderChange:
    """Keep how an order went on, with its day and by whom. The words name nobody."""
    return OrderChange.objects.create(
        order=order,
        kind=kind,
        before=before or {},
        after=after or {},
        why=one_line(why)[:300],
        at=timezone.now(),
        by=who,
    )


def parts_of(line: OrderLine) -> list[PartWanted]:
    """What one box of a line wants: the parts of its kit in their order, else its pieces of one colourway together."""
    offer = line.offer
    if offer is not None and offer.kit is not None:
        return [
            PartWanted(part.put_up, part.pieces, part.colourway)
            for part in offer.kit.parts.select_related("put_up", "colourway").order_by("position")
        ]
    if offer is not None and offer.put_up is not None:
        return [PartWanted(offer.put_up, line.count, offer.colourway)]
    if line.put_up is None:
        raise OrderEmpty("Say on which yarn it is to be.")
    return [PartWanted(line.put_up, line.count, line.colourway)]


def refuse_beyond_limit(lines: Sequence[LineWanted]) -> None:
    """Raise SoldOut when more is ordered than a product or one of its choices still has. Two orders at once take turns."""
    by_offer: Counter[Offer] = Counter()
    for line in lines:
        if line.offer is not None:
            by_offer[line.offer] += line.count
    list(Product.objects.select_for_update().filter(offers__in=by_offer).order_by("pk"))
    by_product: Counter[Product] = Counter()
    for offer, wanted in by_offer.items():
        by_product[offer.product] += wanted
        _refuse_more(str(offer), offer.most, sold_of_offer(offer), wanted)
    for product, wanted in by_product.items():
        _refuse_more(product.name, product.most, sold_of_product(product), wanted)


def _refuse_more(name: str, most: int | None, sold: int, wanted: int) -> None:
    if most is None or sold + wanted <= most:
        return
    left = max(0, most - sold)
    there = "none is left" if not left else "one is left" if left == 1 else f"{left} are left"
    raise SoldOut(f"Of {name} {there}: {sold} of {most} are sold. Order fewer, or raise the limit first.")


def sold_of_offer(offer: Offer) -> int:
    """How many of a choice are ordered and not cancelled."""
    return offer.lines.filter(cancelled_at__isnull=True).aggregate(sold=Sum("count"))["sold"] or 0


def sold_of_product(product: Product) -> int:
    """How many of a product are ordered and not cancelled, over all its choices."""
    lines = OrderLine.objects.filter(offer__product=product, cancelled_at__isnull=True)
    return lines.aggregate(sold=Sum("count"))["sold"] or 0


def how_it_stands(order: Order, stands: Sequence[Stand]) -> str:
    """One word for an order, from its changes, payments and boxes (`stands`, of all of its boxes not withdrawn)."""
    kinds = set(order.changes.values_list("kind", flat=True))
    paid = order.payments.order_by("-id").values_list("kind", flat=True).first()
    return word_for(order, kinds, paid, stands)


def word_for(order: Order, changes: Collection[str], paid: str | None, stands: Sequence[Stand]) -> str:
    """The same from what was read already: the kinds of its changes, and its newest payment."""
    if OrderChange.Kind.CANCELLED in changes:
        return "cancelled"
    gone = sum(stand.is_gone for stand in stands)
    if stands and gone == len(stands):
        return "on its way"
    if gone:
        return "partly on its way"
    if stands and all(stand.is_filled for stand in stands):
        return "ready"
    if OrderChange.Kind.DYEING in changes or any(stand.held_pieces for stand in stands):
        return "dyeing"
    if paid == Payment.Kind.PAID:
        return "paid"
    if paid == Payment.Kind.DEPOSIT:
        return "deposit paid"
    if OrderChange.Kind.AGREED in changes or order.kind != Order.Kind.WHOLESALE:
        return "ordered"
    return "quoted"


def below_terms(*, terms: ShopTerms, lines: Sequence[LineWanted], currency: str) -> list[str]:
    """What of a shop's minimums an order does not reach, a sentence each; nothing where it reaches them all."""
    said = []
    pieces = sum(line.count for line in lines)
    if terms.least_pieces is not None and pieces < terms.least_pieces:
        said.append(f"{pieces} pieces are ordered; the least is {terms.least_pieces}.")
    worth = sum(line.count * line.each_minor for line in lines if line.each_minor is not None)
    if terms.least_minor is not None and worth < terms.least_minor:
        said.append(
            f"The order is worth {format_money(worth, currency)}; the least is {format_money(terms.least_minor, currency)}."
        )
    if terms.least_a_colourway is not None:
        each: Counter[tuple[int | None, int | None]] = Counter()
        names: dict[tuple[int | None, int | None], str] = {}
        for line in lines:
            key = (
                line.colourway.pk if line.colourway is not None else None,
                line.put_up.base_id if line.put_up is not None else None,
            )
            each[key] += line.count
            names[key] = (
                f"{line.colourway or 'Any colourway'} on {line.put_up.base if line.put_up else 'any base'}"
            )
        said.extend(
            f"{names[key]}: {count} ordered; the least of one colourway on one base is {terms.least_a_colourway}."
            for key, count in each.items()
            if count < terms.least_a_colourway
        )
    return said


def _open_line(line: OrderLine) -> OrderLine:
    locked = (
        OrderLine.objects.select_for_update(of=("self",))
        .select_related("order", "offer__kit", "offer__product", "colourway", "put_up")
        .get(pk=line.pk)
    )
    if locked.cancelled_at is not None:
        raise OrderStands("This line was cancelled before.")
    return locked


def _fit_boxes(line: OrderLine, *, who: User, why: str) -> None:
    """Make as many boxes as the line counts (one where its pieces go together), or withdraw the last that are too many."""
    each_its_own = line.offer is not None and line.offer.kit is not None
    wanted = line.count if each_its_own else 1
    standing = list(line.boxes.filter(withdrawn_at__isnull=True).order_by("number"))
    parts = parts_of(line)
    if not each_its_own and standing:
        _refuse_packed(standing)
        write_parts(standing[0], parts)
        release_beyond(box=standing[0], pieces=line.count, who=who, why=why or "The order was changed")
        return
    _withdraw(standing[wanted:][::-1], who=who, why=why)
    used = line.boxes.aggregate(last=Max("number"))["last"] or 0
    make_boxes(
        [
            BoxWanted(receiver=line.order.receiver, order_line=line, number=number, parts=parts)
            for number in range(used + 1, used + 1 + wanted - len(standing))
        ]
    )


def _withdraw(boxes: Sequence[Box], *, who: User, why: str) -> None:
    for box in boxes:
        try:
            withdraw_box(box=box, key=uuid4(), who=who, why=why or "The order was changed")
        except BoxPacked as packed:
            raise OrderStands(str(packed)) from None


def _refuse_packed(boxes: Sequence[Box]) -> None:
    inside = (
        Parcel.objects.filter(
            boxes__box__in=boxes,
            boxes__taken_out_at__isnull=True,
            state__in=(Parcel.State.PACKED, Parcel.State.GONE),
        )
        .order_by("pk")
        .first()
    )
    if inside is not None:
        raise OrderStands(f"It is {inside.get_state_display()} in parcel {inside.code}. Unpack it first.")
