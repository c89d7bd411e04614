"""The pages of the pots: loading one, its plan beside what was done, and the list of them."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from dyehouse.ledger.models import Balance
from recipes.lots.log import add_entry, keep_line, strike
from recipes.lots.models import LogEntry, PlannedStep, Pot, PotLoad
from recipes.models import Rule, StockBottle, WayOfDyeing
from recipes.yarn import add_mill_lot, receive_yarn
from tests import factories

pytestmark = pytest.mark.django_db
MOST_QUERIES = 12
SCRIPT = {"HX-Request": "true"}


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
def pot(marit) -> Pot:
    return factories.loaded_pot(who=marit)


@pytest.fixture
def red(marit) -> StockBottle:
    return factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=marit), who=marit)


def send(client: Client, name: str, *args, headers=None, **fields):
    return client.post(reverse(name, args=args), {"key": uuid.uuid4(), **fields}, headers=headers)


def test_loading_a_pot_moves_its_yarn_and_shows_its_code(owner, marit):
    vessel = factories.VesselFactory()
    put_up = factories.put_up(who=marit)
    lot = add_mill_lot(base=put_up.base, number="2291", arrived_on=dt.date(2026, 2, 1))
    receive_yarn(key=uuid.uuid4(), put_up=put_up, mill_lot=lot, pieces=10, who=marit)

    page = owner.get(reverse("pot-new"))
    assert f'value="{lot.pk}"' in page.content.decode()
    answered = send(
        owner, "pot-new", put_up=put_up.pk, mill_lot=lot.pk, pieces=5, dry_weight="", vessel=vessel.pk
    )

    pot = Pot.objects.get()
    assert answered.status_code == 303
    assert answered["Location"] == reverse("pot", args=[pot.code])
    assert pot.colourway.code == pot.code
    load = pot.loads.get()
    assert (load.pieces, load.dry_milligrams, load.weighed, load.mill_lot) == (5, 500_000, False, lot)
    in_store = Balance.objects.get(item=put_up.item, lot=lot.lot, place__code="store")
    in_pots = Balance.objects.get(item=put_up.item, lot=lot.lot, place__code="in_pots")
    assert (in_store.on_hand, in_pots.on_hand) == (5, 5)
    assert "write it on the wet tag" in owner.get(answered["Location"]).content.decode()


def test_a_weighed_load_is_kept_as_weighed_and_a_missing_lot_as_not_known(owner, marit):
    put_up = factories.put_up(who=marit)

    send(owner, "pot-new", put_up=put_up.pk, mill_lot="unknown", pieces=3, dry_weight="291,5 g", vessel="")

    load = PotLoad.objects.get()
    assert (load.dry_milligrams, load.weighed, load.mill_lot.unknown) == (291_500, True, True)


def test_a_form_sent_twice_loads_one_pot(owner, marit):
    put_up = factories.put_up(who=marit)
    form = {"key": uuid.uuid4(), "put_up": put_up.pk, "mill_lot": "unknown", "pieces": 3}

    first = owner.post(reverse("pot-new"), form)
    again = owner.post(reverse("pot-new"), form)

    assert first["Location"] == again["Location"]
    assert Pot.objects.count() == 1


def test_a_load_that_cannot_be_says_so_and_keeps_what_was_typed(owner, marit):
    put_up = factories.put_up(who=marit)

    answered = send(owner, "pot-new", put_up=put_up.pk, mill_lot="unknown", pieces=0, dry_weight="a lot")

    assert answered.status_code == 422
    body = answered.content.decode()
    assert "At least 1 piece goes in." in body
    assert 'value="a lot"' in body
    assert not Pot.objects.exists()


def test_an_empty_store_says_what_to_do_next(owner):
    assert "The store has no yarn yet" in owner.get(reverse("pot-new")).content.decode()


def planned(marit, red: StockBottle) -> Pot:
    """A planned pot that takes 5 ml of Red 1 % at the start and then 82 °C."""
    colourway = factories.colourway("Harbour wall")
    base = factories.base()
    way = WayOfDyeing.objects.create(
        colourway=colourway, base=base, number=1, made_at=timezone.now(), made_by=marit
    )
    dye = Rule.objects.create(
        way=way, number=1, kind="dye", dye=red.dye, basis="fibre", unit="mg", thousandths=1
    )
    warm = Rule.objects.create(way=way, number=2, kind="temperature", centi_celsius=8_200)
    pot = factories.planned_pot(way=way, put_up=factories.put_up(base=base, pieces=10, who=marit), who=marit)
    PlannedStep.objects.create(
        pot=pot, number=1, rule=dye, microlitres=5_000, strength_mg_per_litre=10_000, minute=0
    )
    PlannedStep.objects.create(pot=pot, number=2, rule=warm, minute=20)
    return pot


def test_a_planned_pot_is_loaded_and_its_steps_are_kept_at_one_touch(owner, marit, red):
    pot = planned(marit, red)
    assert "Load the pot" in owner.get(reverse("pot", args=[pot.code])).content.decode()

    loaded = send(owner, "pot-load", pot.code, mill_lot=pot.loads.get().mill_lot_id, dry_weight="488")
    assert loaded.status_code == 303
    pot.refresh_from_db()
    assert (pot.state, pot.loads.get().dry_milligrams) == ("in work", 488_000)
    send(owner, "pot-step", pot.code, 1)

    entry = LogEntry.objects.get()
    assert (entry.microlitres, entry.bottle, entry.planned.number) == (5_000, red, 1)
    page = owner.get(reverse("pot", args=[pot.code])).content.decode()
    assert "Done as planned" in page
    assert "82 °C" in page


def test_what_was_done_differently_is_seen_beside_the_plan(owner, marit, red):
    pot = planned(marit, red)
    send(owner, "pot-load", pot.code, mill_lot=pot.loads.get().mill_lot_id)

    send(owner, "pot-log", pot.code, typed="7 ml red")
    send(owner, "pot-log", pot.code, typed="20 ml vinegar")

    page = owner.get(reverse("pot", args=[pot.code])).content.decode()
    assert "(more)" in page
    assert "(not planned)" in page
    assert LogEntry.objects.get(kind="stock").planned.number == 1


def test_the_yarn_of_an_untouched_pot_goes_back_and_of_a_dyed_one_does_not(owner, marit, red):
    pot = factories.loaded_pot(who=marit)
    dyed = factories.loaded_pot(who=marit)
    factories.log_entry("5 ml red", pot=dyed, who=marit)

    send(owner, "pot-unload", pot.code)
    refused = owner.post(reverse("pot-unload", args=[dyed.code]), follow=True)

    pot.refresh_from_db()
    assert pot.state == "dropped"
    assert Balance.objects.get(lot=pot.loads.get().mill_lot.lot, place__code="store").on_hand == 5
    assert "holds more than yarn and water" in refused.content.decode()


def test_a_load_can_be_weighed_later(owner, pot):
    answered = send(owner, "pot-weight", pot.code, dry_weight="478,5")
    wrong = send(owner, "pot-weight", pot.code, dry_weight="")

    assert answered.status_code == 303
    assert (pot.loads.get().dry_milligrams, pot.loads.get().weighed) == (478_500, True)
    assert wrong.status_code == 422


def test_the_list_says_what_is_in_work_and_never_that_the_heat_is_on(owner, marit, pot):
    factories.log_entry("heat on low", pot=pot, who=marit)
    factories.planned_pot(who=marit)

    body = owner.get(reverse("pots")).content.decode()

    assert "heat last recorded on, low" in body
    assert "heat is on" not in body.lower()
    assert "Planned by Marit, not yet loaded." in body


def test_cautions_follow_the_class_of_the_dye_in_the_pot(owner, pot, marit):
    reactive = factories.dye("Fibre red", dye_class="cold_reactive")
    factories.bottle(jar=factories.jar(dye=reactive, who=marit), who=marit)
    before = owner.get(reverse("pot", args=[pot.code])).content.decode()
    factories.log_entry("5 ml fibre red", pot=pot, who=marit)

    after = owner.get(reverse("pot", args=[pot.code])).content.decode()

    assert "H334" not in before
    assert "H334" in after
    assert "safety data sheet of each product" in after


def many(marit, times: int) -> Pot:
    """A pot with `times` entries of each kind, some struck, and as many bottles, jars and pots beside it."""
    pot = factories.loaded_pot(who=marit)
    for number in range(times):
        jar = factories.jar(dye=factories.dye(f"Dye{number}x"), who=marit)
        bottle = factories.bottle(jar=jar, who=marit)
        add_entry(
            pot=pot,
            key=uuid.uuid4(),
            kind="stock",
            who=marit,
            happened_at=timezone.now(),
            bottle=bottle,
            microlitres=5_000,
        )
    entries = keep_line(pot=pot, key=uuid.uuid4(), typed="3 ml nowhere", who=marit)
    strike(entry=entries[0], key=uuid.uuid4(), who=marit)
    keep_line(pot=pot, key=uuid.uuid4(), typed="4 ml nowhere", who=marit)
    return pot


@pytest.mark.parametrize("times", [1, 100])
def test_no_page_of_a_pot_runs_more_queries_with_more_rows(
    owner, marit, times, django_assert_max_num_queries
):
    pot = many(marit, times)
    put_up = PotLoad.objects.get().put_up
    for _ in range(times // 10):
        factories.loaded_pot(put_up=put_up, who=marit)

    for where in (
        reverse("pots"),
        reverse("pot-new"),
        reverse("pot", args=[pot.code]),
        reverse("pot", args=[pot.code]) + "?live=1",
        reverse("pot-reading", args=[pot.code]) + "?typed=5+ml+Dye0x",
        reverse("pot-weight", args=[pot.code]),
    ):
        with django_assert_max_num_queries(MOST_QUERIES):
            assert owner.get(where).status_code == 200


def test_filling_to_the_mark_is_one_touch_and_gives_the_liquor_ratio(owner, pot):
    page = owner.get(reverse("pot", args=[pot.code])).content.decode()
    assert f"Filled to the mark of {pot.vessel}, 12 litres" in page

    send(owner, "pot-tap", pot.code, kind="water", slug="mark", microlitres=12_000_000)

    # 12 litres on 0.5 kg: definition of the liquor ratio.
    assert "24:1" in owner.get(reverse("pot", args=[pot.code])).content.decode()
