"""What a lot costs, worked by hand after IAS 2 (paragraphs 10-16 and 22-27): bought, freight, what was put in, identified or first in."""

from __future__ import annotations

import datetime as dt
import uuid
from decimal import Decimal
from fractions import Fraction

import pytest
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from dyehouse.ledger.models import Item, Lot
from inventory import kits, putups
from inventory.buying import arriving
from inventory.costing import paid, reckoning
from inventory.costing.models import UnitCost
from inventory.costing.sums import NANO, apportion, minor_parts
from inventory.costing.worth import worth
from inventory.kits import PartWanted
from recipes.lots import pots
from recipes.lots.load_lines import DyedBefore, LoadLine
from recipes.models import DyedYarn
from tests import factories
from tests.inventory.buying import factories as buying
from tests.inventory.costing import factories as costs

CENT = NANO


def unit(item: Item, lot: Lot) -> UnitCost:
    reckoning.up_to_date()
    return UnitCost.objects.get(item=item, lot=lot)


def dyed(lot, grade="good"):
    return DyedYarn.objects.get(colourway=lot.colourway, grade=grade)


def cents(row: UnitCost) -> Fraction:
    return Fraction(row.nano, NANO)


def rows() -> dict[tuple[int, int], tuple[int, str, str]]:
    return {
        (row.item_id, row.lot_id): (row.nano, str(sorted(row.parts.items())), f"{row.guesses} {row.lacking}")
        for row in UnitCost.objects.all()
    }


@pytest.fixture
def owner(db):
    factories.studio(currency="EUR")
    return factories.OwnerFactory()


@given(st.integers(-1000, 10**6), st.lists(st.fractions(0, 10**5), min_size=1, max_size=8))
def test_parts_always_sum_to_the_whole_and_are_off_by_less_than_one_where_they_did_already(whole, parts):
    shared = apportion(whole, dict(enumerate(parts)))
    assert sum(shared.values()) == whole

    nano = {number: int(part * NANO) for number, part in enumerate(parts)}
    rounded = minor_parts(nano)
    assert all(abs(rounded[number] - Fraction(nano[number], NANO)) < 2 for number in nano)


def test_a_pot_costs_its_mill_lot_freight_dye_auxiliary_energy_work_and_labels(owner):
    put_up = factories.put_up()
    lot = costs.mill_lot(put_up)
    costs.bought(put_up, 10, each=400, freight=200, mill_lot=lot, who=owner)
    costs.bought(put_up, 10, each=900, mill_lot=costs.mill_lot(put_up, "M-2"), who=owner)
    factories.bottle(jar=costs.priced_jar(who=owner), who=owner)
    citric = factories.auxiliary("Citric acid", form="powder", amount=1_000_000, who=owner)
    costs.invoice(costs.arrival(citric.item, citric.lot), 900, who=owner)
    costs.usual_costs(who=owner)
    pot = costs.pot_loaded(put_up, 5, lot=lot, who=owner)
    costs.kept(pot, "200 ml red 1%", who=owner)
    costs.kept(pot, "5 g citric", who=owner)
    made = costs.out_and_judged(pot, who=owner, good=3, second=1, bin=1)

    # By hand: yarn 5 x 4.00, freight 5 x 0.20, dye 2 g of 100 g for 20.00 = 0.40, citric 5 g of 1 kg for 9.00 = 0.045,
    # energy 0.60, pot work 30 min at 0.30 = 9.00; each kept piece 3 min = 0.90 and a label 0.05. One of five was binned.
    in_pot = 2000 + 100 + 40 + Fraction(9, 2) + 60 + 900
    good, second = (unit(dyed(made, grade).item, made.lot) for grade in ("good", "second"))
    assert cents(good) == in_pot / 4 + 90 + 5
    assert second.nano == good.nano, "good and second pieces of one pot share its cost"
    assert cents(unit(dyed(made, "unjudged").item, made.lot)) == in_pot / 5
    assert good.parts["yarn"] == 500 * CENT
    assert good.parts["dye"] == 10 * CENT
    assert (good.guesses, good.lacking) == (["energy", "wages"], [])


