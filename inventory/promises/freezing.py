"""Closing a round: its boxes are made and its numbers kept; what changes later moves only its own numbers."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID, uuid5

from django.db import transaction
from django.db.models import Count, Prefetch, Q, QuerySet
from django.utils import timezone

from dyehouse.ledger.models import Held
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.promises.boxes import (
    OF_BOXES,
    BoxPacked,
    BoxWanted,
    PartWanted,
    make_boxes,
    release_all,
    withdraw_box,
    write_parts,
)
from inventory.promises.models import (
    Box,
    BoxPart,
    LevelSlot,
    Membership,
    MembershipChange,
    Parcel,
    ParcelBox,
    Payment,
    Person,
    Round,
    RoundChange,
    SlotPutUp,
)
from recipes.models import Colourway, PutUp
from recipes.words import one_line

# The kind of a change -> how many boxes it adds.
ADDS = {
    RoundChange.Kind.LATE: 1,
    RoundChange.Kind.BACK: 1,
    RoundChange.Kind.WITHDRAWN: -1,
    RoundChange.Kind.CHANGED: 0,
}


class NotReady(Refused):
    """Something is open without which boxes cannot be made: a colourway, a base."""


class NotFrozen(Refused):
    """The round is not frozen, so nothing about its boxes can be changed."""


class ColourwayInUse(Refused):
    """A colourway of a frozen round cannot be put in the place of another, or be replaced."""


class InAlready(Refused):
    """The membership has its boxes in this round."""


@dataclass(frozen=True, slots=True)
class Going:
    """A membership that is in a round, and what each of its boxes wants."""

    membership: Membership
    parts: list[PartWanted]


@dataclass(frozen=True, slots=True)
class GoingOut:
    """Who is in a round when it is frozen now, and what is open for whom: a sentence each."""

    going: list[Going]
    open: list[str]

    @property
    def boxes(self) -> int:
        return sum(each.membership.count for each in self.going)


def skipping(round: Round) -> set[int]:
    """The memberships (ids) that skip this round. One query."""
    said = dict(
        MembershipChange.objects.filter(
            membership__club=round.club_id,
            round_number=round.number,
            kind__in=(MembershipChange.Kind.SKIPS, MembershipChange.Kind.SKIPS_NOT),
        )
        .order_by("id")
        .values_list("membership", "kind")
    )
    return {pk for pk, kind in said.items() if kind == MembershipChange.Kind.SKIPS}


def members_with_levels(memberships: QuerySet[Membership]) -> QuerySet[Membership]:
    """Memberships with all that their boxes are made from, the oldest sign-up first. Three queries.

    `rounds_had` is in how many rounds each has a box that was not withdrawn.
    """
    put_ups = Prefetch(
        "level__slots__put_ups", SlotPutUp.objects.select_related("put_up__base").order_by("pk")
    )
    return (
        memberships.select_related("level", "base", "receiver", "payer")
        .prefetch_related("level__slots", put_ups)
        .annotate(rounds_had=Count("boxes__round", filter=Q(boxes__withdrawn_at=None), distinct=True))
        .order_by("signed_up_at", "pk")
    )


def had(membership: Membership) -> int:
    """In how many rounds a membership had a box; read with `members_with_levels`."""
    return membership.rounds_had  # type: ignore[attr-defined]


def in_round(round: Round) -> list[Membership]:
    """Who is in a round that is not frozen: active, begun, not skipping, with a prepaid round left. Four queries."""
    skip = skipping(round)
    found = Membership.objects.filter(
        club=round.club_id, state=Membership.State.ACTIVE, from_round__lte=round.number
    )
    return [
        each
        for each in members_with_levels(found)
        if each.pk not in skip and (each.prepaid_rounds is None or had(each) < each.prepaid_rounds)
    ]


def going_out(round: Round, colourways: Mapping[int, Colourway]) -> GoingOut:
    """Who would be in the round with these colourways by number, were it frozen now, and what is open. Four queries."""
    going, open_ = [], []
    for membership in in_round(round):
        parts, lacking = parts_for(membership, colourways)
        if lacking:
            open_.append(lacking)
        else:
            going.append(Going(membership, parts))
    return GoingOut(going, list(dict.fromkeys(open_)))


def parts_for(membership: Membership, colourways: Mapping[int, Colourway]) -> tuple[list[PartWanted], str]:
    """What a box of a membership wants with the round's colourways by number; and a sentence where something is open."""
    wanted = []
    for slot in sorted(membership.level.slots.all(), key=lambda slot: slot.position):
        put_up = _put_up_of(slot, membership)
        if put_up is None:
            whom = membership.receiver.name or membership.receiver.code
            return [], f"{whom} at {membership.level} has no base that the level comes on. Choose one."
        number = slot.colourway_number
        if number is not None and number not in colourways:
            return [], f"{membership.level} holds the round’s colourway number {number}. Say which that is."
        wanted.append(PartWanted(put_up, slot.pieces, colourways[number] if number is not None else None))
    return wanted, ""


