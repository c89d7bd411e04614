"""Mixes and jugs: what goes in leaves the store, what is made is in it, and no dye is gained or lost."""

from __future__ import annotations

import datetime as dt
import uuid
from fractions import Fraction

import pytest
from django.db import IntegrityError
from django.utils import timezone
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from dyehouse.ledger.models import Balance, Line
from dyehouse.ledger.queries import found_at_the_pot
from dyehouse.ledger.verify import breaches
from recipes import counting, mixes
from recipes.lots import log
from recipes.lots.contents import what_is_in
from recipes.models import Dye, MixPart
from tests import factories

pytestmark = pytest.mark.django_db


def left(lot):
    row = Balance.objects.filter(lot=lot, place__code="store").first()
    return row.on_hand if row else 0


def test_powder_and_stock_leave_the_store_and_the_mix_is_in_it():
    jar, bottle = factories.jar(grams=100), factories.bottle(strength_mg_per_litre=5_000, millilitres=500)
    before = left(bottle.lot)

    mix = factories.mix(grams={jar: 3}, poured={bottle: 200}, millilitres=1_000)

    assert (left(jar.lot), left(bottle.lot), left(mix.lot)) == (97_000, before - 200_000, 1_000_000)
    red, stock = mixes.dyes_of(mix)
    # 3 g in a litre is 0.3 % w/v; 200 ml of 0.5 % hold 1 g, 0.1 % in the litre (definition of % w/v).
    assert (red.milligrams, red.strength.value) == (3_000, 3_000)
    assert (stock.milligrams, stock.strength.value) == (1_000, 1_000)


def test_two_jars_of_a_dye_are_one_dye_of_the_mix():
    first = factories.jar()
    second = factories.jar(dye=first.dye)

    (dye,) = mixes.dyes_of(factories.mix(grams={first: 1, second: 2}))

    assert dye.milligrams == 3_000


def test_a_pour_finer_than_a_microgram_is_not_rounded():
    bottle = factories.bottle(strength_mg_per_litre=1)

    mix = mixes.make_mix(
        key=uuid.uuid4(),
        parts=[mixes.Part(bottle=bottle, microlitres=7)],
        microlitres=10,
        made_at=timezone.now(),
        who=factories.OwnerFactory(),
    )

    assert mixes.dyes_of(mix)[0].milligrams == Fraction(7, 1_000_000)


def test_what_the_book_lacks_is_found_as_at_the_pot():
    jar = factories.jar(grams=1)

    factories.mix(grams={jar: 4})

    assert left(jar.lot) == 0
    assert [line.quantity for line in found_at_the_pot()] == [3_000]


def test_the_same_mix_sent_twice_is_made_once():
    owner, jar, key = factories.OwnerFactory(), factories.jar(), uuid.uuid4()

    made = [
        mixes.make_mix(
            key=key,
            parts=[mixes.Part(jar=jar, milligrams=1000)],
            microlitres=500_000,
            made_at=timezone.now(),
            who=owner,
        )
        for _ in range(2)
    ]

    assert made[0] == made[1]
    assert left(jar.lot) == 99_000


def test_stocks_that_are_more_than_the_jug_are_refused_and_nothing_moves():
    bottle = factories.bottle(millilitres=500)

    with pytest.raises(mixes.MoreThanItsVolume, match="The stocks alone are 300 ml"):
        factories.mix(poured={bottle: 300}, millilitres=250)

    assert left(bottle.lot) == 500_000


@pytest.mark.parametrize(
    ("parts", "microlitres", "sentence"),
    [([], 1000, "at least one dye"), ([0], 1000, "more than nothing"), ([5], 0, "how many millilitres")],
)
def test_a_mix_of_nothing_is_refused(parts, microlitres, sentence):
    jar = factories.jar()

    with pytest.raises(mixes.NothingInMix, match=sentence):
        mixes.make_mix(
            key=uuid.uuid4(),
            parts=[mixes.Part(jar=jar, milligrams=each) for each in parts],
            microlitres=microlitres,
            made_at=timezone.now(),
            who=factories.OwnerFactory(),
        )


def test_a_name_means_one_thing_at_the_pot():
    factories.dye("Madder")
    factories.mix("evening")

    with pytest.raises(mixes.MixNameTaken, match="still open"):
        factories.mix("Evening")
    with pytest.raises(mixes.MixNameTaken, match="name of a dye"):
        factories.mix("madder")


@pytest.mark.parametrize("name", ["5 ml", "2nd jug", "½", "-"])
def test_a_name_that_could_be_an_amount_is_refused(name):
    with pytest.raises(mixes.NameLikeAnAmount, match="Begin the name with a letter"):
        factories.mix(name)


def test_the_name_of_a_finished_mix_is_free_again():
    owner, first = factories.OwnerFactory(), factories.mix("evening")
    mixes.finish_mix(key=uuid.uuid4(), mix=first, who=owner, why="used up")

    assert factories.mix("evening").code != first.code


