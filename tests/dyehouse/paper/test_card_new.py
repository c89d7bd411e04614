"""A helper's card in one step: four answers, the pots, a page each, and whose pot it is."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from dyehouse.paper.models import PrintRun
from recipes.colourways import keep_secret, name_colourway
from recipes.lots.models import Pot, RedyePlan
from recipes.lots.pots import load_planned
from recipes.models import WayOfDyeing
from tests import factories
from tests.dyehouse.paper.reading import page_sizes, text_of

pytestmark = pytest.mark.django_db

MOST_QUERIES = 12


@pytest.fixture(autouse=True)
def studio():
    factories.ScaleFactory(step=10)
    factories.CylinderFactory(step=500)
    return factories.studio()


@pytest.fixture
def marit():
    return factories.OwnerFactory()


@pytest.fixture
def jonas():
    return factories.HelperFactory()


@pytest.fixture
def helper(jonas) -> Client:
    client = Client()
    client.force_login(jonas)
    return client


@pytest.fixture
def way(marit) -> WayOfDyeing:
    learned = factories.way(who=marit)
    name_colourway(colourway=learned.colourway, name="Rust on Rails")
    return learned


@pytest.fixture
def asked(way) -> dict[str, object]:
    """Four skeins in 12 litres: one pot at the way's 25:1."""
    return {
        "key": uuid.uuid4(),
        "colourway": way.colourway.code,
        "put_up": way.base.put_ups.get().pk,
        "pieces": 4,
        "vessel": factories.VesselFactory().pk,
    }


def pdf_of(client: Client, answer) -> bytes:
    assert answer.status_code == 303
    return b"".join(client.get(answer["Location"]))


def test_four_answers_give_one_page_to_dye_from(helper, asked, way):
    answer = helper.post(reverse("card-new"), asked)
    pdf = pdf_of(helper, answer)

    pot = Pot.objects.get(plan__isnull=False)
    assert len(page_sizes(pdf)) == 1
    text = text_of(pdf)
    for words in (
        "Rust on Rails",
        pot.code,
        # 1 % of 400 g from a 1 % stock: 40 ml for 4 skeins where 30 ml of it were on 3; amounts go by the fibre.
        "40 ml",
        "of the 1 % stock",
        # 4.5 g of citric acid on 300 g are 6 g on 400 g.
        "6 g",
        # 25:1 on 400 g.
        "10 litres",
        "Water",
        "Clock",
        "What was really done",
        "Dyed by",
        "What to look for",
        "Take care",
        "Enough in the bottle. It is the one made",
    ):
        assert words in text
    assert PrintRun.objects.get().codes == [pot.code]


def test_more_than_one_pot_is_said_and_each_is_a_page(helper, asked):
    answer = helper.post(reverse("card-new"), {**asked, "pieces": 7})
    pdf = pdf_of(helper, answer)

    pots = list(Pot.objects.filter(plan__isnull=False).order_by("id"))
    assert [pot.loads.get().pieces for pot in pots] == [4, 3]
    assert len(page_sizes(pdf)) == 2
    assert "pot 1 of 2" in text_of(pdf)
    assert "pot 2 of 2" in text_of(pdf)
    after = helper.get(reverse("pots")).content.decode()
    assert "does not take all at once: 7 pieces in 2 pots: 1 of 4 and 1 of 3" in after


def test_how_many_pots_is_said_while_it_is_being_asked(helper, asked):
    hint = helper.get(reverse("card-new"), {**asked, "pieces": 7}, headers={"HX-Request": "true"})

    assert "7 pieces in 2 pots: 1 of 4 and 1 of 3" in hint.content.decode()
    assert "<html" not in hint.content.decode()
    assert not RedyePlan.objects.exists()


