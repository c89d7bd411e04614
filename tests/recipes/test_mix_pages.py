"""The pages of mixes: what one comes to while it is written down, one mix, the list, counting and finishing."""

from __future__ import annotations

import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from dyehouse.ledger.models import Balance
from recipes.models import Dye, Mix
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def helper(client):
    factories.studio()
    person = factories.HelperFactory()
    client.force_login(person)
    return person


def said(*rows, **changed):
    sent = {
        "key": str(uuid.uuid4()),
        "microlitres": "1 l",
        "name": "",
        "made_on": timezone.localdate().isoformat(),
        "best_before": "",
        "part-TOTAL_FORMS": str(max(3, len(rows))),
        "part-INITIAL_FORMS": "0",
        **changed,
    }
    for number, (of, amount) in enumerate(rows):
        sent |= {f"part-{number}-of": of, f"part-{number}-amount": amount}
    return sent


def of(thing):
    return f"{'jar' if hasattr(thing, 'label') else 'bottle'}-{thing.pk}"


def left(lot):
    return Balance.objects.get(lot=lot, place__code="store").on_hand


def test_each_dye_comes_to_its_grams_and_strength_with_the_working(client, helper):
    red = factories.jar(dye=factories.dye("Red"))
    teal = factories.bottle(jar=factories.jar(dye=factories.dye("Teal")), strength_mg_per_litre=5_000)

    shown = client.get(reverse("mix-comes-to"), said((of(red), "3"), (of(teal), "200"))).content.decode()

    # 3 g in 1,000 ml is 0.3 % w/v; 200 ml of 0.5 % hold 1 g, which is 0.1 % in the litre.
    assert "0.3 %" in shown
    assert "0.1 %" in shown
    assert "3 g ÷ 1000 ml × 100 %" in shown
    assert "800 ml of water" in shown
    assert "its hue moves" in shown
    assert "respirator" in shown


def test_only_stock_raises_no_dust(client, helper):
    bottle = factories.bottle()

    shown = client.get(reverse("mix-comes-to"), said((of(bottle), "50"))).content.decode()

    assert "respirator" not in shown


@pytest.mark.parametrize(
    "spoilt",
    [
        {"microlitres": "some"},
        {"part-0-amount": "a lot"},
        {"part-0-of": "jar-99999"},
        {"part-TOTAL_FORMS": "x"},
    ],
)
def test_what_is_wrong_is_left_out_while_it_is_written_down(client, helper, spoilt):
    jar = factories.jar()

    assert client.get(reverse("mix-comes-to"), said((of(jar), "1"), **spoilt)).status_code == 200


def test_it_is_made_and_its_code_is_said(client, helper):
    red, teal = factories.jar(dye=factories.dye("Red")), factories.bottle()

    made = client.post(
        reverse("mix-new"), said((of(red), "1.5"), (of(teal), "0.1 l"), name=" evening "), follow=True
    )

    mix = Mix.objects.get()
    assert (mix.name, mix.made_microlitres, mix.made_by) == ("evening", 1_000_000, helper)
    assert (left(red.lot), left(teal.lot), left(mix.lot)) == (98_500, 400_000, 1_000_000)
    assert f"Write {mix.code} on the jug" in made.content.decode()
    assert mix.best_before is not None


@pytest.mark.parametrize(
    ("changed", "rows", "sentence"),
    [
        ({}, [("", "")], "Write at least one dye"),
        ({"microlitres": ""}, [("jar", "1")], "Write how many millilitres the finished mix has."),
        ({"microlitres": "0.1 ml"}, [("bottle", "5")], "The stocks alone are 5 ml"),
        ({}, [("jar", "")], "Write how much of it went in."),
        ({}, [("", "5")], "Choose the jar or bottle that this came from."),
        ({}, [("jar", "5 ml")], "is not a unit for this"),
        ({}, [("bottle", "5 g")], "is not a unit for this"),
        ({}, [("jar", "0")], "more than nothing"),
        ({"made_on": "2999-01-01"}, [("jar", "1")], "This day is still to come."),
        ({"best_before": "2000-01-01"}, [("jar", "1")], "before the day on which it was made"),
    ],
)
def test_what_is_wrong_is_said_beside_it_and_nothing_moves(client, helper, changed, rows, sentence):
    jar = factories.jar()
    bottle = factories.bottle(jar=jar)
    before = left(jar.lot), left(bottle.lot)
    named = {"jar": of(jar), "bottle": of(bottle), "": ""}

    answered = client.post(
        reverse("mix-new"), said(*[(named[thing], amount) for thing, amount in rows], **changed)
    )

    assert answered.status_code == 422
    assert sentence in answered.content.decode()
    assert not Mix.objects.exists()
    assert (left(jar.lot), left(bottle.lot)) == before
    for _, amount in rows:
        assert f'value="{amount}"' in answered.content.decode() or not amount


def test_shown_without_a_script_nothing_is_made_yet(client, helper):
    jar = factories.jar()

    shown = client.post(reverse("mix-new"), said((of(jar), "2"), show="1"))

    assert shown.status_code == 200
    assert "0.2 %" in shown.content.decode()
    assert not Mix.objects.exists()


