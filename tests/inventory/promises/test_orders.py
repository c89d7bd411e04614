import datetime as dt
import uuid

import pytest
from django.utils import timezone
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from dyehouse.ledger.models import Balance
from dyehouse.ledger.operations import hold, post
from inventory.kits import PartWanted as KitPartWanted
from inventory.kits import make_kit
from inventory.models import Kit
from inventory.promises.boxes import due_on, stands
from inventory.promises.models import Box, Order, OrderChange, Parcel, ParcelBox, Payment, ShopTerms
from inventory.promises.orders import (
    LineWanted,
    OrderEmpty,
    OrderNumberTaken,
    OrderStands,
    SoldOut,
    below_terms,
    cancel_line,
    cancel_order,
    change_line,
    how_it_stands,
    pay_order,
    place_order,
    record,
    sold_of_product,
)
from tests import factories
from tests.inventory.promises.factories import person, product

pytestmark = pytest.mark.django_db


def box_of_days(days: int = 3) -> Kit:
    mini = factories.put_up(grams=20)
    return make_kit(
        name=f"Box of {days} {uuid.uuid4().hex[:4]}",
        kind=Kit.Kind.BOX,
        parts=[KitPartWanted(factories.colourway(), mini) for _ in range(days)],
    )


def ordered(*lines: LineWanted, kind: str = Order.Kind.PREORDER, **facts) -> Order:
    said = {"number": f"A{uuid.uuid4().hex[:6]}", "placed_at": timezone.now(), "currency": "EUR", **facts}
    buyer = said.pop("buyer", None) or person()
    who = said.pop("who", None) or factories.OwnerFactory()
    return place_order(kind=kind, buyer=buyer, lines=list(lines), who=who, **said)


def boxes_of(order: Order) -> list[Box]:
    return list(Box.objects.filter(order_line__order=order, withdrawn_at__isnull=True).order_by("number"))


def test_each_box_of_days_that_is_ordered_is_a_box_with_its_days_in_order():
    sold = product(kit=box_of_days(3))
    order = ordered(LineWanted(2, offer=sold.offers.get()))
    one, two = boxes_of(order)
    assert [part.position for part in one.parts.order_by("position")] == [1, 2, 3]
    assert {part.colourway_id for part in one.parts.all()} == {part.colourway_id for part in two.parts.all()}


def test_pieces_of_one_colourway_are_one_box_so_that_they_belong_together():
    put_up, colourway = factories.put_up(), factories.colourway()
    order = ordered(LineWanted(6, colourway=colourway, put_up=put_up), kind=Order.Kind.CUSTOM)
    (box,) = boxes_of(order)
    assert [(part.pieces, part.colourway) for part in box.parts.all()] == [(6, colourway)]


@pytest.mark.parametrize(("number", "count"), [("", 1), ("A1", 0), ("A1", 10_001)])
def test_an_order_of_nothing_is_refused(number, count):
    line = LineWanted(count, put_up=factories.put_up())
    with pytest.raises(OrderEmpty):
        ordered(line, number=number)
    assert not Order.objects.exists()


def test_one_number_is_one_order_of_a_source():
    line = LineWanted(1, put_up=factories.put_up())
    ordered(line, number="A1")
    ordered(line, number="A1", source="the web shop")
    with pytest.raises(OrderNumberTaken, match="a1 already"):
        ordered(line, number="a1")


def test_no_more_is_sold_than_there_is_unless_it_was_sold_elsewhere_already():
    sold = product(kit=box_of_days(1), most=3)
    offer = sold.offers.get()
    ordered(LineWanted(2, offer=offer))
    with pytest.raises(SoldOut, match="one is left: 2 of 3 are sold"):
        ordered(LineWanted(2, offer=offer))
    ordered(LineWanted(2, offer=offer), beyond_limit=True)
    assert sold_of_product(sold) == 4


def test_another_number_is_a_dated_difference_and_moves_only_its_own_boxes():
    offer = product(kit=box_of_days(1)).offers.get()
    who = factories.OwnerFactory()
    order = ordered(LineWanted(3, offer=offer), who=who)
    other = ordered(LineWanted(2, offer=offer), who=who)
    first = boxes_of(order)
    change_line(line=order.lines.get(), count=1, who=who, why="Wanted fewer")
    assert boxes_of(order) == first[:1]
    change_line(line=order.lines.get(), count=2, who=who, why="And one back")
    assert [box.number for box in boxes_of(order)] == [1, 4]
    assert len(boxes_of(other)) == 2
    assert [(row.before["count"], row.after["count"]) for row in order.changes.order_by("id")] == [
        (3, 1),
        (1, 2),
    ]


def test_fewer_pieces_of_one_box_free_what_it_holds_beyond_them():
    who = factories.OwnerFactory()
    lot, place, dyed = factories.shelved_lot(who=who, good=4, second=0)
    order = ordered(LineWanted(4, colourway=dyed.colourway, put_up=dyed.put_up), who=who)
    (box,) = boxes_of(order)
    step = hold(item=dyed.item, lot=lot.lot, quantity=4, place=place, claim=box.claim)
    post(key=uuid.uuid4(), who=who, steps=[step])
    change_line(line=order.lines.get(), count=3, who=who, why="One fewer")
    assert Balance.objects.get(place=place, item=dyed.item).free == 1
    (stand,) = stands(Box.objects.filter(pk=box.pk))
    assert (stand.wanted_pieces, stand.held_pieces) == (3, 3)