def test_the_pot_is_recorded_as_the_helpers_when_the_helper_loads_it(marit, jonas, asked):
    owner = Client()
    owner.force_login(marit)
    owner.post(reverse("card-new"), asked)
    pot = Pot.objects.get(plan__isnull=False)
    assert (pot.started_by, pot.plan.made_by) == (marit, marit)

    load_planned(key=uuid.uuid4(), pot=pot, mill_lot=None, dry_milligrams=None, who=jonas)

    pot.refresh_from_db()
    assert pot.started_by == jonas
    assert pot.plan.made_by == marit
    assert "Jonas" in owner.get(reverse("pot", args=[pot.code])).content.decode()


def test_the_same_page_sent_twice_plans_once_and_prints_the_same_pot(helper, asked):
    first = helper.post(reverse("card-new"), asked)
    again = helper.post(reverse("card-new"), asked)

    assert first["Location"] == again["Location"]
    assert RedyePlan.objects.count() == 1


def test_a_page_that_stayed_open_and_asks_for_another_count_is_another_plan(helper, asked):
    helper.post(reverse("card-new"), asked)
    helper.post(reverse("card-new"), {**asked, "pieces": 3})

    assert sorted(RedyePlan.objects.values_list("pieces", flat=True)) == [3, 4]


def test_what_is_missing_is_said_beside_it_and_nothing_is_planned(helper, asked):
    answer = helper.post(reverse("card-new"), {**asked, "pieces": "", "colourway": "NONE1"})

    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Say how many pieces to dye." in page
    assert "There is no way of dyeing this colourway." in page
    assert not RedyePlan.objects.exists()


def test_a_vessel_too_small_for_one_piece_is_refused_in_a_sentence(helper, asked):
    cup = factories.VesselFactory(working_millilitres=500)

    answer = helper.post(reverse("card-new"), {**asked, "vessel": cup.pk})

    assert answer.status_code == 422
    assert not Pot.objects.filter(plan__isnull=False).exists()


def test_a_base_without_a_way_of_its_own_is_warned_of(helper, asked, marit):
    other = factories.put_up(base=factories.base(fibres={"wool": 1000}), pieces=5, who=marit)

    hint = helper.get(
        reverse("card-new"), {**asked, "put_up": other.pk}, headers={"HX-Request": "true"}
    ).content.decode()

    assert "Dye a sample first." in hint


def test_a_secret_colourway_stands_by_its_code_in_the_list_and_on_the_card(helper, asked, way):
    keep_secret(colourway=way.colourway, until=timezone.now() + dt.timedelta(days=9))

    assert "Rust on Rails" not in helper.get(reverse("card-new")).content.decode()
    assert "Rust on Rails" not in text_of(pdf_of(helper, helper.post(reverse("card-new"), asked)))


def test_without_any_way_the_page_says_how_to_come_to_one(helper):
    page = helper.get(reverse("card-new")).content.decode()

    assert "No colourway has a way of dyeing yet." in page


def test_the_page_takes_few_queries(helper, asked, marit, django_assert_max_num_queries):
    for number in range(5):
        factories.put_up(base=factories.base(name=f"Base {number}"), pieces=2, who=marit)

    for address in (reverse("card-new"), f"{reverse('card-new')}?colourway={asked['colourway']}"):
        with django_assert_max_num_queries(MOST_QUERIES):
            helper.get(address)
    with django_assert_max_num_queries(MOST_QUERIES):
        helper.get(reverse("card-new"), asked, headers={"HX-Request": "true"})


def test_a_card_of_a_way_without_acid_says_so(helper, marit):
    way = factories.way(who=marit, lines=("7.5 l water", "30 ml red 1%", "82 C"))
    asked = {
        "key": uuid.uuid4(),
        "colourway": way.colourway.code,
        "put_up": way.base.put_ups.get().pk,
        "pieces": 4,
        "vessel": factories.VesselFactory().pk,
    }

    text = text_of(pdf_of(helper, helper.post(reverse("card-new"), asked)))

    assert "The way has no acid. These dyes go on with acid on this yarn. Ask before you begin." in text
