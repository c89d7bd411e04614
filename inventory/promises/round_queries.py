"""What the page of a round shows, before it is frozen and after; and the boxes of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass, field
from itertools import groupby

from django.utils import timezone

from dyehouse.ledger.models import Held
from dyehouse.studio.models import User
from dyehouse.studio.templatetags.house import address_of
from inventory.promises.asking import Gets, Question, gets, questions
from inventory.promises.club_queries import Standing, next_of, with_stand
from inventory.promises.freezing import going_out
from inventory.promises.models import Box, BoxPart, Membership, Payment, Round, RoundChange, Spares
from inventory.promises.tallies import (
    Change,
    Numbers,
    Of,
    ToDye,
    changes_of,
    frozen_numbers,
    months_on,
    numbers_of,
    to_dye_of,
    with_changes,
)
from recipes.models import Base, Colourway, PutUp

NAMED = 3


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a round on its way: what it is, how far it is, and its page where it has one."""

    words: str
    detail: str
    done: bool = False
    now: bool = False
    address: str = ""


@dataclass(frozen=True, slots=True)
class Moved:
    """What was changed at one moment for one reason: whose boxes, how many more or fewer, and which pieces moved."""

    row: RoundChange
    whose: str
    boxes: int
    pieces: str
    changes: list[Change]


@dataclass(frozen=True, slots=True)
class SpareLine:
    """Spares that are put by: of what, how many, until when."""

    spares: Spares
    name: str
    put_up: PutUp
    pieces: int


@dataclass(frozen=True, slots=True)
class RoundPage:
    """A round: the steps in order, the numbers with their working, what changed, what is asked, what is left over."""

    round: Round
    colourways: list[tuple[int, Colourway, str]]
    steps: list[Step]
    frozen: Numbers
    now: Numbers
    moved: list[Moved]
    to_dye: list[ToDye]
    standing: Standing
    failed: list[Box]
    questions: list[Question]
    open: list[str] = field(default_factory=list)
    waiting_to_come_in: list[Membership] = field(default_factory=list)
    spares: list[SpareLine] = field(default_factory=list)

    @property
    def exclusive_until(self) -> dt.date | None:
        """Until when its colourways are the club's alone; None where it keeps none to itself."""
        months = self.round.club.exclusive_months
        return months_on(self.round.ships_on, months) if months else None

    @property
    def is_frozen(self) -> bool:
        return self.round.frozen_at is not None

    @property
    def adds_up(self) -> bool:
        """Whether the frozen numbers and the changes come to what the boxes want now."""
        added = with_changes(self.frozen, (change for each in self.moved for change in each.changes))
        return added.boxes == self.now.boxes and _by_put_up(added) == _by_put_up(self.now)

    @property
    def all_to_dye(self) -> int:
        return sum(line.total.value for line in self.to_dye)

    @property
    def all_spares(self) -> int:
        return sum(line.spares for line in self.to_dye)

    @property
    def change_in_boxes(self) -> int:
        return self.now.boxes - self.frozen.boxes

    @property
    def change_in_pieces(self) -> int:
        return self.now.all_pieces - self.frozen.all_pieces


def _by_put_up(numbers: Numbers) -> dict[int, int]:
    # Who gets which colourway may be settled after the freeze, which is no change of the round.
    sums: dict[int, int] = {}
    for (put_up, _), pieces in numbers.pieces.items():
        sums[put_up] = sums.get(put_up, 0) + pieces
    return sums


def round_page(round: Round, *, user: User) -> RoundPage:
    """A round's page; nine queries at most, with the round read before."""
    rows = list(round.colourways.select_related("colourway").order_by("number"))
    colourways = [(row.number, row.colourway, row.colourway.shown_name(user)) for row in rows]
    return _frozen_page(round, colourways) if round.frozen_at else _open_page(round, colourways)


