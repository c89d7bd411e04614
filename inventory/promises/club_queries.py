"""What the pages of clubs show: the club with its levels and rounds, its members, and one membership with its past."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count, OuterRef, Prefetch, Q, QuerySet, Subquery, Sum, Value
from django.db.models.functions import Coalesce
from django.utils import timezone

from dyehouse.ledger.models import Held
from inventory.promises.asking import Question, gets, prepaid_over, questions
from inventory.promises.freezing import members_with_levels, skipping
from inventory.promises.models import (
    Box,
    BoxPart,
    Club,
    Level,
    LevelSlot,
    Membership,
    MembershipChange,
    Parcel,
    ParcelBox,
    Payment,
    Person,
    Round,
    SlotPutUp,
)
from inventory.promises.tallies import months_on
from recipes.models import Base
from recipes.words import one_line

PAGE = 60
State = Membership.State


def with_stand(boxes: QuerySet[Box]) -> QuerySet[Box]:
    """Boxes that tell how they stand: `wanted` and `held` pieces, the newest `paid` kind, and the
    `parcel_state`, `parcel_code` and `tracking` of the parcel that they are in. One query."""
    wanted = BoxPart.objects.filter(box=OuterRef("pk")).order_by().values("box").annotate(n=Sum("pieces"))
    held = Held.objects.filter(claim=OuterRef("claim")).order_by().values("claim").annotate(n=Sum("quantity"))
    paid = Payment.objects.filter(box=OuterRef("pk")).order_by("-id")
    inside = ParcelBox.objects.filter(box=OuterRef("pk"), taken_out_at=None)
    return boxes.annotate(
        wanted=Coalesce(Subquery(wanted.values("n")[:1]), 0),
        held=Coalesce(Subquery(held.values("n")[:1]), 0),
        paid=Coalesce(Subquery(paid.values("kind")[:1]), Value(Payment.Kind.DUE.value)),
        parcel_state=Coalesce(Subquery(inside.values("parcel__state")[:1]), Value("")),
        parcel_code=Coalesce(Subquery(inside.values("parcel__code")[:1]), Value("")),
        tracking=Coalesce(Subquery(inside.values("parcel__tracking")[:1]), Value("")),
    )


@dataclass(frozen=True, slots=True)
class Standing:
    """How many boxes stand how: wanted, filled by what is held, packed, gone; paid, due, failed."""

    boxes: int = 0
    pieces: int = 0
    held_pieces: int = 0
    filled: int = 0
    packed: int = 0
    gone: int = 0
    paid: int = 0
    due: int = 0
    failed: int = 0

    @classmethod
    def of(cls, boxes: Iterable[Box]) -> Standing:
        """Counted from boxes read `with_stand`; those withdrawn are left out."""
        count: Counter[str] = Counter()
        for box in boxes:
            if box.withdrawn_at is not None:
                continue
            state, paid = box.parcel_state, box.paid  # type: ignore[attr-defined]
            wanted, held = box.wanted, box.held  # type: ignore[attr-defined]
            packed = state in (Parcel.State.PACKED, Parcel.State.GONE)
            count["boxes"] += 1
            count["pieces"] += wanted
            count["held_pieces"] += wanted if state == Parcel.State.GONE else min(held, wanted)
            count["filled"] += packed or held >= wanted
            count["packed"] += packed
            count["gone"] += state == Parcel.State.GONE
            count["paid"] += paid == Payment.Kind.PAID
            count["failed"] += paid == Payment.Kind.FAILED
            count["due"] += paid in (Payment.Kind.DUE, Payment.Kind.DEPOSIT)
        return cls(**count)

    @property
    def all_gone(self) -> bool:
        return bool(self.boxes) and self.gone == self.boxes


@dataclass(frozen=True, slots=True)
class SlotLine:
    """One thing in a level's box, in words for its page."""

    pieces: int
    on: str
    colourway: str


@dataclass(frozen=True, slots=True)
class LevelLine:
    """A level with its slots, extras, and how many are in it."""

    level: Level
    slots: list[SlotLine]
    extras: list[str]
    members: int


@dataclass(frozen=True, slots=True)
class RoundLine:
    """A round in a list: its day, how many boxes, and what is next with it."""

    round: Round
    boxes: int
    next: str


@dataclass(frozen=True, slots=True)
class ClubPage:
    """A club: its levels, its rounds the newest first, how many belong, and what they ask."""

    club: Club
    levels: list[LevelLine]
    rounds: list[RoundLine]
    active: int
    boxes: int
    gifts: int
    doubles: int
    paused: int
    waiting: int
    questions: list[Question]

    @property
    def full(self) -> bool:
        return self.club.most_members is not None and self.active + self.paused >= self.club.most_members

    @property
    def places_free(self) -> int:
        return max(0, (self.club.most_members or 0) - self.active - self.paused)


