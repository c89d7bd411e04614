"""Kits: how many can be made, that building takes the very parts and breaking up gives them back."""

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
from dyehouse.ledger.verify import breaches
from inventory import holding, kits
from inventory.kits import BrokenUp, CannotMake, KitNameTaken, NotAKit, PartWanted, Taken
from inventory.models import BuiltKit, Kit
from inventory.queries import free_and_good
from recipes.models import DyedYarn, PutUp
from tests import factories

MOST_QUERIES = 12


def good_pieces(*amounts: int, put_up: PutUp | None = None, name: str = "") -> DyedYarn:
    """A colourway on a put-up with one shelved lot for each amount."""
    owner = factories.OwnerFactory()
    yarn = put_up or factories.put_up(pieces=sum(amounts) or 1)
    colourway = factories.colourway(name)
    for amount in amounts:
        factories.shelved_lot(good=amount, second=0, who=owner, put_up=yarn, colourway=colourway)
    return DyedYarn.objects.get(colourway=colourway, put_up=yarn, grade="good")


def kit_of(*parts: tuple[DyedYarn, int], name: str = "Estuary fade", kind: str = "fade") -> Kit:
    wanted = [PartWanted(dyed.colourway, dyed.put_up, pieces) for dyed, pieces in parts]
    return kits.make_kit(name=name, kind=kind, parts=wanted)


def on_hand(dyed: DyedYarn) -> int:
    return Balance.objects.filter(item=dyed.item).aggregate(sum=Sum("on_hand"))["sum"] or 0


@pytest.mark.django_db
class TestCanMake:
    def test_the_scarcest_part_sets_the_number(self):
        first, second = good_pieces(7), good_pieces(5)
        kit = kit_of((first, 1), (second, 2))

        can = kits.can_make([kit])[kit.pk]

        assert can.kits == 2
        assert [part.part.position for part in can.scarcest] == [2]

    def test_a_colourway_that_stands_twice_in_the_order_is_counted_once(self):
        # In a fade held double the inner colours stand in two bands; 5 skeins are enough for two kits of two.
        dyed = good_pieces(5)
        kit = kit_of((dyed, 1), (dyed, 1))

        assert kits.can_make([kit])[kit.pk].kits == 2

    def test_what_is_held_is_not_free_for_kits(self):
        owner = factories.OwnerFactory()
        lot, place, dyed = factories.shelved_lot(good=4, who=owner)
        kit = kit_of((dyed, 1))
        holding.hold_by_hand(
            key=uuid.uuid4(), dyed=dyed, dye_lot=lot, place=place, pieces=3, for_whom="Ada Reed",
            until=timezone.localdate() + dt.timedelta(days=1), who=owner,
        )  # fmt: skip

        assert kits.can_make([kit])[kit.pk].kits == 1


@pytest.mark.django_db
class TestBuilding:
    def test_the_parts_leave_the_shelf_and_the_kits_stand_there_each_under_its_code(self):
        first, second, place = good_pieces(4), good_pieces(4), factories.shelf_place()
        kit = kit_of((first, 1), (second, 2))

        built = kits.build(key=uuid.uuid4(), kit=kit, count=2, place=place, who=factories.OwnerFactory())

        assert (on_hand(first), on_hand(second)) == (2, 0)
        assert len({each.code for each in built}) == 2
        assert Balance.objects.filter(item=kit.item, place=place, on_hand=1).count() == 2
        assert breaches() == []

    def test_the_pieces_of_one_colourway_in_a_kit_are_of_one_lot_where_one_has_enough(self):
        dyed, place = good_pieces(2, 3, 2), factories.shelf_place()
        kit = kit_of((dyed, 3))

        built = kits.build(key=uuid.uuid4(), kit=kit, count=1, place=place, who=factories.OwnerFactory())[0]

        taken = Line.objects.filter(movement=built.movement, item=dyed.item)
        assert [line.quantity for line in taken] == [3]

    def test_too_many_are_refused_naming_the_part_that_lacks_and_nothing_is_built(self):
        first, second = good_pieces(4), good_pieces(1, name="Silt")
        kit = kit_of((first, 1), (second, 1))

        with pytest.raises(CannotMake, match=r"enough for 1 of 2: 1 of Silt"):
            kits.build(
                key=uuid.uuid4(),
                kit=kit,
                count=2,
                place=factories.shelf_place(),
                who=factories.OwnerFactory(),
            )

        assert on_hand(first) == 4
        assert not BuiltKit.objects.exists()

    def test_the_same_key_again_builds_once(self):
        dyed, key, place = good_pieces(4), uuid.uuid4(), factories.shelf_place()
        kit, who = kit_of((dyed, 1)), factories.OwnerFactory()

        first = kits.build(key=key, kit=kit, count=2, place=place, who=who)
        again = kits.build(key=key, kit=kit, count=2, place=place, who=who)

        assert again == first
        assert on_hand(dyed) == 2


@pytest.mark.django_db
class TestBreakingUp:
    def test_the_very_skeins_are_back_where_they_lay(self):
        dyed, place = good_pieces(2, 3), factories.shelf_place()
        rows = Balance.objects.filter(item=dyed.item, on_hand__gt=0).values_list("place", "lot", "on_hand")
        before = set(rows)
        who = factories.OwnerFactory()
        built = kits.build(key=uuid.uuid4(), kit=kit_of((dyed, 4)), count=1, place=place, who=who)[0]

        kits.break_up(key=uuid.uuid4(), built=built, who=who, why="sold singly")

        assert set(rows.all()) == before
        assert breaches() == []

    def test_twice_is_refused(self):
        built, who = factories.built_kit(), factories.OwnerFactory()
        kits.break_up(key=uuid.uuid4(), built=built, who=who, why="")

        with pytest.raises(BrokenUp):
            kits.break_up(key=uuid.uuid4(), built=built, who=who, why="")


