"""Put-ups change: the lot stays, grams in are grams out and waste, what is held stays, and it can be taken back."""

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
from dyehouse.ledger.operations import AlreadyReversed, NotEnough
from dyehouse.ledger.operations import ReasonMissing as LedgerReasonMissing
from dyehouse.ledger.verify import breaches
from inventory import holding, putups
from inventory.models import PutUpChange
from inventory.putups import Dyed, MoreOutThanIn, NotFree, NotWound, Undyed, WhyWaste
from recipes import yarn
from recipes.colourways import dyed_yarn
from recipes.models import DyedYarn, PutUp
from tests import factories

MOST_QUERIES = 12


class Skeins:
    """Good 100 g skeins of one lot on a shelf, and the other weights their base is put up in."""

    def __init__(self, pieces: int = 5) -> None:
        self.who = factories.OwnerFactory()
        self.lot, self.place, self.yarn = factories.shelved_lot(good=pieces, second=0, who=self.who)
        base = self.yarn.put_up.base
        self.minis = yarn.add_put_up(base=base, nominal_milligrams=20_000, metres=80, name="mini")
        self.halves = yarn.add_put_up(base=base, nominal_milligrams=50_000, name="half skein")

    @property
    def of(self) -> Dyed:
        return Dyed(self.yarn, self.lot, self.place)

    def wind(self, pieces: int, made: dict[PutUp, int], why: str = "", **more):
        return putups.change_put_up(
            key=more.pop("key", uuid.uuid4()), of=self.of, pieces=pieces, made=made, who=self.who, why=why
        )

    def there(self, put_up: PutUp) -> int:
        rows = Balance.objects.filter(
            item__dyed__put_up=put_up, item__dyed__grade="good", lot=self.lot.lot, place=self.place
        )
        return rows.aggregate(sum=Sum("on_hand"))["sum"] or 0

    def hold(self, pieces: int) -> None:
        holding.hold_by_hand(
            key=uuid.uuid4(), dyed=self.yarn, dye_lot=self.lot, place=self.place, pieces=pieces,
            for_whom="Ada Reed", until=timezone.localdate() + dt.timedelta(days=3), who=self.who,
        )  # fmt: skip


