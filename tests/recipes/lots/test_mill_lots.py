"""One colourway over several mill lots is said where pots are planned and loaded."""

from __future__ import annotations

import uuid

import pytest
from django.test import Client
from django.urls import reverse

from recipes import yarn
from recipes.lots import pots as operations
from recipes.lots import redye
from recipes.lots.in_store import in_store_today
from recipes.lots.mill_lots import split_of_plan, split_of_redye, split_when_loaded
from recipes.lots.models import Pot
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner():
    return factories.OwnerFactory()


@pytest.fixture
def way(owner):
    return factories.way(who=owner)


def lot_of(way, number, pieces, owner):
    lot = yarn.add_mill_lot(base=way.base, number=number)
    put_up = way.base.put_ups.get()
    yarn.receive_yarn(key=uuid.uuid4(), put_up=put_up, mill_lot=lot, pieces=pieces, who=owner)
    return lot


def plan(way, owner, *, pieces, mill_lot=None):
    ask = redye.RedyeAsk(
        way=way,
        put_up=way.base.put_ups.get(),
        mill_lot=mill_lot,
        pieces=pieces,
        piece_dry_milligrams=100_000,
        vessel=factories.VesselFactory(),
        liquor_ratio_tenths=300,
    )
    return redye.plan_redye(key=uuid.uuid4(), ask=ask, who=owner)


def with_loads(plan):
    return Pot.objects.filter(plan=plan).prefetch_related("loads__mill_lot")


def test_a_plan_is_split_when_no_one_lot_has_so_many(way, owner):
    put_up = way.base.put_ups.get()
    a, _ = lot_of(way, "A", 6, owner), lot_of(way, "B", 9, owner)

    there = in_store_today().yarn[put_up.item_id]
    assert sorted(str(each) for each in there) == ["6 of mill lot A", "9 of mill lot B"]

    assert split_of_redye(put_up=put_up, mill_lot=None, pieces=9, there=there) is None
    assert split_of_redye(put_up=put_up, mill_lot=None, pieces=10, there=there).sentence == (
        "No one mill lot in the store has 10 pieces; there are 9 of mill lot B and 6 of mill lot A."
    )
    assert split_of_redye(put_up=put_up, mill_lot=a, pieces=10, there=there).sentence == (
        "6 of mill lot A; 4 more are wanted, and beside these the store has 9 of mill lot B."
    )
    # Planned of lot A, which has six: the plan says so itself.
    made = plan(way, owner, pieces=10, mill_lot=a)
    assert split_of_plan(made, with_loads(made), there).lacking == 4
    assert split_of_plan(made, []) is None


def test_loading_from_another_lot_is_said_at_once_and_on_the_plan(way, owner):
    a, b = lot_of(way, "A", 8, owner), lot_of(way, "B", 8, owner)
    made = plan(way, owner, pieces=8, mill_lot=a)
    assert split_of_plan(made, with_loads(made), in_store_today().yarn[made.put_up.item_id]) is None
    first, second = made.pots.order_by("pk")[:2]
    operations.load_planned(key=uuid.uuid4(), pot=first, mill_lot=a, dry_milligrams=None, who=owner)
    assert split_when_loaded(first) is None

    client = Client()
    client.force_login(owner)
    page = client.get(reverse("pot-load", args=[second.code]))
    answer = client.post(
        reverse("pot-load", args=[second.code]),
        {"key": uuid.uuid4(), "mill_lot": b.pk},
        follow=True,
    )
    assert page.status_code == answer.status_code == 200
    assert "One colourway over several mill lots. The yarn is of 2 mill lots: " in answer.content.decode()
    shown = client.get(reverse("redye-plan", args=[made.pk])).content.decode()
    assert "of mill lot A and" in shown
    assert "keep the lots apart" in shown
