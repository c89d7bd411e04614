"""Memberships: joined, on the waiting list, skipping, paused, ended, changed; each step is a dated change."""

from __future__ import annotations

import datetime as dt
from typing import Any
from uuid import uuid5

from django.db import transaction
from django.db.models import Count
from django.utils import timezone

from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.promises.boxes import OF_BOXES
from inventory.promises.clubs import next_round_number
from inventory.promises.freezing import bring_in_line, take_in_again, take_out
from inventory.promises.models import Box, Club, Level, Membership, MembershipChange, Person, Round
from recipes.models import Base
from recipes.words import one_line

MOST_BOXES = 20
Kind = MembershipChange.Kind
State = Membership.State


class LevelElsewhere(Refused):
    """The level is of another club, or not to be had any more."""


class BaseNeeded(Refused):
    """The level comes on several bases, and none of them is chosen."""


class HowManyBoxes(Refused):
    """So many boxes a round, or so many prepaid rounds, are not possible."""


class NotNow(Refused):
    """As the membership stands, this cannot be done."""


def bases_of(level: Level) -> list[Base]:
    """The bases that a member chooses among at a level; none where there is nothing to choose. Three queries."""
    choices: list[set[Base]] = []
    for slot in level.slots.prefetch_related("put_ups__put_up__base"):
        bases = {each.put_up.base for each in slot.put_ups.all()}
        if len(bases) > 1:
            choices.append(bases)
    return sorted(set.intersection(*choices), key=lambda base: base.name) if choices else []


def places_taken(club: Club) -> int:
    """How many memberships of a club are active or paused. One query."""
    return club.memberships.filter(state__in=(State.ACTIVE, State.PAUSED)).count()


def is_full(club: Club) -> bool:
    """Whether the next who signs up waits."""
    return club.most_members is not None and places_taken(club) >= club.most_members


@transaction.atomic
def join(
    *,
    level: Level,
    receiver: Person,
    who: User,
    payer: Person | None = None,
    base: Base | None = None,
    count: int = 1,
    gift_note: str = "",
    doubles: str = "",
    prepaid_rounds: int | None = None,
    from_round: int | None = None,
    reference: str = "",
    signed_up_at: dt.datetime | None = None,
) -> Membership:
    """Somebody joins a club, from the first round that is not frozen on; where the club is full, they wait.

    `payer` differs from `receiver` where it is a gift. Raises BaseNeeded, HowManyBoxes, LevelElsewhere.
    """
    club = Club.objects.select_for_update().get(pk=level.club_id)
    if level.retired_at is not None or club.retired_at is not None:
        raise LevelElsewhere(f"{level} is not to be had any more. Choose another level.")
    _refuse_numbers(count, prepaid_rounds)
    base = _base_for(level, base)
    waits = is_full(club)
    at = signed_up_at or timezone.now()
    membership = Membership.objects.create(
        club=club,
        level=level,
        base=base,
        count=count,
        payer=payer or receiver,
        receiver=receiver,
        gift_note=one_line(gift_note)[:500],
        doubles=doubles,
        state=State.WAITING if waits else State.ACTIVE,
        signed_up_at=at,
        from_round=from_round or next_round_number(club),
        prepaid_rounds=prepaid_rounds,
        reference=one_line(reference)[:60],
    )
    _keep(membership, Kind.WAITS if waits else Kind.JOINED, who=who, after=_plain(membership), at=at)
    return membership


def _base_for(level: Level, base: Base | None) -> Base | None:
    choices = bases_of(level)
    if not choices:
        return base
    if base is None or base not in choices:
        names = ", ".join(each.name for each in choices)
        raise BaseNeeded(f"{level} comes on {names}. Choose one of them.")
    return base


def _refuse_numbers(count: int, prepaid_rounds: int | None) -> None:
    if not 1 <= count <= MOST_BOXES:
        raise HowManyBoxes(f"A membership has from 1 to {MOST_BOXES} boxes a round.")
    if prepaid_rounds is not None and prepaid_rounds < 1:
        raise HowManyBoxes("Write how many rounds are prepaid, 1 or more; leave it empty where none is.")


@transaction.atomic
def offer_place(*, membership: Membership, who: User, why: str = "") -> Membership:
    """Give somebody who waits a place, from the first round that is not frozen on. Raises NotNow for others."""
    locked = _locked(membership)
    if locked.state != State.WAITING:
        raise NotNow("This membership is not on the waiting list.")
    locked.from_round = next_round_number(locked.club)
    return _to(locked, State.ACTIVE, Kind.OFFERED, who=who, why=why)


@transaction.atomic
def pause(*, membership: Membership, who: User, why: str = "") -> Membership:
    """Leave rounds out until it goes on; boxes of a frozen round stay. Raises NotNow unless it is active."""
    locked = _locked(membership)
    if locked.state != State.ACTIVE:
        raise NotNow("Only an active membership can be paused.")
    return _to(locked, State.PAUSED, Kind.PAUSED, who=who, why=why)


@transaction.atomic
def resume(*, membership: Membership, who: User, why: str = "") -> Membership:
    """Go on after a pause, or after it was ended. Raises NotNow when it goes on already, or the club is full."""
    locked = _locked(membership)
    if locked.state not in (State.PAUSED, State.ENDED):
        raise NotNow("This membership is not paused or ended.")
    if locked.state == State.ENDED and is_full(locked.club):
        raise NotNow("The club is full. Sign them up again, and they wait for a place.")
    return _to(locked, State.ACTIVE, Kind.RESUMED, who=who, why=why)


