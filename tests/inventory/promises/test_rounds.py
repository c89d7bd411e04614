"""A round from sign-ups to its numbers: frozen once, and every later change moves only its own numbers."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from dyehouse.ledger.models import Balance
from dyehouse.ledger.operations import hold, post
from dyehouse.ledger.queries import stock
from inventory.promises import clubs, freezing, memberships, payments
from inventory.promises.boxes import BoxPacked, paid_kinds
from inventory.promises.clubs import ClubFacts, RoundFacts, SlotSaid
from inventory.promises.models import (
    Box,
    BoxPart,
    Level,
    Membership,
    MembershipChange,
    Parcel,
    ParcelBox,
    Payment,
    Round,
    RoundChange,
)
from inventory.promises.round_queries import round_page
from inventory.promises.tallies import (
    changes_of,
    exclusive_until,
    frozen_numbers,
    months_on,
    numbers_now,
    spares_behind,
    to_dye,
    with_changes,
)
from tests import factories
from tests.dyehouse.ledger.test_races import all_at_once
from tests.inventory.promises.factories import frozen_round, level, membership, person

SHIPS = dt.date(2027, 1, 31)


def club_of(*, slots: list[SlotSaid], **facts) -> Level:
    made = clubs.make_club(facts=ClubFacts(name=f"Weir Club {uuid.uuid4()}", **facts))
    return clubs.make_level(club=made, name="Full", slots=slots, extras=["stitch marker", ""])


def next_round(at: Level, *, colourways: int = 1, **facts) -> Round:
    chosen = [factories.colourway() for _ in range(colourways)]
    said = RoundFacts(called="January", ships_on=SHIPS, colourways=chosen, **facts)
    return clubs.make_round(club=at.club, facts=said)


def assert_adds_up(round_: Round) -> None:
    """The frozen number and each change come to what the boxes are, counted from the tables beside the tallies."""
    round_.refresh_from_db()
    added = with_changes(frozen_numbers(round_), changes_of(round_))
    boxes = Box.objects.filter(round=round_, withdrawn_at=None)
    pieces: dict[tuple[int, int | None], int] = {}
    for part in BoxPart.objects.filter(box__in=boxes):
        key = (part.put_up_id, part.colourway_id)
        pieces[key] = pieces.get(key, 0) + part.pieces
    assert (added.boxes, added.pieces) == (boxes.count(), pieces)
    now = numbers_now(round_)
    assert (now.boxes, now.pieces) == (added.boxes, added.pieces)


def change(member: Membership, *, who, also_in: Round | None = None, **said) -> Membership:
    member.refresh_from_db()
    kept = {
        name: getattr(member, name)
        for name in ("level", "base", "count", "doubles", "receiver", "payer", "prepaid_rounds")
    }
    return memberships.change(membership=member, who=who, also_in=also_in, **{**kept, **said})


@pytest.mark.django_db
def test_a_club_of_ninety_closes_its_month_without_missing_or_doubling_anyone():
    # The sizes are those of /jobs.md: one in ten with two boxes, 5 % gifts, some skip, two cards fail, three are late.
    who = factories.OwnerFactory()
    sock, dk = factories.put_up(), factories.put_up()
    mini = factories.put_up(base=sock.base, grams=20)
    at = club_of(slots=[SlotSaid([sock, dk]), SlotSaid([mini], pieces=2, colourway_number=2)])
    round_ = next_round(at, colourways=2, spares_percent=5)
    one, two = (row.colourway for row in round_.colourways.order_by("number"))
    giver = person("The Giver")
    members = [
        memberships.join(
            level=at,
            receiver=person(),
            payer=giver if number < 5 else None,
            base=(sock if number % 3 else dk).base,
            count=2 if number % 10 == 0 else 1,
            prepaid_rounds=6 if number % 7 == 0 else None,
            who=who,
        )
        for number in range(90)
    ]
    for member in members[40:45]:
        memberships.skip(membership=member, round=round_, who=who)
    memberships.skip_not(membership=members[44], round=round_, who=who)
    # 90 and nine doubles, less four who skip and the second box of the one double among them.
    assert [number for number in (40, 41, 42, 43) if number % 10 == 0] == [40]
    freezing.freeze(round=round_, who=who)
    round_.refresh_from_db()

    assert Box.objects.filter(round=round_).count() == frozen_numbers(round_).boxes == 99 - 5
    on_dk = sum(
        each.count for number, each in enumerate(members) if number % 3 == 0 and number not in range(40, 44)
    )
    assert frozen_numbers(round_).pieces == {
        (sock.pk, one.pk): 94 - on_dk,
        (dk.pk, one.pk): on_dk,
        (mini.pk, two.pk): 188,
    }
    assert {(box.membership.count, box.number) for box in Box.objects.filter(round=round_)} == {
        (1, 1),
        (2, 1),
        (2, 2),
    }
    assert_adds_up(round_)
    lines = {line.put_up.pk: line for line in to_dye(round_)}
    # 5 % of 188 is 9.4, so ten spares.
    assert (lines[mini.pk].pieces, lines[mini.pk].spares, lines[mini.pk].total.value) == (188, 10, 198)
    assert lines[mini.pk].total.working.line.endswith("188 + 10 = 198 pieces")

    prepaid = Box.objects.filter(round=round_, membership__prepaid_rounds__isnull=False)
    failed = list(Box.objects.filter(round=round_, membership__prepaid_rounds=None).order_by("pk")[:2])
    payments.all_paid_but(round=round_, these=[box.pk for box in failed], who=who)
    said = list(paid_kinds(Box.objects.values_list("pk", flat=True)).values())
    assert (said.count("paid"), said.count("failed")) == (92, 2)
    assert Payment.objects.filter(box__in=prepaid).count() == prepaid.count()
    assert_adds_up(round_)
    assert round_.changes.count() == 0

    for _ in range(3):
        late = memberships.join(level=at, receiver=person(), base=dk.base, who=who)
        assert late.from_round == round_.number + 1
        freezing.let_in_late(round=round_, membership=late, who=who)
        assert_adds_up(round_)
    with pytest.raises(freezing.InAlready):
        freezing.let_in_late(round=round_, membership=late, who=who)
    freezing.take_out(box=failed[0], key=uuid.uuid4(), who=who, why="card failed")
    memberships.skip(membership=members[10], round=round_, who=who)
    change(members[11], who=who, base=dk.base, also_in=round_)
    change(members[12], who=who, receiver=person("Somebody Else"), also_in=round_)
    change(members[13], who=who, count=3, also_in=round_)
    assert_adds_up(round_)

    kinds = list(round_.changes.order_by("id").values_list("kind", flat=True))
    assert kinds == ["late"] * 3 + ["withdrawn"] * 3 + ["changed"] * 2 + ["late"] * 2
    # 94 + 3 late - 1 failed - 2 of a double who skips + 2 more of one member.
    assert numbers_now(round_).boxes == 96
    page = round_page(round_, user=who)
    assert page.adds_up
    assert (page.standing.boxes, page.standing.failed, page.change_in_boxes) == (96, 1, 2)
    assert Box.objects.filter(round=round_, late=True).count() == 5
    assert "Somebody Else" not in str(
        list(RoundChange.objects.values()) + list(MembershipChange.objects.values())
    )


@pytest.mark.both_engines
@pytest.mark.django_db(transaction=True)
def test_a_round_frozen_in_two_tabs_at_once_is_frozen_once():
    who = factories.OwnerFactory()
    at = level()
    for _ in range(3):
        membership(of=at, count=2)
    round_ = next_round(at)

    words = all_at_once(lambda _: str(freezing.freeze(round=round_, who=who).frozen_at), people=4)
    freezing.freeze(round=round_, who=who)

    assert (len(words), sum(words.values())) == (1, 4)
    assert Box.objects.filter(round=round_).count() == 6
    assert_adds_up(round_)


class TestChanges(TestCase):
    @settings(max_examples=12, deadline=None)
    @given(
        deeds=st.lists(
            st.tuples(
                st.sampled_from(["skip", "skip_not", "out", "late", "base", "count", "gift"]),
                st.integers(0, 4),
            ),
            max_size=12,
        )
    )
    def test_frozen_and_all_changes_come_to_the_boxes_now(self, deeds):
        who = factories.OwnerFactory()
        sock, dk = factories.put_up(), factories.put_up()
        at = club_of(slots=[SlotSaid([sock, dk], pieces=2), SlotSaid([sock], colourway_number=None)])
        round_ = next_round(at)
        members = [membership(of=at, base=sock.base, count=1 + number % 2) for number in range(4)]
        freezing.freeze(round=round_, who=who)
        members.append(membership(of=at, base=dk.base, from_round=9))
        for deed, which in deeds:
            member = members[which]
            if deed == "skip":
                memberships.skip(membership=member, round=round_, who=who)
            elif deed == "skip_not":
                memberships.skip_not(membership=member, round=round_, who=who)
            elif deed == "out":
                for box in member.boxes.all()[:1]:
                    freezing.take_out(box=box, key=uuid.uuid4(), who=who, why="")
            elif deed == "late":
                try:
                    freezing.let_in_late(round=round_, membership=member, who=who)
                except freezing.InAlready:
                    assert member.boxes.filter(withdrawn_at=None).count() == member.count
            elif deed == "base":
                member.refresh_from_db()
                other = dk if member.base_id == sock.base_id else sock
                change(member, who=who, base=other.base, also_in=round_)
            elif deed == "count":
                change(member, who=who, count=1 + (member.count + which) % 3, also_in=round_)
            else:
                change(member, who=who, receiver=person(), also_in=round_)
            member.refresh_from_db()
            assert_adds_up(round_)


@pytest.mark.django_db
def test_what_was_held_for_a_box_is_free_when_it_skips_or_wants_another_base():
    who = factories.OwnerFactory()
    lot, _, dyed = factories.shelved_lot(good=4, who=who)
    other = factories.put_up()
    at = club_of(slots=[SlotSaid([dyed.put_up, other])])
    one, two, three = (membership(of=at, base=dyed.put_up.base) for _ in range(3))
    round_ = clubs.make_round(
        club=at.club, facts=RoundFacts(called="January", ships_on=SHIPS, colourways=[lot.colourway])
    )
    freezing.freeze(round=round_, who=who)
    for box in Box.objects.filter(round=round_):
        row = next(row for row in stock(lots=[lot.lot]) if row.free)
        steps = [hold(item=row.item, lot=row.lot, quantity=1, place=row.place, claim=box.claim)]
        post(key=uuid.uuid4(), who=who, steps=steps)
    packed = three.boxes.get()
    parcel = Parcel.objects.create(
        code="PP", receiver=packed.receiver, state="packed", made_at=round_.club.made_at
    )
    ParcelBox.objects.create(parcel=parcel, box=packed)

    memberships.skip(membership=one, round=round_, who=who)
    change(two, who=who, base=other.base, also_in=round_)
    with pytest.raises(BoxPacked):
        change(three, who=who, base=other.base, also_in=round_)
    with pytest.raises(BoxPacked):
        memberships.skip(membership=three, round=round_, who=who)

    three.refresh_from_db()
    assert three.base == dyed.put_up.base
    assert Balance.objects.get(held__gt=0).held == 1
    memberships.skip_not(membership=one, round=round_, who=who)
    assert_adds_up(round_)


@pytest.mark.django_db
def test_who_is_in_a_round_begun_active_not_skipping_and_with_a_prepaid_round_left():
    who = factories.OwnerFactory()
    sock, dk = factories.put_up(), factories.put_up()
    at = club_of(slots=[SlotSaid([sock, dk])], most_members=4)
    first = next_round(at)
    kept, prepaid, paused = (
        memberships.join(level=at, receiver=person(), base=sock.base, prepaid_rounds=rounds, who=who)
        for rounds in (None, 1, None)
    )
    with pytest.raises(memberships.BaseNeeded, match="Choose one of them"):
        memberships.join(level=at, receiver=person(), who=who)
    ended = memberships.join(level=at, receiver=person(), base=sock.base, who=who)
    waits = memberships.join(level=at, receiver=person(), base=sock.base, who=who)
    assert (waits.state, ended.state) == (Membership.State.WAITING, Membership.State.ACTIVE)
    freezing.freeze(round=first, who=who)
    memberships.pause(membership=paused, who=who)
    memberships.end(membership=ended, who=who)
    memberships.offer_place(membership=waits, who=who)
    with pytest.raises(memberships.NotNow):
        memberships.offer_place(membership=waits, who=who)

    second = next_round(at)
    assert {each.pk for each in freezing.in_round(second)} == {kept.pk, waits.pk}
    change(prepaid, who=who, prepaid_rounds=3)
    memberships.resume(membership=paused, who=who)
    memberships.skip(membership=kept, round=second, who=who)
    assert {each.pk for each in freezing.in_round(second)} == {prepaid.pk, paused.pk, waits.pk}
    kinds = [(each.kind, each.after) for each in waits.changes.order_by("id")]
    assert [kind for kind, _ in kinds] == ["waits", "offered"]
    assert prepaid.changes.get(kind="changed").before == {"prepaid_rounds": 1}


@pytest.mark.django_db
def test_a_round_is_not_frozen_while_a_colourway_is_open_and_then_keeps_its_colourways():
    who = factories.OwnerFactory()
    at = club_of(slots=[SlotSaid([factories.put_up()], colourway_number=2)], exclusive_months=1)
    membership(of=at)
    secret = factories.timezone.now() + dt.timedelta(days=60)
    round_ = next_round(at, secret_until=secret)
    with pytest.raises(freezing.NotReady, match="colourway number 2"):
        freezing.freeze(round=round_, who=who)
    assert not Box.objects.exists()
    one, two = round_.colourways.get().colourway, factories.colourway()
    facts = RoundFacts(called="January", ships_on=SHIPS, colourways=[one, two], secret_until=secret)
    clubs.change_round(round=round_, facts=facts)
    freezing.freeze(round=round_, who=who)
    with pytest.raises(clubs.ColourwaysFixed):
        clubs.change_round(round=round_, facts=RoundFacts(called="January", ships_on=SHIPS, colourways=[one]))
    two.refresh_from_db()
    assert two.secret_until == secret
    three = factories.colourway()
    assert freezing.give_another_colourway(round=round_, number=2, colourway=three, who=who) == 1
    assert freezing.give_another_colourway(round=round_, number=2, colourway=three, who=who) == 0
    with pytest.raises(freezing.ColourwayInUse):
        freezing.give_another_colourway(round=round_, number=1, colourway=three, who=who)
    assert BoxPart.objects.get().colourway == three
    assert_adds_up(round_)
    assert round_page(round_, user=who).moved[0].pieces == "in another colourway"
    freezing.give_another_colourway(round=round_, number=2, colourway=two, who=who)
    # A month on from 31 January is the last of February.
    assert exclusive_until([one, two, factories.colourway()]) == {
        one.pk: dt.date(2027, 2, 28),
        two.pk: dt.date(2027, 2, 28),
    }
    with pytest.raises(clubs.DaysOutOfOrder):
        next_round(at, payment_due=SHIPS + dt.timedelta(days=1))


@pytest.mark.django_db
def test_what_a_round_asks_before_it_goes_out():
    who = factories.OwnerFactory()
    put_up = factories.put_up(base=factories.base(fibres={"wool": 700, "silk": 300}))
    at = level(put_up=put_up)
    membership(of=at, receiver=person(country=""), payer=person())
    membership(
        of=at,
        receiver=person(
            street="1 A", city="Delft", postcode="2611 AA", avoids_fibres=["silk"], avoids_families=["red"]
        ),
    )
    membership(of=at, receiver=person(street="1 A", city="Delft", postcode="2611"))
    membership(of=at, receiver=person(street="1 A", city="Delft", postcode="2611 AB"))
    round_ = frozen_round(of=at, members=0)
    colourway = round_.colourways.get().colourway
    colourway.families = ["red"]
    colourway.save()

    asked = [question.words for question in round_page(round_, user=who).questions]

    assert asked == [
        "A gift, and the receiver’s address is not known: ask the giver.",
        f"Avoids silk, and {put_up.base} has it: ask which base instead.",
        f"Avoids red, and {colourway} is of it: ask what instead.",
        "The address would not be delivered: This is no postcode of Netherlands. It looks like 1234 AB.",
    ]


def test_spares_are_rounded_up_to_whole_pieces_and_months_to_the_last_of_a_shorter_one():
    # 5 % of 50 minis are 3 spares (53 minis): /jobs.md, the advent of fifty boxes.
    assert [spares_behind(pieces, 5) for pieces in (0, 1, 20, 50)] == [0, 1, 1, 3]
    assert months_on(dt.date(2027, 11, 30), 3) == dt.date(2028, 2, 29)
    assert months_on(dt.date(2026, 12, 10), 0) == dt.date(2026, 12, 10)
