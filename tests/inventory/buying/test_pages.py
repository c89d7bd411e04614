"""The pages of buying: an order from the first supplier to the last cent, by the owner and a helper."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.buying import ordering, supplying
from inventory.buying.models import BuyingHabits, Purchase, Supplier
from inventory.buying.queries import arrival_costs, lines_came, on_order
from recipes.models import MillLot
from tests import factories
from tests.dyehouse.paper.reading import text_of
from tests.inventory.buying import factories as buying

pytestmark = pytest.mark.django_db
MOST_QUERIES = 12
PRICE = "68.00"


@pytest.fixture(autouse=True)
def studio():
    return factories.studio(currency="EUR")


@pytest.fixture
def marit():
    return factories.OwnerFactory()


@pytest.fixture
def owner(marit):
    client = Client()
    client.force_login(marit)
    return client


@pytest.fixture
def helper():
    client = Client()
    client.force_login(factories.HelperFactory())
    return client


def text(answer):
    return answer.content.decode()


def test_from_a_new_mill_to_what_its_yarn_cost(owner, helper, marit):
    put_up = factories.put_up()
    said = {
        "name": "Fell Mill",
        "kind": "mill",
        "lead_days": "20",
        "currency": "GBP",
        "email": "",
        "note": "15 % from May",
    }
    wrong = owner.post(reverse("buying-supplier-new"), {**said, "lead_days": "soon", "email": "nobody"})
    assert wrong.status_code == 422
    assert "Write a whole number of days." in text(wrong)
    assert "orders@mill.example" in text(wrong)
    owner.post(reverse("buying-supplier-new"), said)
    mill = Supplier.objects.get()
    offer_page = reverse("buying-offer-new", args=[mill.pk])
    sells = {
        "what": put_up.item_id,
        "pack": "10",
        "price": PRICE,
        "their_number": "=HYPERLINK(1)",
        "from_1": "10",
    }
    wrong = owner.post(offer_page, sells)
    assert "Write both: from how many packs" in text(wrong)
    owner.post(offer_page, {**sells, "price_1": "64,00"})
    offer = mill.offers.get()
    assert (offer.pack_quantity, offer.price_minor, offer.breaks) == (10, 6800, [[10, 6400]])

    field = f"packs_{offer.pk}"
    wrong = owner.post(reverse("buying-new", args=[mill.pk]), {field: "a few"})
    assert wrong.status_code == 422
    assert "Write how many packs, for example 4, or an amount such as 35 pieces." in text(wrong)
    assert 'value="a few"' in text(wrong)
    answer = owner.post(
        reverse("buying-new", args=[mill.pk]),
        {"key": uuid.uuid4(), field: "35 pieces", "note": "+ two shade cards"},
        follow=True,
    )
    assert "35 pieces are rounded up to 4 packs, 40 pieces." in text(answer)
    order = Purchase.objects.get()
    listed = owner.get(reverse("buying-list", args=[order.pk]))
    assert listed["Content-Disposition"] == f'attachment; filename="order-{order.pk}-fell-mill.csv"'
    assert "'=HYPERLINK(1)" in text(listed)
    assert "'+ two shade cards" in text(listed)
    assert "272.00 GBP" in text(listed)

    paper = text_of(owner.get(reverse("buying-paper", args=[order.pk])).content)
    for words in ("A draft, not sent yet.", "4 × 10 pieces 40 pieces 272.00 GBP", "+ two shade cards"):
        assert words in paper
    assert helper.get(reverse("buying-paper", args=[order.pk])).status_code == 403

    late = owner.post(reverse("buying-send", args=[order.pk]), {"ordered_on": "2099-01-01"})
    assert "This day is still to come." in text(late)
    owner.post(reverse("buying-send", args=[order.pk]), {"ordered_on": timezone.localdate().isoformat()})
    assert on_order()[0].quantity == 40
    wrong = owner.post(reverse("buying-short", args=[order.pk]), {"why": ""})
    assert "Write why the rest will not come" in text(wrong)

    line = order.lines.get()
    rows = {
        "key": uuid.uuid4(),
        "arrived_on": timezone.localdate().isoformat(),
        "came-TOTAL_FORMS": "2",
        "came-INITIAL_FORMS": "1",
        "came-0-line": line.pk,
        "came-0-packs": "2",
        "came-0-loose": "",
        "came-0-number": "K 7",
        "came-1-line": line.pk,
        "came-1-packs": "",
        "came-1-loose": "3.5",
        "came-1-number": "K 8",
    }
    wrong = helper.post(reverse("buying-arrive", args=[order.pk]), rows)
    assert wrong.status_code == 422
    assert "Write a whole number of pieces." in text(wrong)
    assert 'value="K 8"' in text(wrong)
    helper.post(reverse("buying-arrive", args=[order.pk]), {**rows, "came-1-loose": "3"})
    assert [(came.arrived, came.open) for came in lines_came([order])[order.pk]] == [(23, 17)]
    assert set(MillLot.objects.values_list("number", flat=True)) == {"K 7", "K 8"}

    delivery = order.deliveries.get()
    bill = reverse("buying-bill", args=[delivery.pk])
    assert "One GBP in EUR" in text(owner.get(bill))
    wrong = owner.post(bill, {"freight": "12.345"})
    assert "GBP has 2 decimals" in text(wrong)
    owner.post(bill, {f"goods_{line.pk}": "150.00", "freight": "11.50", "other": "", "rate": "1.2"})
    first, second = arrival_costs()
    # 150.00 by 20 and 3 pieces: 130.43 and 19.57; freight by what they cost.
    assert (first.goods_minor, second.goods_minor) == (13_043, 1957)
    assert (first.freight_minor, second.freight_minor) == (1000, 150)
    assert first.goods_in("EUR") == 15_652

    arrival = delivery.arrivals.order_by("pk").last()
    owner.post(reverse("buying-back", args=[arrival.pk]), {"key": uuid.uuid4(), "why": "Not ours"})
    assert lines_came([order])[order.pk][0].open == 20


def test_a_helper_sees_no_price_and_no_address(helper, owner, marit):
    mill = buying.supplier(email="orders@fell.example", note="15 % off")
    offer = buying.offer(by=mill)
    order = buying.sent_order(of=offer, who=marit)
    buying.delivery(purchase=order, who=marit)
    pages = [
        reverse("buying"),
        reverse("buying-orders"),
        reverse("buying-order", args=[order.pk]),
        reverse("buying-supplier", args=[mill.pk]),
        reverse("buying-arrive", args=[order.pk]),
    ]
    shown = "".join(text(helper.get(page)) for page in pages)
    for hidden in ("68.00", "204.00", "EUR", "orders@fell", "15 % off"):
        assert hidden not in shown
    assert PRICE in text(owner.get(pages[2]))
    assert "orders@fell" in text(owner.get(pages[3]))


def test_what_is_late_is_red_on_the_day_and_becomes_an_order_at_a_touch(owner, marit, helper):
    plan = factories.redye_plan(who=marit, pieces=10)
    offer = buying.offer(of=plan.put_up.item, by=buying.supplier("Fell Mill"))
    day = owner.get(reverse("day"))
    assert reverse("buying-due") in text(day)
    assert reverse("buying-due") not in text(helper.get(reverse("day")))
    due = text(owner.get(reverse("buying-due")))
    assert "30 days late" in due
    assert "badge-danger" in due
    page = text(owner.get(reverse("buying")))
    assert "why this day" in page
    for _ in range(2):
        key = uuid.uuid4()
        for _ in range(2):
            owner.post(reverse("buying-draft", args=[offer.supplier_id]), {"key": key})
    assert Purchase.objects.count() == 2
    assert Purchase.objects.first().lines.get().offer == offer
    owner.post(reverse("buying-drop", args=[Purchase.objects.last().pk]))
    assert "There is a draft already" in text(owner.get(reverse("buying")))


def test_habits_and_closed_weeks_are_changed_and_said(owner, marit):
    mill = buying.supplier(lead_days=5)
    today = timezone.localdate()
    closed = {"first_day": today + dt.timedelta(days=2), "last_day": today + dt.timedelta(days=1)}
    wrong = owner.post(reverse("buying-closed", args=[mill.pk]), closed)
    assert "The last day is before the first." in text(wrong)
    owner.post(reverse("buying-closed", args=[mill.pk]), {**closed, "last_day": today + dt.timedelta(days=3)})
    page = text(owner.get(reverse("buying-supplier", args=[mill.pk])))
    assert "5 days + 2 days closed" in page
    owner.post(reverse("buying-closed-away", args=[mill.closed_weeks.get().pk]))
    assert mill.closed_weeks.count() == 0
    said = {"look_back_weeks": 8, "safety_weeks": 0, "cover_weeks": 4, "ready_days": 3, "near_days": 10}
    owner.post(reverse("buying-habits"), {**said, "promised_on_top": "no"})
    habits = BuyingHabits.current()
    assert (habits.look_back_weeks, habits.promised_on_top) == (8, False)


def test_no_page_asks_more_often_however_much_is_ordered(owner, marit, django_assert_max_num_queries):
    mill = buying.supplier()
    offers = [buying.offer(by=mill, of=factories.put_up(pieces=2, who=marit).item) for _ in range(4)]
    for offer in offers:
        order = buying.sent_order(of=offer, who=marit)
        buying.delivery(purchase=order, who=marit, number="A")
        buying.delivery(purchase=order, who=marit, number="B")
    factories.planned_pot(put_up=offers[0].item.put_up, who=marit)
    supplying.close_weeks(supplier=mill, first_day=timezone.localdate(), last_day=timezone.localdate())
    ordering.expect_on(purchase=order, day=timezone.localdate(), why="Their mail", who=marit)
    bill = reverse("buying-bill", args=[order.deliveries.first().pk])
    for page in (
        *(reverse(name) for name in ("buying", "buying-due", "buying-orders", "buying-splits")),
        *(reverse(name, args=[order.pk]) for name in ("buying-order", "buying-arrive", "buying-lines")),
        *(reverse(name, args=[mill.pk]) for name in ("buying-supplier", "buying-new", "buying-offer-new")),
        bill,
    ):
        with django_assert_max_num_queries(MOST_QUERIES, info=page):
            assert owner.get(page).status_code == 200
