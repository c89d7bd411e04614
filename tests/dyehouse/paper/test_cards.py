"""The dye cards of planned pots: what they say, for whom, in which order, and that they invent nothing."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from dyehouse.paper.cards import cards_of
from dyehouse.paper.models import PrintRun
from dyehouse.studio.models import Studio
from recipes.colourways import keep_secret, name_colourway
from recipes.lots.finishing import choose_reference
from recipes.lots.learning import learn_way
from recipes.lots.log import keep_line
from recipes.lots.models import Pot, RedyePlan
from recipes.lots.pots import load_planned, start_trial
from recipes.lots.redye import drop_planned
from recipes.models import WayOfDyeing
from tests import factories
from tests.dyehouse.paper.reading import page_sizes, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def studio():
    factories.ScaleFactory(step=10)
    factories.CylinderFactory(step=500)
    return factories.studio()


@pytest.fixture
def who():
    return factories.OwnerFactory()


@pytest.fixture
def client(who) -> Client:
    browser = Client()
    browser.force_login(who)
    return browser


@pytest.fixture
def plan(who) -> RedyePlan:
    """Ten skeins of 100 g at 30:1 in 12 litres: 4, 3 and 3."""
    way = factories.way(who=who)
    name_colourway(colourway=way.colourway, name="Rust on Rails")
    return factories.redye_plan(of=way, who=who)


def pots_of(plan: RedyePlan) -> list[Pot]:
    return list(plan.pots.select_related("vessel", "colourway").prefetch_related("loads").order_by("id"))


def cards(plan: RedyePlan, pots: list[Pot] | None = None):
    found = pots_of(plan)
    return cards_of(plan, pots or found, all_pots=found, studio=Studio.current())


def test_each_card_has_the_amounts_of_its_own_pot(client, plan):
    # By hand from 0.1 % Red and 1.5 % citric (the way's pot: 30 ml of 1 % and 4.5 g on 300 g): 400 g take 40 ml, 6 g and
    # 12 l − 40 ml of water; 300 g take 30 ml, 4.5 g and 9 l − 30 ml, both to the nearest 0.1 l.
    for card, dry, bath, water, red, acid in zip(
        cards(plan),
        (400_000, 300_000, 300_000),
        (12_000_000, 9_000_000, 9_000_000),
        ("12 litres", "9 litres", "9 litres"),
        ("40 ml", "30 ml", "30 ml"),
        ("6 g", "4.5 g", "4.5 g"),
        strict=True,
    ):
        said = {addition.what: addition.amount(us=False) for addition in card.additions}
        assert (card.dry_milligrams, card.bath_microlitres) == (dry, bath)
        assert (said["Water"], said["Red"], said["Citric acid"]) == (water, red, acid)


def test_the_print_has_every_pot_on_one_page_of_its_own(client, plan):
    answer = client.get(reverse("dye-cards", args=[plan.pk]))

    assert answer["Content-Type"] == "application/pdf"
    assert len(page_sizes(answer.content)) == 3
    text = text_of(answer.content)
    for words in (
        "Rust on Rails",
        "40 ml",
        "30 ml",
        "of the 1 % stock",
        "0.1 % deep.",
        "Yarn in the pot: 400 g instead of 300 g.",
        "All 3 pots want 100 ml. Enough in the bottle.",
        "Bath: 0.4 kg × 30 = 12 litres.",
        "Red: 0.1 % × 400 g = 0.4 g; 0.4 g ÷ 1 % × 100 ml = 40 ml.",
        "Citric acid irritates the eyes.",
        "What was really done",
        "way 1",
        *(pot.code for pot in pots_of(plan)),
    ):
        assert words in text
    assert PrintRun.objects.get().kind == PrintRun.Kind.DYE_CARDS


def test_one_card_alone_still_says_what_all_pots_want(client, plan):
    pot = pots_of(plan)[1]

    answer = client.get(reverse("dye-card", args=[pot.code.lower()]))

    text = text_of(answer.content)
    assert len(page_sizes(answer.content)) == 1
    assert pot.code in text
    assert pots_of(plan)[0].code not in text
    assert "30 ml wanted" in text
    assert "All 3 pots want 100 ml." in text


def test_together_the_pots_can_want_more_than_the_bottle_that_each_could_be_dyed_from(plan, who):
    # 470 ml are left; 60 skeins are 15 pots of 400 g that take 40 ml each, 600 ml in all.
    many = factories.redye_plan(of=plan.way, pieces=60, who=who)

    stock = cards(many, pots_of(many)[:1])[0].stocks[0]

    assert (stock.needed_microlitres, stock.left_microlitres) == (40_000, 470_000)
    assert stock.to_do == "All 15 pots want 600 ml. Mix 600 ml: 6 g of powder, filled up."


def test_dropped_pots_are_neither_printed_nor_counted(client, plan):
    drop_planned(pot=pots_of(plan)[0])

    text = text_of(client.get(reverse("dye-cards", args=[plan.pk])).content)

    assert pots_of(plan)[0].code not in text
    assert "All 2 pots want 60 ml." in text


def test_a_card_follows_the_weighing_of_its_pot(plan, who):
    pot = pots_of(plan)[1]
    load_planned(key=uuid.uuid4(), pot=pot, mill_lot=None, dry_milligrams=330_000, who=who)

    card = cards(plan, [each for each in pots_of(plan) if each.pk == pot.pk])[0]

    said = {addition.what: addition.amount(us=False) for addition in card.additions}
    assert (card.dry_milligrams, said["Red"], said["Citric acid"]) == (330_000, "33 ml", "4.95 g")


def test_an_open_card_does_not_tell_a_secret(client, plan):
    keep_secret(colourway=plan.way.colourway, until=timezone.now() + dt.timedelta(days=9))
    plan = RedyePlan.objects.select_related("way__colourway", "way__base", "put_up__base", "vessel").get()

    text = text_of(client.get(reverse("dye-cards", args=[plan.pk])).content)
    card = cards(plan)[0]

    assert "Rust on Rails" not in text
    assert plan.way.colourway.code in text
    assert card.picture is None
    assert not {part.chip for part in card.lay} & set(plan.way.colourway.chips)


def test_who_may_print(plan):
    helper, nobody = Client(), Client()
    helper.force_login(factories.HelperFactory())
    where = reverse("dye-card", args=[pots_of(plan)[0].code])

    assert helper.get(where).status_code == 200
    assert nobody.get(where).status_code == 302


def test_a_pot_that_was_not_planned_has_no_card(client):
    assert client.get(reverse("dye-card", args=[factories.loaded_pot().code])).status_code == 404
    assert client.get(reverse("dye-cards", args=[9_999])).status_code == 404


# --- Heat -------------------------------------------------------------------------------------------------------------


def logged(who, *lines: tuple[int, str]) -> WayOfDyeing:
    """A way whose pot was logged with these lines at these minutes."""
    factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=who), who=who)
    pot = start_trial(
        key=uuid.uuid4(), put_up=factories.put_up(pieces=3), mill_lot=None, pieces=3, dry_milligrams=None,
        vessel=factories.VesselFactory(), colourway=None, who=who,
    )  # fmt: skip
    start = timezone.now() - dt.timedelta(hours=5)
    for minute, typed in lines:
        at = start + dt.timedelta(minutes=minute)
        keep_line(pot=pot, key=uuid.uuid4(), typed=typed, who=who, clock=at, now=at)
    lot = factories.lot_out(pot=pot, who=who)
    way = learn_way(pot=pot, who=who)
    choose_reference(dye_lot=lot, base=way.base, who=who)
    return way


def test_the_heat_is_that_of_the_log_on_the_clock_of_the_additions(who):
    way = logged(
        who, (0, "7.5 l water"), (5, "30 ml red 1%"), (14, "40 C"), (45, "82 C"), (80, "82 C"), (110, "50 C")
    )

    card = cards(factories.redye_plan(of=way, who=who))[0]

    assert list(card.heat_lines) == [
        ("0:14", "Start at 40 °C."),
        ("0:14", "Rise to 82 °C in 31 min."),
        ("0:45", "Hold at 82 °C for 35 min."),
        ("1:20", "Cool to 50 °C in 30 min."),
    ]
    assert [(point.minute, point.centi_celsius) for point in card.heat] == [
        (14, 4_000), (45, 8_200), (80, 8_200), (110, 5_000),
    ]  # fmt: skip
    assert [addition.minute for addition in card.additions if addition.what == "Red"] == [5]


def test_what_a_table_fills_in_is_marked_and_no_time_is_invented(who):
    way = logged(who, (0, "7.5 l water"), (5, "30 ml red 1%"), (14, "40 C"), (45, "82 C"), (80, "82 C"))

    card = cards(factories.redye_plan(of=way, who=who))[0]

    assert card.heat_lines[-1] == ("1:20", "Cool: in the bath (from a table).")
    assert card.heat[-1].minute == 80
    assert "published table" in card.heat_note


def test_a_log_that_tells_no_times_has_words_and_no_drawing(plan):
    card = cards(plan)[0]

    assert {at for at, _ in card.heat_lines} == {"–"}
    assert len(card.heat) < 2
    assert all("(from a table)" in words for _, words in card.heat_lines)


def test_us_units_and_paper_follow_the_studio(client, plan):
    factories.studio(units=Studio.Units.US, country="US")

    content = client.get(reverse("dye-card", args=[pots_of(plan)[0].code])).content

    text = text_of(content)
    assert "oz" in text
    assert "°F" in text
    wide, high = page_sizes(content)[0]
    assert wide > 0
    assert high / wide < 1.35
