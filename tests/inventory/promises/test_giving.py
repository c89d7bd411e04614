import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from dyehouse.ledger.models import Balance, Held
from dyehouse.ledger.operations import hold, post
from inventory.matching import say_they_match
from inventory.promises.boxes import stands
from inventory.promises.giving import (
    CannotBe,
    NothingToGive,
    exchange,
    giving_page,
    pin,
    work_out,
)
from inventory.promises.holding_given import CannotTakeBack, StockMoved, hold_all, take_back
from inventory.promises.models import (
    Box,
    BoxPart,
    Membership,
    Payment,
    Round,
    RoundColourway,
    Spares,
    WhyHeld,
    WorkedOut,
)
from inventory.promises.parcels import open_parcels, pack_whole, send_off
from tests import factories
from tests.inventory.promises.factories import box_of_round, club, club_round, person, worked_out

pytestmark = pytest.mark.django_db


@pytest.fixture
def who():
    return factories.OwnerFactory()


def lots_of(who, *good: int, colourway=None):
    """Lots of one colourway on one put-up, with so many good pieces each on the shelf."""
    put_up, colour = factories.put_up(), colourway or factories.colourway()
    found = []
    for pieces in good:
        lot, _, dyed = factories.shelved_lot(who=who, good=pieces, second=0, put_up=put_up, colourway=colour)
        found.append(lot)
    return found, dyed


def round_of(dyed, count: int, *, pieces: int = 1, of: Round | None = None, **facts) -> Round:
    made = of or club_round(spares_percent=0)
    for _ in range(count):
        box_of_round(of=made, put_up=dyed.put_up, colourway=dyed.colourway, pieces=pieces, **facts)
    return made


def held_by_lot(of: Round) -> dict[str, int]:
    found: dict[str, int] = {}
    for stand in stands(Box.objects.filter(round=of)):
        for row in stand.held:
            found[row.lot.name] = found.get(row.lot.name, 0) + row.pieces
    return found


def test_every_box_is_held_with_its_reason_and_the_spares_are_put_by(who):
    _, dyed = lots_of(who, 4, 4)
    round_ = round_of(dyed, 6, of=club_round(spares_percent=20))
    worked = work_out(of=round_, key=uuid.uuid4(), who=who)
    page = giving_page(worked)
    assert (len(page.filled), page.unfilled) == (6, [])
    assert not Held.objects.filter(quantity__gt=0).exists()
    key = uuid.uuid4()
    movement = hold_all(worked=worked, key=key, who=who)
    assert hold_all(worked=worked, key=key, who=who) == movement
    assert all(stand.is_filled for stand in stands(Box.objects.filter(round=round_)))
    spares = Spares.objects.get(round=round_)
    assert sum(row.quantity for row in spares.claim.held.all()) == 2
    assert WhyHeld.objects.filter(movement=movement).count() == 6
    assert sum(row.free for row in Balance.objects.filter(item=dyed.item)) == 0
    with pytest.raises(NothingToGive):
        work_out(of=round_, key=uuid.uuid4(), who=who)


def test_a_box_that_nothing_fits_says_what_stands_in_the_way_and_which_pots_would_help(who):
    colour = factories.colourway()
    colour.families = ["orange"]
    colour.save()
    _, dyed = lots_of(who, 2, colourway=colour)
    round_ = round_of(dyed, 2, receiver=None)
    unlucky = person(avoids_families=["orange"])
    box_of_round(of=round_, put_up=dyed.put_up, colourway=dyed.colourway, receiver=unlucky)
    box_of_round(of=round_, put_up=dyed.put_up, colourway=dyed.colourway)
    page = giving_page(work_out(of=round_, key=uuid.uuid4(), who=who))
    assert len(page.filled) == 2
    by_person = {each.box.receiver: each for each in page.unfilled}
    assert "orange" in " ".join(by_person[unlucky].ruled_out)
    assert "1 pot of" in page.worked.pots
    assert "No pot given here helps" in page.worked.pots