def test_minutes_and_energy_told_of_a_pot_hold_before_the_usual_ones(owner):
    from inventory.costing import usual

    put_up = factories.put_up()
    costs.bought(put_up, 4, each=400, mill_lot=(lot := costs.mill_lot(put_up)), who=owner)
    costs.usual_costs(who=owner)
    pot = costs.pot_loaded(put_up, 4, lot=lot, who=owner)
    made = costs.out_and_judged(pot, who=owner, good=3, bin=1)
    told = {
        "energy_minor": 90, "load_seconds": 60, "dye_seconds": 60, "rinse_seconds": 60,
        "twist_seconds": 600, "label_seconds": 0, "photograph_seconds": 0,
    }  # fmt: skip
    usual.say_pot_costs(key=uuid.uuid4(), pot=pot, figures=told, who=owner)

    # 16.00 of yarn, 0.90, 3 + 10 minutes at 0.30, three labels at 0.05: over three kept pieces.
    row = unit(dyed(made).item, made.lot)
    assert abs(cents(row) - Fraction(1600 + 90 + 13 * 30 + 15, 3)) < Fraction(3, NANO)
    assert row.guesses == []


def test_an_unknown_mill_lot_leaves_first_in_first_out_and_says_so(owner):
    put_up = factories.put_up()
    costs.bought(put_up, 10, each=400, who=owner)
    costs.bought(put_up, 10, each=500, who=owner)
    costs.usual_costs(who=owner, **dict.fromkeys(costs.USUAL, 0))
    first = costs.out_and_judged(costs.pot_loaded(put_up, 5, who=owner), who=owner, good=5)
    second = costs.out_and_judged(costs.pot_loaded(put_up, 8, who=owner), who=owner, good=8)

    # By hand after IAS 2.27: five at 4.00; then five at 4.00 and three at 5.00, 35.00 over eight.
    assert cents(unit(dyed(first).item, first.lot)) == 400
    assert cents(unit(dyed(second).item, second.lot)) == Fraction(3500, 8)
    assert "mill lot" in unit(dyed(second).item, second.lot).guesses
    # What is left are seven that came last: 35.00. Before the second pot they were five at 4.00 and ten at 5.00.
    assert worth(timezone.now()).of("undyed") == 3500
    assert worth(second.pots.get().loaded_at - dt.timedelta(microseconds=1)).of("undyed") == 7000


def test_what_nobody_priced_takes_the_last_known_price_or_is_said_to_lack_it(owner):
    put_up = factories.put_up()
    one, two = costs.mill_lot(put_up, "M-1"), costs.mill_lot(put_up, "M-2")
    line = costs.bought(put_up, 4, mill_lot=one, who=owner)
    costs.bought(put_up, 4, mill_lot=two, who=owner)
    made = costs.out_and_judged(costs.pot_loaded(put_up, 4, lot=two, who=owner), who=owner, good=4)
    lacking = unit(dyed(made).item, made.lot)
    assert lacking.nano == 0
    assert lacking.lacking == ["energy", "labels", "wages", "yarn"]

    # In another money, at the rate of the day: 20.00 USD at 0.90 are 18.00 EUR for four.
    with pytest.raises(paid.RateMissing, match="how much EUR one USD was worth"):
        costs.invoice(line, 2000, currency="USD", who=owner)
    costs.invoice(line, 2000, currency="USD", rate=Decimal("0.9"), who=owner)
    guessed = unit(dyed(made).item, made.lot)
    assert guessed.parts == {"yarn": 450 * CENT}
    assert guessed.guesses == ["yarn"]
    assert "yarn" not in guessed.lacking


def test_what_came_of_an_order_costs_its_bill_with_its_share_of_freight(owner):
    put_up = factories.put_up()
    came = buying.delivery(purchase=buying.sent_order(of=buying.offer(of=put_up.item)), packs=2)
    arrival = came.arrivals.get()
    agreed = unit(put_up.item, arrival.lot)
    assert (cents(agreed), agreed.guesses) == (680, ["yarn"]), "68.00 for ten as agreed, no bill yet"

    charged = arriving.Charged(goods={arrival.pk: 13000}, freight_minor=500)
    arriving.write_bill(delivery=came, charged=charged, who=owner)
    billed = unit(put_up.item, arrival.lot)
    assert (billed.parts, billed.guesses) == ({"yarn": 650 * CENT, "freight": 25 * CENT}, [])


