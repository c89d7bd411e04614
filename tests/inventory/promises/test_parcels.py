import uuid

import pytest
from django.utils import timezone
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from dyehouse.ledger.models import Balance, Line
from dyehouse.ledger.operations import claim_for, hold, post
from inventory.promises.boxes import stands
from inventory.promises.models import Box, PackedPieces, Parcel, ParcelEvent, Payment, Spares
from inventory.promises.parcels import (
    NoSpare,
    NotGone,
    NothingReady,
    NotToPack,
    ParcelGone,
    WrongPiece,
    contents_of,
    make_batch,
    open_parcels,
    pack_piece,
    pack_whole,
    replace_box,
    say_lost,
    say_tracking,
    send_off,
    take_box_out,
    to_pick,
    unpack,
)
from tests import factories
from tests.inventory.promises.factories import box_of_round, club_round, held_box, person

pytestmark = pytest.mark.django_db


@pytest.fixture
def who():
    return factories.OwnerFactory()


def pay(box: Box, who, kind: str = Payment.Kind.PAID) -> Box:
    Payment.objects.create(box=box, kind=kind, at=timezone.now(), by=who)
    return box


def paid_box(who, **facts) -> Box:
    return pay(held_box(who=who, **facts), who)


def at_customer() -> int:
    return sum(Line.objects.filter(to_place__code="customer").values_list("quantity", flat=True))


def test_all_that_is_ready_for_a_person_goes_into_one_parcel_and_apart_for_who_wants_that(who):
    one, apart = person(), person(ships_apart=True)
    boxes = [paid_box(who, receiver=whom) for whom in (one, one, apart, apart)]
    waiting = box_of_round(put_up=factories.put_up(), receiver=one)
    parcels = open_parcels(boxes=[*boxes, waiting], who=who)
    assert [len(contents_of(parcel)) for parcel in parcels] == [2, 1, 1]
    later = paid_box(who, receiver=one)
    assert open_parcels(boxes=[later], who=who) == parcels[:1]
    with pytest.raises(NothingReady):
        open_parcels(boxes=[*boxes, waiting], who=who)


def test_a_batch_is_picked_in_one_walk_along_the_shelf(who):
    lot, _, _ = factories.shelved_lot(who=who, good=4, second=0)
    boxes = [paid_box(who, lot=lot, pieces=pieces) for pieces in (1, 2)] + [paid_box(who)]
    parcels = open_parcels(boxes=boxes, who=who)
    batch = make_batch(parcels=parcels, who=who)
    lines = to_pick(parcels)
    assert sorted(line.pieces for line in lines) == [1, 3]
    (of_lot,) = [line for line in lines if line.lot == lot.lot]
    assert [(parcel, pieces) for parcel, pieces in of_lot.parcels] == [(parcels[0], 1), (parcels[1], 2)]
    assert set(batch.parcels.all()) == set(parcels)
    with pytest.raises(NothingReady, match="in a batch already"):
        make_batch(parcels=parcels, who=who)


def test_a_parcel_is_packed_in_one_touch_unpacked_packed_again_and_sent_once(who):
    box = paid_box(who, pieces=2)
    (parcel,) = open_parcels(boxes=[box], who=who)
    key = uuid.uuid4()
    for _ in range(2):
        assert pack_whole(parcel=parcel, key=key, who=who).state == Parcel.State.PACKED
    assert PackedPieces.objects.get().pieces == 2
    unpack(parcel=parcel, key=uuid.uuid4(), who=who, why="Forgot the card")
    assert not PackedPieces.objects.exists()
    pack_whole(parcel=parcel, key=uuid.uuid4(), who=who)
    sending = uuid.uuid4()
    assert [send_off(parcels=[parcel], key=sending, who=who) for _ in range(2)] == [1, 0]
    assert at_customer() == 2
    assert not Balance.objects.filter(held__gt=0).exists()
    for deed in (pack_whole, unpack):
        with pytest.raises(ParcelGone, match="on its way"):
            deed(parcel=parcel, key=uuid.uuid4(), who=who)
    kinds = ParcelEvent.objects.order_by("pk").values_list("kind", flat=True)
    assert list(kinds) == ["packed", "unpacked", "packed", "gone"]