def test_same_pot_is_kept_to_and_lots_that_match_count_as_one(who):
    (one, two), dyed = lots_of(who, 2, 2)
    round_ = round_of(dyed, 1, pieces=3)
    Box.objects.update(same_pot=True)
    page = giving_page(work_out(of=round_, key=uuid.uuid4(), who=who))
    assert page.filled == []
    say_they_match(one=one, other=two, who=who)
    worked = work_out(of=round_, key=uuid.uuid4(), who=who)
    hold_all(worked=worked, key=uuid.uuid4(), who=who)
    assert held_by_lot(round_) in ({one.code: 2, two.code: 1}, {one.code: 1, two.code: 2})


def test_a_pin_moves_only_what_it_must_and_a_pin_that_cannot_be_is_refused(who):
    (one, two), dyed = lots_of(who, 3, 3)
    round_ = round_of(dyed, 4)
    first = work_out(of=round_, key=uuid.uuid4(), who=who)
    before = {box: lot for box, _, lot, _ in first.pieces}
    moved = next(code for code, lot in before.items() if str(one.lot_id) == lot.split("-")[1])
    pin(box=Box.objects.get(code=moved), dye_lot=two, must=True, who=who)
    second = work_out(of=round_, key=uuid.uuid4(), who=who, earlier=first)
    after = {box: lot for box, _, lot, _ in second.pieces}
    assert after[moved].split("-")[1] == str(two.lot_id)
    same = sum(after[code] == lot for code, lot in before.items() if code != moved)
    assert same >= 2
    for box in Box.objects.filter(round=round_):
        pin(box=box, dye_lot=two, must=True, who=who)
    with pytest.raises(CannotBe, match="are pinned and it has 3 to give"):
        work_out(of=round_, key=uuid.uuid4(), who=who)


def test_two_boxes_exchange_what_they_get(who):
    _, dyed = lots_of(who, 1, 1)
    round_ = round_of(dyed, 2)
    worked = work_out(of=round_, key=uuid.uuid4(), who=who)
    (one, _, lot_of_one, _), (other, _, lot_of_other, _) = worked.pieces
    new = exchange(worked=worked, one=one, other=other, key=uuid.uuid4(), who=who)
    assert {box: lot for box, _, lot, _ in new.pieces} == {one: lot_of_other, other: lot_of_one}
    with pytest.raises(CannotBe, match="with itself"):
        exchange(worked=new, one=one, other=one, key=uuid.uuid4(), who=who)


@pytest.mark.both_engines
def test_what_was_sold_meanwhile_is_not_held_and_nothing_is_half_done(who):
    (lot,), dyed = lots_of(who, 2)
    round_ = round_of(dyed, 2)
    worked = work_out(of=round_, key=uuid.uuid4(), who=who)
    other = box_of_round(put_up=dyed.put_up, colourway=dyed.colourway)
    place = Balance.objects.get(item=dyed.item, lot=lot.lot, on_hand__gt=0).place
    step = hold(item=dyed.item, lot=lot.lot, quantity=1, place=place, claim=other.claim)
    post(key=uuid.uuid4(), who=who, steps=[step])
    with pytest.raises(StockMoved, match="Work it out again"):
        hold_all(worked=worked, key=uuid.uuid4(), who=who)
    assert held_by_lot(round_) == {}
    assert sum(Balance.objects.values_list("held", flat=True)) == 1


def test_an_open_colourway_is_settled_by_what_is_held_and_open_again_when_that_is_taken_back(who):
    _, dyed = lots_of(who, 2)
    round_ = club_round(spares_percent=0)
    RoundColourway.objects.create(round=round_, number=1, colourway=dyed.colourway)
    box = box_of_round(of=round_, put_up=dyed.put_up)
    worked = work_out(of=round_, key=uuid.uuid4(), who=who)
    hold_all(worked=worked, key=uuid.uuid4(), who=who)
    assert BoxPart.objects.get(box=box).colourway == dyed.colourway
    worked.refresh_from_db()
    with pytest.raises(CannotTakeBack, match="why"):
        take_back(worked=worked, key=uuid.uuid4(), who=who, why=" ")
    take_back(worked=worked, key=uuid.uuid4(), who=who, why="Wrong lot")
    assert BoxPart.objects.get(box=box).colourway is None
    assert held_by_lot(round_) == {}
    again = work_out(of=round_, key=uuid.uuid4(), who=who)
    hold_all(worked=again, key=uuid.uuid4(), who=who)
    Payment.objects.create(box=box, kind="paid", at=timezone.now(), by=who)
    (parcel,) = open_parcels(boxes=[box], who=who)
    pack_whole(parcel=parcel, key=uuid.uuid4(), who=who)
    with pytest.raises(CannotTakeBack, match="is packed in parcel"):
        take_back(worked=again, key=uuid.uuid4(), who=who, why="Too late")