@pytest.mark.django_db
class TestWindingOff:
    def test_a_skein_becomes_five_minis_of_the_same_lot_in_the_same_place(self):
        shelf, key = Skeins(5), uuid.uuid4()

        change = shelf.wind(1, {shelf.minis: 5}, key=key)
        again = shelf.wind(1, {shelf.minis: 5}, key=key)

        assert again == change
        assert (shelf.there(shelf.yarn.put_up), shelf.there(shelf.minis)) == (4, 5)
        assert change.waste_milligrams == 0
        assert list(
            Line.objects.filter(movement=change.movement)
            .order_by("number")
            .values_list("lot__name", "quantity", "from_place__code", "to_place__code")
        ) == [
            (shelf.lot.code, 1, shelf.place.code, "consumed"),
            (shelf.lot.code, 5, "made", shelf.place.code),
        ]
        assert breaches() == []

    def test_what_is_lost_is_named_with_its_reason_and_its_working(self):
        shelf = Skeins(3)

        with pytest.raises(WhyWaste, match="20 g are lost"):
            shelf.wind(2, {shelf.minis: 4, shelf.halves: 2})
        change = shelf.wind(2, {shelf.minis: 4, shelf.halves: 2}, "ties and ends")

        assert (change.waste_milligrams, change.waste_why) == (20_000, "ties and ends")
        line = putups.changes(user=shelf.who, dye_lot=shelf.lot)[0]
        assert line.words == "2 × 100 g into 4 × 20 g and 2 × 50 g; 20 g lost, ties and ends"
        # 2 × 100 − 4 × 20 − 2 × 50 = 20, by hand.
        assert line.figure.working.substitution == "2 × 100 g − 4 × 20 g − 2 × 50 g"
        assert line.figure.working.result == "20 g"

    def test_half_skeins_become_a_skein_again_and_a_cone_of_undyed_yarn_keeps_its_mill_lot(self):
        shelf = Skeins(2)
        shelf.wind(2, {shelf.halves: 4})
        halves = dyed_yarn(colourway=shelf.lot.colourway, put_up=shelf.halves, grade="good")
        putups.change_put_up(
            key=uuid.uuid4(), of=Dyed(halves, shelf.lot, shelf.place), pieces=3,
            made={shelf.yarn.put_up: 1}, who=shelf.who, why="a knotted half",
        )  # fmt: skip
        assert (shelf.there(shelf.yarn.put_up), shelf.there(shelf.halves)) == (1, 1)

        cone = factories.put_up(grams=1000, pieces=2)
        skein = yarn.add_put_up(base=cone.base, nominal_milligrams=100_000)
        mill_lot = cone.base.mill_lots.get()
        change = putups.change_put_up(
            key=uuid.uuid4(), of=Undyed(cone, mill_lot), pieces=1, made={skein: 9}, who=shelf.who,
            why="left on the cone",
        )  # fmt: skip

        assert (change.mill_lot, change.dye_lot, change.waste_milligrams) == (mill_lot, None, 100_000)
        assert Balance.objects.get(item=skein.item, lot=mill_lot.lot, place__code="store").on_hand == 9
        assert Balance.objects.get(item=cone.item, lot=mill_lot.lot, place__code="store").on_hand == 1

    def test_what_cannot_be_is_refused_in_words_and_nothing_moves(self):
        shelf = Skeins(3)
        shelf.hold(2)
        skein = shelf.yarn.put_up
        other = factories.put_up(grams=20)
        refused = (
            (NotFree, "Only 1 of these are free; the others are held for Ada Reed", 2, {shelf.minis: 10}),
            (NotFree, "4 are taken and 3 are there", 4, {shelf.minis: 20}),
            (MoreOutThanIn, "100 g go in and 120 g would come out", 1, {shelf.minis: 6}),
            (NotWound, "of the same base", 1, {other: 5}),
            (NotWound, "stays as it is", 1, {skein: 1}),
            (NotWound, "Say what it is wound into", 1, {shelf.minis: 0}),
        )
        for kind, sentence, pieces, made in refused:
            with pytest.raises(kind, match=sentence):
                shelf.wind(pieces, made, "ends")
        assert shelf.there(skein) == 3
        assert not PutUpChange.objects.exists()

    def test_it_is_taken_back_whole_with_a_reason_unless_a_new_piece_has_gone(self):
        shelf = Skeins(3)
        change = shelf.wind(1, {shelf.minis: 4}, "ends")
        with pytest.raises(LedgerReasonMissing):
            putups.take_change_back(key=uuid.uuid4(), change=change, who=shelf.who, why=" ")
        putups.take_change_back(key=uuid.uuid4(), change=change, who=shelf.who, why="the wrong lot")

        assert (shelf.there(shelf.yarn.put_up), shelf.there(shelf.minis)) == (3, 0)
        assert putups.changes(user=shelf.who)[0].back_why == "the wrong lot"
        with pytest.raises(AlreadyReversed):
            putups.take_change_back(key=uuid.uuid4(), change=change, who=shelf.who, why="again")

        later = shelf.wind(1, {shelf.minis: 5})
        minis = dyed_yarn(colourway=shelf.lot.colourway, put_up=shelf.minis, grade="good")
        holding.hold_by_hand(
            key=uuid.uuid4(), dyed=minis, dye_lot=shelf.lot, place=shelf.place, pieces=1,
            for_whom="Wren", until=timezone.localdate(), who=shelf.who,
        )  # fmt: skip
        with pytest.raises(NotEnough):
            putups.take_change_back(key=uuid.uuid4(), change=later, who=shelf.who, why="no")
        assert breaches() == []