def test_a_jar_that_has_less_by_the_book_is_pointed_out(client, helper):
    jar = factories.jar(dye=factories.dye("Red"), grams=1, label="L7")

    shown = client.get(reverse("mix-comes-to"), said((of(jar), "2"))).content.decode()

    assert "By the book Red, L7, has only 1 g." in shown


def test_stronger_than_stays_dissolved_is_kept_but_said(client, helper):
    jar = factories.jar(dye=factories.dye("Red", strongest_stock_mg_per_litre=20_000))

    shown = client.get(reverse("mix-comes-to"), said((of(jar), "30"))).content.decode()
    made = client.post(reverse("mix-new"), said((of(jar), "30")), follow=True).content.decode()

    for page in (shown, made):
        assert "Red stays dissolved up to 2 % by what you wrote down, and this is 3 %" in page
    assert Mix.objects.exists()


def test_one_mix_shows_its_parts_what_is_left_and_what_moved(client, helper):
    jar = factories.jar(dye=factories.dye("Red"), label="L7")
    mix = factories.mix("evening", grams={jar: 3})

    shown = client.get(reverse("mix", args=[mix.code.lower()])).content.decode()

    assert "L7" in shown
    assert "0.3 %" in shown
    assert "Still in it" in shown
    assert "Mix evening made" in shown


def test_what_was_measured_and_what_is_thrown_away(client, helper):
    mix = factories.mix("evening")

    client.post(
        reverse("mix-count", args=[mix.code]), {"key": uuid.uuid4(), "counted": "650", "why": "measured"}
    )
    assert left(mix.lot) == 650_000

    refused = client.post(reverse("mix-finish", args=[mix.code]), {"key": uuid.uuid4(), "why": ""})
    assert refused.status_code == 422
    client.post(reverse("mix-finish", args=[mix.code]), {"key": uuid.uuid4(), "why": "too old"})

    assert left(mix.lot) == 0
    shown = client.get(reverse("mixes")).content.decode()
    assert "finished" in shown


def test_the_store_and_the_list_ask_no_more_of_the_database_for_more_mixes(
    client, helper, django_assert_max_num_queries
):
    for number in range(6):
        factories.mix(f"fog{number}")

    for name in ("store", "mixes", "mix-new"):
        with django_assert_max_num_queries(12):
            shown = client.get(reverse(name)).content.decode()
        assert name == "mix-new" or "fog5" in shown


def test_the_strongest_stock_is_written_on_the_dye(client, helper):
    dye = factories.dye("Red")
    facts = {"name": "Red", "dye_class": "levelling", "strength_of_type_percent": "100", "chip": "#aa2222"}

    client.post(
        reverse("dye-change", args=[dye.pk]), {**facts, "strongest_stock_mg_per_litre": "2.5"}, follow=True
    )

    assert Dye.objects.get().strongest_stock_mg_per_litre == 25_000
    assert "2.5 % stays dissolved" in client.get(reverse("dye", args=[dye.pk])).content.decode()
    wrong = client.post(reverse("dye-change", args=[dye.pk]), {**facts, "strongest_stock_mg_per_litre": "80"})
    assert wrong.status_code == 422
    assert "from 0.0001 to 50" in wrong.content.decode()


def test_a_stock_that_is_too_strong_is_made_and_says_so(client, helper):
    jar = factories.jar(dye=factories.dye("Red", strongest_stock_mg_per_litre=10_000))
    sent = {
        "jar": jar.pk,
        "strength": "20000",
        "microlitres": "500",
        "came": "now",
        "made_on": timezone.localdate().isoformat(),
    }

    assert "stays dissolved up to 1 %" in client.get(reverse("stock-powder"), sent).content.decode()
    made = client.post(reverse("stock-new"), {**sent, "key": uuid.uuid4()}, follow=True).content.decode()

    assert "is in the store" in made
    assert "stays dissolved up to 1 %" in made
    fine = client.get(reverse("stock-powder"), {**sent, "strength": "10000"}).content.decode()
    assert "stays dissolved" not in fine


@pytest.mark.parametrize(("fridge", "days"), [("", 5), ("on", 35)])
def test_a_reactive_stock_in_the_fridge_is_trusted_for_longer(client, helper, fridge, days):
    jar = factories.jar(dye=factories.dye(dye_class=Dye.Class.COLD_REACTIVE))
    today = timezone.localdate()

    client.post(
        reverse("stock-new"),
        {
            "key": uuid.uuid4(),
            "jar": jar.pk,
            "strength": "10000",
            "microlitres": "500",
            "came": "now",
            "made_on": today.isoformat(),
            "fridge": fridge,
        },
    )

    # Check value 55 of the collected facts: warn from day 5 at room temperature, from day 35 in the fridge.
    bottle = jar.bottles.get()
    assert ((bottle.best_before - today).days, bottle.in_fridge) == (days, bool(fridge))