def _put_up_of(slot: LevelSlot, membership: Membership) -> PutUp | None:
    choices = [each.put_up for each in slot.put_ups.all()]
    if len(choices) == 1:
        return choices[0]
    return next((put_up for put_up in choices if put_up.base_id == membership.base_id), None)


def colourways_of(round: Round) -> dict[int, Colourway]:
    """The colourways of a round by their number in it. One query."""
    return {row.number: row.colourway for row in round.colourways.select_related("colourway")}


def _locked(round: Round) -> Round:
    return Round.objects.select_for_update(of=("self",)).select_related("club").get(pk=round.pk)


@transaction.atomic
def freeze(*, round: Round, who: User, now: dt.datetime | None = None) -> Round:
    """Make the boxes of all who are in the round, and keep the numbers. Frozen before, nothing changes.

    Raises NotReady while a colourway or a base is open, or when nobody is in it.
    """
    locked = _locked(round)
    if locked.frozen_at is not None:
        return locked
    out = going_out(locked, colourways_of(locked))
    if out.open:
        raise NotReady(" ".join(out.open[:5]))
    if not out.going:
        raise NotReady("Nobody is in this round. It can be frozen once somebody is.")
    at = now or timezone.now()
    made = make_boxes([box for each in out.going for box in _boxes_of(each, locked)])
    _prepaid_is_paid(made, at=at, who=who)
    pieces: dict[tuple[int, int | None], int] = {}
    for each in out.going:
        for part in each.parts:
            key = (part.put_up.pk, part.colourway.pk if part.colourway else None)
            pieces[key] = pieces.get(key, 0) + part.pieces * each.membership.count
    locked.frozen_at, locked.frozen_by = at, who
    locked.frozen_numbers = {"boxes": len(made), "pieces": [[*key, count] for key, count in pieces.items()]}
    locked.save(update_fields=["frozen_at", "frozen_by", "frozen_numbers"])
    return locked


def _boxes_of(
    going: Going, round: Round, *, late: bool = False, numbers: Sequence[int] | None = None
) -> list[BoxWanted]:
    membership = going.membership
    return [
        BoxWanted(
            receiver=membership.receiver,
            round=round,
            membership=membership,
            number=number,
            parts=going.parts,
            same_pot=_same_pot(membership),
            late=late,
        )
        for number in (numbers or range(1, membership.count + 1))
    ]


def _same_pot(membership: Membership) -> bool | None:
    wish = membership.doubles or membership.receiver.doubles
    return None if not wish else wish == Person.Doubles.SAME


def _prepaid_is_paid(boxes: Iterable[Box], *, at: dt.datetime, who: User) -> None:
    """Prepaid boxes are paid; the first box of others begins with what was said of payment at the sign-up."""
    payments = []
    for box in boxes:
        membership, round = box.membership, box.round
        if membership is None or round is None:
            continue
        if membership.prepaid_rounds is not None:
            payments.append(Payment(box=box, kind=Payment.Kind.PAID, why="prepaid", at=at, by=who))
        elif membership.paid_at_sign_up and round.number == membership.from_round:
            kind = membership.paid_at_sign_up
            payments.append(Payment(box=box, kind=kind, why="as it stood at the sign-up", at=at, by=who))
    Payment.objects.bulk_create(payments)


