"""The stock's value as of a day, seconds at the lower of cost and expected price: worked by hand after IAS 2.9 and 2.28-33."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import timezone

from inventory.costing.worth import worth
from recipes.models import DyedYarn
from tests import factories
from tests.inventory.costing import factories as costs

NOON = dt.time(12)


def at(days_ago: int) -> dt.datetime:
    return timezone.make_aware(dt.datetime.combine(timezone.localdate() - dt.timedelta(days=days_ago), NOON))


@pytest.mark.django_db
def test_each_category_as_of_a_day_and_a_second_at_what_it_should_bring():
    factories.studio(currency="EUR")
    owner = factories.OwnerFactory()
    put_up = factories.put_up()
    lot = costs.mill_lot(put_up)
    costs.bought(put_up, 10, each=400, mill_lot=lot, at=at(9), who=owner)
    jar = costs.priced_jar(who=owner)
    pot = costs.pot_loaded(put_up, 4, lot=lot, who=owner, at=at(6))
    costs.kept(pot, "5 g red", who=owner)
    zero = dict.fromkeys(costs.USUAL, 0)
    costs.usual_costs(who=owner, **zero)
    made = costs.out_and_judged(pot, who=owner, good=3, second=1)

    then = worth(at(7))
    assert (then.of("undyed"), then.of("work"), then.of("finished")) == (4000, 0, 0)
    in_pot = worth(at(5))
    assert (in_pot.of("undyed"), in_pot.of("work")) == (2400, 1600)

    now = worth(timezone.now())
    # Six left; 5 g of the jar of 100 g for 20.00 are in the lot; the four pieces cost 4.25 each and are dry, so in work.
    assert {name: now.of(name) for name in ("undyed", "dye", "work", "finished")} == {
        "undyed": 2400, "dye": 1900, "work": 1700, "finished": 0,
    }  # fmt: skip
    assert now.total == 6000
    assert jar.dye.item_id in {row.item for row in now.rows}

    # Retail 8.00, a second brings half: 4.00 is below its cost of 4.25. At 60 % it is 4.80, and cost holds.
    costs.retail(put_up, 800, who=owner)
    costs.usual_costs(who=owner, **zero, second_percent=50)
    assert worth(timezone.now()).of("work") == 1675
    costs.usual_costs(who=owner, **zero, second_percent=60)
    assert worth(timezone.now()).of("work") == 1700
    # A price of the colourway's own goes before.
    costs.retail(put_up, 500, colourway=made.colourway, who=owner)
    assert worth(timezone.now()).of("work") == 1575
    second = DyedYarn.objects.get(colourway=made.colourway, grade="second")
    row = next(row for row in worth(timezone.now()).rows if row.item == second.item_id)
    assert (row.cost, row.carried) == (425 * 10**9, 300 * 10**9)


@pytest.mark.django_db
def test_the_dye_in_the_bath_of_a_pot_in_work_is_in_work_and_what_is_not_known_is_named():
    factories.studio(currency="EUR")
    owner = factories.OwnerFactory()
    put_up = factories.put_up()
    costs.bought(put_up, 5, mill_lot=(lot := costs.mill_lot(put_up)), who=owner)
    costs.priced_jar(who=owner)
    pot = costs.pot_loaded(put_up, 4, lot=lot, who=owner)
    costs.kept(pot, "5 g red", who=owner)

    now = worth(timezone.now())

    assert now.of("work") == 100
    assert now.of("dye") == 1900
    assert {row.quantity for row in now.lacking} == {1, 4}, (
        "the yarn that nobody priced, in the store and in the pot"
    )
