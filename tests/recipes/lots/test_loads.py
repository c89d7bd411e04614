"""What is in a pot: several lines, a strip, pieces dyed before, a bath used again; and a sample before the pots of a plan."""

from __future__ import annotations

import uuid
from fractions import Fraction

import pytest

from dyehouse.ledger.models import Balance
from dyehouse.ledger.verify import breaches
from recipes.lots import baths, finishing, learning, log, pots, sampling
from recipes.lots.baths import NotABath, NotLeft, UsedBath, beside_of
from recipes.lots.contents import PotContents, what_is_in
from recipes.lots.load_lines import DyedBefore, LoadLine, NotALoad
from recipes.lots.load_words import load_words
from recipes.lots.models import DyeLot, LogEntry, Pot, PotLoad
from recipes.lots.redye_queries import plan_page
from recipes.lots.to_judge import by_line, waiting_to_be_judged, with_what_came_out
from recipes.models import DyedYarn
from recipes.yarn import add_mill_lot, receive_yarn
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def who():
    return factories.OwnerFactory()


def yarn(who, *, grams: int = 100, number: str = "", pieces: int = 10, put_up=None):
    """A put-up with so many pieces of a mill lot in the store."""
    made = put_up or factories.put_up(grams=grams)
    lot = add_mill_lot(base=made.base, number=number or uuid.uuid4().hex[:6])
    receive_yarn(key=uuid.uuid4(), put_up=made, mill_lot=lot, pieces=pieces, who=who)
    return made, lot


def load(who, *lines: LoadLine, **facts) -> Pot:
    return pots.load_pot(
        lines=lines, **{"key": uuid.uuid4(), "vessel": None, "colourway": None, "who": who, **facts}
    )


def there(place: str, **what) -> int:
    return sum(Balance.objects.filter(place__code=place, **what).values_list("on_hand", flat=True))


def inside(pot: Pot) -> PotContents:
    return what_is_in(pot, beside=beside_of(pot))


def before(lot: DyeLot, grade: str, place: str) -> DyedBefore:
    row = Balance.objects.select_related("item__dyed", "place").get(
        lot=lot.lot, item__dyed__grade=grade, place__code=place
    )
    return DyedBefore(lot, row.item.dyed, row.place)


