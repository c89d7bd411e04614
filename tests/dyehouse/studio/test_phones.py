"""Phones that stay signed in: paired with a code that works once, ended at once, by whoever may end them."""

from __future__ import annotations

import datetime as dt
import re

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from dyehouse.studio import people
from dyehouse.studio.models import PairedPhone, User
from dyehouse.studio.throttle import TRIES_PER_NAME
from tests import factories
from tests.factories import PASSWORD

pytestmark = pytest.mark.django_db

NOON = dt.datetime(2026, 3, 14, 12, 0, tzinfo=dt.UTC)


@pytest.fixture
def jonas() -> User:
    factories.studio()
    return factories.HelperFactory()


@pytest.fixture
def marit(jonas: User) -> User:
    return factories.OwnerFactory()


def signed_in(client: Client) -> bool:
    return client.get(reverse("pots")).status_code == 200


def paired(person: User, name: str = "By the pot") -> Client:
    """A phone that was paired for somebody."""
    phone = Client()
    _, code = factories.phone_code(person=person)
    response = phone.post(reverse("phone-pair"), {"code": code, "name": name})
    assert response.status_code == 303
    return phone


def test_the_owner_makes_a_code_and_the_phone_is_signed_in_as_that_person(
    client: Client, marit: User, jonas: User
):
    client.force_login(marit)

    shown = client.post(reverse("phone-code"), {"person": jonas.username}).content.decode()
    code = re.search(r'<p class="figure code">([a-z0-9 ]+)</p>', shown)
    assert code
    phone = Client()
    response = phone.post(reverse("phone-pair"), {"code": code[1], "name": "  By the   pot "})

    kept = PairedPhone.objects.get()
    assert (response.status_code, response["Location"]) == (303, reverse("pots"))
    assert (kept.user, kept.name) == (jonas, "By the pot")
    assert phone.get(reverse("token")).json()["who"] == jonas.username
    assert phone.get(reverse("people")).status_code == 403


def test_the_code_itself_is_not_kept(jonas: User):
    waiting, code = factories.phone_code(person=jonas)

    assert code not in str(PairedPhone.objects.filter(pk=waiting.pk).values())


def test_a_code_works_once(jonas: User):
    _, code = factories.phone_code(person=jonas)
    first, second = Client(), Client()
    first.post(reverse("phone-pair"), {"code": code, "name": "First"})

    response = second.post(reverse("phone-pair"), {"code": code, "name": "Second"})

    assert response.status_code == 422
    assert "This code was used already" in response.content.decode()
    assert not signed_in(second)
    assert PairedPhone.objects.get().name == "First"


@pytest.mark.parametrize(("minutes", "good"), [(9, True), (11, False)])
def test_a_code_works_for_ten_minutes(jonas: User, minutes: int, good: bool):
    with time_machine.travel(NOON, tick=False):
        _, code = factories.phone_code(person=jonas)
    phone = Client()

    with time_machine.travel(NOON + dt.timedelta(minutes=minutes), tick=False):
        phone.post(reverse("phone-pair"), {"code": code, "name": "By the pot"})
        assert signed_in(phone) is good


def test_a_phone_without_a_name_is_not_paired_and_the_code_is_still_good(jonas: User):
    _, code = factories.phone_code(person=jonas)
    phone = Client()

    response = phone.post(reverse("phone-pair"), {"code": code, "name": " "})

    assert "Give the phone a name." in response.content.decode()
    assert code in response.content.decode()
    assert phone.post(reverse("phone-pair"), {"code": code, "name": "Here"}).status_code == 303


def test_guessing_codes_is_made_slow(jonas: User):
    _, code = factories.phone_code(person=jonas)
    phone = Client()
    for _ in range(TRIES_PER_NAME):
        assert phone.post(reverse("phone-pair"), {"code": "guess", "name": "x"}).status_code == 422

    assert phone.post(reverse("phone-pair"), {"code": code, "name": "x"}).status_code == 429
    assert not signed_in(phone)


@pytest.mark.parametrize(("days", "still"), [(31, True), (89, True), (91, False)])
def test_a_phone_stays_signed_in_for_ninety_days(jonas: User, days: int, still: bool):
    with time_machine.travel(NOON, tick=False):
        phone = paired(jonas)

    with time_machine.travel(NOON + dt.timedelta(days=days), tick=False):
        assert signed_in(phone) is still


def test_ending_a_phone_takes_effect_with_its_next_page(client: Client, marit: User, jonas: User):
    phone, other = paired(jonas), paired(jonas, "Another")
    client.force_login(marit)

    client.post(reverse("phone-end", args=[PairedPhone.objects.get(name="By the pot").pk]))

    assert not signed_in(phone)
    assert signed_in(other)


def test_a_phone_whose_sign_in_was_left_behind_is_out_within_minutes_all_the_same(jonas: User):
    with time_machine.travel(NOON, tick=False):
        phone = paired(jonas)
        PairedPhone.objects.update(revoked_at=NOON)

    with time_machine.travel(NOON + dt.timedelta(minutes=5), tick=False):
        assert not signed_in(phone)


