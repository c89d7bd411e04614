"""Lists of a show: what they say, that secrets stand by their code whoever prints, the same again."""

from __future__ import annotations

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from dyehouse.paper.models import PrintRun
from dyehouse.paper.show_lists import show_list
from dyehouse.studio.models import Studio
from recipes.colourways import keep_secret
from tests import factories
from tests.dyehouse.paper.reading import text_of
from tests.inventory.shows.factories import booth

pytestmark = pytest.mark.django_db


def test_the_three_lists_say_what_the_book_has_and_keep_secret_names_to_themselves():
    factories.studio(name="Weir Lane", country="IE")
    made = booth(9, name="Saltmarsh at Noon")
    keep_secret(colourway=made.lot.colourway, until=timezone.now() + dt.timedelta(days=20))
    made.usually(12)
    client = Client()
    client.force_login(made.who)
    page = reverse("shows-paper", args=[made.show.pk])

    refused = client.post(page, {"what": "stock"})
    assert refused.status_code == 422
    assert "Nothing is at the show by the book." in refused.content.decode()

    pack = text_of(client.post(page, {"what": "pack"}).content)
    assert "What to pack" in pack
    assert "9 pieces in 1 row." in pack
    assert made.place.name in pack
    assert "3 short of 12" in pack

    made.take(6)
    stock = text_of(client.post(page, {"what": "stock"}).content)
    back = text_of(client.post(page, {"what": "back"}).content)
    assert "6 pieces in 1 row." in stock
    assert "What came back" in back
    assert "6 pieces" not in back
    for text in (pack, stock, back):
        assert "Saltmarsh" not in text
        assert made.lot.code in text
        assert made.lot.colourway.code in text
    run = PrintRun.objects.latest("id")
    assert run.kind == PrintRun.Kind.SHOW_LISTS
    assert text_of(client.get(reverse("labels-again", args=[run.pk])).content) == back
    assert 'value="stock" required id="id_what_1" checked' in " ".join(
        client.get(page).content.decode().split()
    )


def test_pieces_taken_from_two_places_are_one_row_with_their_sum():
    factories.studio()
    made = booth(5, taken=2)
    made.take(1)

    rows = show_list(made.show, kind="back", studio=Studio.current()).groups[0].rows
    assert [(row.code, row.pieces) for row in rows] == [(made.lot.code, 3)]