class TestSeveralLines:
    def test_two_bases_and_two_mill_lots_share_one_pot(self, who):
        sock, first = yarn(who)
        dk, second = yarn(who, grams=50)
        _, other = yarn(who, put_up=sock)

        pot = load(who, LoadLine(sock, first, 2), LoadLine(sock, other, 1, 98_000), LoadLine(dk, second, 4))

        assert [(each.pieces, each.dry_milligrams, each.weighed) for each in pot.loads.order_by("pk")] == [
            (2, 200_000, False), (1, 98_000, True), (4, 200_000, False)
        ]  # fmt: skip
        assert inside(pot).dry_milligrams == 498_000
        assert there("in_pots") == 7
        assert breaches() == []
        words = load_words(list(pot.loads.order_by("pk")), strip_milligrams=12_000)
        assert words == f"3 × {sock.base.name}, 100 g; 4 × {dk.base.name}, 50 g; a strip of 12 g"

    def test_one_weighing_of_all_is_shared_by_the_lines_that_have_none_of_their_own(self, who):
        sock, lot = yarn(who)
        dk, other = yarn(who, grams=50)
        third, lot_3 = yarn(who, grams=50)

        pot = load(
            who,
            LoadLine(sock, lot, 2, 190_000),
            LoadLine(dk, other, 2),
            LoadLine(third, lot_3, 1),
            together_milligrams=343_000,
        )

        # 343 g less 190 g is 153 g, two parts to one.
        weights = list(pot.loads.order_by("pk").values_list("dry_milligrams", flat=True))
        assert weights == [190_000, 102_000, 51_000]
        assert all(pot.loads.values_list("weighed", flat=True))

    def test_lines_that_weigh_something_else_than_all_of_them_are_asked_back(self, who):
        sock, lot = yarn(who)

        with pytest.raises(NotALoad, match="200 g by themselves and 210 g together"):
            load(who, LoadLine(sock, lot, 2, 200_000), together_milligrams=210_000)

        assert not Pot.objects.exists()

    def test_the_very_same_yarn_twice_is_one_line(self, who):
        sock, lot = yarn(who)

        pot = load(who, LoadLine(sock, lot, 2), LoadLine(sock, lot, 1, 99_000))

        assert [(each.pieces, each.dry_milligrams) for each in pot.loads.all()] == [(3, 299_000)]

    def test_a_mill_lot_of_another_base_is_refused(self, who):
        sock, _ = yarn(who)
        _, other = yarn(who)

        with pytest.raises(NotALoad, match="Choose a lot of"):
            load(who, LoadLine(sock, other, 1))

    def test_a_planned_pot_is_loaded_from_two_mill_lots_and_in_another_count(self, who):
        plan = factories.redye_plan(who=who, pieces=4)
        pot = plan.pots.order_by("pk").first()
        _, first = yarn(who, put_up=plan.put_up, number="4411")
        _, second = yarn(who, put_up=plan.put_up, number="4502")
        dye_before = pot.planned.get(rule__dye__name="Red").microlitres

        pots.load_planned(
            key=uuid.uuid4(), pot=pot, mill_lot=None, dry_milligrams=None, who=who,
            lines=[LoadLine(plan.put_up, first, 2), LoadLine(plan.put_up, second, 6)],
        )  # fmt: skip

        assert there("in_pots", lot=first.lot) == 2
        assert there("in_pots", lot=second.lot) == 6
        pot.refresh_from_db()
        # Eight pieces instead of four: twice the dye and twice the bath.
        assert pot.planned.get(rule__dye__name="Red").microlitres == 2 * dye_before
        assert pot.planned_bath_microlitres == 8 * 100_000 * 30

    def test_more_goes_in_without_a_word_while_the_bath_is_water_and_with_one_later(self, who):
        sock, lot = yarn(who)
        dk, other = yarn(who)
        pot = load(who, LoadLine(sock, lot, 2))
        log.keep_line(pot=pot, key=uuid.uuid4(), typed="10 l water", who=who)

        pots.add_line(key=uuid.uuid4(), pot=pot, line=LoadLine(dk, other, 1), who=who)
        assert not pot.entries.filter(kind=LogEntry.Kind.NOTE).exists()

        factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=who), who=who)
        log.keep_line(pot=pot, key=uuid.uuid4(), typed="5 ml red 1%", who=who)
        key = uuid.uuid4()
        pots.add_line(key=key, pot=pot, line=LoadLine(dk, other, 2), who=who)
        pots.add_line(key=key, pot=pot, line=LoadLine(dk, other, 2), who=who)

        assert pot.entries.get(kind=LogEntry.Kind.NOTE).text == f"2 × {dk.base.name}, 100 g put in as well"
        assert inside(pot).pieces == 5
        assert there("in_pots") == 5

    def test_lines_are_weighed_one_by_one_later(self, who):
        sock, lot = yarn(who)
        dk, other = yarn(who)
        pot = load(who, LoadLine(sock, lot, 2), LoadLine(dk, other, 1))
        first, second = pot.loads.order_by("pk")

        pots.weigh_load(pot=pot, by_load={second.pk: 97_500}, strip_milligrams=8_000)
        assert inside(pot).dry_milligrams == 200_000 + 97_500 + 8_000

        pots.weigh_load(pot=pot, dry_milligrams=300_000, by_load={second.pk: 97_500})
        first.refresh_from_db()
        assert (first.dry_milligrams, first.weighed) == (202_500, True)

    def test_a_way_is_for_the_base_that_it_is_asked_for(self, who):
        sock, lot = yarn(who)
        dk, other = yarn(who, grams=50)
        pot = load(who, LoadLine(sock, lot, 3), LoadLine(dk, other, 1))
        factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=who), who=who)
        for line in ("10 l water", "35 ml red 1%"):
            log.keep_line(pot=pot, key=uuid.uuid4(), typed=line, who=who)

        proposed = learning.propose_way(pot)
        assert [base.pk for base in proposed.bases] == [sock.base_id, dk.base_id]
        heavier = learning.learn_way(pot=pot, who=who)
        lighter = learning.learn_way(pot=pot, who=who, base_id=dk.base_id)

        assert (heavier.base, lighter.base) == (sock.base, dk.base)
        # 350 mg on 350 g of fibre, both bases together: 1 g a kilogram.
        assert lighter.rules.get(dye__name="Red").thousandths == 1_000_000
        assert learning.learn_way(pot=pot, who=who, base_id=dk.base_id) == lighter