def test_nobody_gets_a_colourway_again_within_the_clubs_months(who):
    _, dyed = lots_of(who, 4)
    of = club(not_again_months=12)
    whom = person()
    first = round_of(dyed, 1, of=club_round(of=of, spares_percent=0), receiver=whom)
    hold_all(worked=work_out(of=first, key=uuid.uuid4(), who=who), key=uuid.uuid4(), who=who)
    box = first.boxes.get()
    Payment.objects.create(box=box, kind="paid", at=timezone.now(), by=who)
    (parcel,) = open_parcels(boxes=[box], who=who)
    pack_whole(parcel=parcel, key=uuid.uuid4(), who=who)
    send_off(parcels=[parcel], key=uuid.uuid4(), who=who)
    second = round_of(dyed, 1, of=club_round(of=of, spares_percent=0), receiver=whom)
    page = giving_page(work_out(of=second, key=uuid.uuid4(), who=who))
    (left,) = page.unfilled
    assert "12 months" in " ".join(left.ruled_out)


def test_from_frozen_to_held_in_three_touches(client, who):
    _, dyed = lots_of(who, 3)
    round_ = round_of(dyed, 3)
    Round.objects.filter(pk=round_.pk).update(frozen_at=timezone.now(), frozen_by=who)
    client.force_login(who)
    factories.studio()
    first = reverse("round-allocate", args=[round_.pk])
    assert first in client.get(reverse("round", args=[round_.pk])).content.decode()
    assert "3 boxes wait for 3 pieces" in client.get(first).content.decode()
    second = client.post(first)
    page = client.get(second["Location"]).content.decode()
    assert "Hold these" in page
    assert "It cannot be done better" in page
    key = WorkedOut.objects.get().key
    third = client.post(reverse("round-given-hold", args=[key]))
    assert third["Location"] == reverse("round", args=[round_.pk])
    assert all(stand.is_filled for stand in stands(Box.objects.filter(round=round_)))
    assert "It is held." in client.get(reverse("round-given", args=[key])).content.decode()


def test_pins_and_exchanges_on_the_page(client, who):
    worked = worked_out(who=who, boxes=2)
    client.force_login(who)
    factories.studio()
    box = code = worked.pieces[0][0]
    dye_lot = next(iter(giving_page(worked).lots))
    answer = client.post(
        reverse("round-given-pin", args=[worked.key]), {"box": code, "lot": dye_lot, "must": "no"}
    )
    page = client.get(answer["Location"]).content.decode()
    assert "1 of 2" in page
    wrong = client.post(
        reverse("round-given-pin", args=[worked.key]), {"box": code, "lot": "ZZZ", "must": "yes"}, follow=True
    )
    assert "There is no lot of this code" in wrong.content.decode()
    other = worked.pieces[1][0]
    swapped = client.post(
        reverse("round-given-exchange", args=[worked.key]), {"one": box, "other": other}, follow=True
    )
    assert (
        "exchanged by hand" in swapped.content.decode() or "cannot be exchanged" in swapped.content.decode()
    )


def test_a_page_of_many_boxes_takes_a_set_number_of_queries(client, who, django_assert_max_num_queries):
    worked = worked_out(who=who, boxes=4)
    client.force_login(who)
    factories.studio()
    assert Membership.objects.count() == 4
    with django_assert_max_num_queries(12):
        assert client.get(reverse("round-given", args=[worked.key])).status_code == 200
