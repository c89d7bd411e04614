import datetime as dt

import pytest
from django.urls import reverse

from inventory.promises.models import Offer, Order, Payment, Product, ShopTerms
from inventory.promises.products import (
    ChoicesUnclear,
    NotAProduct,
    OfferFacts,
    ProductDays,
    ProductFacts,
    ProductNameTaken,
    SoldAlready,
    change_product,
    make_product,
)
from tests import factories
from tests.inventory.promises.factories import order_line, person, product

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(client):
    client.force_login(factories.OwnerFactory())
    factories.studio()
    return client


def one_choice(**facts) -> OfferFacts:
    return OfferFacts(colourway=factories.colourway(), put_up=factories.put_up(), **facts)


def rows(prefix: str, *said: dict) -> dict:
    sent = {f"{prefix}-TOTAL_FORMS": len(said), f"{prefix}-INITIAL_FORMS": 0}
    return sent | {f"{prefix}-{n}-{name}": value for n, row in enumerate(said) for name, value in row.items()}


def test_a_product_is_written_down_and_changed_and_what_was_ordered_stays_what_it_was():
    made = make_product(
        facts=ProductFacts(name="Winter box"), offers=[one_choice(name="Sock", price_minor=18900)]
    )
    offer = made.offers.get()
    order_line(of=made)
    same = OfferFacts(pk=offer.pk, name="Sock yarn", colourway=offer.colourway, put_up=offer.put_up, most=60)
    change_product(product=made, facts=ProductFacts(name="Winter box"), offers=[same])
    offer.refresh_from_db()
    assert (offer.name, offer.most) == ("Sock yarn", 60)
    other = OfferFacts(pk=offer.pk, name="Sock", colourway=factories.colourway(), put_up=offer.put_up)
    with pytest.raises(SoldAlready, match="was ordered already"):
        change_product(product=made, facts=ProductFacts(name="Winter box"), offers=[other])
    change_product(product=made, facts=ProductFacts(name="Winter box"), offers=[one_choice(name="DK")])
    assert [each.name for each in made.offers.filter(retired_at=None)] == ["DK"]
    assert Offer.objects.filter(pk=offer.pk, retired_at__isnull=False).exists()


def test_a_product_that_is_unclear_is_refused_whole():
    make_product(facts=ProductFacts(name="Winter box"), offers=[one_choice()])
    day = dt.date(2026, 11, 1)
    for facts, offers, refusal in (
        (ProductFacts(name=" "), [one_choice()], NotAProduct),
        (ProductFacts(name="Box"), [], NotAProduct),
        (ProductFacts(name="winter BOX"), [one_choice()], ProductNameTaken),
        (ProductFacts(name="Box", opens_on=day, ships_on=dt.date(2026, 10, 1)), [one_choice()], ProductDays),
        (ProductFacts(name="Box"), [one_choice(), one_choice()], ChoicesUnclear),
        (ProductFacts(name="Box"), [OfferFacts(name="nothing")], ChoicesUnclear),
    ):
        with pytest.raises(refusal):
            make_product(facts=facts, offers=offers)
    assert Product.objects.count() == 1


def test_the_pages_of_a_product_and_an_order_from_new_to_cancelled(owner):
    colourway, put_up, buyer = factories.colourway("Marsh Lantern"), factories.put_up(), person("Wren Aldous")
    choice = {
        "name": "Sock",
        "colourway": colourway.pk,
        "put_up": put_up.pk,
        "price_minor": "28,00",
        "most": 3,
    }
    said = {
        "name": "Lantern skeins",
        "kind": "to_order",
        "most": 3,
        "spares_percent": 0,
        **rows("choices", choice),
    }
    made = owner.post(reverse("product-new"), said)
    assert made.status_code == 303
    offer = Offer.objects.get()
    assert (offer.price_minor, offer.most) == (2800, 3)
    line = {"offer": offer.pk, "count": 2, "each_minor": "28"}
    order = {"kind": "preorder", "number": "A7", "buyer": buyer.email, **rows("lines", line)}
    placed = owner.post(reverse("order-new"), order)
    assert placed.status_code == 303
    page = owner.get(placed["Location"]).content.decode()
    assert "56.00 EUR together" in page
    assert "Wren Aldous" in page
    product_page = owner.get(made["Location"]).content.decode()
    assert "1 left" in owner.get(reverse("products")).content.decode()
    assert "Marsh Lantern" in product_page
    too_many = owner.post(reverse("order-new"), order | {"number": "A8"})
    assert too_many.status_code == 422
    assert "one is left: 2 of 3 are sold" in too_many.content.decode()
    found = Order.objects.get()
    owner.post(reverse("order-pay", args=[found.pk]), {"kind": "deposit", "amount": "10"})
    assert (Payment.objects.get().kind, Payment.objects.get().amount_minor) == ("deposit", 1000)
    owner.post(reverse("order-line", args=[found.pk, 1]), {"count": 1, "why": "fewer"})
    assert found.lines.get().count == 1
    more = rows("lines", {"colourway": colourway.pk, "put_up": put_up.pk, "count": 4})
    owner.post(reverse("order-line-new", args=[found.pk]), more)
    assert [each.count for each in found.lines.order_by("position")] == [1, 4]
    owner.post(reverse("order-line-cancel", args=[found.pk, 2]))
    owner.post(reverse("order-step", args=[found.pk]), {"kind": "dyeing"})
    assert "dyeing" in owner.get(reverse("orders"), {"find": "A7"}).content.decode()
    owner.post(reverse("order-cancel", args=[found.pk]), {"why": "changed"})
    assert "cancelled" in owner.get(reverse("order", args=[found.pk])).content.decode()


def test_what_is_wrong_with_an_order_is_said_beside_its_field_and_kept(owner):
    answer = owner.post(
        reverse("order-new"),
        {
            "kind": "custom",
            "number": "A9",
            "buyer": "nobody@example.org",
            **rows("lines", {"colourway": factories.colourway("Dun").pk, "count": 2, "lot": "ZZZZ"}),
        },
    )
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Nobody is called “nobody@example.org”" in page
    assert "Choose the yarn of this line." in page
    assert "There is no lot of this code" in page
    assert 'value="nobody@example.org"' in page
    assert not Order.objects.exists()


def test_a_shop_below_its_terms_is_told_so_on_the_order(owner):
    shop = person("Sloe Lane Yarns", kind="shop")
    owner.post(reverse("order-terms", args=[shop.code]), {"least_pieces": 10, "discount_percent": 50})
    assert ShopTerms.objects.get().least_pieces == 10
    line = {"colourway": factories.colourway("Dun").pk, "put_up": factories.put_up().pk, "count": 4}
    placed = owner.post(
        reverse("order-new"), {"kind": "wholesale", "number": "W1", "buyer": shop.code, **rows("lines", line)}
    )
    page = owner.get(placed["Location"]).content.decode()
    assert "4 pieces are ordered; the least is 10." in page
    assert "quoted" in page


def test_lists_of_orders_and_products_take_the_same_queries_however_long(
    owner, django_assert_max_num_queries
):
    sold = product()
    for _ in range(5):
        order_line(of=sold)
    for address in (reverse("orders"), reverse("products"), reverse("product", args=[sold.pk])):
        with django_assert_max_num_queries(12):
            assert owner.get(address).status_code == 200