def test_what_is_thrown_away_is_written_off_with_the_reason():
    owner, mix = factories.OwnerFactory(), factories.mix(millilitres=400)

    with pytest.raises(counting.ReasonMissing):
        mixes.finish_mix(key=uuid.uuid4(), mix=mix, who=owner, why=" ")
    done = mixes.finish_mix(key=uuid.uuid4(), mix=mix, who=owner, why="went cloudy")

    assert done.finished_at is not None
    assert left(mix.lot) == 0
    assert Line.objects.get(lot=mix.lot, to_place__code="written_off").quantity == 400_000


def test_a_mix_never_changes():
    mix = factories.mix()

    with pytest.raises(IntegrityError):
        MixPart.objects.filter(mix=mix).update(micrograms=1)


def test_a_mix_is_trusted_as_long_as_the_shortest_lived_of_its_dyes():
    day = dt.date(2026, 3, 1)
    acid, reactive = (
        factories.jar(dye=factories.dye(dye_class=kind))
        for kind in (Dye.Class.LEVELLING, Dye.Class.COLD_REACTIVE)
    )
    parts = [mixes.Part(jar=acid, milligrams=1), mixes.Part(jar=reactive, milligrams=1)]

    # Acid stock three months at least (dye maker's page), MX stock at room temperature day 5 (facts, check value 55).
    assert mixes.mix_best_before(parts[:1], day) == day + dt.timedelta(days=91)
    assert mixes.mix_best_before(parts, day) == day + dt.timedelta(days=5)


def test_a_bottle_that_is_nearly_past_takes_the_mix_with_it():
    day = dt.date(2026, 3, 1)
    bottle = factories.bottle(best_before=day + dt.timedelta(days=2))

    assert mixes.mix_best_before([mixes.Part(bottle=bottle, microlitres=1)], day) == day + dt.timedelta(
        days=2
    )


def test_a_dye_stronger_than_stays_dissolved_is_kept_and_known():
    jar = factories.jar(dye=factories.dye(strongest_stock_mg_per_litre=20_000))

    weak, strong = (factories.mix(grams={jar: grams}, millilitres=100) for grams in (2, 3))

    assert not mixes.dyes_of(weak)[0].beyond_dissolved
    assert mixes.dyes_of(strong)[0].beyond_dissolved


def brought_in(lot):
    """What was found of a lot beyond the book, less what of it was taken back."""
    came = Line.objects.filter(lot=lot, from_place__code="count_difference")
    went = Line.objects.filter(lot=lot, to_place__code="count_difference")
    return sum(line.quantity for line in came) - sum(line.quantity for line in went)


class DyeIsConserved(TestCase):
    """The dye of a mix is what was weighed and poured into it, and every share of it is in a pot, thrown away or left."""

    @settings(max_examples=12, deadline=None)
    @given(
        weighed=st.integers(1, 40_000),
        poured=st.integers(1, 200_000),
        strength=st.sampled_from([1_000, 3_333, 10_000, 50_000]),
        water=st.integers(0, 900_000),
        pours=st.lists(st.integers(1, 120_000), min_size=1, max_size=4),
        struck=st.booleans(),
        counted=st.integers(0, 100_000),
    )
    def test_parts_in_are_used_and_left_by_share(
        self, weighed, poured, strength, water, pours, struck, counted
    ):
        owner = factories.OwnerFactory()
        jar = factories.jar(grams=50, who=owner)
        bottle = factories.bottle(strength_mg_per_litre=strength, millilitres=300, who=owner)
        mix = mixes.make_mix(
            key=uuid.uuid4(),
            parts=[
                mixes.Part(jar=jar, milligrams=weighed),
                mixes.Part(bottle=bottle, microlitres=poured),
            ],
            microlitres=poured + water,
            made_at=timezone.now(),
            who=owner,
        )
        pot = factories.loaded_pot(who=owner)
        entries = [
            log.add_entry(
                pot=pot,
                key=uuid.uuid4(),
                kind="mix",
                who=owner,
                happened_at=timezone.now(),
                mix=mix,
                microlitres=microlitres,
            )
            for microlitres in pours
        ]
        if struck:
            log.strike(entry=entries[0], key=uuid.uuid4(), who=owner)

        used = sum(pours[1:] if struck else pours)
        found = brought_in(mix.lot)
        in_pot = {each.dye.pk: each.milligrams for each in what_is_in(pot).dyes}
        for each in mixes.dyes_of(mix):
            # Used and left, by their share of the volume, are what was weighed or poured in.
            share_used = in_pot.get(each.dye.pk, Fraction(0))
            share_left = each.milligrams * (left(mix.lot) - found) / mix.made_microlitres
            assert share_used + share_left == each.milligrams
        assert left(mix.lot) == mix.made_microlitres - used + found
        assert sum(each.milligrams for each in mixes.dyes_of(mix)) == weighed + Fraction(
            poured * strength, 1_000_000
        )
        counting.count_in_store(
            key=uuid.uuid4(), item=mix.item, lot=mix.lot, counted=counted, who=owner, why="measured"
        )
        mixes.finish_mix(key=uuid.uuid4(), mix=mix, who=owner, why="used up")
        assert left(mix.lot) == 0
        assert breaches() == []
