"""Orders, what comes of them in part, and what it cost."""

from __future__ import annotations

import datetime as dt
import uuid
from fractions import Fraction

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from dyehouse.ledger.models import Balance
from dyehouse.ledger.operations import NotEnough
from dyehouse.studio.refusals import Refused
from inventory.allocation.reorder import PriceFrom
from inventory.buying import arriving, ordering, supplying
from inventory.buying.arriving import Came, Charged
from inventory.buying.models import Arrival, ExpectedDay
from inventory.buying.queries import arrival_costs, lines_came, on_order, shared_out
from recipes.counting import count_in_store
from recipes.models import Auxiliary, Jar, MillLot
from tests import factories
from tests.inventory.buying import factories as buying

pytestmark = pytest.mark.django_db
TODAY = timezone.localdate


@pytest.fixture
def owner():
    return factories.OwnerFactory()


def in_store(item):
    return sum(row.on_hand for row in Balance.objects.filter(item=item, place__code="store"))


def came(purchase):
    return lines_came([purchase])[purchase.pk]


def take(purchase, who, *rows, on=None):
    return arriving.take_in(key=uuid.uuid4(), purchase=purchase, came=rows, arrived_on=on or TODAY(), who=who)


def test_an_order_is_written_sent_expected_and_moved_by_the_mills_word(owner):
    mill = buying.supplier(lead_days=10)
    today = TODAY()
    supplying.close_weeks(
        supplier=mill, first_day=today + dt.timedelta(days=3), last_day=today + dt.timedelta(days=7)
    )
    sock = buying.offer(by=mill, breaks=[PriceFrom(10, 6400)])
    made = ordering.draft_order(key=uuid.uuid4(), supplier=mill, wanted=[ordering.Wanted(sock, 4)], who=owner)
    assert on_order() == []
    ordering.change_draft(purchase=made, wanted=[ordering.Wanted(sock, 12)])
    line = made.lines.get()
    assert (line.ordered, line.price_minor) == (120, 6400)

    sent = ordering.send_order(purchase=made, ordered_on=today, who=owner)
    # Ten days of work, and five that they are closed for.
    assert sent.expected_on == today + dt.timedelta(days=15)
    (one,) = on_order()
    assert (one.quantity, one.expected_on, one.put_up_id) == (120, sent.expected_on, sock.item.put_up.pk)
    with pytest.raises(ordering.NotThatState, match="What was sent stays"):
        ordering.change_draft(purchase=sent, wanted=[ordering.Wanted(sock, 1)])
    with pytest.raises(ordering.ReasonMissing, match="who said so"):
        ordering.expect_on(purchase=sent, day=today, why=" ", who=owner)
    later = today + dt.timedelta(days=40)
    ordering.expect_on(purchase=sent, day=later, why="The mill's mail", who=owner)
    assert on_order()[0].expected_on == later
    assert [each.words for each in ExpectedDay.objects.order_by("pk")][1] == "The mill's mail"
    key = uuid.uuid4()
    for _ in range(2):  # sent twice, it is added once
        ordering.add_to_order(key=key, purchase=sent, wanted=[ordering.Wanted(sock, 1)])
    assert sum(each.quantity for each in on_order()) == 130


