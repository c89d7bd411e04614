"""The pages of a redye: asked, shown, planned, dropped, by the owner, a helper and nobody."""

from __future__ import annotations

import datetime as dt
import re
import uuid

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from dyehouse.ledger.models import Movement
from recipes.colourways import keep_secret, name_colourway
from recipes.lots.models import Pot, RedyePlan
from recipes.models import WayOfDyeing
from recipes.ways import RuleDraft, WayFacts, depart, drafts_of, keep_way
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


@pytest.fixture
def way(marit) -> WayOfDyeing:
    learned = factories.way(who=marit)
    name_colourway(colourway=learned.colourway, name="Rust on Rails")
    return learned


@pytest.fixture
def said(way) -> dict[str, object]:
    return {
        "pieces": 10,
        "put_up": way.base.put_ups.get().pk,
        "mill_lot": "",
        "vessel": factories.VesselFactory(working_millilitres=20_000).pk,
        "ratio": "25",
        "dry_weight": "",
    }


def address(way: WayOfDyeing) -> str:
    return reverse("redye", args=[way.colourway.code])


def hidden(page: str) -> dict[str, str]:
    """What the form that plans would send."""
    form = page[page.index('<form method="post" class="form">') :]
    return dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', form))


def test_the_page_opens_with_what_the_reference_pot_was(owner, way):
    page = owner.get(address(way)).content.decode()

    assert 'value="10"' in page
    assert 'value="25' in page
    assert f'<option value="{way.base.put_ups.get().pk}" selected>' in page
    assert "By way 1" in page


def test_everything_is_shown_before_anything_is_written(owner, way, said):
    movements = Movement.objects.count()

    page = owner.get(address(way), said).content.decode()

    for words in (
        "10 pieces in 2 pots of 5",
        "Up to 6 more pieces fit in these pots.",
        "Each of 2 pots of 5 pieces",
        "500 g",
        "12.5 litres",
        "50 ml",
        "0.1 % deep",
        "7.5 g",
        "1.5 % of dry fibre",
        "Yarn in the pot: 500 g",
        "from a table, not your log",
        "Enough in the bottle.",
        "definition and arithmetic",
        "Citric acid irritates the eyes.",
        "Plan 2 pots",
    ):
        assert words in page
    assert not RedyePlan.objects.exists()
    assert Movement.objects.count() == movements


def test_loads_of_two_sizes_stand_side_by_side(owner, way, said):
    page = owner.get(address(way), {**said, "pieces": 11}).content.decode()

    for words in (
        "11 pieces in 2 pots: 1 of 6 and 1 of 5",
        "Pot of 6 pieces",
        "Pot of 5 pieces",
        "60 ml",
        "50 ml",
    ):
        assert words in page
    assert page.count("<table") == 2


@pytest.mark.parametrize("role", ["owner", "helper"])
def test_what_is_shown_is_what_is_planned_and_sent_twice_it_is_planned_once(role, request, way, said):
    client = request.getfixturevalue(role)
    sent = hidden(client.get(address(way), said).content.decode())

    first, again = client.post(address(way), sent), client.post(address(way), sent)

    plan = RedyePlan.objects.get()
    assert first.status_code == again.status_code == 303
    assert first["Location"] == again["Location"] == reverse("redye-plan", args=[plan.pk])
    assert plan.pots.count() == 2
    page = client.get(first["Location"]).content.decode()
    for pot in plan.pots.all():
        assert pot.code in page
        assert reverse("dye-card", args=[pot.code]) in page


def test_a_way_that_is_corrected_between_looking_and_planning_does_not_change_what_is_planned(
    owner, marit, way, said
):
    sent = hidden(owner.get(address(way), said).content.decode())
    depart(way=way, rules=drafts_of(way)[:-1], why="no heat off", who=marit)

    owner.post(address(way), sent)

    assert RedyePlan.objects.get().way == way


def test_another_page_plans_another_time(owner, way, said):
    for _ in range(2):
        owner.post(address(way), hidden(owner.get(address(way), said).content.decode()))

    assert RedyePlan.objects.count() == 2


def test_nobody_is_sent_to_the_door(way, said):
    for name, part in (("redye", way.colourway.code), ("redye-plan", factories.redye_plan(of=way).pk)):
        answer = Client().get(reverse(name, args=[part]))
        assert answer.status_code == 302
        assert reverse("sign-in") in answer["Location"]
    Client().post(address(way), said)
    assert RedyePlan.objects.count() == 1


def test_a_secret_colourway_is_a_code_to_the_helper(owner, helper, way, said):
    keep_secret(colourway=way.colourway, until=timezone.now() + dt.timedelta(days=9))
    plan = factories.redye_plan(of=way)

    for where in (address(way), address(way) + "?pieces=3", reverse("redye-plan", args=[plan.pk])):
        assert "Rust on Rails" in owner.get(where).content.decode()
        page = helper.get(where).content.decode()
        assert "Rust on Rails" not in page
        assert way.colourway.code in page


WRONG = {
    "pieces": [
        ("0", "At least 1 piece is dyed."),
        ("", "Say how many pieces to dye."),
        ("501", "Plan them in parts."),
    ],
    "vessel": [("", "Choose the vessel."), ("99", "")],
    "ratio": [("0.2", ""), ("thick", "")],
    "dry_weight": [("heavy", ""), ("0", "")],
}


