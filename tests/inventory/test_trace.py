"""From a code to everything that went into it, and to all that shared it; and one box that finds it all."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory import trace
from inventory.finding import find
from recipes import yarn
from recipes.colourways import keep_secret
from recipes.lots import pots
from recipes.lots.log import add_entry, strike
from recipes.lots.models import LogEntry, Pot
from tests import factories

pytestmark = pytest.mark.django_db
MOST_QUERIES = 12


def pot_with(*, bottle=None, jar=None, who=None, **load) -> Pot:
    """A loaded pot with 5 ml of a bottle, or half a gram of a jar, in it."""
    owner = who or factories.OwnerFactory()
    pot = factories.loaded_pot(who=owner, **load)
    if bottle is not None:
        add_entry(
            pot=pot, key=uuid.uuid4(), kind=LogEntry.Kind.STOCK, who=owner, happened_at=timezone.now(),
            bottle=bottle, microlitres=5_000,
        )  # fmt: skip
    if jar is not None:
        add_entry(
            pot=pot, key=uuid.uuid4(), kind=LogEntry.Kind.POWDER, who=owner, happened_at=timezone.now(),
            jar=jar, milligrams=500,
        )  # fmt: skip
    return pot


def trace_of(pot: Pot) -> trace.Trace:
    return trace.trace_pots(Pot.objects.filter(pk=pot.pk), user=factories.OwnerFactory())


def shared_words(pot: Pot) -> dict[str, set[str]]:
    """For each kind of thing that went into a pot, the codes of the other pots that had it."""
    return {each.made.kind: {line.pot.code for line in each.pots} for each in trace_of(pot).shared}


class TestWhatSharedIt:
    def test_a_bottle_leads_to_the_other_pot_and_through_its_jar_to_who_had_the_powder(self):
        jar = factories.jar()
        bottle = factories.bottle(jar=jar)
        first, second, third = pot_with(bottle=bottle), pot_with(bottle=bottle), pot_with(jar=jar)
        pot_with(jar=factories.jar())

        shared = shared_words(first)

        assert shared["Bottle"] == {second.code}
        assert shared["Jar"] == {second.code, third.code}

    def test_what_was_struck_was_not_shared(self):
        bottle = factories.bottle()
        first, second = pot_with(bottle=bottle), pot_with(bottle=bottle)
        strike(entry=second.entries.get(), key=uuid.uuid4(), who=factories.OwnerFactory())

        assert shared_words(first)["Bottle"] == set()

    def test_a_mill_lot_is_shared_and_an_unknown_one_is_not(self):
        put_up, owner = factories.put_up(), factories.OwnerFactory()
        known = yarn.add_mill_lot(base=put_up.base, number="M-4471")
        first, second = (
            pots.start_trial(
                key=uuid.uuid4(), put_up=put_up, mill_lot=known, pieces=2, dry_milligrams=None,
                vessel=None, colourway=None, who=owner,
            )
            for _ in range(2)
        )  # fmt: skip
        unknown = factories.loaded_pot(put_up=put_up)

        assert shared_words(first)["Mill lot"] == {second.code}
        assert shared_words(unknown) == {}
        assert set(trace.pots_of_mill_lot(known)) == {first, second}

    def test_from_a_jar_to_every_pot_that_had_any_of_it(self):
        jar = factories.jar()
        bottle = factories.bottle(jar=jar)
        first, second = pot_with(bottle=bottle), pot_with(jar=jar)
        pot_with(bottle=factories.bottle())

        assert set(trace.pots_of_jar(jar)) == {first, second}
        assert set(trace.pots_of_bottle(bottle)) == {first}


class TestPages:
    def test_a_lot_shows_its_pots_where_it_lies_and_what_shared_its_bottle(self, client: Client):
        bottle = factories.bottle()
        owner = factories.OwnerFactory()
        lot, place, _ = factories.shelved_lot(lot=factories.lot_out(pot=pot_with(bottle=bottle, who=owner)))
        other = pot_with(bottle=bottle)
        client.force_login(owner)

        page = client.get(reverse("trace", args=[lot.code])).content.decode()

        assert str(place) in page
        assert other.code in page
        assert str(bottle) in page

    def test_however_many_pots_shared_it_the_queries_stay_few(self, client, django_assert_max_num_queries):
        bottle = factories.bottle()
        lot = factories.lot_out(pot=pot_with(bottle=bottle))
        for _ in range(12):
            pot_with(bottle=bottle)
        factories.studio()
        client.force_login(factories.OwnerFactory())

        with django_assert_max_num_queries(MOST_QUERIES):
            client.get(reverse("trace", args=[lot.code]))

    def test_a_code_that_nothing_has_is_not_found(self, client: Client):
        client.force_login(factories.OwnerFactory())

        assert client.get(reverse("trace", args=["ZZZZZ"])).status_code == 404


class TestFinding:
    def test_a_whole_code_opens_its_lot(self, client: Client):
        lot = factories.lot_out()
        client.force_login(factories.HelperFactory())

        answer = client.get(reverse("find"), {"for": f" {lot.code.lower()} "})

        assert answer["Location"] == reverse("lot", args=[lot.code])

    def test_a_part_of_a_name_finds_colourway_base_and_dye(self):
        factories.colourway("Thornfold Dusk")
        factories.base("Thornfold DK")
        factories.dye("Thornfold red")

        hits = find("thornfold", user=factories.OwnerFactory()).hits

        assert {hit.kind for hit in hits} == {"Colourway", "Base", "Dye"}

    def test_a_secret_name_is_found_by_the_owner_alone(self):
        secret = factories.colourway("Thornfold Dusk")
        keep_secret(colourway=secret, until=timezone.now() + dt.timedelta(days=3))

        assert find("Dusk", user=factories.OwnerFactory()).hits
        assert not find("Dusk", user=factories.HelperFactory()).hits
        by_code = find(secret.code, user=factories.HelperFactory()).hits
        assert [hit.detail for hit in by_code] == [""]

    def test_nothing_found_is_said_with_what_was_typed(self, client: Client):
        client.force_login(factories.OwnerFactory())

        page = client.get(reverse("find"), {"for": "qqqq"}).content.decode()

        assert "“qqqq”" in page
        assert 'value="qqqq"' in page
