"""The printing room: what waits, what was printed, and who may print it again."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from dyehouse.paper.models import PrintRun
from dyehouse.paper.runs import record_run
from recipes.colourways import keep_secret
from recipes.lots.models import DyeLot
from tests import factories
from tests.dyehouse.paper.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def marit():
    factories.studio(name="Weir Lane", country="IE", postal_address="2 Weir Lane", email="post@weir.example")
    return factories.OwnerFactory()


@pytest.fixture
def owner(client, marit):
    client.force_login(marit)
    return client


def test_the_room_says_what_waits_and_what_was_printed(owner, marit):
    factories.judged_lot(who=marit, good=4, put_up=factories.put_up(pieces=9, who=marit))
    pot = factories.loaded_pot(who=marit)
    plan = factories.redye_plan(who=marit)
    factories.label_run(who=marit)

    page = owner.get(reverse("printing")).content.decode()

    assert "labels wanted for" in page
    assert reverse("wet-tag", args=[pot.code]) in page
    assert reverse("dye-cards", args=[plan.pk]) in page
    assert "2 yarn labels" in page
    assert "The same again" in page


def test_the_room_asks_no_more_however_much_was_printed(owner, marit, django_assert_max_num_queries):
    for _ in range(3):
        factories.judged_lot(who=marit, good=2, put_up=factories.put_up(pieces=9, who=marit))
    factories.redye_plan(who=marit)
    for _ in range(45):
        factories.label_run(who=marit)

    with django_assert_max_num_queries(12):
        first = owner.get(reverse("printing"))
    second = owner.get(reverse("printing"), {"page": 2, "kind": "yarn_labels"})

    assert len(first.context["room"].runs) == 20
    assert first.context["room"].more
    assert len(second.context["room"].runs) == 20


@pytest.mark.parametrize(
    "name",
    ["labels", "numbers-of-days", "shelf-labels", "count-sheets", "mixing-list", "sheets", "label-designs"],
)
def test_every_page_of_the_room_asks_twelve_times_at_most(owner, marit, name, django_assert_max_num_queries):
    for number in range(4):
        base = factories.base(fibres={"wool": 750, "nylon": 250})
        factories.judged_lot(who=marit, good=2, put_up=factories.put_up(base=base, pieces=9, who=marit))
        factories.shelf_place(f"Bin {number}")
        factories.own_sheet(f"Sheet {number}")
        factories.label_design(f"Design {number}", with_picture=True)
    factories.redye_plan(who=marit)

    with django_assert_max_num_queries(12):
        assert owner.get(reverse(name)).status_code == 200


def test_one_kind_of_paper_is_shown_alone(owner, marit):
    factories.label_run(who=marit)
    record_run(key=uuid.uuid4(), kind=PrintRun.Kind.DYE_CARDS, who=marit, counts={"K7M2X": 1})

    page = owner.get(reverse("printing"), {"kind": "dye_cards"}).content.decode()

    assert "1 dye cards" in page
    assert "2 yarn labels" not in page


def test_paper_with_opened_names_is_the_owners_to_print_again(owner, client, marit):
    lot = factories.judged_lot(
        who=marit,
        good=2,
        put_up=factories.put_up(pieces=9, who=marit),
        colourway=factories.colourway("Rowan Berry"),
    )
    keep_secret(colourway=lot.colourway, until=timezone.now() + dt.timedelta(days=3))
    put_up = lot.pots.get().loads.get().put_up_id
    owner.post(
        f"{reverse('labels')}?lot={lot.code}",
        {
            "design": "tag", "market": "eu", "sheet": "a4-3x8", "start_at": 1,
            f"count_{lot.code}-{put_up}": 1, "open_names": "on",
        },
    )  # fmt: skip
    run = PrintRun.objects.get()

    client.force_login(factories.HelperFactory())

    assert run.names_opened
    assert reverse("labels-again", args=[run.pk]) not in client.get(reverse("printing")).content.decode()
    assert client.get(reverse("labels-again", args=[run.pk])).status_code == 403


def test_dye_cards_print_again_word_for_word(owner, marit):
    plan = factories.redye_plan(who=marit)
    first = text_of(owner.get(reverse("dye-cards", args=[plan.pk])).content)

    run = PrintRun.objects.get()
    again = text_of(owner.get(reverse("labels-again", args=[run.pk])).content)

    assert run.count == 3
    assert again == first


def test_a_picture_on_a_card_comes_back_with_it(owner, marit, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    way = factories.way(who=marit)
    lot = DyeLot.objects.get()
    factories.photos.add_photo(
        key=uuid.uuid4(), upload=factories.photo_file(), kind="daylight", dye_lot=lot, who=marit
    )
    owner.get(reverse("dye-cards", args=[factories.redye_plan(who=marit, of=way).pk]))

    run = PrintRun.objects.get()
    again = owner.get(reverse("labels-again", args=[run.pk])).content

    assert len(run.payload["pictured"]) == run.count
    assert b"/DCTDecode" in again


def test_paper_from_before_it_was_kept_word_for_word_is_said_to_be_gone(owner, marit):
    run = record_run(key=uuid.uuid4(), kind=PrintRun.Kind.DYE_CARDS, who=marit, counts={"K7M2X": 1})

    assert owner.get(reverse("labels-again", args=[run.pk])).status_code == 404


def test_a_wet_tag_says_which_letters_its_fonts_lack(owner, marit):
    pot = factories.loaded_pot(who=marit, colourway=factories.colourway("深海"))

    page = owner.get(reverse("wet-tag", args=[pot.code])).content.decode()

    assert "Chinese characters" in page