def test_a_phone_asks_the_database_no_more_than_any_other_browser(
    client: Client, jonas: User, django_assert_num_queries
):
    client.force_login(jonas)
    phone = paired(jonas)
    with CaptureQueriesContext(connection) as asked:
        client.get(reverse("token"))

    with django_assert_num_queries(len(asked)):
        phone.get(reverse("token"))


def test_the_list_says_who_and_when(client: Client, marit: User, jonas: User):
    with time_machine.travel(NOON, tick=False):
        phone = paired(jonas)
    with time_machine.travel(NOON + dt.timedelta(hours=3), tick=False):
        phone.get(reverse("pots"))
        client.force_login(marit)
        shown = client.get(reverse("phones")).content.decode()

    assert "By the pot" in shown
    assert "Jonas, helper" in shown
    assert PairedPhone.objects.get().seen_at == NOON + dt.timedelta(hours=3)


def test_a_new_password_from_the_owner_ends_the_phones(jonas: User):
    phone = paired(jonas)

    people.give_password(person=jonas, password="steam over the pan")

    assert not signed_in(phone)
    assert PairedPhone.objects.get().revoked_at is not None


def test_ones_own_new_password_ends_the_other_phones_and_not_the_one_in_the_hand(jonas: User):
    phone, other = paired(jonas, "In the hand"), paired(jonas, "Other")
    form = {
        "old_password": PASSWORD,
        "new_password1": "steam over the pan",
        "new_password2": "steam over the pan",
    }

    phone.post(reverse("password"), form)

    assert signed_in(phone)
    assert not signed_in(other)
    phone.post(reverse("sign-out"))
    assert PairedPhone.objects.get(name="In the hand").revoked_at is not None


def test_somebody_who_is_let_go_is_out_on_the_phone_and_stays_so_after_coming_back(jonas: User):
    phone = paired(jonas)
    _, code = factories.phone_code(person=jonas)

    people.let_go(person=jonas)
    assert not signed_in(phone)
    people.take_back(person=jonas)

    assert not signed_in(phone)
    assert Client().post(reverse("phone-pair"), {"code": code, "name": "x"}).status_code == 422


def test_another_part_applies_at_once(jonas: User):
    phone = paired(jonas)
    assert phone.get(reverse("people")).status_code == 403

    people.change_person(person=jonas, called="Jonas", role=User.Role.OWNER)

    assert phone.get(reverse("people")).status_code == 200


def test_signing_out_on_the_phone_ends_its_pairing(jonas: User):
    phone = paired(jonas)

    phone.post(reverse("sign-out"))

    assert not signed_in(phone)
    assert PairedPhone.objects.get().revoked_at is not None


def test_pairing_ends_what_was_open_on_the_phone_before(marit: User, jonas: User):
    phone = Client()
    phone.force_login(marit)
    before = phone.session.session_key
    _, code = factories.phone_code(person=jonas)

    phone.post(reverse("phone-pair"), {"code": code, "name": "Shared"})

    assert phone.get(reverse("token")).json()["who"] == jonas.username
    assert phone.session.session_key != before


def test_where_no_phone_can_reach_the_house_that_is_said(client: Client, marit: User, settings):
    client.force_login(marit)
    settings.PHONES_HTTP = ""

    shown = client.post(reverse("phone-code"), {"person": marit.username}).content.decode()

    assert "No phone can reach this house now" in shown
    assert "<img" not in shown


def test_the_square_leads_to_the_network_and_keeps_the_code_out_of_what_is_sent(
    client: Client, marit: User, settings, monkeypatch
):
    client.force_login(marit)
    settings.PHONES_HTTP = "http://192.168.1.20:8620/"
    drawn: list[str] = []
    monkeypatch.setattr(
        "dyehouse.studio.views_phones.segno.make_qr", lambda address: drawn.append(address) or Square()
    )

    client.post(reverse("phone-code"), {"person": marit.username})

    assert re.fullmatch(r"http://192\.168\.1\.20:8620/phone/#[a-z0-9]{12}", drawn[0])


class Square:
    def svg_data_uri(self, **kwargs: object) -> str:
        return "data:image/svg+xml,x"


def test_what_somebody_else_wrote_is_not_kept_under_this_name(client: Client, marit: User, jonas: User):
    pot = factories.loaded_pot(who=marit)
    client.force_login(marit)

    response = client.post(
        reverse("pot-log", args=[pot.code]), {"typed": "heat on"}, headers={"X-Written-By": jonas.username}
    )

    assert response.status_code == 409
    assert not pot.entries.exists()


def test_nobody_signed_in_is_told_so_with_a_token_all_the_same(client: Client):
    asked = client.get(reverse("token"))

    assert asked.json()["who"] == ""
    assert asked.json()["token"]
    assert "no-store" in asked["Cache-Control"]
