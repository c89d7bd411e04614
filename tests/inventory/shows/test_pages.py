"""The pages of a show: what is typed is kept row by row, one touch takes or closes, and prices stay with the owner."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.shows import planning
from inventory.shows.models import CameBack, Load, NormalNumber, Packed, Show, Takings
from inventory.shows.tallying import tallied
from tests import factories
from tests.inventory.shows.factories import booth, closed_booth

pytestmark = pytest.mark.django_db

MOST_QUERIES = 12


@pytest.fixture(autouse=True)
def _studio() -> None:
    factories.studio()


def signed_in(person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def words(response) -> str:
    return " ".join(response.content.decode().split())


class TestThePages:
    def test_no_page_asks_more_however_many_rows(self, django_assert_max_num_queries):
        made = booth(6, taken=2)
        for _ in range(3):
            other = booth(4, who=made.who)
            made.another_lot(2)
            other.usually(3)
        made.usually(9)
        closed = closed_booth()
        client = signed_in(made.who)
        for name, pk in (
            ("shows", None),
            ("shows-normal", None),
            *((name, made.show.pk) for name in ("shows-show", "shows-pack", "shows-tally", "shows-back")),
            ("shows-show", closed.show.pk),
            ("shows-next", closed.show.pk),
        ):
            with django_assert_max_num_queries(MOST_QUERIES):
                response = client.get(reverse(name, args=[pk] if pk else []))
            assert response.status_code == 200, name

    def test_a_show_is_written_down_put_right_and_called_off(self):
        client = signed_in(factories.HelperFactory())
        new = {
            "name": "  Tarn   Wool Fair ",
            "where": "Tarn",
            "starts_on": "2027-05-15",
            "ends_on": "2027-05-14",
        }
        refused = client.post(reverse("shows-new"), new)
        assert refused.status_code == 422
        assert "It ends before it starts." in words(refused)
        assert "2027-05-14" in words(refused)

        client.post(reverse("shows-new"), {**new, "ends_on": ""})
        made = Show.objects.get()
        assert (made.name, made.ends_on, made.place.name) == (
            "Tarn Wool Fair",
            dt.date(2027, 5, 15),
            "Tarn Wool Fair (show)",
        )
        client.post(
            reverse("shows-change", args=[made.pk]), {**new, "name": "Tarn Fair", "ends_on": "2027-05-16"}
        )
        made.refresh_from_db()
        assert (made.name, made.place.name) == ("Tarn Fair", "Tarn Fair (show)")
        client.post(reverse("shows-call-off", args=[made.pk]))
        assert "called off" in words(client.get(reverse("shows")))

    def test_the_days_page_is_told_of_shows_that_are_near_or_to_be_counted_back(self):
        made = booth(4)
        client = signed_in(made.who)

        def told() -> str:
            return words(client.get(reverse("shows-today")))

        assert "to pack" in told()
        made.take(3)
        assert "3 pieces are there" in told()
        today = timezone.localdate()
        Show.objects.update(starts_on=today - dt.timedelta(days=3), ends_on=today - dt.timedelta(days=2))
        assert "3 pieces to count back" in told()
        Show.objects.update(starts_on=today + dt.timedelta(days=30), ends_on=today + dt.timedelta(days=31))
        assert told() == ""

    def test_normal_numbers_are_typed_in_one_go_and_forgotten_with_nought(self):
        made = booth(3, name="Tin Roof")
        client, page = signed_in(made.who), reverse("shows-normal")
        assert "Write how many of it" in words(client.post(page, {"more": made.sort.key}))
        client.post(page, {"more": made.sort.key, "more_pieces": "6"})
        assert NormalNumber.objects.get().pieces == 6
        client.post(page, {f"n_{made.sort.key}": "8", "more": "one-offs", "more_pieces": "2"})
        assert sorted(NormalNumber.objects.values_list("pieces", flat=True)) == [2, 8]
        client.post(page, {f"n_{made.sort.key}": "0", "n_one-offs": "2"})
        assert [each.colourway for each in planning.normal_numbers()] == [None]

    def test_packing_is_kept_as_typed_and_one_touch_takes_it(self):
        made = booth(6, name="Tin Roof")
        made.usually(4)
        client, page = signed_in(made.who), reverse("shows-pack", args=[made.show.pk])
        field = f"n_{made.item.pk}_{made.ledger_lot.pk}_{made.place.pk}"

        wrong = client.post(page, {field: "many"}, headers={"HX-Request": "true"})
        assert (wrong.status_code, wrong.json()) == (
            422,
            {"errors": {field: "Write a whole number, 0 for none."}},
        )
        assert (
            "Only 6 are free"
            in client.post(page, {field: "7"}, headers={"HX-Request": "true"}).json()["errors"][field]
        )
        assert client.post(page, {field: "5"}, headers={"HX-Request": "true"}).status_code == 200
        assert Packed.objects.get().pieces == 5
        assert 'value="5"' in words(client.get(page))

        refused = client.post(page, {field: "9", "take": "1"})
        assert refused.status_code == 422
        assert 'value="9"' in words(refused)
        key = str(uuid.uuid4())
        for _ in range(2):
            client.post(page, {field: "3", "take": "1", "key": key})
        assert Load.objects.count() == 1
        assert "3 pieces" in words(client.get(reverse("shows-show", args=[made.show.pk])))
        # A lot that no normal number asks for is found by its code and goes along as well.
        other = booth(2, who=made.who)
        found = client.get(page, {"code": other.lot.code})
        extra = f"n_{other.item.pk}_{other.ledger_lot.pk}_{other.place.pk}"
        assert extra in words(found)
        client.post(page, {extra: "2", "take": "1"})
        assert Load.objects.count() == 2

    def test_the_tally_counts_a_touch_once_and_the_closing_count_is_split_by_it(self):
        made = booth(8, taken=6, name="Tin Roof")
        client = signed_in(factories.HelperFactory())
        page, back = (reverse(f"shows-{name}", args=[made.show.pk]) for name in ("tally", "back"))
        key = str(uuid.uuid4())
        for _ in range(2):
            answer = client.post(page, {"item": made.item.pk, "key": key}, headers={"HX-Request": "true"})
        assert answer.json() == {"tallied": 1}
        client.post(page, {"item": made.item.pk})
        assert tallied(made.show) == {made.thing: 2}
        assert client.post(page, {"item": "x"}).status_code == 404

        field, sold = f"n_{made.item.pk}_{made.ledger_lot.pk}", f"s_{made.item.pk}"
        client.post(back, {field: "3"}, headers={"HX-Request": "true"})
        assert CameBack.objects.get().pieces == 3
        assert "3 gone: 2 sold, 1 missing" in words(client.get(back))
        refused = client.post(back, {field: "3", sold: "", "close": "1", "to": "home"})
        assert refused.status_code == 422
        assert "1 is missing. Say in a word or two" in words(refused)
        done = client.post(back, {field: "3", "close": "1", "to": "home", "why": "rain"}, follow=True)
        assert "free again" in words(done)
        assert client.get(back).status_code == 303
        again = client.post(
            reverse("shows-open-again", args=[made.show.pk]), {"why": "miscounted"}, follow=True
        )
        assert "open again" in words(again)

    def test_takings_are_the_owners_and_the_next_numbers_everybodys(self):
        made = closed_booth()
        owner, helper = signed_in(made.who), signed_in(factories.HelperFactory())
        show = reverse("shows-show", args=[made.show.pk])
        takings = reverse("shows-takings", args=[made.show.pk])
        assert "Write" in words(owner.post(takings, {"minor": "lots"}))
        owner.post(takings, {"minor": "1240,50"})
        assert (Takings.objects.get().minor, Takings.objects.get().currency) == (124_050, "EUR")
        assert "1240.50 EUR" in words(owner.get(show))
        assert "1240.50" not in words(helper.get(show))
        assert helper.post(takings, {"minor": "1"}).status_code == 403

        after = reverse("shows-next", args=[made.show.pk])
        assert "5 × 1.25" in words(helper.get(after))
        helper.post(after, {f"n_{made.sort.key}": "7"})
        assert NormalNumber.objects.get().pieces == 7

    def test_a_secret_name_is_shown_to_the_owner_alone(self):
        made = booth(4, taken=2, name="Saltmarsh at Noon")
        made.usually(3)
        colourway = made.lot.colourway
        colourway.secret_until = timezone.now() + dt.timedelta(days=9)
        colourway.save()
        owner, helper = signed_in(made.who), signed_in(factories.HelperFactory())
        for name in ("shows-show", "shows-pack", "shows-tally", "shows-back"):
            address = reverse(name, args=[made.show.pk])
            assert "Saltmarsh" in words(owner.get(address)), name
            assert "Saltmarsh" not in words(helper.get(address)), name
        assert "Saltmarsh" not in words(helper.get(reverse("shows-normal")))