@transaction.atomic
def let_in_late(*, round: Round, membership: Membership, who: User, why: str = "") -> list[Box]:
    """Let somebody into a frozen round by hand: new boxes marked late, or the withdrawn ones again.

    Raises NotFrozen, InAlready when they have their boxes, NotReady where a base is open.
    """
    locked = _locked(round)
    if locked.frozen_at is None:
        raise NotFrozen("The round is not frozen yet: who joins now is in it.")
    there = {box.number: box for box in Box.objects.filter(round=locked, membership=membership)}
    wanted = range(1, membership.count + 1)
    if all(number in there and there[number].withdrawn_at is None for number in wanted):
        raise InAlready("This membership has its boxes in the round.")
    if membership.state != Membership.State.ACTIVE and not there:
        raise NotReady("This membership is not active. Let it go on first, or give it a place.")
    parts, lacking = parts_for(membership, colourways_of(locked))
    if lacking:
        raise NotReady(lacking)
    for number in wanted:
        if number in there and there[number].withdrawn_at is not None:
            take_in_again(box=there[number], who=who, why=why)
    new = [number for number in wanted if number not in there]
    made = make_boxes(_boxes_of(Going(membership, parts), locked, late=True, numbers=new)) if new else []
    _prepaid_is_paid(made, at=timezone.now(), who=who)
    for box in made:
        _keep(locked, box, RoundChange.Kind.LATE, who=who, why=why, after=_plain(parts))
    return made


@transaction.atomic
def take_out(*, box: Box, key: UUID, who: User, why: str) -> Box:
    """Withdraw one box of a frozen round: what was held for it is free again. Out already, nothing changes.

    Raises BoxPacked while it lies in a packed parcel or is on its way.
    """
    round_ = _locked(_round_of(box))
    locked = Box.objects.select_for_update().get(pk=box.pk)
    if locked.withdrawn_at is not None:
        return locked
    wanted = _parts_of(locked)
    gone = withdraw_box(box=locked, key=key, who=who, why=why or "Out of the round")
    _keep(round_, gone, RoundChange.Kind.WITHDRAWN, who=who, why=why, before=wanted)
    return gone


@transaction.atomic
def take_in_again(*, box: Box, who: User, why: str = "") -> Box:
    """Promise a withdrawn box of a round once more; it holds nothing. In already, nothing changes."""
    round_ = _locked(_round_of(box))
    locked = Box.objects.select_for_update().get(pk=box.pk)
    if locked.withdrawn_at is None:
        return locked
    locked.withdrawn_at = None
    locked.save(update_fields=["withdrawn_at"])
    _keep(round_, locked, RoundChange.Kind.BACK, who=who, why=why, after=_parts_of(locked))
    return locked


@transaction.atomic
def bring_in_line(*, membership: Membership, round: Round, who: User, why: str) -> None:
    """Bring the boxes of a membership in a frozen round in line with what it is now: level, base, count, receiver.

    Only what differs is changed, each with a dated change; what a changed box held is free again. A membership without a
    box in the round stays without. Raises BoxPacked when a box that differs is packed or on its way, NotReady.
    """
    locked = _locked(round)
    boxes = list(
        Box.objects.select_for_update().filter(round=locked, membership=membership).order_by("number")
    )
    standing = [box for box in boxes if box.withdrawn_at is None]
    if locked.frozen_at is None or not standing:
        return
    parts, lacking = parts_for(membership, colourways_of(locked))
    if lacking:
        raise NotReady(lacking)
    for box in standing:
        if box.number > membership.count:
            take_out(
                box=box, key=uuid5(OF_BOXES, f"{box.code} out {locked.changes.count()}"), who=who, why=why
            )
        else:
            _change_box(locked, box, membership, parts, who=who, why=why)
    if len(standing) < membership.count:
        let_in_late(round=locked, membership=membership, who=who, why=why)


