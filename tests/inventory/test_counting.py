"""Counting a place: stopped and resumed, what moved meanwhile told apart, settled once with a reason."""

from __future__ import annotations

import datetime as dt
import io
import uuid

import pytest
import segno
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase
from PIL import Image

from dyehouse.ledger.models import AgreedCount, Balance, Line, Place
from dyehouse.ledger.operations import Bucket, Step, post
from dyehouse.ledger.places import fixed_place
from dyehouse.ledger.verify import breaches
from dyehouse.studio.codes import make_code
from dyehouse.studio.images import PhotoRefused
from inventory import counting, holding
from inventory.counting import HeldMissing, NotACount, RoundClosed, WhyDiffers
from inventory.models import Counted, CountRound
from inventory.scanning import NoCodeSeen, code_in_picture
from recipes.lots.models import DyeLot
from recipes.models import DyedYarn
from tests import factories

MOST_QUERIES = 12


class Shelf:
    """A shelf with one lot of ten good pieces, being counted by its owner."""

    def __init__(self, pieces: int = 10) -> None:
        self.who = factories.OwnerFactory()
        lot, place, dyed = factories.shelved_lot(good=pieces, second=0, who=self.who)
        self.lot: DyeLot = lot
        self.place: Place = place
        self.dyed: DyedYarn = dyed
        self.round: CountRound = counting.count_place(place=place, who=self.who)

    def count(self, pieces: int) -> None:
        counting.count_row(
            round=self.round, item=self.dyed.item, lot=self.lot.lot, pieces=pieces, who=self.who
        )

    def sell(self, pieces: int) -> None:
        step = Step(self.dyed.item, self.lot.lot, pieces, Bucket(self.place), Bucket(fixed_place("customer")))
        post(key=uuid.uuid4(), who=self.who, steps=[step])

    def settle(self, why: str = "sold at the door", **more):
        return counting.settle(round=self.round, key=uuid.uuid4(), who=self.who, why=why, **more)

    @property
    def on_hand(self) -> int:
        return Balance.objects.get(item=self.dyed.item, lot=self.lot.lot, place=self.place).on_hand

    @property
    def field(self) -> str:
        return f"n_{self.dyed.item_id}_{self.lot.lot_id}"


