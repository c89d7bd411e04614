"""A stock solution, from what to weigh to the bottle in the store."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from recipes.models import StockBottle
from recipes.queries import the_store
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def helper(client):
    person = factories.HelperFactory()
    client.force_login(person)
    return person


def said(of_jar, **changed):
    return {
        "jar": of_jar.pk,
        "strength": "10000",
        "microlitres": "500",
        "came": "now",
        "made_on": timezone.localdate().isoformat(),
        **changed,
    }


def test_what_to_weigh_stands_beside_the_form_with_its_working(client, helper):
    jar = factories.jar(grams=100)

    shown = client.get(
        reverse("stock-powder"), said(jar, strength="20000", microlitres="250")
    ).content.decode()

    # 250 ml at 2 % w/v: 250 × 2 ÷ 100 = 5 g (dye maker's page on calculating dye quantities).
    assert "5 g" in shown
    assert "volume × strength ÷ 100" in shown
    assert "respirator" in shown


@pytest.mark.parametrize(
    "spoilt",
    [{"microlitres": "some"}, {"strength": "other"}, {"jar": ""}, {"jar": "9" * 5000}, {"strength": "x"}],
)
def test_what_is_missing_is_left_out_while_the_form_is_filled_in(client, helper, spoilt):
    assert client.get(reverse("stock-powder"), said(factories.jar(), **spoilt)).status_code == 200


def test_the_scale_of_the_studio_rounds_what_to_weigh(client, helper):
    factories.ScaleFactory(step=100)

    shown = client.get(reverse("stock-powder"), said(factories.jar(), strength="1000", microlitres="30"))

    # 30 ml at 0.1 % is 0.03 g, which a scale of 0.1 g cannot show.
    assert "cannot" in shown.content.decode()


def test_a_jar_that_will_not_suffice_is_pointed_out(client, helper):
    shown = client.get(reverse("stock-powder"), said(factories.jar(grams=3))).content.decode()

    assert "only 3 g, 2 g too little" in shown


def test_without_javascript_a_button_shows_what_to_weigh_and_makes_nothing(client, helper):
    answer = client.post(reverse("stock-new"), said(factories.jar(), show="1"))

    assert answer.status_code == 200
    assert "5 g" in answer.content.decode()
    assert not StockBottle.objects.exists()


def test_a_stock_is_made(client, helper):
    jar = factories.jar(grams=100)

    answer = client.post(reverse("stock-new"), said(jar))

    bottle = StockBottle.objects.get()
    assert answer["Location"] == reverse("bottle", args=[bottle.pk])
    assert (bottle.strength_mg_per_litre, bottle.made_microlitres, bottle.jar) == (10_000, 500_000, jar)
    assert the_store().dyes[0].milligrams == 95_000


def test_a_form_sent_twice_makes_one_bottle(client, helper):
    sent = said(factories.jar(), key=uuid.uuid4())

    for _ in range(2):
        assert client.post(reverse("stock-new"), sent).status_code == 303

    assert StockBottle.objects.count() == 1


def test_another_strength_is_typed(client, helper):
    client.post(reverse("stock-new"), said(factories.jar(), strength="other", other_strength="0,25 %"))

    assert StockBottle.objects.get().strength_mg_per_litre == 2500


def test_best_before_is_the_published_figure_where_there_is_one(client, helper):
    acid = factories.jar(dye=factories.dye())
    cold = factories.jar(dye=factories.dye(dye_class="cold_reactive"))
    metal = factories.jar(dye=factories.dye(dye_class="premetallised_1_2"))

    for jar in (acid, cold, metal):
        client.post(reverse("stock-new"), said(jar))

    today = timezone.localdate()
    # facts, section 11: acid stock 3 to 6 months; cold reactive stock at room temperature 4 to 5 days; 1:2 has no figure.
    days = {
        bottle.jar: (bottle.best_before - today).days if bottle.best_before else None
        for bottle in StockBottle.objects.all()
    }
    assert days == {acid: 91, cold: 5, metal: None}


def test_where_nobody_has_published_a_figure_the_page_asks(client, helper):
    jar = factories.jar(dye=factories.dye(dye_class="premetallised_1_2"))

    shown = client.get(reverse("stock-powder"), said(jar)).content.decode()

    assert "How long do you trust it?" in shown


def test_what_the_dyer_writes_goes_before_the_published_figure(client, helper):
    day = timezone.localdate() + dt.timedelta(days=20)

    client.post(reverse("stock-new"), said(factories.jar(), best_before=day.isoformat()))

    assert StockBottle.objects.get().best_before == day


def test_a_bottle_from_before_the_house_may_have_no_jar(client, helper):
    jar = factories.jar(grams=100)

    refused = client.post(reverse("stock-new"), said(jar, jar=f"dye-{jar.dye_id}"))
    made = client.post(
        reverse("stock-new"), said(jar, jar=f"dye-{jar.dye_id}", came="before", made_on="2026-01-05")
    )

    assert refused.status_code == 422
    assert "Choose the jar that the powder comes from" in refused.content.decode()
    assert made.status_code == 303
    bottle = StockBottle.objects.get()
    assert bottle.jar is None
    assert timezone.localtime(bottle.made_at).date() == dt.date(2026, 1, 5)
    assert the_store().dyes[0].milligrams == 100_000


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"jar": ""}, "Choose the jar"),
        ({"jar": "999"}, "finished or gone"),
        ({"strength": "other"}, "Write the strength in percent"),
        ({"strength": "other", "other_strength": "60"}, "from 0.0001 to 50"),
        ({"microlitres": "0"}, "more than nothing"),
        ({"made_on": "2999-01-01"}, "still to come"),
        ({"best_before": "2020-01-01"}, "before the day on which it was made"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_is_made(client, helper, changed, says):
    answer = client.post(reverse("stock-new"), said(factories.jar(), **changed))

    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert not StockBottle.objects.exists()


def test_the_page_of_a_dye_leads_to_a_stock_from_its_jar(client, helper):
    jar = factories.jar()

    page = client.get(reverse("stock-new"), {"jar": jar.pk, "strength": "12500"}).content.decode()

    assert f'<option value="{jar.pk}" selected>' in page
    assert 'value="1.25"' in page
    # 500 ml at 1.25 % w/v: 500 × 1.25 ÷ 100 = 6.25 g.
    assert "6.25 g" in page


def test_a_strength_in_the_address_that_is_none_does_no_harm(client, helper):
    assert client.get(reverse("stock-new"), {"strength": "nonsense", "jar": "x"}).status_code == 200