class TestStrip:
    def test_it_counts_as_fibre_and_is_no_piece(self, who):
        sock, lot = yarn(who)
        pot = load(who, LoadLine(sock, lot, 1), strip_milligrams=25_000)
        factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=who), who=who)
        log.keep_line(pot=pot, key=uuid.uuid4(), typed="125 ml red 1%", who=who)

        contents = inside(pot)

        assert (contents.dry_milligrams, contents.pieces, contents.strip_milligrams) == (125_000, 1, 25_000)
        # 1.25 g of dye on 125 g.
        assert contents.dyes[0].depth_percent == 1
        lot_out = finishing.out_of_pot(key=uuid.uuid4(), pot=pot, bath="clear", who=who)
        assert there("drying", lot=lot_out.lot) == 1

    def test_a_strip_alone_is_loaded_comes_out_and_is_judged_in_words(self, who):
        key = uuid.uuid4()
        pot = load(who, strip_milligrams=20_000, key=key)
        assert load(who, strip_milligrams=20_000, key=key) == pot

        lot = finishing.out_of_pot(key=uuid.uuid4(), pot=pot, bath="clear", who=who)
        assert finishing.out_of_pot(key=uuid.uuid4(), pot=pot, bath="clear", who=who) == lot
        with pytest.raises(finishing.DoesNotAddUp, match="few words"):
            finishing.judge(key=uuid.uuid4(), dye_lot=lot, counts={}, who=who)
        judgement = finishing.judge(key=uuid.uuid4(), dye_lot=lot, counts={}, who=who, words="A touch dull")

        assert (judgement.words, judgement.movement) == ("A touch dull", None)
        assert breaches() == []

    def test_nothing_at_all_is_no_load(self, who):
        with pytest.raises(NotALoad, match="pieces, or a strip"):
            load(who)


class TestOverdyeing:
    def test_pieces_to_redye_become_another_lot_and_both_remember_it(self, who):
        sock, mill_lot = yarn(who)
        pot = load(who, LoadLine(sock, mill_lot, 5))
        first = finishing.out_of_pot(key=uuid.uuid4(), pot=pot, bath="tinted", who=who)
        finishing.judge(
            key=uuid.uuid4(), dye_lot=first, counts={(sock.pk, "good"): 3, (sock.pk, "redye"): 2}, who=who
        )

        again = load(who, LoadLine(sock, None, 2, dyed_before=before(first, "redye", "dry")))

        line = again.loads.get()
        assert (line.overdyes, line.was.grade, line.mill_lot) == (first, "redye", mill_lot)
        assert again.colourway.code == again.code != first.colourway.code
        assert there("in_pots", lot=first.lot) == 2
        assert f"of lot {first.code}, to redye" in again.entries.get().text

        second = finishing.out_of_pot(key=uuid.uuid4(), pot=again, bath="clear", who=who)
        assert there("drying", lot=second.lot) == 2
        assert there("in_pots") == 0
        assert there("dry", lot=first.lot) == 3
        assert list(first.overdyed_in.values_list("pot__code", flat=True)) == [again.code]
        assert breaches() == []

    def test_pieces_still_drying_are_taken_from_the_drying_and_judged_no_more(self, who):
        lot = factories.lot_out(pieces=3, who=who)
        put_up = lot.pots.get().loads.get().put_up

        load(who, LoadLine(put_up, None, 2, dyed_before=before(lot, "unjudged", "drying")))

        assert [line.pieces for line in waiting_to_be_judged(lot)] == [1]

    def test_they_go_back_to_the_shelf_that_they_came_from(self, who):
        lot, place, dyed = factories.shelved_lot(who=who, good=3, second=0)
        line = LoadLine(dyed.put_up, None, 2, dyed_before=DyedBefore(lot, dyed, place))
        pot = load(who, line)
        assert Balance.objects.get(place=place, lot=lot.lot).on_hand == 1

        pots.unload_untouched(key=uuid.uuid4(), pot=pot, who=who)

        assert Balance.objects.get(place=place, lot=lot.lot).on_hand == 3
        assert there("in_pots") == 0
        assert breaches() == []

    def test_at_the_pot_the_deed_wins_over_what_the_book_has(self, who):
        lot = factories.lot_out(pieces=1, who=who)
        put_up = lot.pots.get().loads.get().put_up

        pot = load(who, LoadLine(put_up, None, 3, dyed_before=before(lot, "unjudged", "drying")))

        assert there("in_pots", lot=lot.lot) == 3
        pots.unload_untouched(key=uuid.uuid4(), pot=pot, who=who)
        assert there("drying", lot=lot.lot) == 1

    def test_samples_stay_samples(self, who):
        lot = factories.lot_out(pieces=1, who=who)
        put_up = lot.pots.get().loads.get().put_up
        finishing.judge(key=uuid.uuid4(), dye_lot=lot, counts={(put_up.pk, "sample"): 1}, who=who)

        with pytest.raises(NotALoad, match="Samples stay samples"):
            load(who, LoadLine(put_up, None, 1, dyed_before=before(lot, "sample", "dry")))

    def test_what_was_missing_says_that_the_yarn_was_dyed_before(self, who):
        lot = factories.lot_out(pieces=1, who=who)
        put_up = lot.pots.get().loads.get().put_up
        pot = load(who, LoadLine(put_up, None, 1, dyed_before=before(lot, "unjudged", "drying")))

        missing = {each.slug: each.sentence for each in learning.propose_way(pot).missing}

        assert f"1 × of lot {lot.code}, not yet judged" in missing["dyed-before"]