@pytest.mark.django_db
class TestOneOfAKind:
    def test_six_half_skeins_from_the_shelf_become_one_kit(self):
        half = factories.put_up(pieces=60, grams=50)
        for _ in range(6):
            good_pieces(1, put_up=half)
        owner, place = factories.OwnerFactory(), factories.shelf_place()
        lying = free_and_good(user=owner)

        built = kits.build_of_these(
            key=uuid.uuid4(), name="Low tide", place=place, who=owner,
            taken=[Taken(row.dyed, row.lot.lot, row.place, 1) for row in lying],
        )  # fmt: skip

        assert [part.position for part in built.kit.parts.order_by("position")] == [1, 2, 3, 4, 5, 6]
        assert free_and_good(user=owner) == []
        assert breaches() == []

    def test_without_a_piece_it_is_refused(self):
        with pytest.raises(NotAKit):
            kits.build_of_these(
                key=uuid.uuid4(), name="Low tide", taken=[], place=factories.shelf_place(),
                who=factories.OwnerFactory(),
            )  # fmt: skip


@pytest.mark.django_db
def test_a_name_that_is_taken_is_refused():
    dyed = good_pieces(1)
    kit_of((dyed, 1), name="Estuary")

    with pytest.raises(KitNameTaken):
        kit_of((dyed, 1), name="estuary")


class TestNothingIsLost(TestCase):
    @settings(max_examples=8, deadline=None)
    @given(
        lots=st.lists(st.integers(1, 4), min_size=1, max_size=3),
        takes=st.integers(1, 3),
        count=st.integers(1, 3),
    )
    def test_built_and_broken_up_all_pieces_are_there_again(self, lots: list[int], takes: int, count: int):
        dyed = good_pieces(*lots)
        kit, who = kit_of((dyed, takes), name=uuid.uuid4().hex), factories.OwnerFactory()
        possible = sum(lots) // takes
        if count > possible:
            with pytest.raises(CannotMake):
                kits.build(key=uuid.uuid4(), kit=kit, count=count, place=factories.shelf_place(), who=who)
            return

        built = kits.build(key=uuid.uuid4(), kit=kit, count=count, place=factories.shelf_place(), who=who)

        assert on_hand(dyed) == sum(lots) - takes * count
        for each in built:
            kits.break_up(key=uuid.uuid4(), built=each, who=who, why="")
        assert on_hand(dyed) == sum(lots)
        assert breaches() == []


@pytest.mark.django_db
class TestPages:
    def test_a_kit_is_written_down_built_and_broken_up(self, client: Client):
        owner, dyed, place = factories.OwnerFactory(), good_pieces(4, name="Silt"), factories.shelf_place()
        client.force_login(owner)

        written = client.post(
            reverse("kit-new"),
            {
                "name": "Estuary", "kind": "fade", "parts-TOTAL_FORMS": 2, "parts-INITIAL_FORMS": 0,
                "parts-0-colourway": dyed.colourway_id, "parts-0-put_up": dyed.put_up_id, "parts-0-pieces": 2,
                "parts-1-colourway": "", "parts-1-put_up": "", "parts-1-pieces": 1,
            },
        )  # fmt: skip
        kit = Kit.objects.get()
        assert written["Location"] == reverse("kit", args=[kit.pk])
        client.post(written["Location"], {"key": uuid.uuid4(), "count": 2, "place": place.pk})
        built = BuiltKit.objects.filter(kit=kit)
        assert built.count() == 2
        client.post(reverse("kit-break", args=[built[0].code]), {"key": uuid.uuid4()})
        assert on_hand(dyed) == 2
        assert "Broken up." in client.get(written["Location"]).content.decode()

    def test_half_a_row_is_asked_about_and_nothing_is_written(self, client: Client):
        dyed = good_pieces(1)
        client.force_login(factories.OwnerFactory())

        answer = client.post(
            reverse("kit-new"),
            {
                "name": "Estuary", "kind": "fade", "parts-TOTAL_FORMS": 1, "parts-INITIAL_FORMS": 0,
                "parts-0-colourway": dyed.colourway_id, "parts-0-put_up": "", "parts-0-pieces": 1,
            },
        )  # fmt: skip

        assert answer.status_code == 422
        assert "Choose the yarn of this part" in answer.content.decode()
        assert not Kit.objects.exists()

    def test_more_than_can_be_built_is_refused_beside_the_number(self, client: Client):
        kit, place = kit_of((good_pieces(1), 1)), factories.shelf_place()
        client.force_login(factories.OwnerFactory())

        answer = client.post(
            reverse("kit", args=[kit.pk]), {"key": uuid.uuid4(), "count": 3, "place": place.pk}
        )

        assert answer.status_code == 422
        assert "enough for 1 of 3" in answer.content.decode()

    def test_the_list_takes_few_queries_however_many_kits(self, client, django_assert_max_num_queries):
        factories.studio()
        dyed = good_pieces(3)
        for number in range(6):
            kit_of((dyed, 1), name=f"Kit {number}")
        client.force_login(factories.OwnerFactory())

        with django_assert_max_num_queries(MOST_QUERIES):
            client.get(reverse("kits"))
        with django_assert_max_num_queries(MOST_QUERIES):
            client.get(reverse("kit-one"))
