"""The pages of opening stock: an example, a look, taking in; the owner's alone where a list is taken in."""

from __future__ import annotations

import io
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from dyehouse.ledger.models import Balance, Movement
from inventory.opening.columns import EXAMPLES
from recipes.lots.models import DyeLot
from tests import factories

pytestmark = pytest.mark.django_db
MOST_QUERIES = 12


@pytest.fixture(autouse=True)
def studio():
    return factories.studio()


@pytest.fixture
def owner() -> Client:
    client = Client()
    client.force_login(factories.OwnerFactory())
    return client


@pytest.fixture
def helper() -> Client:
    client = Client()
    client.force_login(factories.HelperFactory())
    return client


def file(content: bytes, name: str = "stock.csv") -> io.BytesIO:
    return SimpleUploadedFile(name, content)


def test_an_example_goes_all_the_way_from_download_to_the_books(owner):
    example = owner.get(reverse("opening-example", args=["yarn"]))
    assert "attachment" in example["Content-Disposition"]

    look = owner.post(reverse("opening-list"), {"file": file(example.content)})
    assert look.status_code == 200
    assert not Movement.objects.exists()
    text = look.context["text"]
    # A browser sends a text area back with its line ends made alike.
    taken = owner.post(reverse("opening-take"), {"text": text.replace("\n", "\r\n").replace("\r\r", "\r")})

    assert taken.status_code == 303
    assert Balance.objects.filter(place__code="store").count() == len(EXAMPLES["yarn"][1])
    again = owner.post(reverse("opening-list"), {"file": file(example.content)}).content.decode()
    assert "taken in before" in again


def test_errors_stand_on_the_page_by_row_and_column(owner):
    answer = owner.post(
        reverse("opening-list"),
        {"file": file(b"kind,name,quantity,unit\ndye,<b>Red</b>,five,g\n")},
    )

    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Row 2" in page
    assert "“five” is not a number" in page
    assert "<b>Red" not in page


def test_a_spoilt_file_is_refused_beside_its_field(owner):
    answer = owner.post(reverse("opening-list"), {"file": file(b"PK\x03\x04", "stock.xlsx")})

    assert answer.status_code == 422
    assert "This is a spreadsheet itself" in answer.content.decode()


def test_without_a_file_the_page_asks_for_one(owner):
    assert "Choose the file with the list." in owner.post(reverse("opening-list")).content.decode()


def test_what_is_sent_to_be_taken_in_is_checked_again(owner):
    answer = owner.post(reverse("opening-take"), {"text": "kind,name\ndye,Red\n"})

    assert answer.status_code == 422
    assert not Movement.objects.exists()
    assert owner.post(reverse("opening-take"), {"text": "\0"}).status_code == 422


def test_a_helper_types_but_takes_in_no_list(helper):
    page = helper.get(reverse("opening")).content.decode()

    assert "The columns" not in page
    assert helper.post(reverse("opening-list"), {"file": file(b"kind\n")}).status_code == 403
    assert helper.post(reverse("opening-take"), {"text": "kind\n"}).status_code == 403


def test_dyed_yarn_is_typed_in_with_a_new_colourway(helper):
    put_up, place = factories.put_up(), factories.shelf_place("Shelf A3")

    answer = helper.post(
        reverse("opening-dyed"),
        {
            "key": uuid.uuid4(),
            "colourway": "new",
            "name": "Slack Water",
            "put_up": put_up.pk,
            "pieces": 3,
            "grade": "good",
            "place": place.pk,
        },
    )

    lot = DyeLot.objects.get()
    assert answer["Location"] == reverse("lot", args=[lot.code])
    assert (lot.colourway.name, Balance.objects.get(place=place).on_hand) == ("Slack Water", 3)
    assert "Slack Water" in helper.get(answer["Location"]).content.decode()


def test_a_wrong_code_stands_beside_its_field_and_keeps_the_rest(helper):
    put_up = factories.put_up()

    answer = helper.post(
        reverse("opening-dyed"),
        {"colourway": "new", "name": "Sloe", "put_up": put_up.pk, "pieces": 3, "grade": "good", "lot": "a/b"},
    )

    page = answer.content.decode()
    assert answer.status_code == 422
    assert "letters A to Z and figures" in page
    assert 'value="Sloe"' in page
    assert not DyeLot.objects.exists()


def test_a_name_that_is_taken_starts_no_second_colourway(helper):
    factories.colourway("Sloe")

    answer = helper.post(
        reverse("opening-dyed"),
        {"colourway": "new", "name": "sloe", "put_up": factories.put_up().pk, "pieces": 3, "grade": "good"},
    )

    assert answer.status_code == 422
    assert "There is a colourway called sloe already" in answer.content.decode()


def test_a_look_at_a_hundred_rows_takes_no_more_queries_than_at_one(owner, django_assert_max_num_queries):
    rows = "\n".join(f"yarn,Base {number},100,5" for number in range(100))

    with django_assert_max_num_queries(MOST_QUERIES):
        owner.post(
            reverse("opening-list"), {"file": file(f"kind,base,put-up grams,quantity\n{rows}\n".encode())}
        )