class TestLinesJudgedApart:
    @pytest.fixture
    def lot(self, who) -> DyeLot:
        sock, first = yarn(who, number="4411")
        _, second = yarn(who, put_up=sock, number="4502")
        pot = load(who, LoadLine(sock, first, 3), LoadLine(sock, second, 2))
        return finishing.out_of_pot(key=uuid.uuid4(), pot=pot, bath="clear", who=who)

    def loads(self, lot: DyeLot) -> list[PotLoad]:
        return list(
            with_what_came_out(PotLoad.objects.filter(pot__dye_lot=lot))
            .select_related("pot", "mill_lot")
            .order_by("pk")
        )

    def test_each_mill_lot_waits_by_itself(self, lot):
        lines = by_line(waiting_to_be_judged(lot), self.loads(lot))

        assert [(line.pieces, line.line_words) for line in lines] == [
            (3, "mill lot 4411"), (2, "mill lot 4502")
        ]  # fmt: skip

    def test_no_more_of_a_line_than_came_out_of_it(self, lot, who):
        first, second = self.loads(lot)
        one, two = (first.pk, "good"), (second.pk, "good")
        with pytest.raises(finishing.DoesNotAddUp, match="3 pieces of mill lot 4502 are judged but only 2"):
            finishing.judge(key=uuid.uuid4(), dye_lot=lot, counts={}, by_line={one: 2, two: 3}, who=who)

        judgement = finishing.judge(
            key=uuid.uuid4(), dye_lot=lot, counts={}, by_line={one: 3, (second.pk, "redye"): 1}, who=who
        )

        assert set(judgement.counts.values_list("load", "outcome", "pieces")) == {
            (first.pk, "good", 3), (second.pk, "redye", 1)
        }  # fmt: skip
        lines = by_line(waiting_to_be_judged(lot), self.loads(lot))
        assert [(line.load, line.pieces) for line in lines] == [(second, 1)]
        assert DyedYarn.objects.filter(grade="redye", item__balances__on_hand=1).exists()

    def test_taken_back_it_waits_again(self, lot, who):
        first, _ = self.loads(lot)
        judgement = finishing.judge(
            key=uuid.uuid4(), dye_lot=lot, counts={}, by_line={(first.pk, "good"): 3}, who=who
        )

        finishing.take_back_judgement(key=uuid.uuid4(), judgement=judgement, who=who, why="counted wrong")

        lines = by_line(waiting_to_be_judged(lot), self.loads(lot))
        assert [line.pieces for line in lines] == [3, 2]


