"""The owner lets people in, changes their part, and lets them go."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from dyehouse.studio import people
from dyehouse.studio.models import User
from tests import factories
from tests.factories import PASSWORD

pytestmark = pytest.mark.django_db


@pytest.fixture
def marit(client: Client) -> User:
    factories.studio()
    owner = factories.OwnerFactory()
    client.force_login(owner)
    return owner


def test_the_owner_lets_a_helper_in(client: Client, marit: User):
    form = {"username": "jonas", "called": "Jonas", "role": "helper", "password": "steam over the pan"}

    response = client.post(reverse("people"), form)

    jonas = User.objects.get(username="jonas")
    assert response.status_code == 303
    assert (jonas.called, jonas.role, jonas.check_password("steam over the pan")) == ("Jonas", "helper", True)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"username": ""}, "Write the name they will sign in with."),
        ({"username": "two words"}, "without spaces"),
        ({"username": "TAKEN"}, "Somebody signs in as TAKEN already."),
        ({"password": "short"}, "at least 10 characters"),
        ({"role": "queen"}, "is not one of the choices"),
    ],
)
def test_what_is_wrong_with_a_new_person_is_said_and_nobody_is_let_in(
    client: Client, marit: User, wrong: dict[str, str], words: str
):
    factories.HelperFactory(username="taken")
    form = {
        "username": "jonas",
        "called": "Jonas",
        "role": "helper",
        "password": "steam over the pan",
        **wrong,
    }

    response = client.post(reverse("people"), form)

    assert response.status_code == 422
    assert words in response.content.decode()
    assert User.objects.count() == 2


def test_a_person_is_called_otherwise_and_gets_another_part(client: Client, marit: User):
    jonas = factories.HelperFactory()

    client.post(reverse("person", args=[jonas.username]), {"called": "Jo", "role": "owner"})

    jonas.refresh_from_db()
    assert (jonas.called, jonas.role) == ("Jo", "owner")


def test_the_only_owner_cannot_become_a_helper(client: Client, marit: User):
    response = client.post(reverse("person", args=[marit.username]), {"called": "Marit", "role": "helper"})

    marit.refresh_from_db()
    assert response.status_code == 422
    assert "Marit is the only owner. Make somebody else an owner first." in response.content.decode()
    assert marit.is_owner


def test_the_only_owner_cannot_be_let_go_and_an_owner_who_left_does_not_count():
    marit = factories.OwnerFactory()
    factories.OwnerFactory(is_active=False)

    with pytest.raises(people.LastOwner):
        people.let_go(person=marit)


def test_one_of_two_owners_can_be_let_go():
    marit, other = factories.OwnerFactory(), factories.OwnerFactory()

    people.let_go(person=marit)

    assert list(User.objects.filter(is_active=True)) == [other]


def test_a_helper_is_let_go_and_taken_back(client: Client, marit: User):
    jonas = factories.HelperFactory()
    theirs = Client()
    theirs.force_login(jonas)

    client.post(reverse("person-may-sign-in", args=[jonas.username]), {"may": "no"})
    assert theirs.get(reverse("password")).status_code == 302

    client.post(reverse("person-may-sign-in", args=[jonas.username]), {"may": "yes"})
    assert theirs.login(username=jonas.username, password=PASSWORD)


def test_a_new_password_ends_what_the_old_one_began(client: Client, marit: User):
    jonas = factories.HelperFactory()
    theirs = Client()
    theirs.force_login(jonas)

    client.post(reverse("person-password", args=[jonas.username]), {"password": "steam over the pan"})

    jonas.refresh_from_db()
    assert jonas.check_password("steam over the pan")
    assert theirs.get(reverse("password")).status_code == 302


def test_a_password_that_is_too_easy_is_refused():
    jonas = factories.HelperFactory()

    with pytest.raises(ValidationError):
        people.give_password(person=jonas, password="password123")

    jonas.refresh_from_db()
    assert jonas.check_password(PASSWORD)


def test_the_page_of_people_asks_the_database_no_more_with_more_people(
    client: Client, marit: User, django_assert_max_num_queries
):
    factories.HelperFactory.create_batch(100)

    with django_assert_max_num_queries(6):
        client.get(reverse("people"))
