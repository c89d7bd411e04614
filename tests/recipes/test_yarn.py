"""Bases, put-ups and mill lots, and yarn that comes in."""

from __future__ import annotations

import uuid

import pytest

from dyehouse.ledger.models import Balance, Line, Movement
from recipes import yarn
from recipes.models import Base, MillLot
from tests import factories

pytestmark = pytest.mark.django_db


def in_store(put_up, mill_lot):
    row = Balance.objects.filter(item=put_up.item, lot=mill_lot.lot, place__code="store").first()
    return row.on_hand if row else 0


def test_a_name_is_enough_for_a_base():
    base = yarn.add_base(name="  Heron   Sock ")

    assert base.name == "Heron Sock"
    assert base.fibres.count() == 0
    assert base.superwash is None


def test_two_bases_are_not_called_the_same_however_capitalised():
    yarn.add_base(name="Heron Sock")

    with pytest.raises(yarn.BaseNameTaken, match="already"):
        yarn.add_base(name="heron sock")


@pytest.mark.parametrize(
    ("fibres", "says"),
    [
        ({"wool": 750, "nylon": 200}, "sum to 95 %, and 5 % is missing"),
        ({"wool": 800, "nylon": 250}, "sum to 105 %, and 5 % is too many"),
        ({"wool": 75, "nylon": 25}, "sum to 10 %"),
        ({"moonbeam": 1000}, "not a fibre name"),
        ({"wool": 1000, "silk": 0}, "above 0 %"),
    ],
)
def test_fibres_that_are_not_the_whole_yarn_are_refused_and_nothing_is_kept(fibres, says):
    with pytest.raises(yarn.FibresDoNotAddUp, match=says):
        yarn.add_base(name="Heron Sock", fibres=fibres)

    assert not Base.objects.exists()


def test_a_base_is_put_right_and_its_fibres_replaced():
    base = factories.base("Heron Sock")
    put_up = factories.put_up(base=base)

    yarn.change_base(base=base, name="Heron", fibres={"wool": 1000}, superwash=False)

    base.refresh_from_db()
    put_up.item.refresh_from_db()
    assert [(fibre.fibre, fibre.per_mille) for fibre in base.fibres.all()] == [("wool", 1000)]
    assert base.metres_per_100g is None
    assert put_up.item.name == "Heron 100 g"


def test_a_base_is_put_up_once_in_a_weight():
    put_up = factories.put_up(grams=100)

    with pytest.raises(yarn.PutUpTaken, match="100 g already"):
        yarn.add_put_up(base=put_up.base, nominal_milligrams=100_000)


def test_a_mill_lot_is_written_down_once():
    base = factories.base()
    yarn.add_mill_lot(base=base, number="4411")

    with pytest.raises(yarn.MillLotTaken, match="4411"):
        yarn.add_mill_lot(base=base, number=" 4411 ")


def test_each_base_has_one_unknown_mill_lot():
    base = factories.base()

    assert yarn.unknown_mill_lot(base) == yarn.unknown_mill_lot(base)
    assert MillLot.objects.filter(base=base, unknown=True).count() == 1


def test_yarn_comes_from_the_supplier_or_from_before_the_house():
    owner, put_up = factories.OwnerFactory(), factories.put_up()
    lot = yarn.add_mill_lot(base=put_up.base, number="4411")

    yarn.receive_yarn(key=uuid.uuid4(), put_up=put_up, mill_lot=lot, pieces=10, who=owner)
    yarn.receive_yarn(key=uuid.uuid4(), put_up=put_up, mill_lot=lot, pieces=4, who=owner, from_before=True)

    assert in_store(put_up, lot) == 14
    came_from = Line.objects.order_by("id").values_list("from_place__code", "quantity")
    assert list(came_from) == [("supplier", 10), ("before_the_house", 4)]


def test_the_same_delivery_sent_twice_is_one():
    owner, put_up, key = factories.OwnerFactory(), factories.put_up(), uuid.uuid4()

    for _ in range(2):
        yarn.yarn_in(key=key, who=owner, put_up=put_up, lot=None, new_number="4411", pieces=10)

    assert Movement.objects.count() == 1
    assert in_store(put_up, MillLot.objects.get(number="4411")) == 10


def test_no_pieces_and_a_lot_of_another_base_are_refused():
    owner, put_up = factories.OwnerFactory(), factories.put_up()
    lot_of_another = yarn.unknown_mill_lot(factories.base())

    with pytest.raises(yarn.NothingArrived, match="At least one"):
        yarn.receive_yarn(
            key=uuid.uuid4(), put_up=put_up, mill_lot=yarn.unknown_mill_lot(put_up.base), pieces=0, who=owner
        )
    with pytest.raises(yarn.NothingArrived, match="another base"):
        yarn.receive_yarn(key=uuid.uuid4(), put_up=put_up, mill_lot=lot_of_another, pieces=1, who=owner)


def test_a_new_base_comes_with_its_put_up_and_its_pieces_once():
    owner, key = factories.OwnerFactory(), uuid.uuid4()
    said = {"name": "Moor DK", "nominal_milligrams": 100_000, "pieces": 12, "from_before": True}

    first = yarn.stock_new_base(key=key, who=owner, **said)
    again = yarn.stock_new_base(key=key, who=owner, **said)

    assert first == again
    assert in_store(first.put_ups.get(), yarn.unknown_mill_lot(first)) == 12