def test_piece_by_piece_a_wrong_lot_is_refused_and_the_last_one_packs_the_parcel(who):
    first, second = (factories.shelved_lot(who=who)[0] for _ in range(2))
    whom = person()
    boxes = [paid_box(who, lot=first, pieces=2, receiver=whom), paid_box(who, lot=second, receiver=whom)]
    (parcel,) = open_parcels(boxes=boxes, who=who)
    other = factories.shelved_lot(who=who)[0]
    with pytest.raises(WrongPiece, match=f"Lot {other.code} does not belong in this parcel"):
        pack_piece(parcel=parcel, code=other.code, key=uuid.uuid4(), who=who)
    again = uuid.uuid4()
    for _ in range(2):
        pack_piece(parcel=parcel, code=first.code.lower(), key=again, who=who)
    assert PackedPieces.objects.get().pieces == 1
    pack_piece(parcel=parcel, code=first.code, key=uuid.uuid4(), who=who)
    with pytest.raises(WrongPiece, match=f"All of lot {first.code} are in .* Still wanted: {second.code}"):
        pack_piece(parcel=parcel, code=first.code, key=uuid.uuid4(), who=who)
    assert pack_piece(parcel=parcel, code=second.code, key=uuid.uuid4(), who=who).state == "packed"
    assert sum(row.pieces for row in PackedPieces.objects.filter(checked=True)) == 3


@pytest.mark.parametrize("kind", [Payment.Kind.FAILED, Payment.Kind.DUE, Payment.Kind.DEPOSIT])
def test_what_is_not_paid_is_not_packed(who, kind):
    box = pay(held_box(who=who), who, kind)
    (parcel,) = open_parcels(boxes=[box], who=who)
    with pytest.raises(NotToPack, match="is not paid"):
        pack_whole(parcel=parcel, key=uuid.uuid4(), who=who)
    take_box_out(parcel=parcel, box=box, key=uuid.uuid4(), who=who)
    parcel.refresh_from_db()
    assert (parcel.state, contents_of(parcel)) == (Parcel.State.UNDONE, [])
    assert open_parcels(boxes=[box], who=who) != [parcel]


def test_a_lost_parcel_is_replaced_from_the_spares_first_and_only_once(who):
    lot, place, dyed = factories.shelved_lot(who=who, good=4, second=0)
    box = paid_box(who, lot=lot, pieces=2, of=club_round())
    claim = claim_for(key=uuid.uuid4(), held_for="spares of the round")
    Spares.objects.create(round=box.round, claim=claim, made_at=timezone.now())
    post(
        key=uuid.uuid4(),
        who=who,
        steps=[hold(item=dyed.item, lot=lot.lot, quantity=1, place=place, claim=claim)],
    )
    (parcel,) = open_parcels(boxes=[box], who=who)
    with pytest.raises(NotGone):
        say_lost(parcel=parcel, key=uuid.uuid4(), who=who)
    pack_whole(parcel=parcel, key=uuid.uuid4(), who=who)
    send_off(parcels=[parcel], key=uuid.uuid4(), who=who)
    say_tracking(parcel=parcel, carrier="Post", tracking="RX 1", key=uuid.uuid4(), who=who)
    say_lost(parcel=parcel, key=uuid.uuid4(), who=who, why="never came")
    key = uuid.uuid4()
    made = replace_box(box=box, key=key, who=who)
    assert replace_box(box=box, key=key, who=who) == made
    (stand,) = stands(Box.objects.filter(pk=made.pk))
    assert (stand.is_filled, made.receiver, made.replaces) == (True, box.receiver, box)
    assert Balance.objects.get(place=place, item=dyed.item).held == 2
    (again,) = open_parcels(boxes=[made], who=who)
    assert pack_whole(parcel=again, key=uuid.uuid4(), who=who).state == "packed"
    with pytest.raises(NoSpare, match="2 pieces are missing"):
        replace_box(box=box, key=uuid.uuid4(), who=who)
    assert Box.objects.filter(replaces=box).count() == 1


class TestSums(TestCase):
    @settings(max_examples=12, deadline=None)
    @given(
        pieces=st.lists(st.integers(1, 3), min_size=1, max_size=4),
        deeds=st.lists(st.sampled_from(["pack", "unpack", "send"]), max_size=6),
    )
    def test_what_is_held_and_what_was_sent_is_always_all_that_was_promised(self, pieces, deeds):
        who = factories.OwnerFactory()
        boxes = [paid_box(who, pieces=count) for count in pieces]
        parcels = open_parcels(boxes=boxes, who=who)
        for deed in deeds:
            for parcel in parcels:
                try:
                    if deed == "pack":
                        pack_whole(parcel=parcel, key=uuid.uuid4(), who=who)
                    elif deed == "unpack":
                        unpack(parcel=parcel, key=uuid.uuid4(), who=who)
                    else:
                        send_off(parcels=[parcel], key=uuid.uuid4(), who=who)
                except (ParcelGone, NothingReady):
                    pass
        held = sum(Balance.objects.values_list("held", flat=True))
        assert held + at_customer() == sum(pieces)
        packed = PackedPieces.objects.filter(parcel__state__in=("packed", "gone"))
        wanted = sum(
            stand.wanted_pieces
            for parcel in Parcel.objects.filter(state__in=("packed", "gone"))
            for stand in contents_of(parcel)
        )
        assert sum(packed.values_list("pieces", flat=True)) == wanted