def next_of(round: Round, today: dt.date) -> str:
    """What is next with a round, in a few words."""
    if round.frozen_at is not None:
        return f"frozen, ships {_day(round.ships_on)}"
    if round.sign_up_opens is not None and today < round.sign_up_opens:
        return f"sign-ups open {_day(round.sign_up_opens)}"
    if round.sign_up_closes is not None and today <= round.sign_up_closes:
        return f"sign-ups open until {_day(round.sign_up_closes)}"
    return f"to be frozen, ships {_day(round.ships_on)}"


def _day(day: dt.date) -> str:
    return f"{day.day} {day:%B}"


def levels_of(club: Club) -> list[Level]:
    """A club's levels with their slots and extras, in order. Four queries."""
    put_ups = Prefetch("put_ups", SlotPutUp.objects.select_related("put_up__base").order_by("pk"))
    slots = Prefetch("slots", LevelSlot.objects.order_by("position").prefetch_related(put_ups))
    return list(club.levels.order_by("order", "pk").prefetch_related(slots, "extras"))


def _slot_line(slot: LevelSlot) -> SlotLine:
    number = slot.colourway_number
    return SlotLine(
        pieces=slot.pieces,
        on=" or ".join(str(each.put_up) for each in slot.put_ups.all()),
        colourway="any of the round’s colourways" if number is None else f"colourway {number} of the round",
    )


def club_page(club: Club) -> ClubPage:
    """A club's page. Eight queries."""
    levels = {level.pk: level for level in levels_of(club)}
    everybody = list(
        club.memberships.exclude(state=State.ENDED)
        .select_related("receiver")
        .annotate(rounds_had=Count("boxes__round", filter=Q(boxes__withdrawn_at=None), distinct=True))
        .order_by("signed_up_at", "pk")
    )
    for each in everybody:
        each.level = levels[each.level_id]
    active = [each for each in everybody if each.state == State.ACTIVE]
    rounds = club.rounds.annotate(there=Count("boxes", filter=Q(boxes__withdrawn_at=None))).order_by(
        "-number"
    )
    today = timezone.localdate()
    states = Counter(each.state for each in everybody)
    at_level = Counter(each.level_id for each in active)
    return ClubPage(
        club=club,
        levels=[
            LevelLine(
                level=level,
                slots=[_slot_line(slot) for slot in level.slots.all()],
                extras=[extra.words for extra in level.extras.all()],
                members=at_level[level.pk],
            )
            for level in levels.values()
        ],
        rounds=[RoundLine(each, each.there, next_of(each, today)) for each in rounds],
        active=len(active),
        boxes=sum(each.count for each in active),
        gifts=sum(each.is_gift for each in active),
        doubles=sum(each.count > 1 for each in active),
        paused=states[State.PAUSED],
        waiting=states[State.WAITING],
        questions=[*prepaid_over(active), *questions(gets(each, {}) for each in active)],
    )


@dataclass(frozen=True, slots=True)
class MemberLine:
    """A membership in a list, and whether it skips the round that comes next."""

    membership: Membership
    skips: bool


@dataclass(frozen=True, slots=True)
class MembersPage:
    """A page of a club's memberships."""

    club: Club
    lines: list[MemberLine]
    state: str
    words: str
    page: int
    more: bool
    coming: Round | None


def members_page(club: Club, *, state: str = "", words: str = "", page: int = 1) -> MembersPage:
    """The memberships of a club in the order of their sign-up; of one state, or whom the words fit. Three queries."""
    found = club.memberships.select_related("level", "base", "receiver", "payer")
    found = found.filter(state=state) if state in State.values else found.exclude(state=State.ENDED)
    said = one_line(words)[:80]
    if said:
        found = found.filter(
            Q(receiver__name__icontains=said)
            | Q(receiver__email__icontains=said.casefold())
            | Q(payer__name__icontains=said)
            | Q(reference__iexact=said)
        )
    start = (page - 1) * PAGE
    rows = list(found.order_by("signed_up_at", "pk")[start : start + PAGE + 1])
    coming = club.rounds.filter(frozen_at=None).order_by("number").first()
    skip = skipping(coming) if coming is not None else set()
    return MembersPage(
        club=club,
        lines=[MemberLine(row, row.pk in skip) for row in rows[:PAGE]],
        state=state if state in State.values else "",
        words=said,
        page=page,
        more=len(rows) > PAGE,
        coming=coming,
    )