def _open_page(round: Round, colourways: list[tuple[int, Colourway, str]]) -> RoundPage:
    by_number = {number: colourway for number, colourway, _ in colourways}
    out = going_out(round, by_number)
    now = numbers_of(out)
    put_ups = {part.put_up.pk: part.put_up for each in out.going for part in each.parts}
    named = {colourway.pk: colourway for _, colourway, _ in colourways}
    return RoundPage(
        round=round,
        colourways=colourways,
        steps=_steps(round, now, Standing()),
        frozen=now,
        now=now,
        moved=[],
        to_dye=to_dye_of(now, put_ups, named, percent=round.spares_percent),
        standing=Standing(),
        failed=[],
        questions=questions(gets(each.membership, by_number) for each in out.going),
        open=out.open,
    )


def _frozen_page(round: Round, colourways: list[tuple[int, Colourway, str]]) -> RoundPage:
    boxes = {
        box.pk: box
        for box in with_stand(
            Box.objects.filter(round=round).select_related(
                "receiver", "membership__level", "membership__base", "membership__receiver"
            )
        ).order_by("pk")
    }
    now = Numbers()
    put_ups: dict[int, PutUp] = {}
    named: dict[int, Colourway] = {}
    of_box: dict[int, tuple[list[Base], list[Colourway]]] = {}
    parts = BoxPart.objects.filter(box__round=round, box__withdrawn_at=None)
    for part in parts.select_related("put_up__base", "colourway").order_by("box", "position"):
        key: Of = (part.put_up_id, part.colourway_id)
        now.add(0, [(key, part.pieces)])
        put_ups[part.put_up_id] = part.put_up
        bases, wanted = of_box.setdefault(part.box_id, ([], []))
        bases.append(part.put_up.base)
        if part.colourway is not None:
            named[part.colourway.pk] = part.colourway
            wanted.append(part.colourway)
    standing_boxes = [box for box in boxes.values() if box.withdrawn_at is None]
    now.boxes = len(standing_boxes)
    first_boxes: dict[int | None, Box] = {}
    for box in standing_boxes:
        first_boxes.setdefault(box.membership_id, box)
    asked = [
        Gets(box.membership, *of_box.get(box.pk, ([], [])))
        for box in first_boxes.values()
        if box.membership is not None
    ]
    frozen, changes = frozen_numbers(round), changes_of(round)
    gone = {put_up for change in changes for (put_up, _), _ in change.pieces} | {
        pk for pk, _ in frozen.pieces
    }
    if gone - put_ups.keys():
        put_ups |= PutUp.objects.select_related("base").in_bulk(gone - put_ups.keys())
    standing = Standing.of(boxes.values())
    return RoundPage(
        round=round,
        colourways=colourways,
        steps=_steps(round, now, standing),
        frozen=frozen,
        now=now,
        moved=_moved(changes, put_ups),
        to_dye=to_dye_of(now, put_ups, named, percent=round.spares_percent),
        standing=standing,
        failed=[box for box in standing_boxes if box.paid == Payment.Kind.FAILED],  # type: ignore[attr-defined]
        questions=[] if standing.all_gone else questions(asked),
        waiting_to_come_in=[] if standing.all_gone else _not_in(round, first_boxes.keys()),
        spares=_spares_of(round),
    )


def _not_in(round: Round, there: Collection[int | None]) -> list[Membership]:
    """Active memberships without a standing box in a frozen round: who could be let in late."""
    active = Membership.objects.filter(club=round.club_id, state=Membership.State.ACTIVE)
    rows = active.select_related("receiver", "level").order_by("-signed_up_at", "pk")
    return [each for each in rows if each.pk not in there]


def _moved(changes: list[Change], put_ups: dict[int, PutUp]) -> list[Moved]:
    """The changes in words; those of one kind that were made together for one reason stand in one line."""
    lines = []
    for _, same in groupby(changes, key=lambda change: (change.row.kind, change.row.at, change.row.why)):
        together = list(same)
        sums = Numbers()
        for change in together:
            sums.add(change.boxes, change.pieces)
        people = list(dict.fromkeys(str(change.row.box.receiver) for change in together))
        lines.append(
            Moved(
                row=together[0].row,
                whose=", ".join(people) if len(people) <= NAMED else f"{len(together)} boxes",
                boxes=sums.boxes,
                pieces=_pieces_in_words(sums, put_ups),
                changes=together,
            )
        )
    return lines