def test_skeins_wound_off_carry_their_cost_by_weight_and_bear_the_waste(owner):
    base = factories.base()
    full, mini = factories.put_up(base=base), factories.put_up(base=base, grams=20)
    lot = costs.mill_lot(full)
    costs.bought(full, 3, each=500, mill_lot=lot, who=owner)
    putups.change_put_up(
        key=uuid.uuid4(), of=putups.Undyed(full, lot), pieces=1, made={mini: 4}, who=owner, why="a knot"
    )

    assert cents(unit(mini.item, lot.lot)) == 125
    assert worth(timezone.now()).of("undyed") == 1500


def test_overdyed_pieces_carry_what_they_cost_before_and_kits_the_sum_of_their_very_pieces(owner):
    put_up = factories.put_up()
    costs.bought(put_up, 10, each=400, mill_lot=(lot := costs.mill_lot(put_up)), who=owner)
    costs.usual_costs(who=owner)
    first = costs.out_and_judged(costs.pot_loaded(put_up, 4, lot=lot, who=owner), who=owner, good=2, redye=2)
    redye = dyed(first, "redye")
    place = redye.item.balances.get(on_hand__gt=0).place
    again = pots.load_pot(
        key=uuid.uuid4(), vessel=None, colourway=None, who=owner,
        lines=[LoadLine(put_up, None, 2, None, DyedBefore(first, redye, place))],
    )  # fmt: skip
    over = costs.out_and_judged(again, who=owner, good=2)

    before = cents(unit(dyed(first).item, first.lot))
    after = cents(unit(dyed(over).item, over.lot))
    # The second pot: energy 0.60 and 30 min at 0.30 over two, 0.90 of work and a label for each.
    assert after == before + (60 + 900) / 2 + 95

    kit = kits.make_kit(
        name="Tide", kind="kit", parts=[PartWanted(each.colourway, put_up) for each in (first, over)]
    )
    shelf = factories.shelf_place()
    built = kits.build(key=uuid.uuid4(), kit=kit, count=1, place=shelf, who=owner)[0]
    # Wrapping 0.40 and ten minutes at 0.30.
    assert cents(unit(kit.item, built.lot)) == before + after + 40 + 300


def test_what_is_worked_out_bit_by_bit_is_what_is_worked_out_afresh(owner):
    put_up = factories.put_up()
    jar = costs.priced_jar(who=owner)
    bottle = factories.bottle(jar=jar, who=owner)
    factories.mix("evening", grams={jar: 2}, poured={bottle: 100}, who=owner)
    costs.bought(put_up, 9, each=400, who=owner)
    pot = costs.pot_loaded(put_up, 4, who=owner)
    reckoning.up_to_date()
    costs.kept(pot, "200 ml evening", who=owner)
    costs.kept(pot, "20 ml red 1%", who=owner)
    reckoning.up_to_date()
    made = costs.out_and_judged(pot, who=owner, good=3, bin=1)
    reckoning.up_to_date()
    costs.kept(pot, "50 ml red 1%", who=owner)
    reckoning.up_to_date()
    kit = kits.make_kit(name="Tide", kind="kit", parts=[PartWanted(made.colourway, put_up)])
    built = kits.build(key=uuid.uuid4(), kit=kit, count=1, place=factories.shelf_place(), who=owner)[0]
    reckoning.up_to_date()
    costs.invoice(costs.arrival(jar.dye.item, jar.lot), 3000, who=owner)
    reckoning.up_to_date()
    kits.break_up(key=uuid.uuid4(), built=built, who=owner, why="sold singly")
    costs.bought(put_up, 3, each=450, who=owner)
    reckoning.up_to_date()

    bit_by_bit = rows()
    reckoning.worked_out_afresh()
    assert rows() == bit_by_bit
    # 200 ml of the litre of mix: 2 g + 1 g of dye x 1/5, and 0.7 g from stock, at 30.00 for 100 g, over three pieces.
    expected = (Fraction(3000, 5) + 700) * Fraction(3000, 100_000) / 3
    dye = Fraction(unit(dyed(made).item, made.lot).parts["dye"], NANO)
    assert abs(dye - expected) < Fraction(1, 10**6)
