"""The pages of costs: what is typed is kept and told, helpers see none of it, and no page asks more with more rows."""

from __future__ import annotations

import csv
import datetime as dt
import io
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.costing import reckoning
from inventory.costing.models import Paid, PotCosts, RetailPrice, UsualCosts
from inventory.costing.prices import retail_prices
from tests import factories
from tests.inventory.costing import factories as costs
from tests.inventory.promises import factories as promises

MOST_QUERIES = 12


@pytest.fixture
def owner(client):
    factories.studio(currency="EUR")
    somebody = factories.OwnerFactory()
    client.force_login(somebody)
    return somebody


def text(answer) -> str:
    return " ".join(answer.content.decode().split())


@pytest.mark.django_db
def test_an_invoice_usual_minutes_and_prices_are_typed_and_the_lot_tells_what_it_cost(client, owner):
    put_up = factories.put_up()
    line = costs.bought(put_up, 10, mill_lot=(lot := costs.mill_lot(put_up)), who=owner)
    made = costs.out_and_judged(costs.pot_loaded(put_up, 4, lot=lot, who=owner), who=owner, good=4)

    wrong = client.post(reverse("costs-paid-line", args=[line.pk]), {"goods": "40,00", "currency": "USD"})
    assert wrong.status_code == 422
    assert "how much EUR one USD was worth" in text(wrong)
    assert 'value="40,00"' in text(wrong)
    client.post(
        reverse("costs-paid-line", args=[line.pk]), {"goods": "40,00", "freight": "2", "currency": "EUR"}
    )
    assert Paid.objects.get().goods_minor == 4000
    usual = {
        "from_day": "2024-01-01", "wage_minor": "18", "energy_minor": "0.60", "load_seconds": "5",
        "dye_seconds": "20", "rinse_seconds": "5", "twist_seconds": "1.5", "label_seconds": "0.5",
        "photograph_seconds": "1", "label_minor": "0.05", "second_percent": "60",
    }  # fmt: skip
    assert client.post(reverse("costs-usual"), {**usual, "second_percent": "160"}).status_code == 422
    client.post(reverse("costs-usual"), usual)
    assert UsualCosts.objects.get().twist_seconds == 90
    client.post(reverse("costs-price", args=[put_up.pk]), {"minor": "26", "from_day": "2024-01-01"})
    assert retail_prices().of(put_up_id=put_up.pk, colourway_id=1) == 2600

    # By hand: 16.00 + 0.80 + 0.60 + 9.00 + 4 x (0.90 + 0.05) = 30.20 for four, 7.55 each; 70.96 % of 26.00 is left,
    # 41.9 % of 13.00, 51.6 % of 15.60.
    page = text(client.get(reverse("costs-lot", args=[made.code])))
    assert "30.20 EUR" in page
    assert "a judged piece: 7.55 EUR" in page
    for words in ("71 %", "41.9 %", "51.6 %", "usual minutes, not this pot’s own".replace("’", "&#x27;")):
        assert words in page
    promises.level(put_up=put_up, pieces=2, price_minor=3000)
    clubs = text(client.get(reverse("costs-margins")))
    assert "Clubs" in clubs
    assert "15.10 EUR" in clubs, "two pieces of 7.55 in a box"
    client.post(reverse("costs-pot", args=[made.code]), {"energy_minor": "1.00", "dye_seconds": "10"})
    assert (PotCosts.objects.get().energy_minor, PotCosts.objects.get().dye_seconds) == (100, 600)
    assert "27.60 EUR" in text(client.get(reverse("costs-lot", args=[made.code])))
    assert "7.55" not in text(client.get(reverse("costs-margins")))
    # An empty price ends it.
    client.post(reverse("costs-price", args=[put_up.pk]), {"minor": "", "from_day": timezone.localdate()})
    assert RetailPrice.objects.count() == 2
    assert retail_prices().of(put_up_id=put_up.pk) is None


@pytest.mark.django_db
def test_a_year_is_closed_on_its_page_and_its_list_adds_up(client, owner):
    factories.studio(name="=Weir")
    put_up = factories.put_up(base=factories.base("=1+1 Sock"))
    long_ago = timezone.now() - dt.timedelta(days=9)
    costs.bought(
        put_up, 3, each=333, freight=2, mill_lot=costs.mill_lot(put_up, "+A"), at=long_ago, who=owner
    )
    day = timezone.localdate() - dt.timedelta(days=2)

    assert client.post(reverse("costs-years"), {"ends_on": timezone.localdate()}).status_code == 422
    closed = client.post(reverse("costs-years"), {"key": uuid.uuid4(), "ends_on": day}, follow=True)
    assert "10.01 EUR" in text(closed)
    year = closed.resolver_match.kwargs["pk"]
    rows = list(csv.reader(io.StringIO(client.get(reverse("costs-year-csv", args=[year])).content.decode())))
    stock = next(row for row in rows if row and row[0] == "Undyed yarn")
    assert stock[2] == "'=1+1 Sock 100 g", "no cell runs as a formula"
    assert (stock[3], stock[4], stock[7], stock[8]) == ("'+A", "3", "10.01", "identified cost")
    assert rows[-1] == ["Closing stock", "10.01", "0.00", "0.00", "0.00", "10.01"]
    pdf = client.get(reverse("costs-year-print", args=[year]))
    assert pdf.content.startswith(b"%PDF")

    # Entered afterwards with a day before: told in the year that runs, at the value it brings.
    costs.bought(put_up, 2, each=500, mill_lot=put_up.base.mill_lots.get(), at=long_ago, who=owner)
    now = text(client.get(reverse("costs-year-now")))
    assert "Dated before, entered since" in now
    assert "lot +A" in now


@pytest.mark.django_db
def test_no_page_asks_more_with_more_rows_and_no_helper_sees_one(
    client, owner, django_assert_max_num_queries
):
    costs.usual_costs(who=owner, second_percent=60)
    costs.priced_jar(who=owner)
    for _ in range(3):
        put_up = factories.put_up()
        costs.bought(put_up, 9, each=400, who=owner)
        costs.retail(put_up, 2600, who=owner)
        pot = costs.pot_loaded(put_up, 4, who=owner)
        costs.kept(pot, "2 g red", who=owner)
        costs.out_and_judged(pot, who=owner, good=3, second=1)
    costs.kept(costs.pot_loaded(put_up, 4, who=owner), "2 g red", who=owner)
    factories.built_kit(who=owner)
    for _ in range(3):
        promises.level(put_up=put_up, price_minor=3000)
    year = costs.closed_year(who=owner)
    reckoning.up_to_date()
    pages = {
        "costs": [], "costs-stock": ["work"], "costs-margins": [], "costs-paid": [], "costs-usual": [],
        "costs-prices": [], "costs-price": [put_up.pk], "costs-years": [], "costs-year": [year.pk],
        "costs-pot": [pot.code],
    }  # fmt: skip
    for name, parts in pages.items():
        with django_assert_max_num_queries(MOST_QUERIES):
            assert client.get(reverse(name, args=parts)).status_code == 200, name
    client.force_login(factories.HelperFactory())
    assert client.get(reverse("costs")).status_code == 403
