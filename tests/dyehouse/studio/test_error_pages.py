"""What went wrong is said in the look of the house, with a way back."""

from __future__ import annotations

import pytest
from django.http import HttpRequest
from django.test import Client, RequestFactory
from django.urls import reverse
from django.views.defaults import server_error

from tests import factories

pytestmark = pytest.mark.django_db

WAY_BACK = '<a class="button" href="/">Go to the day’s page</a>'


def test_an_address_that_is_not_there_is_said_to_be_missing(client: Client):
    client.force_login(factories.HelperFactory())

    response = client.get("/no-such-page/")

    page = response.content.decode()
    assert response.status_code == 404
    assert "There is no such page" in page
    assert WAY_BACK in page


def test_a_page_of_the_owner_sends_the_helper_back_with_a_sentence(client: Client):
    client.force_login(factories.HelperFactory())

    response = client.get(reverse("people"))

    page = response.content.decode()
    assert response.status_code == 403
    assert "It belongs to the owner of the studio." in page
    assert WAY_BACK in page


@pytest.fixture
def request_of_anybody() -> HttpRequest:
    return RequestFactory().get("/")


def test_a_fault_of_the_program_is_owned_up_to_without_asking_the_database(
    request_of_anybody: HttpRequest, django_assert_num_queries
):
    with django_assert_num_queries(0):
        response = server_error(request_of_anybody)

    page = response.content.decode()
    assert response.status_code == 500
    assert "It is a fault of the program, not yours" in page
    assert WAY_BACK in page