class TestBathUsedAgain:
    @pytest.fixture
    def earlier(self, who) -> Pot:
        """A pot of 12 l that took 2 g of red and came out tinted."""
        factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=who), who=who)
        pot = factories.loaded_pot(who=who, pieces=2)
        for line in ("11.8 l water", "200 ml red 1%"):
            log.keep_line(pot=pot, key=uuid.uuid4(), typed=line, who=who)
        finishing.out_of_pot(key=uuid.uuid4(), pot=pot, bath="tinted", who=who)
        pot.refresh_from_db()
        return pot

    @pytest.fixture
    def pot(self, who, earlier) -> Pot:
        sock, lot = yarn(who)
        bath = next(bath for bath in baths.baths_at_hand() if bath.pot == earlier)
        return load(who, LoadLine(sock, lot, 1), bath=bath)

    def test_its_litres_are_proposed_and_its_dye_is_unknown(self, pot, earlier):
        contents = inside(pot)

        assert contents.bath_microlitres == 12_000_000
        assert contents.dyes == []
        assert [dye.name for dye in contents.bath_before.unknown] == ["Red"]
        assert contents.bath_before.words == f"the bath of pot {earlier.code}, left tinted"
        assert contents.at_least
        assert not contents.is_empty
        said = pot.entries.get(kind=LogEntry.Kind.NOTE)
        assert said.text == f"Started in the bath of pot {earlier.code}, left tinted"

    def test_what_is_told_counts_with_who_told_it(self, pot, who):
        red = inside(pot).bath_before.unknown[0]

        baths.say_what_is_left(pot=pot, left=[(red, 200_000)], who=who)

        (dye,) = inside(pot).dyes
        # 0.2 g on 100 g of fibre.
        assert (dye.milligrams, dye.depth_percent) == (200, Fraction(1, 5))
        assert "told by Marit at" in dye.working.steps[0].substitution
        assert not inside(pot).at_least

    def test_the_newest_telling_holds_and_nothing_is_an_amount_too(self, pot, who):
        red = inside(pot).bath_before.unknown[0]
        for micrograms in (200_000, 200_000, 0):
            baths.say_what_is_left(pot=pot, left=[(red, micrograms)], who=who)

        assert pot.left_in_bath.count() == 2
        assert inside(pot).dyes == []
        assert not inside(pot).at_least

    def test_no_more_is_left_than_went_in(self, pot, who):
        red = inside(pot).bath_before.unknown[0]

        with pytest.raises(NotLeft, match="took 2 g of Red"):
            baths.say_what_is_left(pot=pot, left=[(red, 2_000_001)], who=who)

    def test_a_tinted_bath_is_not_undone_but_a_wrong_telling_of_it_is(self, pot, who):
        with pytest.raises(pots.SomethingIsIn, match="which holds dye"):
            pots.unload_untouched(key=uuid.uuid4(), pot=pot, who=who)

        baths.change_bath(pot=pot, bath=None, key=uuid.uuid4(), who=who)
        pot.refresh_from_db()

        assert pot.bath_from is None
        assert inside(pot).water_microlitres == 0
        pots.unload_untouched(key=uuid.uuid4(), pot=pot, who=who)
        assert there("in_pots") == 0

    def test_a_way_learned_from_it_says_so(self, pot, earlier, who):
        log.keep_line(pot=pot, key=uuid.uuid4(), typed="10 ml red 1%", who=who)

        way = learning.learn_way(pot=pot, who=who)

        assert way.rules.filter(text=f"Started in the bath of pot {earlier.code}, left tinted").exists()
        missing = {each.slug: each.sentence for each in learning.propose_way(pot).missing}
        assert f"bath of pot {earlier.code}" in missing["bath-used-again"]

    def test_what_the_plan_still_wants_is_what_it_wanted_less_what_was_told(self, who):
        plan = factories.redye_plan(who=who)
        first, second = plan.pots.order_by("pk")[:2]
        pots.load_planned(key=uuid.uuid4(), pot=first, mill_lot=None, dry_milligrams=None, who=who)
        for line in ("9 l water", "40 ml red 1%"):
            log.keep_line(pot=first, key=uuid.uuid4(), typed=line, who=who)
        bath = next(bath for bath in baths.baths_at_hand() if bath.pot == first)
        pots.load_planned(
            key=uuid.uuid4(), pot=second, mill_lot=None, dry_milligrams=None, who=who, bath=bath
        )
        second.refresh_from_db()
        red = beside_of(second).bath.unknown[0]
        (unknown,) = baths.refills(second, beside_of(second).bath)
        assert unknown.add is None

        baths.say_what_is_left(pot=second, left=[(red, 50_000)], who=who)

        # 0.1 % of three skeins of 100 g are 0.3 g, less 0.05 g.
        (refill,) = baths.refills(second, beside_of(second).bath)
        assert (refill.dye, refill.add.value) == (red, 250)

    def test_a_pot_is_not_filled_from_its_own_bath(self, pot, earlier, who):
        with pytest.raises(NotABath):
            baths.fill_from(pot=earlier, bath=UsedBath(pot), key=uuid.uuid4(), who=who)


