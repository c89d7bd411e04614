"""Whatever is posted in whatever order, the ledger agrees with a model of a few lines."""

from __future__ import annotations

import uuid
from collections import Counter
from dataclasses import dataclass, field

import pytest
from django.db import transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from dyehouse.ledger.models import Balance, Held, Line, Movement
from dyehouse.ledger.operations import (
    AlreadyReversed,
    Bucket,
    KeyUsedBefore,
    NotEnough,
    Step,
    claim_for,
    post,
    reverse,
)
from dyehouse.ledger.verify import breaches
from tests.dyehouse.ledger.helpers import at, mill_lot, shelf, yarn

pytestmark = [pytest.mark.both_engines, pytest.mark.django_db]

OUTSIDE = ("supplier", "customer", "count_difference")
REAL = ("store", "in_pots", "shelf")
# A bucket is a place and which claim, if any; a move is of one of the two things from one bucket to another.
REAL_BUCKETS = [(place, claim) for place in REAL for claim in (None, "Ines", "Oona")]
BUCKETS = [*REAL_BUCKETS, *((place, None) for place in OUTSIDE)]
Where = tuple[str, str | None]


@dataclass(frozen=True)
class Move:
    thing: int
    quantity: int
    source: Where
    target: Where


MOVES = st.builds(
    Move,
    thing=st.integers(0, 1),
    quantity=st.integers(1, 6),
    source=st.sampled_from(BUCKETS),
    target=st.sampled_from(BUCKETS),
).filter(lambda move: move.source != move.target)
ARRIVALS = st.builds(
    Move,
    thing=st.integers(0, 1),
    quantity=st.integers(1, 9),
    source=st.just(("supplier", None)),
    target=st.sampled_from(REAL_BUCKETS),
)


@dataclass
class Posted:
    key: uuid.UUID
    moves: list[Move]
    movement: Movement
    find_missing: bool
    found: list[Move] = field(default_factory=list)
    taken_back: bool = False


class LedgerMachine(RuleBasedStateMachine):
    """The database beside `model`: how many of each thing are in each real bucket."""

    def __init__(self) -> None:
        super().__init__()
        self.example = transaction.atomic()
        self.example.__enter__()
        self.model: Counter[tuple[int, Where]] = Counter()
        self.posted: list[Posted] = []
        self.lines = 0

    @initialize()
    def a_house(self) -> None:
        self.things = [(yarn("Fell DK"), mill_lot("77")), (yarn("Moor 4ply"), mill_lot("78"))]
        rack = shelf()
        places = {code: at(code).place for code in (*OUTSIDE, "store", "in_pots")} | {"shelf": rack}
        claims = {name: claim_for(key=uuid.uuid4(), held_for=name) for name in ("Ines", "Oona")}
        self.buckets = {
            (place, claim): Bucket(places[place], claims[claim] if claim else None)
            for place, claim in BUCKETS
        }

    def teardown(self) -> None:
        try:
            assert breaches() == []
        finally:
            transaction.set_rollback(True)
            self.example.__exit__(None, None, None)

    def steps(self, moves: list[Move]) -> list[Step]:
        return [
            Step(*self.things[m.thing], m.quantity, self.buckets[m.source], self.buckets[m.target])
            for m in moves
        ]

    def after(self, moves: list[Move], *, find_missing: bool = False) -> tuple[Counter, list[Move], bool]:
        """The model after the moves, what had to be found for them, and whether there was enough without."""
        then, found, enough = Counter(self.model), [], True
        for m in moves:
            if m.source[0] in REAL:
                short = m.quantity - then[m.thing, m.source]
                if short > 0:
                    enough = False
                    found.append(Move(m.thing, short, ("count_difference", None), m.source))
                    then[m.thing, m.source] += short
                then[m.thing, m.source] -= m.quantity
            if m.target[0] in REAL:
                then[m.thing, m.target] += m.quantity
        return then, found, enough

    @rule(moves=st.lists(ARRIVALS, min_size=1, max_size=3))
    def yarn_arrives(self, moves: list[Move]) -> None:
        self.post(moves, find_missing=False)

    @rule(moves=st.lists(MOVES, min_size=1, max_size=4), find_missing=st.booleans())
    def post(self, moves: list[Move], find_missing: bool) -> None:
        then, found, enough = self.after(moves)
        key = uuid.uuid4()
        if not enough and not find_missing:
            with pytest.raises(NotEnough):
                post(key=key, who=None, steps=self.steps(moves))
            return
        movement = post(key=key, who=None, steps=self.steps(moves), find_missing=find_missing)
        self.model = then
        self.posted.append(Posted(key, moves, movement, find_missing, found))
        self.lines += movement.line_count

    @precondition(lambda self: self.posted)
    @rule(data=st.data())
    def post_the_same_again(self, data: st.DataObject) -> None:
        was = data.draw(st.sampled_from(self.posted))

        again = post(key=was.key, who=None, steps=self.steps(was.moves), find_missing=was.find_missing)

        assert again == was.movement

    @precondition(lambda self: self.posted)
    @rule(data=st.data(), moves=st.lists(MOVES, min_size=1, max_size=2))
    def use_a_key_for_something_else(self, data: st.DataObject, moves: list[Move]) -> None:
        was = data.draw(st.sampled_from(self.posted))
        if moves == was.moves:
            return

        with pytest.raises(KeyUsedBefore):
            post(key=was.key, who=None, steps=self.steps(moves), find_missing=True)

    @precondition(lambda self: self.posted)
    @rule(data=st.data())
    def take_back(self, data: st.DataObject) -> None:
        was = data.draw(st.sampled_from(self.posted))
        back = [Move(m.thing, m.quantity, m.target, m.source) for m in reversed(was.moves)]
        back += [Move(m.thing, m.quantity, m.target, m.source) for m in reversed(was.found)]
        then, _, enough = self.after(back)
        if was.taken_back or not enough:
            with pytest.raises(AlreadyReversed if was.taken_back else NotEnough):
                reverse(movement=was.movement, key=uuid.uuid4(), who=None, why="Wrong")
            return

        self.lines += reverse(movement=was.movement, key=uuid.uuid4(), who=None, why="Wrong").line_count
        was.taken_back = True
        self.model = then

    @invariant()
    def the_books_are_the_model(self) -> None:
        names = {bucket.place.pk: place for (place, _), bucket in self.buckets.items()}
        claims = {bucket.claim.pk: claim for (_, claim), bucket in self.buckets.items() if bucket.claim}
        things = {item.pk: number for number, (item, _) in enumerate(self.things)}
        free = {
            (things[row.item_id], (names[row.place_id], None)): row.free
            for row in Balance.objects.all()
            if row.free
        }
        held = {
            (things[row.item_id], (names[row.place_id], claims[row.claim_id])): row.quantity
            for row in Held.objects.all()
            if row.quantity
        }
        assert free | held == {bucket: quantity for bucket, quantity in self.model.items() if quantity}
        assert Line.objects.count() == self.lines


def test_the_ledger_agrees_with_a_model_of_a_few_lines():
    run_state_machine_as_test(
        LedgerMachine,
        settings=settings(
            max_examples=40, stateful_step_count=25, deadline=None, suppress_health_check=list(HealthCheck)
        ),
    )