def _pieces_in_words(sums: Numbers, put_ups: dict[int, PutUp]) -> str:
    by_put_up = _by_put_up(sums)
    if sums.pieces and not any(by_put_up.values()):
        return "in another colourway"
    return ", ".join(
        f"{'+' if count > 0 else '−'}{abs(count)} on {put_ups[pk]}"
        for pk, count in by_put_up.items()
        if count
    )


def _spares_of(round: Round) -> list[SpareLine]:
    """The spares of a round that are still held. One query."""
    rows = Held.objects.filter(claim__spares__round=round, claim__spares__released_at=None, quantity__gt=0)
    rows = rows.filter(item__dyed__isnull=False).select_related(
        "claim__spares", "item__dyed__put_up__base", "item__dyed__colourway"
    )
    summed: dict[tuple[int, int], SpareLine] = {}
    for row in rows.order_by("pk"):
        dyed = row.item.dyed
        before = summed.get((row.claim_id, dyed.pk))
        pieces = row.quantity + (before.pieces if before is not None else 0)
        summed[row.claim_id, dyed.pk] = SpareLine(row.claim.spares, str(dyed.colourway), dyed.put_up, pieces)
    return list(summed.values())


def _sign_ups(round: Round, today: dt.date, *, closed: bool) -> str:
    if closed:
        return "closed"
    return (
        next_of(round, today).removeprefix("sign-ups ") if round.sign_up_closes else "open until it is frozen"
    )


def _steps(round: Round, now: Numbers, standing: Standing) -> list[Step]:
    frozen = round.frozen_at is not None
    today = timezone.localdate()
    closed = round.sign_up_closes is not None and round.sign_up_closes < today
    rows = [
        (
            "Sign-ups",
            _sign_ups(round, today, closed=frozen or closed),
            frozen or closed,
            "",
        ),
        ("Freeze", f"{now.boxes} boxes" if not frozen else "done", frozen, ""),
        (
            "Payment",
            f"{standing.paid} of {standing.boxes} paid" if frozen else "after the freeze",
            frozen and standing.paid == standing.boxes,
            address_of("round-boxes", pk=round.pk) if frozen else "",
        ),
        (
            "Hold",
            f"{standing.held_pieces} of {standing.pieces} pieces" if frozen else "who gets which skein",
            frozen and standing.filled == standing.boxes,
            address_of("round-allocate", pk=round.pk) if frozen else "",
        ),
        (
            "Pack",
            f"{standing.packed} of {standing.boxes} boxes" if frozen else "parcels",
            frozen and standing.packed == standing.boxes,
            address_of("parcels") if frozen else "",
        ),
        (
            "Ship",
            f"{standing.gone} of {standing.boxes} on their way"
            if frozen
            else f"{round.ships_on.day} {round.ships_on:%B}",
            frozen and standing.all_gone,
            "",
        ),
    ]
    first = next((index for index, row in enumerate(rows) if not row[2]), None)
    return [
        Step(words, detail, done=done, now=index == first, address=address)
        for index, (words, detail, done, address) in enumerate(rows)
    ]


@dataclass(frozen=True, slots=True)
class BoxesPage:
    """The boxes of a frozen round, a line each, and how they stand together."""

    round: Round
    boxes: list[Box]
    standing: Standing
    withdrawn: list[Box]


def boxes_page(round: Round) -> BoxesPage:
    """Every box of a round by the receiver's name. Two queries."""
    rows = list(
        with_stand(
            Box.objects.filter(round=round).select_related(
                "receiver",
                "membership__level",
                "membership__base",
                "membership__payer",
                "membership__receiver",
            )
        ).order_by("receiver__name", "receiver", "membership", "number")
    )
    return BoxesPage(
        round=round,
        boxes=[box for box in rows if box.withdrawn_at is None],
        standing=Standing.of(rows),
        withdrawn=[box for box in rows if box.withdrawn_at is not None],
    )
