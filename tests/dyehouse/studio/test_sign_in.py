"""Signing in and out, the wait after wrong passwords, and one's own password."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from dyehouse.studio.models import SignInAttempt
from dyehouse.studio.throttle import TRIES_PER_ADDRESS, TRIES_PER_NAME, TooManyTries, begin_try, forget_tries
from tests import factories
from tests.factories import PASSWORD

pytestmark = pytest.mark.django_db

NOON = dt.datetime(2026, 3, 14, 12, 0, tzinfo=dt.UTC)


def try_to_sign_in(client: Client, username: str, password: str, **more: str):
    return client.post(reverse("sign-in"), {"username": username, "password": password, **more})


def test_the_right_password_leads_to_the_front_page(client: Client):
    marit = factories.OwnerFactory()

    response = try_to_sign_in(client, marit.username, PASSWORD)

    assert (response.status_code, response["Location"]) == (303, "/")
    assert client.session["_auth_user_id"] == str(marit.pk)


def test_signing_in_leads_on_to_the_page_that_was_wanted(client: Client):
    marit = factories.OwnerFactory()

    response = try_to_sign_in(client, marit.username, PASSWORD, next="/people/")

    assert response["Location"] == "/people/"


@pytest.mark.parametrize(
    "elsewhere", ["https://elsewhere.example/", "//elsewhere.example", "javascript:alert(1)"]
)
def test_signing_in_never_leads_to_another_site(client: Client, elsewhere: str):
    marit = factories.OwnerFactory()

    response = try_to_sign_in(client, marit.username, PASSWORD, next=elsewhere)

    assert response["Location"] == "/"


def test_a_wrong_password_is_refused_in_words_that_do_not_say_which_was_wrong(client: Client):
    marit = factories.OwnerFactory()

    for_known = try_to_sign_in(client, marit.username, "not this one")
    for_unknown = try_to_sign_in(client, "nobody-here", "not this one")

    assert for_known.status_code == for_unknown.status_code == 422
    words = "That name and that password do not belong together."
    assert words in for_known.content.decode()
    assert words in for_unknown.content.decode()


def test_what_was_typed_as_name_is_kept_and_the_password_is_not(client: Client):
    page = try_to_sign_in(client, "marit", "not this one").content.decode()

    assert 'value="marit"' in page
    assert "not this one" not in page


def test_somebody_who_was_let_go_cannot_sign_in(client: Client):
    gone = factories.HelperFactory(is_active=False)

    assert try_to_sign_in(client, gone.username, PASSWORD).status_code == 422


def test_after_five_wrong_passwords_even_the_right_one_has_to_wait(client: Client):
    marit = factories.OwnerFactory()
    with time_machine.travel(NOON, tick=False):
        for _ in range(TRIES_PER_NAME):
            assert try_to_sign_in(client, marit.username, "not this one").status_code == 422

        refused = try_to_sign_in(client, marit.username, PASSWORD)

    assert refused.status_code == 429
    assert "Wait until 12:05:00 (UTC) and try again." in refused.content.decode()
    with time_machine.travel(NOON + dt.timedelta(minutes=5), tick=False):
        assert try_to_sign_in(client, marit.username, PASSWORD).status_code == 303


def test_tries_while_waiting_do_not_make_the_wait_longer():
    for _ in range(TRIES_PER_NAME):
        begin_try(username="marit", address="192.0.2.7", now=NOON)

    for minute in (1, 2, 3):
        with pytest.raises(TooManyTries) as refused:
            begin_try(username="marit", address="192.0.2.7", now=NOON + dt.timedelta(minutes=minute))
        assert refused.value.until == NOON + dt.timedelta(minutes=5)


def test_wrong_passwords_from_elsewhere_do_not_lock_the_owner_out():
    for _ in range(TRIES_PER_NAME):
        begin_try(username="marit", address="192.0.2.7", now=NOON)

    begin_try(username="marit", address="192.0.2.8", now=NOON)


def test_many_names_from_one_address_have_to_wait_too():
    for number in range(TRIES_PER_ADDRESS):
        begin_try(username=f"name{number}", address="192.0.2.7", now=NOON)

    with pytest.raises(TooManyTries):
        begin_try(username="another", address="192.0.2.7", now=NOON)


@pytest.mark.parametrize("written", ["MARIT", " marit "])
def test_another_way_to_write_the_name_is_the_same_name(written: str):
    for _ in range(TRIES_PER_NAME):
        begin_try(username="marit", address="192.0.2.7", now=NOON)

    with pytest.raises(TooManyTries):
        begin_try(username=written, address="192.0.2.7", now=NOON)


def test_a_right_password_forgets_the_wrong_ones_before_it(client: Client):
    marit = factories.OwnerFactory()
    for _ in range(TRIES_PER_NAME - 1):
        try_to_sign_in(client, marit.username, "not this one")

    try_to_sign_in(client, marit.username, PASSWORD)

    assert not SignInAttempt.objects.exists()


def test_forgetting_concerns_one_name_at_one_address():
    begin_try(username="marit", address="192.0.2.7", now=NOON)
    begin_try(username="jonas", address="192.0.2.7", now=NOON)

    forget_tries(username="marit", address="192.0.2.7")

    assert list(SignInAttempt.objects.values_list("username", flat=True)) == ["jonas"]


def test_old_tries_are_thrown_away():
    begin_try(username="marit", address="192.0.2.7", now=NOON)

    begin_try(username="jonas", address="192.0.2.7", now=NOON + dt.timedelta(minutes=6))

    assert list(SignInAttempt.objects.values_list("username", flat=True)) == ["jonas"]


def test_the_address_in_front_of_our_own_proxy_counts_only_where_there_is_one(client: Client, settings):
    try_to_sign_in_from = {"HTTP_X_FORWARDED_FOR": "203.0.113.5, 198.51.100.4"}
    form = {"username": "marit", "password": "not this one"}
    client.post(reverse("sign-in"), form, **try_to_sign_in_from)
    settings.SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    client.post(reverse("sign-in"), form, **try_to_sign_in_from)

    assert list(SignInAttempt.objects.order_by("pk").values_list("address", flat=True)) == [
        "127.0.0.1",
        "198.51.100.4",
    ]


def test_signing_out_ends_the_session_and_wants_a_form(client: Client):
    client.force_login(factories.HelperFactory())

    assert client.get(reverse("sign-out")).status_code == 405
    response = client.post(reverse("sign-out"))

    assert response.status_code == 303
    assert "_auth_user_id" not in client.session


def test_pages_of_somebody_signed_in_are_not_kept_by_the_browser(client: Client):
    factories.studio()
    client.force_login(factories.OwnerFactory())

    assert client.get(reverse("people"))["Cache-Control"] == "no-store"


def test_one_changes_the_own_password_and_stays_signed_in(client: Client):
    jonas = factories.HelperFactory()
    client.force_login(jonas)
    fresh = "wet wool over stone"

    response = client.post(
        reverse("password"), {"old_password": PASSWORD, "new_password1": fresh, "new_password2": fresh}
    )

    jonas.refresh_from_db()
    assert response.status_code == 303
    assert jonas.check_password(fresh)
    assert client.get(reverse("password")).status_code == 200


def test_the_own_password_is_not_changed_without_the_old_one(client: Client):
    jonas = factories.HelperFactory()
    client.force_login(jonas)

    response = client.post(
        reverse("password"),
        {
            "old_password": "guessed",
            "new_password1": "wet wool over stone",
            "new_password2": "wet wool over stone",
        },
    )

    jonas.refresh_from_db()
    assert response.status_code == 422
    assert "That is not your password of today." in response.content.decode()
    assert jonas.check_password(PASSWORD)


def test_a_form_left_open_too_long_is_explained(client: Client):
    strict = Client(enforce_csrf_checks=True)

    response = strict.post(reverse("sign-in"), {"username": "marit", "password": "x"})

    assert response.status_code == 403
    assert "This form was open too long" in response.content.decode()


def test_attempts_are_kept_with_an_aware_time():
    begin_try(username="marit", address=None)

    assert timezone.is_aware(SignInAttempt.objects.get().at)