@pytest.mark.django_db
class TestSettling:
    def test_a_row_that_agrees_with_the_book_is_kept_as_counted(self):
        shelf = Shelf(10)
        shelf.count(10)

        assert shelf.settle("") is None

        agreed = AgreedCount.objects.get()
        assert (agreed.item, agreed.lot, agreed.place, agreed.quantity) == (
            shelf.dyed.item,
            shelf.lot.lot,
            shelf.place,
            10,
        )

    def test_the_book_follows_the_count_with_its_reason(self):
        shelf = Shelf(10)
        shelf.count(8)

        movement = shelf.settle("two given away")

        assert shelf.on_hand == 8
        assert movement is not None
        assert "two given away" in movement.why
        assert Line.objects.get(movement=movement).to_place.code == "count_difference"
        assert breaches() == []

    def test_what_was_sold_after_it_was_counted_is_not_taken_twice(self):
        shelf = Shelf(10)
        shelf.count(9)
        shelf.sell(3)

        row = counting.state_of(shelf.round).rows[0]
        assert (row.difference, row.moved, row.will_be) == (-1, -3, 6)
        shelf.settle()

        assert shelf.on_hand == 6

    def test_a_count_that_agrees_moves_nothing_and_closes_the_round(self):
        shelf = Shelf(10)
        shelf.count(10)

        assert shelf.settle("") is None
        shelf.round.refresh_from_db()
        assert shelf.round.closed_at is not None

    def test_counting_again_replaces_the_number_and_keeps_both_on_record(self):
        shelf = Shelf(10)
        shelf.count(4)
        shelf.count(9)
        shelf.settle()

        assert shelf.on_hand == 9
        assert list(Counted.objects.order_by("id").values_list("pieces", flat=True)) == [4, 9]

    def test_what_was_not_counted_stays_unless_it_is_said_to_be_gone(self):
        for gone, left in ((False, 10), (True, 0)):
            shelf = Shelf(10)
            other, _, _ = factories.shelved_lot(place=shelf.place, good=2, who=shelf.who)
            item = DyedYarn.objects.get(colourway=other.colourway, grade="good").item
            counting.count_row(round=shelf.round, item=item, lot=other.lot, pieces=2, who=shelf.who)

            shelf.settle("gone", rest_is_gone=gone)

            assert shelf.on_hand == left

    def test_what_the_book_has_elsewhere_is_found_here(self):
        shelf, other = Shelf(10), factories.shelved_lot()[0]
        item = DyedYarn.objects.get(colourway=other.colourway, grade="good").item
        counting.count_row(round=shelf.round, item=item, lot=other.lot, pieces=2, who=shelf.who)

        shelf.settle("lay in the wrong bin")

        assert Balance.objects.get(item=item, lot=other.lot, place=shelf.place).on_hand == 2

    def test_a_difference_without_a_reason_is_refused_and_the_round_stays_open(self):
        shelf = Shelf(10)
        shelf.count(8)

        with pytest.raises(WhyDiffers):
            shelf.settle(" ")
        shelf.round.refresh_from_db()
        assert (shelf.on_hand, shelf.round.closed_at) == (10, None)

    def test_fewer_than_are_held_is_refused(self):
        shelf = Shelf(4)
        holding.hold_by_hand(
            key=uuid.uuid4(), dyed=shelf.dyed, dye_lot=shelf.lot, place=shelf.place, pieces=3,
            for_whom="Ada Reed", until=timezone.localdate() + dt.timedelta(days=1), who=shelf.who,
        )  # fmt: skip
        shelf.count(2)

        with pytest.raises(HeldMissing, match="3 of"):
            shelf.settle()
        assert shelf.on_hand == 4

    def test_more_left_since_than_was_counted_asks_for_another_count(self):
        shelf = Shelf(10)
        shelf.count(2)
        shelf.sell(5)

        with pytest.raises(NotACount, match="Count it again"):
            shelf.settle()

    def test_settled_once(self):
        shelf, key = Shelf(10), uuid.uuid4()
        shelf.count(8)
        for _ in range(2):
            counting.settle(round=shelf.round, key=key, who=shelf.who, why="sold")

        assert shelf.on_hand == 8
        with pytest.raises(RoundClosed):
            shelf.settle()
        with pytest.raises(RoundClosed):
            shelf.count(3)

    def test_a_place_has_one_open_round(self):
        shelf = Shelf()

        assert counting.count_place(place=shelf.place, who=factories.HelperFactory()) == shelf.round

    def test_outside_the_house_nothing_is_counted(self):
        with pytest.raises(NotACount):
            counting.count_place(place=fixed_place("customer"), who=factories.OwnerFactory())


class TestWhateverMovesMeanwhile(TestCase):
    @settings(max_examples=10, deadline=None)
    @given(there=st.integers(3, 12), really=st.integers(3, 12), sold=st.integers(0, 3))
    def test_what_is_there_in_the_end_is_the_count_less_what_left_since(
        self, there: int, really: int, sold: int
    ):
        shelf = Shelf(there)
        shelf.count(really)
        if sold:
            shelf.sell(sold)

        shelf.settle("counted")

        assert shelf.on_hand == really - sold
        assert breaches() == []


