"""Yarn that soaks for planned pots: out of the store, held for its pot, loaded from there, and back when the pot is given up."""

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

from dyehouse.ledger.models import Balance, Held
from dyehouse.ledger.places import fixed_place
from dyehouse.ledger.verify import breaches
from dyehouse.studio.refusals import Refused
from inventory.buying.wanted import in_the_house
from inventory.stages import Moving, move_on
from inventory.way_queries import way_page
from recipes import yarn
from recipes.lots import finishing, pots, redye, soaking
from recipes.lots.load_lines import LoadLine
from recipes.lots.models import Pot
from recipes.models import DyedYarn
from tests import factories


def lying(put_up) -> dict[str, int]:
    """Undyed pieces of a put-up by place."""
    rows = Balance.objects.filter(item=put_up.item, on_hand__gt=0).values_list("place__code")
    return dict(rows.annotate(Sum("on_hand")))


def soak(*wanted: Pot, who, **more):
    return soaking.soak(key=uuid.uuid4(), pots=wanted, who=who, **more)


def load(pot: Pot, who, **more) -> Pot:
    facts = {"mill_lot": None, "dry_milligrams": None, **more}
    return pots.load_planned(key=uuid.uuid4(), pot=pot, who=who, **facts)


def two_pots():
    owner = factories.OwnerFactory()
    put_up = factories.put_up(pieces=20, who=owner)
    return owner, put_up, [factories.planned_pot(put_up=put_up, pieces=n, who=owner) for n in (5, 3)]


@pytest.mark.django_db
class TestSoaking:
    def test_many_pots_at_once_each_with_its_own_and_loading_takes_it_from_there(self):
        owner, put_up, (first, second) = two_pots()
        an_hour_ago = timezone.now() - dt.timedelta(minutes=61)

        soak(first, second, who=owner, happened_at=an_hour_ago)
        assert lying(put_up) == {"store": 12, "soaking": 8}
        assert {row.claim.held_for: row.quantity for row in Held.objects.filter(quantity__gt=0)} == {
            f"pot {first.code}": 5,
            f"pot {second.code}": 3,
        }
        with pytest.raises(soaking.NothingToSoak):
            soak(first, who=owner)

        loaded = load(first, owner)

        assert lying(put_up) == {"store": 12, "soaking": 3, "in_pots": 5}
        assert loaded.presoak_minutes == 61
        assert breaches() == []

    def test_a_pot_given_up_before_or_after_loading_gives_its_yarn_back(self):
        owner, put_up, (first, second) = two_pots()
        soak(first, second, who=owner)

        redye.drop_planned(pot=second, who=owner)
        pots.unload_untouched(key=uuid.uuid4(), pot=load(first, owner), who=owner)

        assert lying(put_up) == {"store": 20}
        assert breaches() == []

    def test_left_off_it_may_soak_again(self):
        owner, put_up, (first, _) = two_pots()
        key = uuid.uuid4()
        soaking.soak(key=key, pots=[first], who=owner)
        soaking.soak(key=key, pots=[first], who=owner)
        soaking.leave_off_soaking(key=uuid.uuid4(), pots=[first], who=owner)
        assert lying(put_up) == {"store": 20}

        soak(first, who=owner)

        assert lying(put_up) == {"store": 15, "soaking": 5}

    def test_loaded_with_more_less_or_another_lot_nothing_stays_in_the_soak(self):
        owner, put_up, (first, second) = two_pots()
        other = yarn.add_mill_lot(base=put_up.base, number="M-4471")
        yarn.receive_yarn(key=uuid.uuid4(), put_up=put_up, mill_lot=other, pieces=9, who=owner)
        soak(first, second, who=owner)

        load(first, owner, lines=[LoadLine(put_up, None, 7)])
        load(second, owner, mill_lot=other)

        assert lying(put_up) == {"store": 29 - 7 - 3, "in_pots": 10}
        assert breaches() == []

    def test_pieces_of_an_earlier_lot_go_back_to_their_shelf(self):
        owner = factories.OwnerFactory()
        lot, place, dyed = factories.shelved_lot(good=4, second=0, who=owner)
        pot = factories.planned_pot(put_up=dyed.put_up, pieces=2, who=owner)
        pot.loads.update(overdyes=lot, was=dyed, from_place=place)

        soak(pot, who=owner)
        there = Balance.objects.get(item=dyed.item, place=place)
        assert there.on_hand == 2

        soaking.leave_off_soaking(key=uuid.uuid4(), pots=[pot], who=owner)
        there.refresh_from_db()
        assert there.on_hand == 4

    def test_what_soaks_is_not_bought_again(self):
        owner = factories.OwnerFactory()
        put_up = factories.put_up(pieces=5, who=owner)
        pot = factories.planned_pot(put_up=put_up, pieces=5, who=owner)
        before = in_the_house()

        soak(pot, who=owner)

        after = in_the_house()
        assert after.store == before.store
        assert [each.pieces for each in after.yarn[put_up.pk]] == [5]
        loads = soaking.with_soaking(pot.loads.select_related("mill_lot"))
        assert [each.pieces for each in soaking.there_or_soaking([], loads)] == [5]

    def test_from_the_page_all_at_a_touch_and_the_totals_say_so(
        self, client: Client, django_assert_max_num_queries
    ):
        owner, _put_up, (first, second) = two_pots()
        factories.studio()
        client.force_login(owner)
        refused = client.post(reverse("shelf-soak"), {"key": uuid.uuid4()})
        assert refused.status_code == 422

        client.post(reverse("shelf-soak"), {"key": uuid.uuid4(), "all": "1"})

        page = way_page(user=owner)
        assert (page.soaking, [each.pot for each in page.wet], page.to_soak) == (8, [first, second], [])
        with django_assert_max_num_queries(12):
            assert "Soaking" in client.get(reverse("shelf-way")).content.decode()
        client.post(reverse("shelf-soak-back", args=[second.code]), {"key": uuid.uuid4()})
        assert [each.pot for each in way_page(user=owner).to_soak] == [second]