def test_yarn_dye_and_auxiliary_come_by_lot_through_the_store(owner):
    maker = buying.supplier()
    red, acid = factories.dye(), factories.auxiliary(form=Auxiliary.Form.POWDER)
    yarn = buying.offer(by=maker)
    powder = buying.offer(by=maker, of=red.item, pack_quantity=100_000, price_minor=950)
    citric = buying.offer(by=maker, of=acid.item, pack_quantity=1_000_000, price_minor=700)
    wanted = [ordering.Wanted(each, 2) for each in (yarn, powder, citric)]
    made = ordering.draft_order(key=uuid.uuid4(), supplier=maker, wanted=wanted, who=owner)
    week_ago = TODAY() - dt.timedelta(days=7)
    ordering.send_order(purchase=made, ordered_on=week_ago, who=owner)
    y, p, c = made.lines.order_by("number")

    key = uuid.uuid4()
    rows = [
        Came(y, packs=1, loose=4, number="K 7"),
        Came(y, loose=2, number="k 7"),
        Came(p, packs=2, number="R9"),
        Came(c, packs=2),
    ]
    for _ in range(2):  # sent twice, it comes once
        arriving.take_in(
            key=key, purchase=made, came=rows, arrived_on=TODAY() - dt.timedelta(days=2), who=owner
        )

    assert [in_store(each.item) for each in (yarn, powder, citric)] == [16, 200_000, 2_000_000]
    assert MillLot.objects.get(base=yarn.item.put_up.base).arrived_on == TODAY() - dt.timedelta(days=2)
    assert list(Jar.objects.filter(dye=red).order_by("pk").values_list("label", flat=True)) == [
        "R9",
        "R9, jar 2",
    ]
    assert [(each.arrived, each.open) for each in came(made)] == [(16, 4), (200_000, 0), (2_000_000, 0)]
    with pytest.raises(arriving.NothingCame):
        take(made, owner)
    with pytest.raises(ordering.DayOutOfReach, match="before the order went out"):
        take(made, owner, Came(y, packs=1), on=week_ago - dt.timedelta(days=1))
    with pytest.raises(arriving.TooManyJars):
        take(made, owner, Came(p, packs=60))


def test_a_wrong_arrival_is_taken_back_and_the_rest_closed_short(owner):
    sent = buying.sent_order(packs=3, who=owner)
    line = sent.lines.get()
    wrong = take(sent, owner, Came(line, packs=2, number="A")).arrivals.get()
    arriving.take_back(key=uuid.uuid4(), arrival=wrong, why="Counted twice", who=owner)
    assert (in_store(line.item), came(sent)[0].open) == (0, 30)
    take(sent, owner, Came(line, packs=2, number="A"))
    with pytest.raises(ordering.ReasonMissing):
        ordering.close_short(purchase=sent, why="", who=owner)
    ordering.close_short(purchase=sent, why="No more of it", who=owner)
    assert (came(sent)[0].short, on_order()) == (10, [])
    with pytest.raises(ordering.NotThatState):
        ordering.close_short(purchase=sent, why="Again", who=owner)
    # What comes after all is there, and no longer short.
    take(sent, owner, Came(line, packs=1, loose=3, number="B"))
    assert [(each.arrived, each.short, each.over) for each in came(sent)] == [(33, 0, 3)]
    used = take(sent, owner, Came(line, loose=1, number="C")).arrivals.get()
    count_in_store(key=uuid.uuid4(), item=line.item, lot=used.lot, counted=0, who=owner, why="Sold as it is")
    with pytest.raises(NotEnough):
        arriving.take_back(key=uuid.uuid4(), arrival=used, why="Not ours", who=owner)
    with pytest.raises(IntegrityError), transaction.atomic():
        Arrival.objects.filter(pk=used.pk).update(quantity=5)


def test_what_was_charged_is_shared_out_and_the_newest_bill_holds(owner):
    """Worked by hand: 20 skeins at 6.80 a skein are 136.00, 100 g of dye 9.50; freight 15.00 and duty 2.00 by what they cost.

    17.00 × 136.00 ÷ 145.50 = 15.89, 17.00 × 9.50 ÷ 145.50 = 1.11.
    """
    mill = buying.supplier(currency="GBP")
    yarn = buying.offer(by=mill)
    powder = buying.offer(by=mill, of=factories.dye().item, pack_quantity=100_000, price_minor=950)
    made = ordering.draft_order(
        key=uuid.uuid4(),
        supplier=mill,
        wanted=[ordering.Wanted(yarn, 2), ordering.Wanted(powder, 1)],
        who=owner,
    )
    ordering.send_order(purchase=made, ordered_on=TODAY(), who=owner)
    y, p = made.lines.order_by("number")
    one = take(made, owner, Came(y, packs=2, number="A"), Came(p, packs=1, number="R"))
    first, second = arrival_costs()
    assert (first.goods_minor, first.charged, first.freight_minor, first.goods_in("EUR")) == (
        13_600,
        False,
        0,
        None,
    )

    charged = Charged(goods={}, freight_minor=1500, other_minor=200, rate_millionths=1_150_000)
    arriving.write_bill(delivery=one, charged=charged, who=owner)
    first, second = arrival_costs()
    assert (first.freight_minor, second.freight_minor) == (1589, 111)
    # 136.00 GBP at 1.15 EUR are 156.40 EUR.
    assert (first.goods_in("EUR"), first.rate) == (15_640, Fraction(115, 100))
    arriving.write_bill(delivery=one, charged=Charged(goods={first.arrival_id: 14_000}), who=owner)
    first, second = arrival_costs(lots=[first.lot_id]) + arrival_costs(lots=[second.lot_id])
    assert [(each.goods_minor, each.charged, each.freight_minor) for each in (first, second)] == [
        (14_000, True, 0),
        (950, False, 0),
    ]
    assert arrival_costs(arrived_until=TODAY() - dt.timedelta(days=1)) == []
    stranger = buying.delivery(who=owner).arrivals.get()
    with pytest.raises(arriving.NotOfThisDelivery):
        arriving.write_bill(delivery=one, charged=Charged(goods={stranger.pk: 1}), who=owner)