@pytest.mark.django_db
class TestPages:
    def test_a_count_is_interrupted_and_goes_on_where_it_stopped(self, client: Client):
        shelf = Shelf(10)
        client.force_login(shelf.who)
        client.post(reverse("count-round", args=[shelf.round.pk]), {shelf.field: "8"})
        client.logout()
        client.force_login(factories.HelperFactory())

        started = client.post(reverse("count-start", args=[shelf.place.pk]))
        page = client.get(started["Location"]).content.decode()

        assert started["Location"] == reverse("count-round", args=[shelf.round.pk])
        assert 'value="8"' in page
        client.post(
            reverse("count-settle", args=[shelf.round.pk]),
            {"key": uuid.uuid4(), "why": "two sold at the door"},
        )
        assert shelf.on_hand == 8

    def test_no_number_is_refused_beside_its_row_and_kept_as_typed(self, client: Client):
        shelf = Shelf(10)
        client.force_login(shelf.who)

        answer = client.post(reverse("count-round", args=[shelf.round.pk]), {shelf.field: "eight"})

        assert answer.status_code == 422
        assert "Write a whole number" in answer.content.decode()
        assert 'value="eight"' in answer.content.decode()
        assert not Counted.objects.exists()

    def test_the_pages_own_script_is_told_that_it_is_kept(self, client: Client):
        shelf = Shelf(10)
        client.force_login(shelf.who)
        headers = {"HX-Request": "true"}

        kept = client.post(reverse("count-round", args=[shelf.round.pk]), {shelf.field: "8"}, headers=headers)
        wrong = client.post(
            reverse("count-round", args=[shelf.round.pk]), {shelf.field: "x"}, headers=headers
        )

        assert kept.json() == {"errors": {}}
        assert list(wrong.json()["errors"]) == [shelf.field]

    def test_a_typed_code_marks_its_row_and_one_from_elsewhere_is_offered(self, client: Client):
        shelf, other = Shelf(10), factories.shelved_lot()[0]
        client.force_login(shelf.who)
        address = reverse("count-round", args=[shelf.round.pk])

        here = client.get(address, {"code": shelf.lot.code.lower()}).content.decode()
        elsewhere = client.get(address, {"code": other.code}).content.decode()
        nothing = client.get(address, {"code": "ZZZZ9"}).content.decode()

        assert "count-asked" in here
        assert f'The book has none of <span class="code">{other.code}</span>' in elsewhere
        assert "No lot or kit has the code" in nothing

    def test_however_many_rows_the_queries_stay_few(self, client, django_assert_max_num_queries):
        factories.studio()
        shelf = Shelf(3)
        for _ in range(6):
            factories.shelved_lot(place=shelf.place, who=shelf.who)
        shelf.count(2)
        client.force_login(shelf.who)

        with django_assert_max_num_queries(MOST_QUERIES):
            client.get(reverse("count-round", args=[shelf.round.pk]), {"code": shelf.lot.code})
        with django_assert_max_num_queries(MOST_QUERIES):
            client.get(reverse("counts"))


def picture_of(text: str, *, turned: int = 0) -> io.BytesIO:
    """A photo of a QR code on a tag, perhaps held aslant."""
    drawn = io.BytesIO()
    segno.make_qr(text).save(drawn, kind="png", scale=8, border=4)
    tag = Image.new("RGB", (900, 900), "#d8d2c4")
    code = Image.open(drawn).convert("RGB")
    tag.paste(code, ((900 - code.width) // 2, (900 - code.height) // 2))
    photo = io.BytesIO()
    tag.rotate(turned, fillcolor="#d8d2c4").save(photo, "JPEG", quality=80)
    photo.seek(0)
    return photo


class TestScanning:
    @pytest.mark.parametrize("turned", [0, 17, 90])
    def test_the_code_on_a_tag_is_read_however_it_is_held(self, turned: int):
        code = make_code()

        assert code_in_picture(picture_of(code, turned=turned)) == code

    def test_a_code_of_something_else_is_said_to_be_no_code_of_the_house(self):
        with pytest.raises(NoCodeSeen, match="none of the house's"):
            code_in_picture(picture_of("5901234123457"))

    def test_a_picture_without_a_code_says_what_to_do(self):
        with pytest.raises(NoCodeSeen, match="type the code"):
            code_in_picture(factories.photo_file(size=(300, 300)))

    def test_what_is_no_picture_is_refused(self):
        with pytest.raises(PhotoRefused):
            code_in_picture(io.BytesIO(b"not a picture"))

    @pytest.mark.django_db
    def test_a_photo_leads_on_to_the_row(self, client: Client):
        shelf = Shelf(3)
        client.force_login(shelf.who)
        back = reverse("count-round", args=[shelf.round.pk])
        photo = picture_of(shelf.lot.code)
        photo.name = "tag.jpg"

        answer = client.post(reverse("scan"), {"picture": photo, "next": back})

        assert answer["Location"] == f"{back}?code={shelf.lot.code}"

    @pytest.mark.django_db
    def test_the_camera_is_answered_with_the_code_or_a_sentence(self, client: Client):
        client.force_login(factories.HelperFactory())
        code = make_code()
        photo, blank = picture_of(code), factories.photo_file(size=(300, 300))
        photo.name = "still.jpg"

        seen = client.post(reverse("scan"), {"picture": photo}, headers={"HX-Request": "true"})
        nothing = client.post(reverse("scan"), {"picture": blank}, headers={"HX-Request": "true"})

        assert seen.json() == {"code": code}
        assert nothing.status_code == 422

    @pytest.mark.django_db
    def test_it_leads_to_no_other_house(self, client: Client):
        client.force_login(factories.HelperFactory())
        photo = picture_of(make_code())
        photo.name = "tag.jpg"

        answer = client.post(reverse("scan"), {"picture": photo, "next": "https://elsewhere.example/"})

        assert answer["Location"].startswith(reverse("find"))
