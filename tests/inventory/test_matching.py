"""Sets for one person: of one lot, else of lots that match by eye, else of as few as can be; refused, the next best."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from dyehouse.ledger.models import Held
from dyehouse.ledger.verify import breaches
from inventory import holding, matching
from inventory.matching import NotAMatch, NotASet
from recipes.lots.models import DyeLot
from recipes.models import DyedYarn
from tests import factories


def lots_of(*amounts: int) -> tuple[DyedYarn, list[DyeLot]]:
    """One colourway on one yarn, a shelved lot for each amount."""
    owner, put_up = factories.OwnerFactory(), factories.put_up(pieces=sum(amounts))
    colourway = factories.colourway()
    lots = [
        factories.shelved_lot(good=each, second=0, who=owner, put_up=put_up, colourway=colourway)[0]
        for each in amounts
    ]
    return DyedYarn.objects.get(colourway=colourway, put_up=put_up, grade="good"), lots


def match(one: DyeLot, other: DyeLot):
    return matching.say_they_match(one=one, other=other, who=factories.OwnerFactory())


def lots_offered(dyed: DyedYarn, pieces: int) -> list[list[str]]:
    return [offer.lots for offer in matching.offers(dyed=dyed, pieces=pieces)]


@pytest.mark.django_db
class TestOffers:
    def test_one_lot_that_is_just_enough_comes_first_then_larger_ones(self):
        dyed, (five, three, eight) = lots_of(5, 3, 8)

        offered = lots_offered(dyed, 3)

        assert offered[:3] == [[three.code], [five.code], [eight.code]]

    def test_lots_that_match_by_eye_count_as_one(self):
        dyed, (first, second, _) = lots_of(3, 3, 4)
        match(first, second)

        best = matching.offers(dyed=dyed, pieces=6)[0]

        assert best.lots == sorted([first.code, second.code])
        assert best.together == "Of 2 lots that match by eye."

    def test_two_lots_match_through_one_that_is_sold_out(self):
        dyed, (first, second) = lots_of(3, 3)
        between = factories.lot_out(colourway=dyed.colourway)
        match(first, between)
        match(between, second)

        assert matching.offers(dyed=dyed, pieces=6)[0].groups == [[first.code, second.code]]

    def test_of_as_few_lots_as_can_be_where_none_has_enough(self):
        dyed, (_, four, three) = lots_of(2, 4, 3)

        best = matching.offers(dyed=dyed, pieces=7)[0]

        assert best.lots == sorted([four.code, three.code])
        assert "not found to match" in best.together

    def test_refused_the_next_best_is_another_set(self):
        dyed, _ = lots_of(4, 4, 4)

        offered = lots_offered(dyed, 4)

        assert len(offered) == len({tuple(each) for each in offered}) >= 3

    def test_a_match_that_was_taken_back_counts_no_more(self):
        dyed, (first, second) = lots_of(3, 3)
        matching.take_match_back(match=match(first, second))

        assert len(matching.offers(dyed=dyed, pieces=6)[0].groups) == 2

    def test_what_is_held_is_not_offered(self):
        dyed, (lot,) = lots_of(4)
        row = matching.offers(dyed=dyed, pieces=1)[0].taken[0].row
        holding.hold_by_hand(
            key=uuid.uuid4(), dyed=dyed, dye_lot=lot, place=row.place, pieces=3, for_whom="Ada Reed",
            until=timezone.localdate() + dt.timedelta(days=1), who=factories.OwnerFactory(),
        )  # fmt: skip

        with pytest.raises(NotASet, match="1 of these are free and 2 are wanted"):
            matching.offers(dyed=dyed, pieces=2)

    def test_a_lot_matches_another_of_its_colourway_only(self):
        _, (first,) = lots_of(1)
        with pytest.raises(NotAMatch):
            match(first, first)
        with pytest.raises(NotAMatch, match="another colourway"):
            match(first, factories.lot_out())


class TestEverySet(TestCase):
    @settings(max_examples=12, deadline=None)
    @given(amounts=st.lists(st.integers(1, 5), min_size=1, max_size=4), pieces=st.integers(1, 8))
    def test_it_has_as_many_as_were_asked_for_and_the_first_is_of_the_fewest_lots(
        self, amounts: list[int], pieces: int
    ):
        dyed, _ = lots_of(*amounts)
        if sum(amounts) < pieces:
            with pytest.raises(NotASet):
                matching.offers(dyed=dyed, pieces=pieces)
            return

        found = matching.offers(dyed=dyed, pieces=pieces)

        assert all(sum(each.pieces for each in offer.taken) == pieces for offer in found)
        assert all(each.pieces <= each.row.free for offer in found for each in offer.taken)
        fewest = next(
            count
            for count in range(1, len(amounts) + 1)
            if sum(sorted(amounts, reverse=True)[:count]) >= pieces
        )
        assert len(found[0].lots) == fewest


@pytest.mark.django_db
class TestPages:
    def test_a_set_is_put_aside_lot_by_lot(self, client: Client):
        dyed, _ = lots_of(2, 2)
        client.force_login(factories.OwnerFactory())

        answer = client.post(
            reverse("matching-set", args=[dyed.pk]),
            {
                "key": uuid.uuid4(),
                "pieces": 4,
                "for_whom": "Ada Reed",
                "until": f"{timezone.localdate():%Y-%m-%d}",
            },
        )

        assert answer["Location"] == reverse("holds")
        assert sum(row.quantity for row in Held.objects.filter(quantity__gt=0)) == 4
        assert breaches() == []

    def test_too_many_are_said_with_what_was_asked(self, client: Client):
        dyed, _ = lots_of(2)
        client.force_login(factories.OwnerFactory())

        page = client.get(reverse("matching-set", args=[dyed.pk]), {"pieces": 9}).content.decode()

        assert "2 of these are free and 9 are wanted" in page
        assert 'value="9"' in page

    def test_a_match_is_said_and_taken_back(self, client: Client):
        _, (first, second) = lots_of(1, 1)
        client.force_login(factories.OwnerFactory())
        address = reverse("lot-matches", args=[first.code])

        client.post(address, {"code": second.code.lower(), "words": "in the window"})
        assert "in the window" in client.get(address).content.decode()
        client.post(reverse("match-back", args=[first.code, matching.matches_of(first)[0].pk]))

        assert matching.matches_of(first) == []

    def test_a_code_that_nothing_has_is_refused_beside_it(self, client: Client):
        _, (first,) = lots_of(1)
        client.force_login(factories.OwnerFactory())

        answer = client.post(reverse("lot-matches", args=[first.code]), {"code": "ZZZZ9"})

        assert answer.status_code == 422
        assert 'value="ZZZZ9"' in answer.content.decode()
