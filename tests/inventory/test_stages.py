"""The way from the pot to the shelf: whole racks at a touch, parts as easily, and the sums that always hold."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
import time_machine
from django.db.models import Sum
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from dyehouse.ledger.models import Balance, Held, Place
from dyehouse.ledger.operations import NotEnough
from dyehouse.ledger.places import fixed_place
from dyehouse.ledger.verify import breaches
from inventory import holding, shelf, stages
from inventory.stages import GoesBack, HeldForSomebody, Moving, NotOnTheWay, WhyAnother
from recipes.lots import finishing
from recipes.lots.models import DyeLot
from recipes.models import DyedYarn
from tests import factories

MOST_QUERIES = 12


def unjudged(lot: DyeLot) -> DyedYarn:
    return DyedYarn.objects.get(colourway=lot.colourway, grade="unjudged")


def good(lot: DyeLot) -> DyedYarn:
    return DyedYarn.objects.get(colourway=lot.colourway, grade="good")


def where(lot: DyeLot) -> dict[tuple[str, str], int]:
    """Pieces of a lot by place and grade."""
    rows = Balance.objects.filter(lot=lot.lot, on_hand__gt=0)
    return {(row.place.name, row.item.dyed.grade): row.on_hand for row in rows}


def move(lot: DyeLot, dyed: DyedYarn, at: str, to: str, pieces: int):
    moving = [Moving(dyed, lot, fixed_place(at), pieces)]
    return stages.move_on(key=uuid.uuid4(), moving=moving, to=fixed_place(to), who=factories.OwnerFactory())


@pytest.mark.django_db
class TestMovingOn:
    def test_part_of_a_lot_goes_straight_to_a_later_stage(self):
        lot = factories.judged_lot(good=5, second=0)

        move(lot, good(lot), "dry", "labelled", 3)

        assert where(lot) == {("Dry", "good"): 2, ("Labelled", "good"): 3}

    def test_an_unjudged_rack_is_said_to_be_dry_and_judged_there(self):
        lot = factories.lot_out(pieces=5)
        move(lot, unjudged(lot), "drying", "dry", 5)

        put_up = finishing.waiting_to_be_judged(lot)[0].put_up
        finishing.judge(
            key=uuid.uuid4(), dye_lot=lot, counts={(put_up.pk, "good"): 4, (put_up.pk, "second"): 1},
            who=factories.OwnerFactory(),
        )  # fmt: skip

        assert where(lot) == {("Dry", "good"): 4, ("Dry", "second"): 1}
        assert breaches() == []

    def test_judged_where_they_lie_the_furthest_first(self):
        lot = factories.lot_out(pieces=5)
        move(lot, unjudged(lot), "drying", "twisted", 2)
        put_up = finishing.waiting_to_be_judged(lot)[0].put_up

        finishing.judge(
            key=uuid.uuid4(), dye_lot=lot, counts={(put_up.pk, "good"): 3}, who=factories.OwnerFactory()
        )

        assert where(lot) == {("Twisted", "good"): 2, ("Dry", "good"): 1, ("Drying", "unjudged"): 2}

    def test_it_never_goes_back(self):
        lot = factories.judged_lot(good=5, second=0)

        with pytest.raises(GoesBack):
            move(lot, good(lot), "dry", "drying", 1)

    def test_not_judged_it_goes_onto_no_shelf(self):
        lot = factories.lot_out(pieces=5)

        with pytest.raises(NotOnTheWay, match="Judge it"):
            stages.move_on(
                key=uuid.uuid4(), moving=[Moving(unjudged(lot), lot, fixed_place("drying"), 5)],
                to=factories.shelf_place(), who=factories.OwnerFactory(),
            )  # fmt: skip

    def test_more_than_is_there_is_refused(self):
        lot = factories.judged_lot(good=2, second=0)

        with pytest.raises(NotEnough):
            move(lot, good(lot), "dry", "twisted", 3)

    def test_held_pieces_go_along_with_their_hold_after_the_free_ones(self):
        owner = factories.OwnerFactory()
        lot = factories.judged_lot(good=5, second=0, who=owner)
        held = holding.hold_by_hand(
            key=uuid.uuid4(), dyed=good(lot), dye_lot=lot, place=fixed_place("dry"), pieces=3,
            for_whom="Ada Reed", until=timezone.localdate() + dt.timedelta(days=2), who=owner,
        )  # fmt: skip

        move(lot, good(lot), "dry", "twisted", 4)

        rows = Held.objects.filter(claim=held.claim, quantity__gt=0)
        assert {row.place.name: row.quantity for row in rows} == {"Dry": 1, "Twisted": 2}
        assert breaches() == []

    def test_what_is_twisted_or_photographed_can_be_put_away_too(self):
        lot, place = factories.judged_lot(good=5, second=0), factories.shelf_place()
        move(lot, good(lot), "dry", "photographed", 3)

        shelf.put_away(
            key=uuid.uuid4(), dye_lot=lot, place=place, who=factories.OwnerFactory(),
            counts={(good(lot).pk, fixed_place(code).pk): n for code, n in (("dry", 2), ("photographed", 3))},
        )  # fmt: skip

        assert where(lot) == {(place.name, "good"): 5}


class TestTheSumHolds(TestCase):
    @settings(max_examples=10, deadline=None)
    @given(moves=st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6), st.integers(1, 5)), max_size=6))
    def test_stages_always_sum_to_what_came_out(self, moves: list[tuple[int, int, int]]):
        lot = factories.lot_out(pieces=5)
        for at, to, pieces in moves:
            codes = stages.STAGES[at], stages.STAGES[to]
            try:
                move(lot, unjudged(lot), *codes, pieces)
            except (GoesBack, NotEnough):
                continue

        total = Balance.objects.filter(lot=lot.lot).aggregate(sum=Sum("on_hand"))["sum"]
        assert total == 5
        assert breaches() == []


def look_again(lot: DyeLot, place: Place, outcome: str, pieces: int = 1, why: str = "a streak", **more):
    return stages.call_it(
        key=uuid.uuid4(), moving=Moving(good(lot), lot, place, pieces), outcome=outcome,
        who=factories.OwnerFactory(), why=why, **more,
    )  # fmt: skip


@pytest.mark.django_db
class TestAnotherLook:
    @pytest.mark.parametrize(
        ("outcome", "left"),
        [("second", {"good": 4, "second": 1}), ("redye", {"good": 4, "redye": 1}), ("gift", {"good": 4})],
    )
    def test_a_good_piece_is_something_else_with_its_reason(self, outcome: str, left: dict[str, int]):
        lot, place, _ = factories.shelved_lot(good=5, second=0)

        movement = look_again(lot, place, outcome)

        assert {grade: pieces for (_, grade), pieces in where(lot).items()} == left
        assert "a streak" in movement.why
        assert breaches() == []

    def test_without_a_reason_it_is_refused(self):
        lot, place, _ = factories.shelved_lot()

        with pytest.raises(WhyAnother):
            look_again(lot, place, "second", why=" ")

    def test_a_held_one_names_whom_it_was_held_for(self):
        lot, place, held = self.held_for_ada(good=3, hold=3)

        with pytest.raises(HeldForSomebody, match="Ada Reed"):
            look_again(lot, place, "second")
        assert Held.objects.get(claim=held.claim).quantity == 3

    def test_the_hold_moves_to_the_next_best_match(self):
        lot, place, held = self.held_for_ada(good=3, hold=3)
        other = factories.judged_lot(
            good=2, second=0, colourway=lot.colourway, put_up=good(lot).put_up, who=held.made_by
        )
        row = Held.objects.get(claim=held.claim)

        best = stages.next_best(held=row, pieces=1)
        assert [each.row.lot for each in best] == [other.lot]
        look_again(lot, place, "second", held=row, instead=best[0].row)

        rows = Held.objects.filter(claim=held.claim, quantity__gt=0)
        assert {each.lot.name: each.quantity for each in rows} == {lot.code: 2, other.code: 1}
        assert breaches() == []

    def test_the_same_lot_is_the_best_match(self):
        lot, _, held = self.held_for_ada(good=4, hold=2)
        factories.judged_lot(good=9, second=0, colourway=lot.colourway, put_up=good(lot).put_up)

        best = stages.next_best(held=Held.objects.get(claim=held.claim), pieces=1)

        assert [each.same_lot for each in best] == [True, False]

    def held_for_ada(self, *, good: int, hold: int):
        owner = factories.OwnerFactory()
        lot, place, dyed = factories.shelved_lot(good=good, second=0, who=owner)
        held = holding.hold_by_hand(
            key=uuid.uuid4(), dyed=dyed, dye_lot=lot, place=place, pieces=hold, for_whom="Ada Reed",
            until=timezone.localdate() + dt.timedelta(days=2), who=owner,
        )  # fmt: skip
        return lot, place, held


@pytest.mark.django_db
class TestPages:
    def test_yesterdays_racks_are_dry_in_one_touch_from_their_page(self, client: Client):
        owner = factories.OwnerFactory()
        with time_machine.travel(timezone.now() - dt.timedelta(days=1)):
            old = [factories.lot_out(pieces=3, who=owner) for _ in range(2)]
        fresh = factories.lot_out(pieces=2, who=owner)
        client.force_login(owner)
        page = client.get(reverse("shelf-way")).content.decode()
        assert "All 6 from before today: dry" in page

        client.post(
            reverse("shelf-way-move", args=["drying"]), {"key": uuid.uuid4(), "all_to": fixed_place("dry").pk}
        )

        assert [where(lot) for lot in old] == [{("Dry", "unjudged"): 3}] * 2
        assert where(fresh) == {("Drying", "unjudged"): 2}

    def test_part_of_a_lot_from_the_page(self, client: Client):
        owner = factories.OwnerFactory()
        lot = factories.judged_lot(good=4, second=0, who=owner)
        client.force_login(owner)
        name = f"n_{good(lot).pk}_{lot.pk}"

        client.post(
            reverse("shelf-way-move", args=["dry"]),
            {"key": uuid.uuid4(), "pick": name, name: "3", "to": fixed_place("twisted").pk},
        )

        assert where(lot) == {("Dry", "good"): 1, ("Twisted", "good"): 3}

    def test_nothing_chosen_is_said_and_nothing_moves(self, client: Client):
        owner = factories.OwnerFactory()
        lot = factories.judged_lot(good=4, second=0, who=owner)
        client.force_login(owner)

        answer = client.post(
            reverse("shelf-way-move", args=["dry"]), {"key": uuid.uuid4(), "to": fixed_place("twisted").pk}
        )

        assert answer.status_code == 422
        assert "Choose at least one lot" in answer.content.decode()
        assert where(lot) == {("Dry", "good"): 4}

    def test_another_look_from_the_page(self, client: Client):
        owner = factories.OwnerFactory()
        lot, place, dyed = factories.shelved_lot(good=4, second=0, who=owner)
        client.force_login(owner)

        client.post(
            reverse("call-it", args=[lot.code, dyed.pk, place.pk]),
            {"key": uuid.uuid4(), "pieces": 2, "outcome": "sample", "why": "short weight"},
        )

        assert where(lot) == {(place.name, "good"): 2, (place.name, "sample"): 2}

    def test_however_many_lots_the_queries_stay_few(self, client, django_assert_max_num_queries):
        factories.studio()
        for _ in range(6):
            factories.lot_out(pieces=1)
        client.force_login(factories.OwnerFactory())

        with django_assert_max_num_queries(MOST_QUERIES):
            client.get(reverse("shelf-way"))
