"""What was printed comes back from JSON and prints the same again."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from dyehouse.paper.dye_card import dye_card
from dyehouse.paper.payloads import cards_from, labels_from, payload_of, tags_from
from dyehouse.paper.sheets import sheet_named
from dyehouse.paper.wet_tag import wet_tags
from dyehouse.paper.yarn_label import yarn_labels
from tests.dyehouse.paper.making import card, label, tag


def through_json(printed):
    return json.loads(json.dumps(payload_of(printed)))


def test_labels_print_the_same_from_their_payload():
    labels = [label(), label(lot="Q9RTH", qr="Q9RTH", metres=None)]

    again = labels_from(through_json(labels))

    assert again == labels
    sheet = sheet_named("a4-3x8")
    assert yarn_labels(again, sheet) == yarn_labels(labels, sheet)


@pytest.mark.django_db
def test_a_picture_comes_back_by_its_name(tmp_path, settings):
    settings.MEDIA_ROOT = tmp_path
    name = default_storage.save("k7m2x-small.jpg", ContentFile(b"photo"))
    with_picture = label(picture=b"photo", photo=name)

    assert labels_from(through_json([with_picture])) == [with_picture]
    default_storage.delete(name)
    assert labels_from(through_json([with_picture]))[0].picture is None


def test_tags_print_the_same_from_their_payload():
    again = tags_from(through_json([tag()]))

    assert again == [tag()]
    assert wet_tags(again, sheet_named("a4-2x4")) == wet_tags([tag()], sheet_named("a4-2x4"))


def test_cards_come_back_whole():
    one = card(liquor_ratio=Decimal("20.5"))

    again = cards_from(through_json([one]))[0]

    assert again == one
    assert dye_card(again).startswith(b"%PDF")


def test_a_cards_programme_in_words_comes_back():
    one = card(
        liquor_ratio=Decimal("20.5"), heat_lines=(("0:00", "Start at 40 °C."), ("0:12", "Rise to 82 °C."))
    )

    again = cards_from(through_json([one]))[0]

    assert again == one


def test_a_card_printed_before_programmes_were_in_words_still_prints():
    payload = through_json([card(liquor_ratio=Decimal("20.5"))])
    del payload[0]["heat_lines"]

    assert dye_card(cards_from(payload)[0]).startswith(b"%PDF")