class TestSample:
    def test_a_strip_by_the_very_same_way_where_there_is_no_mini(self, who):
        plan = factories.redye_plan(who=who)

        pot = sampling.plan_sample(plan=plan, who=who)

        assert (pot.sample, pot.strip_milligrams, pot.loads.count()) == (True, 20_000, 0)
        # 30 ml of 1 % stock on 300 g are 0.1 %: 20 mg on 20 g, 2 ml. 30 litres a kilogram are 0.6 litres.
        assert pot.planned.get(rule__dye__name="Red").microlitres == 2_000
        assert pot.planned_bath_microlitres == 600_000
        assert sampling.plan_sample(plan=plan, who=who) == pot

    def test_a_mini_of_the_plans_base_where_the_store_has_one(self, who):
        plan = factories.redye_plan(who=who)
        mini = factories.put_up(base=plan.put_up.base, grams=20, pieces=0)
        _, lot = yarn(who, put_up=mini)

        pot = sampling.plan_sample(plan=plan, who=who)

        assert [(each.put_up, each.mill_lot, each.pieces) for each in pot.loads.all()] == [(mini, lot, 1)]
        assert pot.strip_milligrams is None

    def test_what_measures_badly_at_that_size_is_said_and_the_result_stands_on_the_plan(self, who):
        plan = factories.redye_plan(who=who)
        pot = sampling.plan_sample(plan=plan, who=who)

        # 1.5 % citric acid of 20 g are 0.3 g, on a scale of tenths of a gram.
        assert any("Citric acid" in line.what for line in plan_page(plan).measures_badly)

        pots.load_planned(key=uuid.uuid4(), pot=pot, mill_lot=None, dry_milligrams=None, who=who)
        lot = finishing.out_of_pot(key=uuid.uuid4(), pot=pot, bath="clear", who=who)
        finishing.judge(key=uuid.uuid4(), dye_lot=lot, counts={}, who=who, words="Just right")
        page = plan_page(plan)
        assert page.sample.judgement.words == "Just right"
        assert not page.may_be_sampled


class TestWhatChangedSince:
    def test_yarn_dyed_before_and_a_bath_used_again_differ_from_undyed_yarn_in_fresh_water(self, who):
        first = factories.lot_out(pieces=3, who=who)
        put_up = first.pots.get().loads.get().put_up
        line = LoadLine(put_up, None, 3, dyed_before=before(first, "unjudged", "drying"))
        pot = load(who, line, bath=UsedBath(first.pots.get(), 9_000_000), vessel=factories.VesselFactory())
        factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=who), who=who)
        log.keep_line(pot=pot, key=uuid.uuid4(), typed="30 ml red 1%", who=who)
        lot = finishing.out_of_pot(key=uuid.uuid4(), pot=pot, bath="clear", who=who)
        way = learning.learn_way(pot=pot, who=who)
        finishing.choose_reference(dye_lot=lot, base=way.base, who=who)

        page = plan_page(factories.redye_plan(who=who, of=way))

        found = {each.what: (each.then, each.now) for each in page.differences}
        assert found["The yarn before"] == (f"of lot {first.code}, not yet judged", "undyed")
        assert found["Bath"] == (f"the bath of pot {first.code}, left clear", "fresh")

    def test_water_and_strength_of_type_are_those_of_the_day(self, who):
        factories.studio(water_alkalinity_mg_per_litre=60, water_hardness_mg_per_litre=100)
        plan = factories.redye_plan(who=who)
        factories.studio(water_alkalinity_mg_per_litre=160, water_hardness_mg_per_litre=100)
        red = plan.way.rules.get(dye__name="Red").dye
        red.strength_of_type_percent = 200
        red.save()

        page = plan_page(plan)
        found = {each.what: (each.then, each.now) for each in page.differences}

        assert found["Red: strength of type"] == ("100 %", "200 %")
        assert found["Alkalinity of the water"] == ("60 mg/L", "160 mg/L")
        assert "Hardness of the water" not in found

    def test_an_entry_put_right_keeps_the_strength_of_its_own_time(self, who):
        red = factories.dye("Red")
        factories.bottle(jar=factories.jar(dye=red, who=who), who=who)
        entry = factories.log_entry("5 ml red 1%", who=who)
        assert entry.strength_of_type_percent == 100
        red.strength_of_type_percent = 150
        red.save()

        right = log.correct(entry=entry, key=uuid.uuid4(), who=who, microlitres=6_000)

        assert right.strength_of_type_percent == 100