@pytest.mark.parametrize(
    ("name", "typed", "words"), [(name, *each) for name, all_of_it in WRONG.items() for each in all_of_it]
)
@pytest.mark.parametrize("method", ["get", "post"])
def test_a_wrong_answer_keeps_all_that_was_typed_and_plans_nothing(
    owner, way, said, name, typed, words, method
):
    answer = getattr(owner, method)(address(way), {**said, name: typed})

    page = answer.content.decode()
    assert answer.status_code == 422
    assert words in page
    assert "errorlist" in page
    if name != "vessel":
        assert f'value="{typed}"' in page or not typed
    if name != "ratio":
        assert 'value="25"' in page
    assert not RedyePlan.objects.exists()


def test_a_piece_that_does_not_fit_says_which_vessel_or_ratio_would_do(owner, way, said):
    small = factories.VesselFactory(working_millilitres=2_000)

    answer = owner.get(address(way), {**said, "vessel": small.pk})

    page = answer.content.decode()
    assert answer.status_code == 422
    assert "One piece of 100 g at 25:1 needs 2.5 litres" in page
    assert "a liquor ratio of at most 20:1" in page


def test_a_mill_lot_of_another_base_is_said_beside_its_field(owner, marit, way, said):
    other = factories.put_up(base=factories.base("Grey Goose"))
    lot = factories.yarn.add_mill_lot(base=other.base, number="77")
    factories.yarn.receive_yarn(key=uuid.uuid4(), put_up=other, mill_lot=lot, pieces=4, who=marit)

    answer = owner.get(address(way), {**said, "mill_lot": lot.pk})

    assert answer.status_code == 422
    assert f"This lot is not of {way.base.name}." in answer.content.decode()


def test_a_base_without_a_way_says_whose_way_it_borrows(owner, way, said):
    put_up = factories.put_up(base=factories.base("Bare Wool", fibres={"wool": 1000}))

    page = owner.get(address(way), {**said, "put_up": put_up.pk}).content.decode()

    assert "No way of dyeing it on Bare Wool yet." in page
    assert f"Nearest is on {way.base.name}: 75 % of its fibre is the same; superwash both." in page
    assert "Dye a sample first." in page


def test_a_colourway_without_a_way_says_what_to_do(owner, helper):
    colourway = factories.colourway("Nothing Yet")

    for client in (owner, helper):
        page = client.get(reverse("redye", args=[colourway.code])).content.decode()
        assert "There is no way of dyeing Nothing Yet yet." in page
    assert owner.get(reverse("redye", args=["ZZZZZ"])).status_code == 404


def test_spoons_readings_and_traces_are_said_as_what_they_are(owner, marit, way, said):
    # The trace: 0.002 % of 500 g is 10 mg, 1 ml of 1 %; a cylinder of 1 ml reads it to half of itself.
    red = drafts_of(way)[2].dye
    citric = drafts_of(way)[3].auxiliary
    rough = keep_way(
        colourway=way.colourway,
        base=way.base,
        rules=[
            RuleDraft("auxiliary", auxiliary=citric, basis="pot", as_typed="2 heaped spoons"),
            RuleDraft("dye", dye=red, basis="fibre", unit="mg", thousandths=20_000, strength_mg_per_litre=10_000),
            RuleDraft("auxiliary", auxiliary=citric, basis="reading", unit="mg", thousandths=15_000_000, ph_hundredths=450),
        ],
        facts=WayFacts.of(way),
        who=marit,
        departs_from=way,
        why="a paler one",
    )  # fmt: skip

    page = owner.get(address(rough), said).content.decode()

    for words in (
        "2 heaped spoons",
        "as it was written; weigh it this time",
        "What measures badly",
        "A stock of 0.1 % measures this better",
        "until pH 4.5, about 1.5 % of dry fibre",
        "a guide: add until the reading is reached",
    ):
        assert words in page


def test_a_planned_pot_is_dropped_by_hand_and_only_once_it_is_planned(owner, helper, way):
    plan = factories.redye_plan(of=way)
    first, second, _ = plan.pots.order_by("id")
    movements = Movement.objects.count()

    answer = helper.post(reverse("pot-drop", args=[first.code]), follow=True)

    assert f"Pot {first.code} is dropped; its yarn is free again." in answer.content.decode()
    assert Movement.objects.count() == movements
    owner.post(
        reverse("pot-load", args=[second.code]),
        {"mill_lot": second.loads.get().mill_lot_id, "dry_weight": ""},
    )
    refused = owner.post(reverse("pot-drop", args=[second.code]), follow=True).content.decode()
    assert "only a planned pot can be dropped" in refused
    assert Pot.objects.get(pk=second.pk).dropped_at is None
    assert owner.get(reverse("pot-drop", args=[second.code])).status_code == 405


def test_the_pages_stay_within_their_queries_with_a_hundred_times_the_rows(
    owner, marit, way, said, django_assert_max_num_queries
):
    plan = factories.redye_plan(of=way)
    addresses = [address(way), address(way) + "?" + "&".join(f"{key}={value}" for key, value in said.items())]

    def count(*, planned: RedyePlan) -> None:
        for where in [*addresses, reverse("redye-plan", args=[planned.pk])]:
            owner.get(where)
            with django_assert_max_num_queries(12):
                assert owner.get(where).status_code == 200

    count(planned=plan)
    jar = factories.jar(dye=factories.dye("Blue"), grams=1_000, who=marit)
    base = factories.base("Ewe")
    for number in range(100):
        factories.bottle(jar=jar, millilitres=10, who=marit)
        lot = factories.yarn.add_mill_lot(base=base, number=str(number))
        factories.put_up(base=base, grams=10 + number, pieces=1, mill_lot=lot, who=marit)
        depart(
            way=way, rules=[*drafts_of(way), RuleDraft("note", text=str(number))], why=str(number), who=marit
        )
    count(planned=factories.redye_plan(of=way, pieces=300))
