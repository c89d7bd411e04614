"""The shelf: what is put away, moved on and counted; the sum of a lot changes by a count with a reason only."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.db.models import Sum
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from dyehouse.ledger.models import Balance, Line
from dyehouse.ledger.places import fixed_place
from inventory import shelf
from inventory.shelf import NotForTheShelf, PlaceNameTaken, PlaceNotEmpty, ReasonMissing
from recipes.colourways import keep_secret
from recipes.lots.models import DyeLot
from recipes.models import DyedYarn
from tests import factories

MOST_QUERIES = 12


def pieces_of(lot: DyeLot) -> int:
    return Balance.objects.filter(lot=lot.lot).aggregate(sum=Sum("on_hand"))["sum"] or 0


def good_of(lot: DyeLot) -> DyedYarn:
    return DyedYarn.objects.get(colourway=lot.colourway, grade=DyedYarn.Grade.GOOD)


@pytest.mark.django_db
class TestPuttingAway:
    def test_counted_pieces_go_from_dry_to_the_place(self):
        lot, place = factories.judged_lot(good=4, second=1), factories.shelf_place("Shelf A3")
        good = good_of(lot)

        shelf.move_to_shelf(
            key=uuid.uuid4(), dye_lot=lot, place=place, counts={good.pk: 3}, who=factories.OwnerFactory()
        )

        there = dict(
            Balance.objects.filter(item=good.item, on_hand__gt=0).values_list("place__name", "on_hand")
        )
        assert there == {"Dry": 1, "Shelf A3": 3}

    def test_the_same_key_again_moves_once(self):
        lot, place, key = factories.judged_lot(good=4), factories.shelf_place(), uuid.uuid4()

        for _ in range(2):
            shelf.move_to_shelf(
                key=key, dye_lot=lot, place=place, counts={good_of(lot).pk: 2}, who=factories.OwnerFactory()
            )

        assert Balance.objects.get(place=place, item=good_of(lot).item).on_hand == 2

    def test_more_than_the_book_has_is_refused_with_both_numbers(self):
        lot = factories.judged_lot(good=4)

        with pytest.raises(NotForTheShelf, match="5 are counted and the book has 4 good in Dry"):
            shelf.move_to_shelf(
                key=uuid.uuid4(),
                dye_lot=lot,
                place=factories.shelf_place(),
                counts={good_of(lot).pk: 5},
                who=factories.OwnerFactory(),
            )

    def test_what_is_not_judged_does_not_go_to_a_shelf(self):
        lot = factories.lot_out()
        unjudged = DyedYarn.objects.get(colourway=lot.colourway)

        with pytest.raises(NotForTheShelf, match="not judged yet"):
            shelf.move_to_shelf(
                key=uuid.uuid4(),
                dye_lot=lot,
                place=factories.shelf_place(),
                counts={unjudged.pk: 1},
                who=factories.OwnerFactory(),
            )

    def test_two_places_cannot_have_one_name(self):
        factories.shelf_place("Shelf A3")

        with pytest.raises(PlaceNameTaken, match="There is a place called shelf a3 already"):
            shelf.add_shelf_place(name=" shelf  a3 ")

    def test_names_that_shorten_alike_are_two_places(self):
        assert shelf.add_shelf_place(name="Shelf!").code != shelf.add_shelf_place(name="Shelf?").code


@pytest.mark.django_db
class TestTheCountAgainstTheBook:
    def test_where_the_book_follows_the_difference_is_posted_with_the_move(self):
        lot, place = factories.judged_lot(good=4), factories.shelf_place()
        good = good_of(lot)

        moved = shelf.move_to_shelf(
            key=uuid.uuid4(),
            dye_lot=lot,
            place=place,
            counts={good.pk: 3},
            who=factories.OwnerFactory(),
            why="one was given away",
            book_follows=True,
        )

        lines = [
            (line.quantity, line.from_place.code, line.to_place.name)
            for line in moved.lines.order_by("number")
        ]
        assert lines == [(1, "dry", "Count difference"), (3, "dry", place.name)]
        assert moved.why == "one was given away"
        assert not Balance.objects.filter(place__code="dry", item=good.item, on_hand__gt=0).exists()

    def test_more_than_the_book_has_is_found_and_moved(self):
        lot, place = factories.judged_lot(good=4), factories.shelf_place()

        shelf.move_to_shelf(
            key=uuid.uuid4(),
            dye_lot=lot,
            place=place,
            counts={good_of(lot).pk: 5},
            who=factories.OwnerFactory(),
            why="one hung elsewhere",
            book_follows=True,
        )

        assert Balance.objects.get(place=place).on_hand == 5

    def test_the_book_follows_with_a_reason_only(self):
        lot = factories.judged_lot(good=4)

        with pytest.raises(ReasonMissing):
            shelf.move_to_shelf(
                key=uuid.uuid4(),
                dye_lot=lot,
                place=factories.shelf_place(),
                counts={good_of(lot).pk: 3},
                who=factories.OwnerFactory(),
                book_follows=True,
            )

        assert pieces_of(lot) == 5


@pytest.mark.django_db
class TestPlaces:
    def test_a_place_is_renamed_and_what_lies_there_stays(self):
        _, place, good = factories.shelved_lot(good=4)

        shelf.rename_shelf_place(place=place, name="Bin 7")

        assert Balance.objects.get(place__name="Bin 7", item=good.item).on_hand == 4

    def test_a_place_with_something_in_it_is_not_closed(self):
        _, place, _ = factories.shelved_lot(good=4)

        with pytest.raises(PlaceNotEmpty, match="4 pieces lie in"):
            shelf.close_shelf_place(place=place)

    def test_a_closed_place_takes_nothing_until_it_is_added_again(self):
        lot, place = factories.judged_lot(good=4), factories.shelf_place("Shelf A3")
        asked = {"dye_lot": lot, "counts": {good_of(lot).pk: 1}, "who": factories.OwnerFactory()}
        closed = shelf.close_shelf_place(place=place)

        with pytest.raises(NotForTheShelf, match="not a shelf place that is in use"):
            shelf.move_to_shelf(key=uuid.uuid4(), place=closed, **asked)

        opened = shelf.add_shelf_place(name="shelf a3")
        assert opened == place
        shelf.move_to_shelf(key=uuid.uuid4(), place=opened, **asked)


@pytest.mark.django_db
class TestCounting:
    def test_a_difference_is_posted_with_its_reason(self):
        lot, place, good = factories.shelved_lot(good=4)

        shelf.correct_count(
            key=uuid.uuid4(),
            dyed=good,
            dye_lot=lot,
            place=place,
            counted=3,
            who=factories.OwnerFactory(),
            why="sold at the door",
        )

        assert Balance.objects.get(place=place, item=good.item).on_hand == 3
        line = Line.objects.get(to_place__code="count_difference")
        assert (line.quantity, line.movement.why) == (1, "sold at the door")

    def test_without_a_reason_the_book_stays(self):
        lot, place, good = factories.shelved_lot(good=4)

        with pytest.raises(ReasonMissing):
            shelf.correct_count(
                key=uuid.uuid4(),
                dyed=good,
                dye_lot=lot,
                place=place,
                counted=3,
                who=factories.OwnerFactory(),
                why=" ",
            )

        assert Balance.objects.get(place=place, item=good.item).on_hand == 4

    def test_a_count_that_agrees_posts_nothing(self):
        lot, place, good = factories.shelved_lot(good=4)

        assert (
            shelf.correct_count(
                key=uuid.uuid4(),
                dyed=good,
                dye_lot=lot,
                place=place,
                counted=4,
                who=factories.OwnerFactory(),
                why="again",
            )
            is None
        )


class TestMovingAbout(TestCase):
    @given(st.lists(st.tuples(st.integers(0, 3), st.integers(0, 3), st.integers(1, 5)), max_size=10))
    @settings(max_examples=20, deadline=None)
    def test_moving_never_changes_how_many_there_are(self, moves):
        factories.studio()
        lot, first, good = factories.shelved_lot(good=5, second=0)
        places = [first, *(factories.shelf_place() for _ in range(3))]

        for source, target, pieces in moves:
            if source == target:
                continue
            there = (
                Balance.objects.filter(place=places[source], item=good.item)
                .values_list("on_hand", flat=True)
                .first()
            )
            counts = {"dye_lot": lot, "counts": {good.pk: pieces}, "who": factories.OwnerFactory()}
            if pieces > (there or 0):
                with pytest.raises(NotForTheShelf):
                    shelf.move_to_shelf(
                        key=uuid.uuid4(), source=places[source], place=places[target], **counts
                    )
            else:
                shelf.move_to_shelf(key=uuid.uuid4(), source=places[source], place=places[target], **counts)
            assert pieces_of(lot) == 5


@pytest.mark.django_db
class TestPages:
    @pytest.fixture(autouse=True)
    def studio(self):
        return factories.studio()

    @pytest.fixture
    def marit(self):
        return factories.OwnerFactory()

    @pytest.fixture
    def owner(self, marit) -> Client:
        client = Client()
        client.force_login(marit)
        return client

    def test_a_lot_is_put_away_from_its_page(self, owner, marit):
        lot, place = factories.judged_lot(who=marit, good=4, second=1), factories.shelf_place("Shelf A3")

        answer = owner.post(
            reverse("shelf-move", args=[lot.code]),
            {
                "key": uuid.uuid4(),
                "place": place.pk,
                f"count_{good_of(lot).pk}_{fixed_place('dry').pk}": 4,
                f"count_{DyedYarn.objects.get(grade=DyedYarn.Grade.SECOND).pk}_{fixed_place('dry').pk}": 0,
            },
        )

        assert answer.status_code == 303
        page = owner.get(reverse("shelf")).content.decode()
        assert lot.code in page
        assert "Waits for a shelf" in page  # the second is still dry

    def test_a_wrong_count_stands_on_the_page_and_moves_nothing(self, owner, marit):
        lot, place = factories.judged_lot(who=marit, good=4), factories.shelf_place()

        answer = owner.post(
            reverse("shelf-move", args=[lot.code]),
            {"place": place.pk, f"count_{good_of(lot).pk}_{fixed_place('dry').pk}": 9},
        )

        assert answer.status_code == 422
        assert "9 are counted and the book has 4" in answer.content.decode()

    def test_fewer_with_a_reason_puts_the_book_right(self, owner, marit):
        lot, place = factories.judged_lot(who=marit, good=4, second=0), factories.shelf_place()
        sent = {"place": place.pk, f"count_{good_of(lot).pk}_{fixed_place('dry').pk}": 3, "rest": "gone"}
        address = reverse("shelf-move", args=[lot.code])

        refused = owner.post(address, sent)
        accepted = owner.post(address, {**sent, "why": "one was given away"})

        assert refused.status_code == 422
        assert "Say in a few words why the book is wrong." in refused.content.decode()
        assert accepted.status_code == 303
        assert pieces_of(lot) == 3

    def test_a_place_is_closed_from_its_page_once_it_is_empty(self, owner, marit):
        _, place, _ = factories.shelved_lot(who=marit)
        empty = factories.shelf_place("Old bin")

        kept = owner.post(reverse("shelf-place-close", args=[place.pk]), follow=True).content.decode()
        gone = owner.post(reverse("shelf-place-close", args=[empty.pk]), follow=True).content.decode()

        assert f"pieces lie in {place.name}" in kept
        assert "Old bin is not in use any more." in gone
        assert "Old bin" not in owner.get(reverse("shelf")).content.decode()

    def test_colourways_are_turned_page_by_page_and_none_is_left_out(self, owner, marit):
        put_up, place = factories.put_up(pieces=200, who=marit), factories.shelf_place()
        lots = [
            factories.shelved_lot(who=marit, put_up=put_up, good=1, second=0, place=place)[0]
            for _ in range(27)
        ]

        pages = "".join(owner.get(reverse("shelf"), {"page": page}).content.decode() for page in (1, 2))

        assert all(lot.code in pages for lot in lots)

    def test_a_helpers_search_never_finds_a_secret_name(self, marit):
        lot, _, _ = factories.shelved_lot(who=marit, colourway=factories.colourway("Tin Roof"))
        keep_secret(colourway=lot.colourway, until=timezone.now() + dt.timedelta(days=3))
        helper = Client()
        helper.force_login(factories.HelperFactory())

        assert lot.code not in helper.get(reverse("shelf"), {"find": "Tin Roof"}).content.decode()
        by_code = helper.get(reverse("shelf"), {"find": lot.code}).content.decode()
        assert lot.code in by_code
        assert "Tin Roof" not in by_code

    def test_the_pages_take_no_more_queries_with_a_hundred_times_the_rows(
        self, owner, marit, django_assert_max_num_queries
    ):
        put_up = factories.put_up(pieces=500, who=marit)
        place = factories.shelf_place()
        for _ in range(60):
            factories.shelved_lot(who=marit, put_up=put_up, good=2, second=1, place=place)

        for name in ("shelf", "day", "labels"):
            owner.get(reverse(name))
            with django_assert_max_num_queries(MOST_QUERIES):
                assert owner.get(reverse(name)).status_code == 200
