"""What to order: the house's own stock, promises, pots and use put into the arithmetic, worked by hand."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.utils import timezone

from inventory import spoken_for as told
from inventory.buying import ordering, pages
from inventory.buying.needs import needs
from inventory.buying.wanted import splits_now
from inventory.spoken_for import SpokenFor
from inventory.weeks.models import Wanted
from recipes import yarn
from tests import factories
from tests.inventory.buying import factories as buying

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)


@pytest.fixture
def owner():
    return factories.OwnerFactory()


@pytest.fixture
def promised(monkeypatch):
    """Promises told by a room of the test's own."""
    rows: list[SpokenFor] = []
    monkeypatch.setattr(told, "_sources", [lambda: rows])
    return rows


def promise(colourway, put_up, pieces, *, in_days, held=0):
    due = timezone.localdate() + in_days * DAY
    return SpokenFor(
        due, put_up.pk, colourway.pk if colourway else None, pieces, held, "October boxes", "/boxes/"
    )


def test_what_is_promised_beyond_stock_and_pots_is_ordered_in_time(owner, promised):
    """40 promised for day 60, 10 of them held, 4 more lie free: 26 to dye, in the pot a week before, on day 53.

    5 undyed pieces are there and nothing went in the last weeks, so 21 lack on day 53: three packs, by day 23.
    """
    long_ago = timezone.now() - 200 * DAY
    _, _, dyed = factories.shelved_lot(who=owner, happened_at=long_ago)
    put_up, today = dyed.put_up, timezone.localdate()
    yarn.receive_yarn(
        key=uuid.uuid4(), put_up=put_up, mill_lot=yarn.unknown_mill_lot(put_up.base), pieces=5, who=owner
    )
    buying.offer(of=put_up.item, by=buying.supplier(lead_days=30))
    promised.append(promise(dyed.colourway, put_up, 40, in_days=60, held=10))

    (need,) = needs().items

    assert [each.pieces for each in need.to_dye] == [26]
    assert (need.said.runs_out.value, need.said.order_by.value) == (today + 53 * DAY, today + 23 * DAY)
    assert (need.said.needed.value, need.packs, need.state) == (21, 3, "later")
    assert need.said.order_by.working.steps[-1].substitution == (
        "5 pieces + 0 pieces − 26 pieces − 0 pieces = −21 pieces, below 0 pieces"
    )
    # What is open which colour it will be is not covered by what lies there.
    promised.append(promise(None, put_up, 7, in_days=60))
    assert [each.pieces for each in needs().items[0].to_dye] == [26, 7]
    # What the dyer wants by hand for an update counts like a promise.
    Wanted.objects.create(
        key=uuid.uuid4(),
        colourway=dyed.colourway,
        put_up=put_up,
        count=6,
        made_at=timezone.now(),
        made_by=owner,
    )
    assert sorted(each.pieces for each in needs().items[0].to_dye) == [6, 7, 26]


def test_use_is_what_left_the_store_and_stayed_away(owner, promised):
    put_up = factories.put_up(pieces=40, who=owner)
    powder = factories.jar(who=owner)
    factories.loaded_pot(put_up=put_up, pieces=4, who=owner)
    factories.bottle(jar=powder, who=owner)
    mill = buying.supplier()
    buying.offer(of=put_up.item, by=mill)
    buying.offer(of=powder.dye.item, by=mill, pack_quantity=100_000)
    ordering.change_habits(look_back_weeks=13, safety_weeks=0)
    by_item = {each.item.pk: each for each in needs().items}
    # The house is new: four pieces in its first week.
    assert by_item[put_up.item_id].said.use_a_week.value == 4
    used = by_item[powder.dye.item_id].said.use_a_week.value
    assert used > 0
    assert (
        by_item[powder.dye.item_id].on_hand + used
        == powder.dye.item.lines.filter(to_place__code="store").get().quantity
    )
    assert needs().unsold == []


def test_planned_pots_want_their_yarn_today_and_late_orders_are_named(owner, promised):
    plan = factories.redye_plan(who=owner, pieces=10)
    mill = buying.supplier(lead_days=30)
    offer = buying.offer(of=plan.put_up.item, by=mill)
    need = needs().items[0]
    assert (need.planned, need.state, need.late_days) == (10, "late", 30)
    # Sent forty days ago and expected ten days ago: it counts from today, and is late.
    buying.sent_order(of=offer, packs=4, who=owner, ordered_on=timezone.localdate() - 40 * DAY)
    found = needs()
    assert (found.items[0].on_order, [each.quantity for each in found.overdue]) == (40, [40])
    (order,) = pages.open_orders()
    assert (order.state, order.late_days) == ("sent", 10)


def test_a_promise_that_no_one_mill_lot_has_is_named_with_the_lots(owner, promised):
    put_up, colourway = factories.put_up(), factories.colourway("Reed Bed")
    for number, pieces in (("A", 18), ("B", 20)):
        lot = yarn.add_mill_lot(base=put_up.base, number=number)
        yarn.receive_yarn(key=uuid.uuid4(), put_up=put_up, mill_lot=lot, pieces=pieces, who=owner)
    promised.append(promise(colourway, put_up, 20, in_days=60))
    assert splits_now() == []
    promised.append(promise(colourway, put_up, 30, in_days=90))
    (split,) = splits_now()
    assert (split.name(owner), split.what) == ("Reed Bed", "October boxes")
    assert split.split.sentence == (
        "No one mill lot in the store has 30 pieces; there are 20 of mill lot B and 18 of mill lot A."
    )


def test_another_lot_than_open_pots_are_of_is_named_when_it_comes(owner):
    put_up = factories.put_up()
    lot = yarn.add_mill_lot(base=put_up.base, number="A")
    yarn.receive_yarn(key=uuid.uuid4(), put_up=put_up, mill_lot=lot, pieces=5, who=owner)
    pot = factories.planned_pot(who=owner)
    load = pot.loads.get()
    load.put_up, load.mill_lot = put_up, lot
    load.save()
    sent = buying.sent_order(of=buying.offer(of=put_up.item), who=owner)
    same = buying.delivery(purchase=sent, number="a", who=owner)
    other = buying.delivery(purchase=sent, number="B", who=owner)
    assert pages.lots_that_differ(same) == []
    (said,) = pages.lots_that_differ(other)
    assert (str(said.came), said.used.mill_lot, said.colourway) == ("10 of mill lot B", lot, pot.colourway)