class TestTheSumHolds(TestCase):
    @settings(max_examples=12, deadline=None)
    @given(
        deeds=st.lists(
            st.tuples(
                st.sampled_from(["soak", "off", "load", "unload", "drop", "out", "dry"]), st.integers(0, 2)
            ),
            max_size=12,
        )
    )
    def test_whatever_is_done_the_stages_sum_to_what_went_in(self, deeds: list[tuple[str, int]]):
        owner = factories.OwnerFactory()
        put_up = factories.put_up(pieces=12, who=owner)
        three = [factories.planned_pot(put_up=put_up, pieces=n, who=owner) for n in (5, 4, 2)]
        for deed, number in deeds:
            pot = Pot.objects.get(pk=three[number].pk)
            try:
                self.do(deed, pot, owner)
            except Refused:
                continue

        rows = Balance.objects.values_list("place__code").annotate(Sum("on_hand"))
        by_stage = dict(rows.filter(on_hand__gt=0))
        assert sum(by_stage.values()) == 12
        page = way_page(user=owner)
        on_the_way = page.soaking + page.in_pots + page.on_the_way + page.shelved
        assert on_the_way + by_stage.get("store", 0) == 12
        # Only planned pots soak, each with what it was planned with, or not at all.
        wet = {each.pot.pk: each.pieces for each in page.wet}
        assert page.soaking == sum(wet.values())
        assert breaches() == []

    def do(self, deed: str, pot: Pot, owner) -> None:
        if deed == "soak":
            soak(pot, who=owner)
        elif deed == "off":
            soaking.leave_off_soaking(key=uuid.uuid4(), pots=[pot], who=owner)
        elif deed == "load":
            load(pot, owner)
        elif deed == "unload":
            pots.unload_untouched(key=uuid.uuid4(), pot=pot, who=owner)
        elif deed == "drop":
            redye.drop_planned(pot=pot, who=owner)
        elif deed == "out":
            finishing.out_of_pot(key=uuid.uuid4(), pot=pot, bath="clear", who=owner)
        elif pot.dye_lot is not None:
            dyed = DyedYarn.objects.get(colourway=pot.colourway, grade="unjudged")
            moving = [Moving(dyed, pot.dye_lot, fixed_place("drying"), 1)]
            move_on(key=uuid.uuid4(), moving=moving, to=fixed_place("dry"), who=owner)