def test_suppliers_say_what_is_wrong(owner):
    mill = buying.supplier("Fell Mill")
    sock = buying.offer(by=mill)
    today = TODAY()
    for refused, words in (
        (lambda: buying.supplier("fell  mill"), "already"),
        (lambda: buying.offer(by=mill, of=sock.item), "packs of this size already"),
        (
            lambda: supplying.close_weeks(
                supplier=mill, first_day=today, last_day=today - dt.timedelta(days=1)
            ),
            "before",
        ),
        (
            lambda: supplying.change_offer(offer=sock, price_minor=None, breaks=[PriceFrom(5, 1)]),
            "price of one pack",
        ),
        (
            lambda: supplying.change_supplier(supplier=mill, name="Fell Mill", lead_days=1, currency="USD"),
            "prices of what they sell are in EUR",
        ),
        (
            lambda: ordering.draft_order(key=uuid.uuid4(), supplier=mill, wanted=[], who=owner),
            "at least one line",
        ),
        (lambda: buying.draft(of=sock, packs=0), "Write from 1"),
        (
            lambda: ordering.draft_order(
                key=uuid.uuid4(), supplier=buying.supplier(), wanted=[ordering.Wanted(sock, 1)], who=owner
            ),
            "does not sell",
        ),
    ):
        with pytest.raises(Refused, match=words):
            refused()
    draft = buying.draft(of=sock, who=owner)
    with pytest.raises(supplying.OrdersOpen):
        supplying.retire_supplier(supplier=mill)
    ordering.drop_draft(purchase=draft)
    assert supplying.retire_supplier(supplier=mill).retired_at is not None


@settings(deadline=None)
@given(st.integers(0, 10**7), st.lists(st.integers(0, 10**6), min_size=1, max_size=6))
def test_shares_of_freight_sum_to_what_was_charged(total, weights):
    shares = shared_out(total, weights)
    assert sum(shares) == total
    assert all(share >= 0 for share in shares)


class ArrivalsInPart(TestCase):
    """What is ordered is always what came, what is open and what was given up, less what came beyond it."""

    @given(
        st.integers(1, 5),
        st.lists(
            st.tuples(st.sampled_from(["came", "back", "short"]), st.integers(1, 25)), min_size=1, max_size=6
        ),
    )
    @settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    def test_parts_add_up(self, packs, deeds):
        who = factories.OwnerFactory()
        sent = buying.sent_order(packs=packs, who=who)
        line = sent.lines.get()
        there: list[Arrival] = []
        for deed, pieces in deeds:
            if deed == "came":
                there += take(sent, who, Came(line, loose=pieces, number="A")).arrivals.all()
            elif deed == "back" and there:
                arriving.take_back(key=uuid.uuid4(), arrival=there.pop(), why="Wrong", who=who)
            elif deed == "short" and came(sent)[0].open:
                ordering.close_short(purchase=sent, why="No more", who=who)
            (said,) = came(sent)
            assert said.arrived == in_store(line.item) == sum(each.quantity for each in there)
            assert said.ordered + said.over == said.arrived + said.open + said.short
            assert sum(each.quantity for each in on_order()) == said.open