@dataclass(frozen=True, slots=True)
class ChangeLine:
    """One dated change of a membership, in words."""

    row: MembershipChange
    words: str


@dataclass(frozen=True, slots=True)
class MemberPage:
    """One membership: its boxes, its past, the rounds that it may skip, and those that it does."""

    membership: Membership
    boxes: list[Box]
    changes: list[ChangeLine]
    rounds: list[tuple[Round, bool]]
    questions: list[Question]

    @property
    def prepaid_left(self) -> int | None:
        prepaid = self.membership.prepaid_rounds
        had = {box.round_id for box in self.boxes if box.withdrawn_at is None}
        return None if prepaid is None else max(0, prepaid - len(had))

    @property
    def prepaid_until(self) -> dt.date | None:
        """When the last prepaid round would ship: counted in the club's months from its next round, skips left out."""
        coming = next(
            (round_ for round_, skips in self.rounds if not skips and round_.frozen_at is None), None
        )
        if not self.prepaid_left or coming is None:
            return None
        return months_on(coming.ships_on, (self.prepaid_left - 1) * self.membership.club.every_months)


def member_page(pk: int) -> MemberPage | None:
    """One membership's page. Nine queries."""
    membership = (
        members_with_levels(Membership.objects.filter(pk=pk))
        .select_related("club", "level", "base", "receiver", "payer")
        .first()
    )
    if membership is None:
        return None
    boxes = with_stand(Box.objects.filter(membership=membership).select_related("round")).order_by(
        "-round__number", "number"
    )
    rows = list(membership.changes.select_related("by").order_by("-id"))
    today = timezone.localdate()
    rounds = list(membership.club.rounds.order_by("number"))
    skipped: dict[int, bool] = {}
    for row in reversed(rows):
        if row.round_number is not None:
            skipped[row.round_number] = row.kind == MembershipChange.Kind.SKIPS
    open_rounds = [each for each in rounds if each.ships_on >= today and each.number >= membership.from_round]
    called = {each.number: each.called for each in rounds}
    names = _names_in(rows, membership)
    return MemberPage(
        membership=membership,
        boxes=list(boxes),
        changes=[ChangeLine(row, _in_words(row, names, called)) for row in rows],
        rounds=[(each, skipped.get(each.number, False)) for each in open_rounds],
        questions=[*prepaid_over([membership]), *questions([gets(membership, {})])],
    )


def _names_in(rows: Iterable[MembershipChange], membership: Membership) -> dict[str, dict[int, str]]:
    """The names now of what stands by its number in changes: levels, bases, people. Three queries at most."""
    ids: dict[str, set[int]] = {"level": set(), "base": set(), "receiver": set(), "payer": set()}
    for row in rows:
        for side in (row.before, row.after):
            for name, wanted in ids.items():
                if isinstance(side.get(name), int):
                    wanted.add(side[name])
    people = ids["receiver"] | ids["payer"]
    named = {each.pk: str(each) for each in (membership.receiver, membership.payer)}
    if people - named.keys():
        named |= {pk: str(each) for pk, each in Person.objects.in_bulk(people).items()}
    known = {membership.level_id: str(membership.level)}
    if ids["level"] - known.keys():
        known = {pk: str(each) for pk, each in Level.objects.in_bulk(ids["level"]).items()}
    bases = {membership.base.pk: str(membership.base)} if membership.base is not None else {}
    if ids["base"] - bases.keys():
        bases = {pk: str(each) for pk, each in Base.objects.in_bulk(ids["base"]).items()}
    return {"level": known, "base": bases, "receiver": named, "payer": named}


def _in_words(row: MembershipChange, names: dict[str, dict[int, str]], called: dict[int, str]) -> str:
    words = row.get_kind_display()
    if row.round_number is not None:
        words = f"{words}: {called.get(row.round_number, f'round {row.round_number}')}"
    if row.kind != MembershipChange.Kind.CHANGED:
        return words
    labels = {
        "level": "level",
        "base": "base",
        "count": "boxes",
        "doubles": "doubles",
        "receiver": "goes to",
        "payer": "paid by",
        "prepaid_rounds": "prepaid rounds",
    }
    said = []
    for name, label in labels.items():
        if name in row.after or name in row.before:
            before, after = (_said(name, side.get(name), names) for side in (row.before, row.after))
            said.append(f"{label} {before} → {after}")
    return f"{words}: {'; '.join(said)}"


def _said(name: str, value: object, names: dict[str, dict[int, str]]) -> str:
    if value in (None, ""):
        return "none"
    if name in names and isinstance(value, int):
        return names[name].get(value, "gone")
    return str(value)
