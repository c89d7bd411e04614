"""A jug into several pots makes one lot: when it is proposed, when asked, when never, and what the ledger says then."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from dyehouse.ledger.models import Balance
from dyehouse.ledger.verify import breaches
from dyehouse.paper.labelling import wet_tag_of
from inventory.queries import lot_lying
from recipes import yarn
from recipes.lots import finishing, learning, log
from recipes.lots.jugs import NotOfOneJug, lots_from_its_jugs, together_words
from recipes.lots.lot_queries import lot_page
from recipes.lots.models import DyeLot
from recipes.lots.redye import RedyeAsk
from recipes.lots.to_judge import by_line
from recipes.lots.today import reference_of
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def who():
    factories.studio()
    return factories.OwnerFactory()


@pytest.fixture
def jug(who):
    return factories.mix("evening", millilitres=2_000, who=who)


@pytest.fixture
def heron(who):
    """A put-up with yarn enough, and a colourway to dye on it."""
    return factories.put_up(pieces=40, who=who), factories.colourway("Ash Lane")


def fed(heron, who, *lines, pieces=5, **load):
    put_up, colourway = heron
    pot = factories.loaded_pot(put_up=put_up, colourway=colourway, pieces=pieces, who=who, **load)
    for line in lines:
        log.keep_line(pot=pot, key=uuid.uuid4(), typed=line, who=who)
    return pot


def out(pot, who, **more):
    return finishing.out_of_pot(key=uuid.uuid4(), pot=pot, bath="clear", who=who, **more)


def drying(lot):
    return sum(
        row.on_hand for row in Balance.objects.filter(lot=lot.lot_id, place__code="drying", on_hand__gt=0)
    )


def test_one_pot_is_the_same_pot_and_only_jugs_make_the_same_lot():
    assert together_words(1) == "same pot"
    assert together_words(2) == "same lot"
    assert together_words(1, from_before=True) == ""
    assert together_words(0) == ""


def test_a_second_pot_from_the_jug_is_the_same_lot_and_keeps_its_code(heron, jug, who):
    first = fed(heron, who, "8 l water", "200 ml jug evening", "50 ml vinegar")
    lot = out(first, who)
    second = fed(heron, who, "8 l water", "200 ml jug evening")

    (proposed,) = lots_from_its_jugs(second)
    assert (proposed.lot, proposed.joins, proposed.off) == (lot, True, 0)
    joined = out(second, who, join=proposed.lot)

    second.refresh_from_db()
    assert joined == lot
    assert (second.dye_lot, second.code != lot.code) == (lot, True)
    assert DyeLot.objects.count() == 1
    assert drying(lot) == 10
    assert [each.pieces for each in finishing.waiting_to_be_judged(lot)] == [10]
    assert breaches() == []


def test_the_same_key_again_joins_once(heron, jug, who):
    lot = out(fed(heron, who, "200 ml jug evening"), who)
    second, key = fed(heron, who, "200 ml jug evening"), uuid.uuid4()

    for _ in range(2):
        finishing.out_of_pot(key=key, pot=second, bath="clear", who=who, join=lot)

    assert drying(lot) == 10


def test_what_a_pot_took_goes_by_its_dry_weight(heron, jug, who):
    out(fed(heron, who, "200 ml jug evening"), who)

    small = fed(heron, who, "80 ml jug evening", pieces=2)
    # 200 ml on 500 g and 80 ml on 200 g are both 0.4 ml a gram.
    assert lots_from_its_jugs(small)[0].joins


@pytest.mark.parametrize(
    ("millilitres", "joins"),
    [(200, True), (210, True), (190, True), (211, False), (189, False), (400, False)],
)
def test_within_a_twentieth_it_is_one_lot_beyond_that_it_is_asked(heron, jug, who, millilitres, joins):
    out(fed(heron, who, "200 ml jug evening"), who)

    (proposed,) = lots_from_its_jugs(fed(heron, who, f"{millilitres} ml jug evening"))

    assert proposed.joins is joins
    assert bool(proposed.why_not) is not joins


def test_all_of_several_jugs_must_be_the_same(heron, jug, who):
    factories.mix("fog", who=who)
    out(fed(heron, who, "200 ml jug evening", "100 ml jug fog"), who)

    assert lots_from_its_jugs(fed(heron, who, "200 ml jug evening")) == []
    assert lots_from_its_jugs(fed(heron, who, "200 ml jug evening", "100 ml jug fog"))[0].joins
    off = lots_from_its_jugs(fed(heron, who, "200 ml jug evening", "200 ml jug fog"))[0]
    assert (off.joins, off.off) == (False, 1)


@pytest.mark.parametrize("more", ["5 ml red 1%", "0.2 g red", "0.5 ml red", "2 drops red"])
def test_any_other_dye_makes_a_lot_of_its_own(heron, jug, who, more):
    factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=who), who=who)
    lot = out(fed(heron, who, "200 ml jug evening"), who)

    other = fed(heron, who, "200 ml jug evening", more)

    assert lots_from_its_jugs(other) == []
    with pytest.raises(NotOfOneJug, match="lot of its own"):
        out(other, who, join=lot)
    other.refresh_from_db()
    assert other.state == "in work"


def test_dye_that_was_struck_counts_for_nothing(heron, jug, who):
    factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=who), who=who)
    out(fed(heron, who, "200 ml jug evening"), who)
    second = fed(heron, who, "200 ml jug evening")
    (wrong,) = log.keep_line(pot=second, key=uuid.uuid4(), typed="5 ml red 1%", who=who)
    log.strike(entry=wrong, key=uuid.uuid4(), who=who)

    assert lots_from_its_jugs(second)[0].joins


def test_another_colourway_from_the_jug_is_another_lot(heron, jug, who):
    lot = out(fed(heron, who, "200 ml jug evening"), who)

    other = fed((heron[0], factories.colourway("Moss")), who, "200 ml jug evening")

    assert lots_from_its_jugs(other) == []
    with pytest.raises(NotOfOneJug):
        out(other, who, join=lot)


def test_another_mix_made_alike_is_not_the_same_jug(heron, jug, who):
    factories.mix("evening two", who=who)
    out(fed(heron, who, "200 ml jug evening"), who)

    assert lots_from_its_jugs(fed(heron, who, "200 ml mix evening two")) == []


def test_a_pot_whose_bath_was_used_before_is_a_lot_of_its_own(heron, jug, who):
    first = fed(heron, who, "200 ml jug evening")
    out(first, who)
    second = fed(heron, who, "200 ml jug evening")
    second.bath_from = first
    second.save()

    assert lots_from_its_jugs(second) == []


def test_another_mill_lot_is_asked_about(heron, jug, who):
    put_up = heron[0]
    out(fed(heron, who, "200 ml jug evening"), who)
    number = yarn.add_mill_lot(base=put_up.base, number="M2", arrived_on=timezone.localdate())
    yarn.receive_yarn(key=uuid.uuid4(), put_up=put_up, mill_lot=number, pieces=5, who=who)
    second = fed(heron, who, "200 ml jug evening")
    second.loads.update(mill_lot=number)

    (proposed,) = lots_from_its_jugs(second)

    assert not proposed.joins
    assert "mill lot" in proposed.why_not[0]


def test_a_jug_past_its_day_and_an_amount_that_is_about_are_asked(heron, jug, who):
    type(jug).objects.filter(pk=jug.pk).update(best_before=timezone.localdate() - dt.timedelta(days=1))
    out(fed(heron, who, "200 ml jug evening"), who)

    (proposed,) = lots_from_its_jugs(fed(heron, who, "about 200 ml jug evening"))

    assert any("past its day" in sentence for sentence in proposed.why_not)
    assert any("about" in sentence for sentence in proposed.why_not)


def test_the_out_page_proposes_it_and_one_touch_keeps_it_apart(client, heron, jug, who):
    first = fed(heron, who, "200 ml jug evening")
    lot = out(first, who)
    second, third = (fed(heron, who, "200 ml jug evening") for _ in range(2))
    client.force_login(who)

    shown = client.get(reverse("pot-out", args=[second.code])).content.decode()
    assert f"Same lot as pot {first.code}" in shown
    assert f'value="{lot.code}" ' in shown
    assert shown.index("checked") < shown.index('value="own"')
    load = second.loads.get()
    said = {"key": uuid.uuid4(), "bath": "clear", f"out_{load.pk}": 5}
    answered = client.post(reverse("pot-out", args=[second.code]), {**said, "lot": lot.code}, follow=True)
    assert f"pots {first.code} and {second.code}" in answered.content.decode()
    assert "same lot" in answered.content.decode()

    apart = {"key": uuid.uuid4(), "bath": "clear", f"out_{third.loads.get().pk}": 5, "lot": "own"}
    client.post(reverse("pot-out", args=[third.code]), apart)
    third.refresh_from_db()
    assert third.dye_lot.code == third.code


def test_where_it_is_asked_its_own_lot_is_chosen_at_first(client, heron, jug, who):
    out(fed(heron, who, "200 ml jug evening"), who)
    second = fed(heron, who, "300 ml jug evening")
    client.force_login(who)

    shown = client.get(reverse("pot-out", args=[second.code])).content.decode()

    assert "50 % more than that lot" in shown
    assert "It is a lot of its own unless you say otherwise" in shown
    missing = client.post(
        reverse("pot-out", args=[second.code]),
        {"key": uuid.uuid4(), "bath": "clear", f"out_{second.loads.get().pk}": 5, "lot": "ZZZZZ"},
    )
    assert missing.status_code == 422
    assert "no longer from the same jug" in missing.content.decode()


def test_pots_without_a_jug_are_never_asked(client, heron, who):
    factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=who), who=who)
    out(fed(heron, who, "20 ml red 1%"), who)
    second = fed(heron, who, "20 ml red 1%")
    client.force_login(who)

    assert "Its lot" not in client.get(reverse("pot-out", args=[second.code])).content.decode()


def test_both_pots_are_judged_as_one_and_taken_back_as_one(heron, jug, who):
    lot = out(fed(heron, who, "200 ml jug evening"), who)
    out(fed(heron, who, "200 ml jug evening"), who, join=lot)
    put_up = heron[0]

    judgement = finishing.judge(
        key=uuid.uuid4(),
        dye_lot=lot,
        counts={(put_up.pk, "good"): 9, (put_up.pk, "second"): 1},
        who=who,
        verdict="first",
    )
    assert sorted(row.pieces for row in lot_lying(lot, user=who)) == [1, 9]
    assert {row.together for row in lot_lying(lot, user=who)} == {"same lot"}
    finishing.take_back_judgement(key=uuid.uuid4(), judgement=judgement, who=who, why="looked again")

    assert drying(lot) == 10
    page = lot_page(lot, user=who)
    assert (page.went_out, page.waiting_pieces, len(page.pots)) == (10, 10, 2)
    assert breaches() == []


def test_each_pot_of_a_lot_is_judged_apart_where_one_came_out_otherwise(heron, jug, who):
    first, second = (fed(heron, who, "200 ml jug evening") for _ in range(2))
    lot = out(first, who)
    out(second, who, join=lot)

    waiting = finishing.waiting_to_be_judged(lot)
    apart = by_line(waiting, lot_page(lot, user=who).loads)
    lines = {line.line_words.split(",")[0]: line.pieces for line in apart}

    assert lines == {f"pot {first.code}": 5, f"pot {second.code}": 5}


def test_a_redye_is_held_against_the_pot_of_the_lot_that_is_most_like_it(heron, jug, who):
    first = fed(heron, who, "8 l water", "200 ml jug evening")
    lot = out(first, who)
    second = fed(heron, who, "3 l water", "80 ml jug evening", pieces=2)
    out(second, who, join=lot)
    way = learning.learn_way(pot=first, who=who)
    finishing.choose_reference(dye_lot=lot, base=way.base, who=who)
    ask = RedyeAsk(
        way=way,
        put_up=heron[0],
        mill_lot=None,
        pieces=2,
        piece_dry_milligrams=100_000,
        vessel=factories.VesselFactory(),
        liquor_ratio_tenths=160,
    )

    reference = reference_of(ask)

    assert reference.lot == lot
    assert {pot.code for pot in reference.pots} == {first.code, second.code}
    assert reference.pot == second


def test_a_lot_of_two_pots_is_one_line_of_its_colourway_and_one_label_row(client, heron, jug, who):
    first, second = (fed(heron, who, "200 ml jug evening") for _ in range(2))
    lot = out(first, who)
    out(second, who, join=lot)
    finishing.judge(
        key=uuid.uuid4(), dye_lot=lot, counts={(heron[0].pk, "good"): 10}, who=who, verdict="first"
    )
    finishing.choose_reference(dye_lot=lot, base=heron[0].base, who=who)
    client.force_login(who)

    colourway = client.get(reverse("colourway", args=[heron[1].code])).content.decode()
    labels = client.get(reverse("labels")).content.decode()
    tag = client.get(reverse("wet-tag", args=[second.code])).content.decode()

    assert f'href="{reverse("lot", args=[lot.code])}"' in colourway
    assert "same lot" in labels
    assert "same pot" not in labels
    assert second.code in tag
    second.refresh_from_db()
    assert wet_tag_of(second).vessel.endswith(f"same lot as {lot.code}")
    assert "same" not in wet_tag_of(first).vessel


class OneLotOfManyPots(TestCase):
    """Whatever pots a jug fed and however many pieces came out, the pieces of the lot are those of its pots."""

    @settings(max_examples=8, deadline=None)
    @given(
        pots=st.lists(st.tuples(st.integers(1, 4), st.integers(0, 2), st.booleans()), min_size=2, max_size=4)
    )
    def test_pieces_out_are_the_pieces_of_the_lot(self, pots):
        owner = factories.OwnerFactory()
        jug = factories.mix("", millilitres=3_000, who=owner)
        heron = factories.put_up(pieces=40, who=owner), factories.colourway()
        lot, expected = None, 0
        for pieces, lost, join in pots:
            pot = fed(heron, owner, f"{40 * pieces} ml jug {jug.code}", pieces=pieces)
            came_out = max(1, pieces - lost)
            made = out(
                pot,
                owner,
                pieces_out={pot.loads.get().pk: came_out},
                join=lot if join and lot is not None else None,
            )
            if lot is None or made == lot:
                lot = made
                expected += came_out
        assert drying(lot) == expected
        assert lot_page(lot, user=owner).went_out == expected
        assert breaches() == []
