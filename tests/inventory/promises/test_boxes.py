import datetime as dt
import uuid

import pytest
from django.utils import timezone

from dyehouse.ledger.models import Balance
from inventory.promises import boxes
from inventory.promises.boxes import BoxPacked, NothingInIt, PartWanted, make_box, stands, withdraw_box
from inventory.promises.models import Box, Parcel, ParcelBox, Payment
from inventory.promises.told import promised
from inventory.spoken_for import spoken_for
from tests import factories
from tests.inventory.promises.factories import (
    box_of_round,
    club_round,
    held_box,
    order_line,
    person,
    product,
)

pytestmark = pytest.mark.django_db


def packed(box: Box, state: str) -> Parcel:
    parcel = Parcel.objects.create(
        code=f"P{box.code}"[:12], receiver=box.receiver, state=state, made_at=timezone.now()
    )
    ParcelBox.objects.create(parcel=parcel, box=box)
    return parcel


def paid(kind: str, **of) -> Payment:
    return Payment.objects.create(kind=kind, at=timezone.now(), by=factories.OwnerFactory(), **of)


def test_a_box_wants_its_parts_in_order_and_its_claim_names_no_person():
    whom = person("Ilse Vuorinen")
    mini, skein = factories.put_up(grams=20), factories.put_up(grams=100)
    line = order_line(buyer=whom)
    box = make_box(receiver=whom, order_line=line, parts=[PartWanted(mini, 1), PartWanted(skein, 2)])
    assert [(part.position, part.put_up, part.pieces) for part in box.parts.order_by("position")] == [
        (1, mini, 1),
        (2, skein, 2),
    ]
    assert box.code in box.claim.held_for
    assert "Ilse" not in box.claim.held_for


def test_a_box_that_wants_nothing_is_refused():
    with pytest.raises(NothingInIt, match="at least one piece"):
        make_box(receiver=person(), order_line=order_line(), parts=[])
    assert not Box.objects.exists()


def test_withdrawing_frees_what_was_held_where_it_lies_once():
    box = held_box(pieces=2)
    balance = Balance.objects.get(held__gt=0)
    assert balance.held == 2
    key, who = uuid.uuid4(), factories.OwnerFactory()
    withdraw_box(box=box, key=key, who=who, why="Skips this month")
    withdraw_box(box=box, key=key, who=who, why="Skips this month")
    balance.refresh_from_db()
    assert (balance.held, balance.free) == (0, balance.on_hand)
    assert boxes.standing_boxes().filter(pk=box.pk).count() == 0


@pytest.mark.parametrize(
    ("state", "says"), [(Parcel.State.PACKED, "Unpack it first"), (Parcel.State.GONE, "on its way")]
)
def test_what_is_packed_is_not_withdrawn(state, says):
    box = held_box()
    packed(box, state)
    with pytest.raises(BoxPacked, match=says):
        withdraw_box(box=box, key=uuid.uuid4(), who=factories.OwnerFactory(), why="Late")
    box.refresh_from_db()
    assert box.withdrawn_at is None
    assert Balance.objects.get(held__gt=0).held == 1


def test_how_boxes_stand_takes_the_same_queries_for_one_and_for_many(django_assert_num_queries):
    filled = held_box(pieces=2)
    empty = box_of_round(of=filled.round, put_up=factories.put_up(), pieces=1)
    paid(Payment.Kind.FAILED, box=filled)
    paid(Payment.Kind.PAID, box=filled)
    with django_assert_num_queries(4):
        first, second = stands(Box.objects.order_by("pk"))
    assert (first.box, first.wanted_pieces, first.held_pieces, first.is_filled, first.is_paid) == (
        filled,
        2,
        2,
        True,
        True,
    )
    assert (second.box, second.wanted_pieces, second.held_pieces, second.is_filled, second.paid) == (
        empty,
        1,
        0,
        False,
        Payment.Kind.DUE,
    )


def test_a_box_is_paid_by_its_order_unless_it_says_otherwise_itself():
    line = order_line(count=2)
    parts = [PartWanted(factories.put_up())]
    one, two = (
        make_box(receiver=line.order.receiver, order_line=line, number=n, parts=parts) for n in (1, 2)
    )
    paid(Payment.Kind.PAID, order=line.order)
    paid(Payment.Kind.REFUNDED, box=two)
    assert boxes.paid_kinds([one.pk, two.pk]) == {one.pk: "paid", two.pk: "refunded"}


def test_the_shelf_is_told_of_boxes_by_round_with_what_is_held_and_of_the_spares_behind_them():
    round_ = club_round(spares_percent=10, ships_on=dt.date(2026, 12, 10))
    first = held_box(of=round_, pieces=2)
    part = first.parts.get()
    for _ in range(9):
        box_of_round(of=round_, put_up=part.put_up, colourway=part.colourway, pieces=2)
    boxes_told, spares = spoken_for()
    assert (boxes_told.pieces, boxes_told.held, boxes_told.to_find) == (20, 2, 18)
    assert (boxes_told.due, boxes_told.colourway_id) == (round_.ships_on, part.colourway_id)
    assert boxes_told.what == str(round_)
    assert (spares.pieces, spares.held, spares.what) == (2, 0, f"spares of {round_}")


def test_a_piece_that_is_held_counts_once_first_for_the_colourway_that_was_named():
    box = held_box(pieces=1)
    part = box.parts.get()
    make_again = [PartWanted(part.put_up, 1), PartWanted(part.put_up, 1, part.colourway)]
    boxes.write_parts(box, make_again)
    told = {row.colourway_id: row for row in promised() if not row.what.startswith("spares")}
    assert told[part.colourway_id].held == 1
    assert told[None].held == 0


def test_what_is_withdrawn_or_on_its_way_is_promised_no_more():
    gone, back = held_box(), box_of_round()
    packed(gone, Parcel.State.GONE)
    withdraw_box(box=back, key=uuid.uuid4(), who=factories.OwnerFactory(), why="Ended")
    assert promised() == []


def test_the_promises_of_a_product_are_due_with_it():
    sold = product(ships_on=dt.date(2026, 11, 25), spares_percent=0)
    line = order_line(of=sold)
    offer = line.offer
    make_box(
        receiver=line.order.receiver, order_line=line, parts=[PartWanted(offer.put_up, 1, offer.colourway)]
    )
    (told,) = promised()
    assert (told.due, told.what, told.pieces) == (dt.date(2026, 11, 25), sold.name, 1)


def test_being_told_takes_a_set_number_of_queries(django_assert_max_num_queries):
    for _ in range(3):
        held_box()
    line = order_line()
    make_box(
        receiver=person(), order_line=line, parts=[PartWanted(line.offer.put_up, 1, line.offer.colourway)]
    )
    with django_assert_max_num_queries(3):
        assert len(promised()) == 8