@pytest.mark.django_db
class TestPages:
    def test_the_page_reckons_the_waste_asks_why_and_the_lot_tells_of_it(self, django_assert_max_num_queries):
        shelf = Skeins(3)
        factories.studio()
        client = Client()
        client.force_login(shelf.who)
        page = reverse("putup-dyed", args=[shelf.lot.code, shelf.yarn.pk, shelf.place.pk])
        minis = f"made_{shelf.minis.pk}"

        reckoned = client.get(page, {"pieces": "1", minis: "4", "why": ""}).content.decode()
        assert "20 g are lost" in reckoned
        assert "1 × 100 g − 4 × 20 g" in reckoned

        refused = client.post(page, {"pieces": "1", minis: "4"})
        assert refused.status_code == 422
        assert "Say in a word or two why" in refused.content.decode()

        done = client.post(page, {"pieces": "1", minis: "4", "why": "ties"}, follow=True)
        assert "1 × 100 g into 4 × 20 g; 20 g lost, ties." in done.content.decode()
        for address in (reverse("trace", args=[shelf.lot.code]), reverse("putup")):
            with django_assert_max_num_queries(MOST_QUERIES):
                told = client.get(address).content.decode()
            assert "20 g lost, ties" in told
        change = PutUpChange.objects.get()
        client.post(reverse("putup-back", args=[change.pk]), {"why": "not these"})
        assert "Taken back: not these" in client.get(reverse("putup")).content.decode()


class TestGrams(TestCase):
    """Grams in are grams out and waste, whatever is wound into whatever; other lots are untouched."""

    @settings(max_examples=25, deadline=None)
    @given(
        taken=st.integers(1, 6),
        minis=st.integers(0, 40),
        halves=st.integers(0, 16),
        held=st.integers(0, 3),
    )
    def test_grams_are_conserved(self, taken: int, minis: int, halves: int, held: int):
        shelf = Skeins(6)
        other, _, _ = factories.shelved_lot(
            good=4, second=0, who=shelf.who, put_up=shelf.yarn.put_up, place=shelf.place
        )
        if held:
            shelf.hold(held)
        before = self.grams(shelf)
        try:
            change = shelf.wind(taken, {shelf.minis: minis, shelf.halves: halves}, "ends")
        except (NotFree, MoreOutThanIn, NotWound):
            wrong = taken > 6 - held or 20 * minis + 50 * halves > 100 * taken or not minis + halves
            assert wrong
            assert self.grams(shelf) == before
        else:
            assert before - self.grams(shelf) == change.waste_milligrams
            assert change.waste_milligrams == (100 * taken - 20 * minis - 50 * halves) * 1000
            assert (
                Balance.objects.get(item=shelf.yarn.item, lot=shelf.lot.lot, place=shelf.place).held == held
            )
        others = Balance.objects.filter(lot=other.lot, place=shelf.place)
        assert others.aggregate(sum=Sum("on_hand"))["sum"] == 4
        assert breaches() == []

    @staticmethod
    def grams(shelf: Skeins) -> int:
        rows = Balance.objects.filter(lot=shelf.lot.lot, on_hand__gt=0).select_related("item__dyed__put_up")
        return sum(row.on_hand * row.item.dyed.put_up.nominal_milligrams for row in rows)


def test_a_secret_colourway_is_not_named_to_a_helper(db):
    shelf = Skeins(2)
    colourway = shelf.lot.colourway
    colourway.name, colourway.secret_until = "Saltmarsh at Noon", timezone.now() + dt.timedelta(days=9)
    colourway.save()
    shelf.wind(1, {shelf.minis: 5})
    assert DyedYarn.objects.filter(colourway=colourway, put_up=shelf.minis).exists()

    assert putups.changes(user=factories.HelperFactory())[0].name == colourway.code
