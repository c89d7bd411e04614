"""The packing table by its pages: from a frozen round to parcels on their way, touch by touch, and what a helper sees."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from dyehouse.ledger.models import Balance, Line
from dyehouse.ledger.operations import hold, post
from dyehouse.studio.codes import take_code
from inventory.matching import say_they_match
from inventory.promises.boxes import PartWanted, make_box, standing_boxes, stands
from inventory.promises.freezing import freeze
from inventory.promises.models import Box, PackedPieces, Parcel, ParcelBox, Payment, PickBatch, RoundColourway
from inventory.promises.parcel_queries import groups_to_pack, matched_lots, unmatched
from tests import factories
from tests.inventory.promises.factories import (
    box_of_round,
    club_round,
    held_box,
    level,
    membership,
    order_line,
    parcel,
    somewhere,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(client: Client):
    factories.studio()
    user = factories.OwnerFactory()
    client.force_login(user)
    return user


def press(client: Client, page: str, *args, **data) -> str:
    """One touch: a button is pressed; the address of the page that opens."""
    answer = client.post(reverse(page, args=args), {"key": uuid.uuid4(), **data}, follow=True)
    assert answer.status_code == 200
    return answer.redirect_chain[-1][0] if answer.redirect_chain else ""


def text(client: Client, page: str, *args) -> str:
    answer = client.get(reverse(page, args=args))
    assert answer.status_code == 200
    return answer.content.decode()


def paid(box: Box, who, kind: str = "paid") -> Box:
    Payment.objects.create(box=box, kind=kind, at=timezone.now(), by=who)
    return box


def test_a_frozen_round_goes_from_held_boxes_to_parcels_on_their_way(
    client, owner, django_assert_max_num_queries
):
    lot, place, dyed = factories.shelved_lot(who=owner, good=24, second=0)
    at = level(put_up=dyed.put_up)
    people = [somewhere(f"Member {number:02}") for number in range(18)]
    for number, whom in enumerate(people):
        gift = {"payer": somewhere(), "gift_note": "For your sea socks"} if number == 3 else {}
        membership(of=at, receiver=whom, count=2 if number in (5, 6) else 1, **gift)
    round_ = club_round(of=at.club, ships_on=timezone.localdate() + dt.timedelta(days=9))
    skips = membership(of=at, receiver=somewhere("Member who skips"))
    client.post(reverse("club-member-do", args=[skips.pk]), {"do": "skip", "round": round_.pk})
    RoundColourway.objects.create(round=round_, number=1, colourway=lot.colourway)
    freeze(round=round_, who=owner)
    boxes = list(Box.objects.order_by("pk"))
    assert len(boxes) == 20
    post(
        key=uuid.uuid4(),
        who=owner,
        steps=[hold(item=dyed.item, lot=lot.lot, quantity=1, place=place, claim=box.claim) for box in boxes],
    )
    failed = boxes[0]
    for box in boxes:
        paid(box, owner, "failed" if box == failed else "paid")
    (group,) = groups_to_pack()
    assert (len(group.ready), group.paid, group.packed, group.reasons) == (19, 19, 0, [("payment failed", 1)])

    touches = 1
    where = press(client, "parcel-make", of=group.key)
    batch = PickBatch.objects.get()
    assert where == reverse("parcel-batch", args=[batch.code])
    assert batch.parcels.count() == 17
    for page in (reverse("parcels"), where, reverse("parcel", args=[batch.parcels.first().code])):
        with django_assert_max_num_queries(12):
            assert client.get(page).status_code == 200
    shown = text(client, "parcel-batch", batch.code)
    assert "19 pieces, in shelf order" in shown
    code = batch.parcels.order_by("pk").first().code
    touches += 1  # "Start packing" opens the first.
    assert reverse("parcel", args=[code]) in shown
    while code:
        touches += 1
        where = press(client, "parcel-pack", code)
        code = where.split("/parcels/")[1].split("/")[0] if "?packed=" in where else ""
    assert where == reverse("parcel-batch", args=[batch.code])
    (group,) = groups_to_pack()
    assert (group.packed, group.paid, group.paid_not_packed) == (19, 19, [])
    assert sum(PackedPieces.objects.values_list("pieces", flat=True)) == 19
    touches += 1
    press(client, "parcel-batch-send", batch.code)
    assert touches == 17 + 3  # so ninety parcels take 93, of at most 200
    assert set(batch.parcels.values_list("state", flat=True)) == {"gone"}
    assert sum(Line.objects.filter(to_place__code="customer").values_list("quantity", flat=True)) == 19
    assert sum(Balance.objects.values_list("held", flat=True)) == 1
    assert [box.pk for box in standing_boxes()] == [failed.pk]
    (group,) = groups_to_pack()
    assert (group.packed, group.paid, group.equal) == (19, 19, True)

    sent = batch.parcels.first()
    press(client, "parcel-tracking", sent.code, carrier="Post", tracking="RX 77")
    press(client, "parcel-lost", sent.code, what="lost", why="never came")
    page = text(client, "parcel", sent.code)
    assert "RX 77" in page
    assert "lost or damaged, never came" in page
    lost = sent.boxes.get().box
    where = press(client, "parcel-box-again", lost.code)
    again = Box.objects.get(replaces=lost)
    assert where == reverse("parcel-box", args=[again.code])
    assert lost.code in text(client, "parcel-box", again.code)
    assert again.code in text(client, "parcel-box", lost.code)


def test_a_wrong_piece_is_refused_beside_its_field_and_a_box_is_taken_out(client, owner):
    first, second = (factories.shelved_lot(who=owner)[0] for _ in range(2))
    whom = somewhere()
    boxes = [
        paid(held_box(lot=first, pieces=2, receiver=whom, who=owner), owner),
        paid(held_box(lot=second, receiver=whom, who=owner), owner),
    ]
    press(client, "parcel-make", of=f"round-{boxes[0].round_id}")
    made = Parcel.objects.get()
    assert made.boxes.count() == 2, "all that is ready for a person goes along"
    here = reverse("parcel", args=[made.code])
    wrong = client.post(here, {"code": "ZZZZZ", "key": uuid.uuid4()})
    assert wrong.status_code == 422
    assert "does not belong in this parcel" in wrong.content.decode()
    assert 'value="ZZZZZ"' in wrong.content.decode()
    by_script = {"headers": {"HX-Request": "true"}}
    answer = client.post(here, {"code": "ZZZZZ", "key": uuid.uuid4()}, **by_script)
    assert (answer.status_code, "does not belong" in answer.json()["wrong"]) == (422, True)
    assert not PackedPieces.objects.exists()
    answer = client.post(here, {"code": first.code, "key": uuid.uuid4()}, **by_script).json()
    assert "1 of 3 pieces in" in answer["inside"]
    press(client, "parcel", made.code, code=first.code)
    press(client, "parcel-out", made.code, box=boxes[1].code)
    assert press(client, "parcel-pack", made.code).rsplit("/parcels/", 1)[1] == f"batches/{made.batch.code}/"
    assert list(PackedPieces.objects.values_list("pieces", "checked")) == [(2, True)]
    press(client, "parcel-unpack", made.code, why="one more card")
    made.refresh_from_db()
    assert (made.state, PackedPieces.objects.count()) == ("open", 0)


def test_a_helper_packs_without_prices_secrets_or_a_list_of_addresses(client, owner):
    made = parcel(who=owner)
    other = parcel(who=owner)
    waits = box_of_round(put_up=factories.put_up(), receiver=somewhere("Wilma Oduya"))
    assert waits.pk
    for each, name in ((made, "Ilse Vuorinen"), (other, "Bram Tessel")):
        each.receiver.name = name
        each.receiver.save()
    colourway = stands(Box.objects.filter(parcel_boxes__parcel=made))[0].held[0].item.dyed.colourway
    colourway.name, colourway.secret_until = "Lantern Smoke", timezone.now() + dt.timedelta(days=9)
    colourway.save()
    client.force_login(factories.HelperFactory())
    pages = [
        text(client, "parcels"),
        text(client, "parcel-batch", made.batch.code),
        text(client, "parcel", made.code),
    ]
    for page in pages:
        assert "Lantern Smoke" not in page
        assert "Wilma" not in page
        assert "Bram" not in page
    assert "Ilse" not in pages[0] + pages[1]
    assert "Ilse Vuorinen" in pages[2]
    assert "Kade 3" in pages[2]
    press(client, "parcel-pack", made.code)
    assert "Ilse" not in text(client, "parcel", made.code)
    client.force_login(owner)
    assert "Lantern Smoke" in text(client, "parcel", made.code)


def test_a_set_of_two_pots_is_shown_before_it_leaves_until_they_were_found_to_match(client, owner):
    put_up = factories.put_up(pieces=10, who=owner)
    lot, place, dyed = factories.shelved_lot(who=owner, put_up=put_up, good=5, second=0)
    other = factories.shelved_lot(
        who=owner, place=place, put_up=put_up, colourway=lot.colourway, good=5, second=0
    )[0]
    box = paid(held_box(lot=lot, pieces=1, receiver=somewhere("Ilse Vuorinen"), who=owner), owner)
    step = hold(item=dyed.item, lot=other.lot, quantity=1, place=place, claim=box.claim)
    post(key=uuid.uuid4(), who=owner, steps=[step])
    box.parts.update(pieces=2)
    press(client, "parcel-make", of=f"round-{box.round_id}")
    made = Parcel.objects.get()
    page = text(client, "parcel", made.code)
    assert "nobody found to match" in page
    assert "Dear Ilse Vuorinen" in page
    assert "Sets that were not found to match" in text(client, "parcel-batch", made.batch.code)
    say_they_match(one=lot, other=other, who=owner)
    (stand,) = stands(Box.objects.filter(pk=box.pk))
    assert unmatched(stand, matched_lots([stand])) == []
    assert "nobody found to match" not in text(client, "parcel", made.code)


def test_tracking_numbers_come_in_by_code_or_order_all_of_a_list_or_none(client, owner):
    one, other = (parcel(who=owner, gone=True) for _ in range(2))
    line = order_line(buyer=somewhere())
    box = paid(
        make_box(receiver=line.order.receiver, order_line=line, parts=[PartWanted(line.offer.put_up)]), owner
    )
    third = Parcel.objects.create(
        code=take_code(), receiver=box.receiver, state="gone", made_at=timezone.now(), gone_at=timezone.now()
    )
    ParcelBox.objects.create(parcel=third, box=box)
    here = reverse("parcel-tracking-list")
    text = f"{one.code},RX 1\n\nZZZZZ;RX 2"
    answer = client.post(here, {"list": text, "carrier": "Post", "key": uuid.uuid4()})
    assert answer.status_code == 422
    assert "Line 3: no packed or sent parcel" in answer.content.decode()
    assert "RX 1" in answer.content.decode(), "what was typed stays"
    assert not Parcel.objects.exclude(tracking="").exists()
    assert client.post(here, {"list": "only a word", "key": uuid.uuid4()}).status_code == 422
    text = f"{one.code.lower()},RX 1\n{other.code};RX 2\n{line.order.number}\tRX 3"
    press(client, "parcel-tracking-list", list=text, carrier="Post")
    assert [Parcel.objects.get(pk=each.pk).tracking for each in (one, other, third)] == [
        "RX 1",
        "RX 2",
        "RX 3",
    ]


def test_a_parcel_weighs_its_pieces_as_sold_and_its_packaging(client, owner):
    made = parcel(who=owner)  # one skein of 100 g
    assert "Weight, without packaging" in text(client, "parcel", made.code)
    press(client, "parcel-packaging", made.code, grams="a lot")
    made.refresh_from_db()
    assert made.packaging_grams is None
    press(client, "parcel-packaging", made.code, grams="120 g")
    page = text(client, "parcel", made.code)
    assert "100 g + 120 g" in page
    assert "220 g" in page
