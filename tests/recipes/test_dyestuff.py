"""Dyes in jars, stock in bottles, auxiliaries, and counting them."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.utils import timezone
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from dyehouse.ledger.models import AgreedCount, Balance, Line, Movement
from dyehouse.ledger.queries import found_at_the_pot
from recipes import counting, dyestuff
from recipes.models import Auxiliary, Dye, Jar, StockBottle
from tests import factories

pytestmark = pytest.mark.django_db


def left(lot):
    row = Balance.objects.filter(lot=lot, place__code="store").first()
    return row.on_hand if row else 0


def test_a_name_is_enough_for_a_dye():
    dye = dyestuff.add_dye(name="Brick red")

    assert dye.dye_class == Dye.Class.ACID_UNKNOWN
    assert (dye.item.unit, dye.stock_item.unit) == ("mg", "ul")
    with pytest.raises(dyestuff.DyeNameTaken, match="add a jar to that one"):
        dyestuff.add_dye(name="BRICK RED")


def test_a_jar_brings_its_powder_into_the_store():
    jar = factories.jar(grams=100)

    assert left(jar.lot) == 100_000
    assert jar.label == "jar 1"


def test_the_same_jar_sent_twice_is_one():
    owner, dye, key = factories.OwnerFactory(), factories.dye(), uuid.uuid4()

    jars = [dyestuff.add_jar(key=key, dye=dye, label="7", milligrams=50_000, who=owner) for _ in range(2)]

    assert jars[0] == jars[1]
    assert left(jars[0].lot) == 50_000


def test_two_jars_of_a_dye_are_not_labelled_alike():
    jar = factories.jar(label="L7")

    with pytest.raises(dyestuff.JarTaken, match="l7 already"):
        factories.jar(dye=jar.dye, label="l7")
    assert factories.jar(dye=jar.dye).label == "jar 2"


def test_an_empty_jar_and_one_lighter_than_its_dye_are_refused():
    with pytest.raises(dyestuff.NothingInIt, match="more than 0 g"):
        factories.jar(grams=0)
    with pytest.raises(dyestuff.NothingInIt, match="less than the dye alone"):
        factories.jar(grams=100, gross_milligrams=90_000)
    assert not Jar.objects.exists()


def test_a_full_weight_alone_gives_the_tare():
    assert factories.jar(grams=100, gross_milligrams=160_000).tare_milligrams == 60_000


def test_one_weighing_counts_a_jar_and_the_difference_stays_with_its_reason():
    owner, jar = factories.OwnerFactory(), factories.jar(grams=100, gross_milligrams=160_000)

    moved = dyestuff.weigh_jar(key=uuid.uuid4(), jar=jar, gross_milligrams=152_500, who=owner)

    assert left(jar.lot) == 92_500
    assert moved.why == "Weighed 152.5 g with the jar"
    line = moved.lines.get()
    assert (line.to_place.code, line.quantity) == ("count_difference", 7_500)


def test_a_weighing_that_agrees_with_the_book_moves_nothing():
    owner, jar = factories.OwnerFactory(), factories.jar(grams=100, gross_milligrams=160_000)

    assert dyestuff.weigh_jar(key=uuid.uuid4(), jar=jar, gross_milligrams=160_000, who=owner) is None


def test_a_jar_is_not_counted_by_weighing_without_its_tare_nor_below_it():
    owner = factories.OwnerFactory()

    with pytest.raises(dyestuff.TareUnknown):
        dyestuff.weigh_jar(key=uuid.uuid4(), jar=factories.jar(), gross_milligrams=80_000, who=owner)
    jar = factories.jar(gross_milligrams=160_000)
    with pytest.raises(dyestuff.NothingInIt, match="less than the empty jar"):
        dyestuff.weigh_jar(key=uuid.uuid4(), jar=jar, gross_milligrams=50_000, who=owner)


def test_a_stock_takes_its_powder_from_the_jar():
    jar = factories.jar(grams=100)

    # 1 % w/v is 1 g in 100 ml of finished stock (facts: dye maker's page on calculating quantities).
    bottle = factories.bottle(jar=jar, strength_mg_per_litre=10_000, millilitres=500)

    assert left(jar.lot) == 95_000
    assert left(bottle.lot) == 500_000


def test_powder_that_the_book_lacks_is_found_in_the_same_movement():
    jar = factories.jar(grams=3)

    bottle = factories.bottle(jar=jar, millilitres=500)

    assert left(jar.lot) == 0
    assert left(bottle.lot) == 500_000
    [found] = found_at_the_pot()
    assert (found.item, found.quantity) == (jar.dye.item, 2_000)


def test_the_same_stock_sent_twice_is_one_bottle():
    owner, jar, key = factories.OwnerFactory(), factories.jar(), uuid.uuid4()
    said = {"strength_mg_per_litre": 10_000, "microlitres": 250_000, "made_at": timezone.now(), "who": owner}

    bottles = [dyestuff.make_stock(key=key, dye=jar.dye, jar=jar, **said) for _ in range(2)]

    assert bottles[0] == bottles[1]
    assert StockBottle.objects.count() == 1


def test_a_bottle_from_before_the_house_takes_nothing_from_a_jar():
    owner, jar = factories.OwnerFactory(), factories.jar(grams=100)

    bottle = dyestuff.make_stock(
        key=uuid.uuid4(),
        dye=jar.dye,
        jar=None,
        strength_mg_per_litre=10_000,
        microlitres=300_000,
        made_at=timezone.now() - dt.timedelta(days=30),
        who=owner,
        from_before=True,
    )

    assert left(jar.lot) == 100_000
    assert bottle.lot.lines.get().from_place.code == "before_the_house"


def test_a_stock_made_now_names_a_jar_of_its_own_dye():
    owner, jar = factories.OwnerFactory(), factories.jar()
    said = {"strength_mg_per_litre": 10_000, "microlitres": 1_000, "made_at": timezone.now(), "who": owner}

    with pytest.raises(dyestuff.WrongJar, match="which jar"):
        dyestuff.make_stock(key=uuid.uuid4(), dye=jar.dye, jar=None, **said)
    with pytest.raises(dyestuff.WrongJar, match="another dye"):
        dyestuff.make_stock(key=uuid.uuid4(), dye=factories.dye(), jar=jar, **said)


def test_a_finished_bottle_is_written_off_with_its_reason_once():
    owner, bottle = factories.OwnerFactory(), factories.bottle(millilitres=500)

    with pytest.raises(counting.ReasonMissing):
        dyestuff.finish_bottle(key=uuid.uuid4(), bottle=bottle, who=owner, why=" ")
    for _ in range(2):
        dyestuff.finish_bottle(key=uuid.uuid4(), bottle=bottle, who=owner, why="gone off")

    assert left(bottle.lot) == 0
    assert StockBottle.objects.get().finished_at is not None
    gone = Line.objects.filter(to_place__code="written_off")
    assert [(line.quantity, line.movement.why) for line in gone] == [(500_000, "gone off")]


def test_an_empty_jar_is_finished_without_moving_anything():
    owner, jar = factories.OwnerFactory(), factories.jar(grams=5)
    factories.bottle(jar=jar, millilitres=500)
    before = Movement.objects.count()

    dyestuff.finish_jar(key=uuid.uuid4(), jar=jar, who=owner, why="used up")

    assert Movement.objects.count() == before
    assert Jar.objects.get(pk=jar.pk).finished_at is not None


def test_an_auxiliary_comes_in_by_its_own_unit():
    vinegar = factories.auxiliary("Vinegar", amount=750_000)
    citric = factories.auxiliary("Citric acid", form=Auxiliary.Form.POWDER, amount=900_000)

    assert (vinegar.item.unit, left(vinegar.lot)) == ("ul", 750_000)
    assert (citric.item.unit, left(citric.lot)) == ("mg", 900_000)
    with pytest.raises(dyestuff.AuxiliaryNameTaken):
        factories.auxiliary("vinegar")


@pytest.mark.parametrize("counted", [0, 40, 250_000, 900_000])
def test_a_count_makes_the_book_say_what_was_counted(counted):
    owner, vinegar = factories.OwnerFactory(), factories.auxiliary(amount=250_000)

    counting.count_in_store(
        key=uuid.uuid4(), item=vinegar.item, lot=vinegar.lot, counted=counted, who=owner, why="counted again"
    )

    assert left(vinegar.lot) == counted


def test_a_count_wants_a_reason_and_is_not_below_nothing():
    owner, vinegar = factories.OwnerFactory(), factories.auxiliary(amount=250_000)
    said = {"item": vinegar.item, "lot": vinegar.lot, "who": owner}

    with pytest.raises(counting.ReasonMissing):
        counting.count_in_store(key=uuid.uuid4(), counted=1, why="", **said)
    with pytest.raises(counting.CannotBeThere):
        counting.count_in_store(key=uuid.uuid4(), counted=-1, why="counted", **said)
    assert left(vinegar.lot) == 250_000


def test_the_same_count_sent_twice_counts_once():
    owner, vinegar, key = factories.OwnerFactory(), factories.auxiliary(amount=250_000), uuid.uuid4()
    said = {"item": vinegar.item, "lot": vinegar.lot, "who": owner, "why": "spilt"}
    counting.count_in_store(key=key, counted=200_000, **said)
    dyestuff.receive_auxiliary(key=uuid.uuid4(), auxiliary=vinegar, amount=50_000, who=owner)

    counting.count_in_store(key=key, counted=200_000, **said)

    assert left(vinegar.lot) == 250_000


def test_a_count_that_agrees_moves_nothing_and_is_kept_once():
    owner, vinegar, key = factories.OwnerFactory(), factories.auxiliary(amount=250_000), uuid.uuid4()
    said = {"item": vinegar.item, "lot": vinegar.lot, "who": owner, "why": "counted", "counted": 250_000}

    assert counting.count_in_store(key=key, **said) is None
    dyestuff.receive_auxiliary(key=uuid.uuid4(), auxiliary=vinegar, amount=50_000, who=owner)
    assert counting.count_in_store(key=key, **said) is None

    agreed = AgreedCount.objects.get()
    assert (agreed.quantity, agreed.place.code, agreed.who) == (250_000, "store", owner)
    assert left(vinegar.lot) == 300_000


class TestPowderAndStock(TestCase):
    @settings(max_examples=25, deadline=None)
    @given(
        strength=st.integers(min_value=1, max_value=500_000),
        microlitres=st.integers(min_value=1, max_value=5_000_000),
    )
    def test_the_powder_that_leaves_is_within_half_a_milligram_of_what_the_stock_holds(
        self, strength, microlitres
    ):
        jar = factories.jar(grams=5000)

        dyestuff.make_stock(
            key=uuid.uuid4(),
            dye=jar.dye,
            jar=jar,
            strength_mg_per_litre=strength,
            microlitres=microlitres,
            made_at=timezone.now(),
            who=factories.OwnerFactory(),
        )

        taken = 5_000_000 - left(jar.lot)
        assert abs(2 * taken * 1_000_000 - 2 * strength * microlitres) <= 1_000_000