@transaction.atomic
def end(*, membership: Membership, who: User, why: str = "") -> Membership:
    """End a membership; boxes of a frozen round stay until they are taken out. Ended before, nothing changes."""
    locked = _locked(membership)
    if locked.state == State.ENDED:
        return locked
    return _to(locked, State.ENDED, Kind.ENDED, who=who, why=why)


@transaction.atomic
def skip(*, membership: Membership, round: Round, who: User, why: str = "") -> Membership:
    """Leave one round out; in a frozen one its boxes are withdrawn and what they held is free. Skipped before, nothing changes.

    Raises NotNow for a round of another club, and BoxPacked when a box is packed or gone.
    """
    locked = _locked(membership)
    _refuse_elsewhere(locked, round)
    if _skips(locked, round):
        return locked
    _keep(locked, Kind.SKIPS, who=who, why=why, round_number=round.number)
    for box in Box.objects.filter(round=round, membership=locked, withdrawn_at=None):
        key = uuid5(OF_BOXES, f"{box.code} skips {locked.changes.count()}")
        take_out(box=box, key=key, who=who, why=why or "skips this round")
    return locked


@transaction.atomic
def skip_not(*, membership: Membership, round: Round, who: User, why: str = "") -> Membership:
    """Take a skip back; withdrawn boxes of a frozen round are promised again. Not skipping, nothing changes."""
    locked = _locked(membership)
    _refuse_elsewhere(locked, round)
    if not _skips(locked, round):
        return locked
    _keep(locked, Kind.SKIPS_NOT, who=who, why=why, round_number=round.number)
    for box in Box.objects.filter(
        round=round, membership=locked, number__lte=locked.count, withdrawn_at__isnull=False
    ):
        take_in_again(box=box, who=who, why=why or "does not skip after all")
    return locked


def _refuse_elsewhere(membership: Membership, round: Round) -> None:
    if round.club_id != membership.club_id:
        raise NotNow("This round is of another club.")


def _skips(membership: Membership, round: Round) -> bool:
    last = (
        membership.changes.filter(round_number=round.number, kind__in=(Kind.SKIPS, Kind.SKIPS_NOT))
        .order_by("-id")
        .first()
    )
    return last is not None and last.kind == Kind.SKIPS


@transaction.atomic
def change(
    *,
    membership: Membership,
    who: User,
    level: Level,
    base: Base | None,
    count: int,
    doubles: str,
    receiver: Person,
    payer: Person,
    gift_note: str = "",
    prepaid_rounds: int | None = None,
    reference: str = "",
    also_in: Round | None = None,
    why: str = "",
) -> Membership:
    """Write down what a membership is from now on. With `also_in`, its boxes in that frozen round follow.

    Raises BaseNeeded, HowManyBoxes, LevelElsewhere, and what `bring_in_line` refuses.
    """
    locked = _locked(membership)
    if level.club_id != locked.club_id or (level.retired_at is not None and level.pk != locked.level_id):
        raise LevelElsewhere("Choose a level of this club that is still to be had.")
    _refuse_numbers(count, prepaid_rounds)
    had = locked.boxes.filter(withdrawn_at=None).aggregate(rounds=Count("round", distinct=True))["rounds"]
    if prepaid_rounds is not None and prepaid_rounds < had and prepaid_rounds != locked.prepaid_rounds:
        raise HowManyBoxes(f"It has had {had} rounds already, so at least {had} were prepaid.")
    before = _plain(locked)
    # A change of count or prepaid rounds alone does not ask for a base again that nobody had to choose.
    locked.base = _base_for(level, base)
    locked.level, locked.count, locked.doubles = level, count, doubles
    locked.receiver, locked.payer = receiver, payer
    locked.gift_note = one_line(gift_note)[:500]
    locked.prepaid_rounds, locked.reference = prepaid_rounds, one_line(reference)[:60]
    locked.save()
    after = _plain(locked)
    if after != before:
        moved = [name for name in after if after[name] != before[name]]
        _keep(
            locked,
            Kind.CHANGED,
            who=who,
            why=why,
            before={name: before[name] for name in moved},
            after={name: after[name] for name in moved},
        )
    if also_in is not None:
        bring_in_line(membership=locked, round=also_in, who=who, why=why)
    return locked


def _locked(membership: Membership) -> Membership:
    return (
        Membership.objects.select_for_update(of=("self",))
        .select_related("club", "level", "base", "receiver", "payer")
        .get(pk=membership.pk)
    )


def _to(membership: Membership, state: str, kind: str, *, who: User, why: str) -> Membership:
    before, membership.state = membership.state, state
    membership.save(update_fields=["state", "from_round"])
    _keep(membership, kind, who=who, why=why, before={"state": before}, after={"state": state})
    return membership


def _plain(membership: Membership) -> dict[str, Any]:
    """What a membership is, by ids: no name, no note, nothing that erasing a person would have to reach."""
    return {
        "level": membership.level_id,
        "base": membership.base_id,
        "count": membership.count,
        "doubles": membership.doubles,
        "receiver": membership.receiver_id,
        "payer": membership.payer_id,
        "prepaid_rounds": membership.prepaid_rounds,
    }


def _keep(
    membership: Membership,
    kind: str,
    *,
    who: User,
    why: str = "",
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
    round_number: int | None = None,
    at: dt.datetime | None = None,
) -> None:
    MembershipChange.objects.create(
        membership=membership,
        kind=kind,
        round_number=round_number,
        before=before or {},
        after=after or {},
        why=one_line(why)[:300],
        at=at or timezone.now(),
        by=who,
    )