def test_what_is_packed_stays_in_the_order():
    who = factories.OwnerFactory()
    order = ordered(LineWanted(2, offer=product(kit=box_of_days(1)).offers.get()), who=who)
    parcel = Parcel.objects.create(
        code="PACKED1", receiver=order.receiver, state=Parcel.State.PACKED, made_at=timezone.now()
    )
    ParcelBox.objects.create(parcel=parcel, box=boxes_of(order)[1])
    line = order.lines.get()
    for deed in (
        lambda: change_line(line=line, count=1, who=who, why="Fewer"),
        lambda: cancel_line(line=line, who=who, why="None"),
        lambda: cancel_order(order=order, who=who, why="None"),
    ):
        with pytest.raises(OrderStands, match="Unpack it first"):
            deed()
    line.refresh_from_db()
    assert (line.count, line.cancelled_at, len(boxes_of(order))) == (2, None, 2)


def test_a_cancelled_order_promises_nothing_and_is_cancelled_once():
    who = factories.OwnerFactory()
    order = ordered(LineWanted(2, offer=product(kit=box_of_days(1)).offers.get()), who=who)
    cancel_order(order=order, who=who, why="Changed their mind")
    assert boxes_of(order) == []
    assert how_it_stands(order, []) == "cancelled"
    with pytest.raises(OrderStands, match="cancelled before"):
        cancel_order(order=order, who=who, why="Again")


def test_a_shop_order_goes_from_the_quote_to_the_parcel():
    who = factories.OwnerFactory()
    lot, place, dyed = factories.shelved_lot(who=who, good=2, second=0)
    order = ordered(
        LineWanted(2, colourway=dyed.colourway, put_up=dyed.put_up, reference_lot=lot),
        kind=Order.Kind.WHOLESALE,
        who=who,
    )

    def word() -> str:
        return how_it_stands(
            order, stands(Box.objects.filter(order_line__order=order, withdrawn_at__isnull=True))
        )

    said = [word()]
    record(order, OrderChange.Kind.AGREED, who)
    said.append(word())
    pay_order(order=order, kind=Payment.Kind.DEPOSIT, who=who, amount_minor=5000)
    said.append(word())
    record(order, OrderChange.Kind.DYEING, who)
    said.append(word())
    (box,) = boxes_of(order)
    step = hold(item=dyed.item, lot=lot.lot, quantity=2, place=place, claim=box.claim)
    post(key=uuid.uuid4(), who=who, steps=[step])
    said.append(word())
    parcel = Parcel.objects.create(
        code="GONE123", receiver=order.receiver, state=Parcel.State.GONE, made_at=timezone.now()
    )
    ParcelBox.objects.create(parcel=parcel, box=box)
    said.append(word())
    assert said == ["quoted", "ordered", "deposit paid", "dyeing", "ready", "on its way"]


def test_a_shop_is_told_which_minimums_it_does_not_reach():
    dk, sock = factories.put_up(), factories.put_up()
    one, two = factories.colourway("Reedbed at Dusk"), factories.colourway("Slate Path")
    terms = ShopTerms(shop=person(kind="shop"), least_pieces=12, least_minor=20_000, least_a_colourway=5)
    lines = [
        LineWanted(6, colourway=one, put_up=dk, each_minor=1_400),
        LineWanted(3, colourway=two, put_up=sock, each_minor=1_400),
    ]
    assert below_terms(terms=terms, lines=lines, currency="EUR") == [
        "9 pieces are ordered; the least is 12.",
        "The order is worth 126.00 EUR; the least is 200.00 EUR.",
        f"Slate Path on {sock.base}: 3 ordered; the least of one colourway on one base is 5.",
    ]
    enough = [LineWanted(15, colourway=one, put_up=dk, each_minor=1_400)]
    assert below_terms(terms=terms, lines=enough, currency="EUR") == []


class TestCounting(TestCase):
    @settings(max_examples=15, deadline=None)
    @given(counts=st.lists(st.integers(1, 6), min_size=1, max_size=5))
    def test_after_any_changes_there_are_as_many_boxes_as_the_line_says(self, counts):
        who = factories.OwnerFactory()
        order = ordered(LineWanted(counts[0], offer=product(kit=box_of_days(1)).offers.get()), who=who)
        for count in counts[1:]:
            change_line(line=order.lines.get(), count=count, who=who, why="Changed")
        assert len(boxes_of(order)) == counts[-1]
        moved = sum(row.after["count"] - row.before["count"] for row in order.changes.all())
        assert counts[0] + moved == counts[-1]


def test_due_is_the_orders_own_day_before_the_products():
    sold = product(kit=box_of_days(1), ships_on=dt.date(2026, 11, 25))
    plain = ordered(LineWanted(1, offer=sold.offers.get()))
    sooner = ordered(LineWanted(1, offer=sold.offers.get()), due=dt.date(2026, 11, 20))
    assert [due_on(boxes_of(order)[0]) for order in (plain, sooner)] == [
        dt.date(2026, 11, 25),
        dt.date(2026, 11, 20),
    ]
