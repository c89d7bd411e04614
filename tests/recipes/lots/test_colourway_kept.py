"""What a colourway is found by: its families and its snip; and by which way it is dyed on a base without its own."""

from __future__ import annotations

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from recipes.colourways import NotAFamily, keep_secret, note_snip, sort_into_families
from recipes.lots.redye import RedyeAsk, plan_redye
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def studio():
    return factories.studio()


@pytest.fixture
def marit():
    return factories.OwnerFactory()


@pytest.fixture
def owner(marit) -> Client:
    client = Client()
    client.force_login(marit)
    return client


@pytest.fixture
def helper() -> Client:
    client = Client()
    client.force_login(factories.HelperFactory())
    return client


def page(client: Client, name: str, *args, **asked) -> str:
    answer = client.get(reverse(name, args=args), asked)
    assert answer.status_code == 200
    return answer.content.decode()


def test_families_are_chosen_on_its_page_and_filter_the_list(owner):
    moss, rust = factories.colourway("Moss Bank"), factories.colourway("Rust Gate")

    answer = owner.post(reverse("colourway-families", args=[moss.code]), {"families": ["brown", "green"]})

    moss.refresh_from_db()
    assert answer.status_code == 303
    assert moss.families == ["green", "brown"]
    green, red = page(owner, "colourways", family="green"), page(owner, "colourways", family="red")
    assert moss.code in green
    assert "Green, brown." in green
    assert rust.code not in green
    assert moss.code not in red
    assert "No colourway fits red." in red
    assert rust.code in page(owner, "colourways", family="mauve")


def test_families_and_a_search_go_together(owner):
    moss, gate = factories.colourway("Moss Bank"), factories.colourway("Moss Gate")
    sort_into_families(colourway=moss, families=["green"])

    found = page(owner, "colourways", family="green", find="moss")

    assert moss.code in found
    assert gate.code not in found


def test_a_family_that_is_none_is_refused():
    with pytest.raises(NotAFamily):
        sort_into_families(colourway=factories.colourway(), families=["beige"])


def test_a_family_that_is_none_stands_beside_the_field(owner):
    code = factories.colourway().code

    answer = owner.post(reverse("colourway-families", args=[code]), {"families": ["beige"]})

    assert answer.status_code == 422
    assert "“beige” is not one of the choices." in answer.content.decode()


def test_a_secret_colour_is_in_no_family_for_a_helper(owner, helper):
    secret = factories.colourway("Night Ferry")
    sort_into_families(colourway=secret, families=["blue"])
    keep_secret(colourway=secret, until=timezone.now() + dt.timedelta(days=9))

    assert secret.code in page(owner, "colourways", family="blue")
    assert secret.code not in page(helper, "colourways", family="blue")
    assert "Blue" not in page(helper, "colourway", secret.code)
    refused = helper.post(reverse("colourway-families", args=[secret.code]), {"families": ["red"]})
    assert refused.status_code == 403


def test_where_the_snip_is_stands_on_its_page(helper):
    moss = factories.colourway("Moss Bank")

    helper.post(reverse("colourway-snip", args=[moss.code]), {"snip": " grey book,  page 14 "})

    assert "Its snip: grey book, page 14" in page(helper, "colourway", moss.code)
    note_snip(colourway=moss, where="")
    assert "Its snip" not in page(helper, "colourway", moss.code)


def test_a_base_without_its_own_way_is_offered_the_nearest_and_told_why(owner, marit):
    way = factories.way(who=marit)
    other = factories.put_up(base=factories.base("Moor DK", fibres={"wool": 1000}, metres_per_100g=225))

    shown = page(owner, "colourway", way.colourway.code)

    assert (
        f"No way of dyeing it on Moor DK yet. Nearest is on {way.base.name}: 75 % of its fibre is the same; "
        "superwash both; 400 m in 100 g, and this has 225."
    ) in shown
    plan = plan_redye(
        key=factories.uuid.uuid4(),
        ask=RedyeAsk(
            way=way, put_up=other, mill_lot=None, pieces=2, piece_dry_milligrams=100_000,
            vessel=factories.VesselFactory(), liquor_ratio_tenths=300,
        ),
        who=marit,
    )  # fmt: skip
    assert f"by way 1 of {way.base.name}" in page(owner, "redye-plan", plan.pk)