def _change_box(
    round: Round, box: Box, membership: Membership, parts: Sequence[PartWanted], *, who: User, why: str
) -> None:
    before, after = _parts_of(box), _plain(parts)
    other_yarn = [row[0] for row in before] != [row[0] for row in after] or [row[2] for row in before] != [
        row[2] for row in after
    ]
    other_person = box.receiver_id != membership.receiver_id
    if not other_yarn and not other_person:
        return
    inside = ParcelBox.objects.filter(box=box, taken_out_at=None).select_related("parcel").first()
    if inside is not None and inside.parcel.state in (Parcel.State.PACKED, Parcel.State.GONE):
        raise BoxPacked(
            f"Box {box.code} is {inside.parcel.get_state_display()} in parcel {inside.parcel.code}, so it stays as it is. "
            "Leave this round as it is, and the change counts from the next one on."
        )
    if other_yarn:
        key = uuid5(OF_BOXES, f"{box.code} changed {round.changes.count()}")
        release_all(box=box, key=key, who=who, why=why or "Another base or level")
        write_parts(box, parts)
    if inside is not None:
        inside.taken_out_at = timezone.now()
        inside.save(update_fields=["taken_out_at"])
    box.receiver = membership.receiver
    box.same_pot = _same_pot(membership)
    box.save(update_fields=["receiver", "same_pot"])
    _keep(
        round,
        box,
        RoundChange.Kind.CHANGED,
        who=who,
        why=why,
        before=before,
        after=after if other_yarn else before,
    )


@transaction.atomic
def give_another_colourway(
    *, round: Round, number: int, colourway: Colourway, who: User, why: str = ""
) -> int:
    """Put another colourway in the place of a frozen round's, in every box that wants it; how many boxes changed.

    The same colourway again changes nothing. Raises ColourwayInUse while a box holds pieces of the one before, was packed
    or sent, or when the round has the other one already.
    """
    locked = _locked(round)
    place = locked.colourways.select_related("colourway").get(number=number)
    before = place.colourway
    if before.pk == colourway.pk:
        return 0
    if locked.colourways.filter(colourway=colourway).exists():
        raise ColourwayInUse(f"{colourway} is in this round already. Choose one that is not.")
    wanting = BoxPart.objects.filter(box__round=locked, colourway=before)
    if Held.objects.filter(
        claim__box__in=wanting.values("box"), quantity__gt=0, item__dyed__colourway=before
    ).exists():
        raise ColourwayInUse(
            f"Boxes hold pieces of {before} already. Let them go first, or keep the colourway."
        )
    packed = (Parcel.State.PACKED, Parcel.State.GONE)
    if ParcelBox.objects.filter(
        box__in=wanting.values("box"), taken_out_at=None, parcel__state__in=packed
    ).exists():
        raise ColourwayInUse(f"Boxes with {before} are packed or on their way, so the colourway stays.")
    changed = list(Box.objects.filter(pk__in=wanting.values("box"), withdrawn_at=None).order_by("pk"))
    parts: dict[int, list[list[int | None]]] = {}
    for part in BoxPart.objects.filter(box__in=changed).order_by("box", "position"):
        parts.setdefault(part.box_id, []).append([part.put_up_id, part.colourway_id, part.pieces])
    at = timezone.now()
    RoundChange.objects.bulk_create(
        RoundChange(
            round=locked,
            box=box,
            kind=RoundChange.Kind.CHANGED,
            before={"parts": parts[box.pk]},
            after={"parts": [[p, colourway.pk if c == before.pk else c, n] for p, c, n in parts[box.pk]]},
            why=one_line(why)[:300],
            at=at,
            by=who,
        )
        for box in changed
    )
    wanting.update(colourway=colourway)
    place.colourway = colourway
    place.save(update_fields=["colourway"])
    return len(changed)


def _round_of(box: Box) -> Round:
    if box.round is None:
        raise NotFrozen("This box is of no round.")
    return box.round


def _parts_of(box: Box) -> list[list[int | None]]:
    rows = BoxPart.objects.filter(box=box).order_by("position")
    return [[part.put_up_id, part.colourway_id, part.pieces] for part in rows]


def _plain(parts: Sequence[PartWanted]) -> list[list[int | None]]:
    return [[part.put_up.pk, part.colourway.pk if part.colourway else None, part.pieces] for part in parts]


def _keep(
    round: Round,
    box: Box,
    kind: str,
    *,
    who: User,
    why: str,
    before: list[list[int | None]] | None = None,
    after: list[list[int | None]] | None = None,
) -> None:
    RoundChange.objects.create(
        round=round,
        box=box,
        kind=kind,
        before={"parts": before} if before else {},
        after={"parts": after} if after else {},
        why=one_line(why)[:300],
        at=timezone.now(),
        by=who,
    )
