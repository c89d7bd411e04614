"""The pages of labels and tags: as many as there are good pieces, and what is printed can be read back."""

from __future__ import annotations

import datetime as dt
import io
import uuid

import pypdfium2
import pytest
import zxingcpp
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from dyehouse.paper.models import PrintRun
from dyehouse.paper.runs import printed_counts
from recipes.colourways import keep_secret
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def studio():
    return factories.studio(name="Weir Lane", country="IE")


@pytest.fixture
def marit():
    return factories.OwnerFactory()


@pytest.fixture
def owner(marit) -> Client:
    client = Client()
    client.force_login(marit)
    return client


@pytest.fixture
def lot(marit):
    base = factories.base("Ferry DK", fibres={"wool": 750, "nylon": 250}, metres_per_100g=225)
    put_up = factories.put_up(base=base, pieces=30, who=marit)
    return factories.judged_lot(
        who=marit, good=4, second=1, put_up=put_up, colourway=factories.colourway("Tin Roof")
    )


def asked(lot, count: int, **more) -> dict[str, object]:
    put_up = lot.pots.get().loads.get().put_up_id
    return {
        "key": uuid.uuid4(),
        "design": "tag",
        "market": "eu",
        "sheet": "a4-3x8",
        "start_at": 1,
        f"count_{lot.code}-{put_up}": count,
        **more,
    }


def read(content: bytes) -> tuple[str, list[str]]:
    """The text of a PDF and the codes on its first page."""
    document = pypdfium2.PdfDocument(io.BytesIO(content))
    text = "\n".join(page.get_textpage().get_text_bounded() for page in document)
    picture = document[0].render(scale=4).to_pil()
    return text, sorted(found.text for found in zxingcpp.read_barcodes(picture))


def test_as_many_labels_print_as_there_are_good_pieces(owner, lot):
    page = owner.get(reverse("labels"), {"lot": lot.code})
    answer = owner.post(f"{reverse('labels')}?lot={lot.code}", asked(lot, 4))

    assert 'value="4"' in page.content.decode()
    assert answer["Content-Type"] == "application/pdf"
    text, codes = read(answer.content)
    assert codes == [lot.code] * 4
    assert text.count("Tin Roof") == 4
    assert "75% wool, 25% nylon" in text.replace(" %", "%").replace("\n", " ").replace("\r", "")
    assert "100 g" in text
    assert "400 m" in text
    assert printed_counts([lot.code]) == {lot.code: 4}


def test_a_lot_that_has_its_labels_waits_for_none(owner, lot):
    before = owner.get(reverse("labels")).content.decode()
    owner.post(f"{reverse('labels')}?lot={lot.code}", asked(lot, 4))
    after = owner.get(reverse("labels")).content.decode()

    assert f"lot {lot.code}" in before
    assert f"lot {lot.code}" not in after


def test_more_labels_than_good_pieces_are_asked_back_once(owner, lot):
    address = f"{reverse('labels')}?lot={lot.code}"

    refused = owner.post(address, asked(lot, 6))
    said = owner.post(address, asked(lot, 6, more="1"))

    assert refused.status_code == 422
    assert "There are 4 good of this lot, and 6 labels are asked" in refused.content.decode()
    assert read(said.content)[1] == [lot.code] * 6


def test_the_first_label_must_be_on_the_sheet(owner, lot):
    answer = owner.post(f"{reverse('labels')}?lot={lot.code}", asked(lot, 4, start_at=25))

    assert answer.status_code == 422
    assert "This sheet has 24 labels." in answer.content.decode()
    assert not PrintRun.objects.exists()


def test_the_same_again_is_the_same_word_for_word(owner, lot):
    first = owner.post(f"{reverse('labels')}?lot={lot.code}", asked(lot, 2, start_at=5))
    again = owner.get(reverse("labels-again", args=[PrintRun.objects.get().pk]))

    assert read(again.content) == read(first.content)


def test_a_secret_colourway_stands_by_its_code_until_the_owner_opens_it(owner, lot):
    keep_secret(colourway=lot.colourway, until=timezone.now() + dt.timedelta(days=3))
    address = f"{reverse('labels')}?lot={lot.code}"

    closed = read(owner.post(address, asked(lot, 1)).content)[0]
    opened = read(owner.post(address, asked(lot, 1, open_names="on")).content)[0]

    assert "Tin Roof" not in closed
    assert "Tin Roof" in opened


def test_a_helper_cannot_open_a_secret_name(lot):
    keep_secret(colourway=lot.colourway, until=timezone.now() + dt.timedelta(days=3))
    helper = Client()
    helper.force_login(factories.HelperFactory())

    answer = helper.post(f"{reverse('labels')}?lot={lot.code}", asked(lot, 1, open_names="on"))

    assert "Tin Roof" not in read(answer.content)[0]


def test_what_a_label_lacks_is_named_before_printing(owner, marit):
    put_up = factories.put_up(base=factories.base("Bare", fibres={}), pieces=9, who=marit)
    lot = factories.judged_lot(who=marit, put_up=put_up)

    page = owner.get(reverse("labels"), {"lot": lot.code}).content.decode()

    assert "The fibres of Bare are not written down" in page


def test_a_tag_prints_for_each_piece_of_a_pot(owner, marit):
    pot = factories.loaded_pot(pieces=3, who=marit)

    answer = owner.post(reverse("wet-tag", args=[pot.code]), {"tags": 3, "sheet": "a4-3x8", "start_at": 1})

    assert read(answer.content)[1] == [pot.code] * 3
    assert PrintRun.objects.get().kind == PrintRun.Kind.WET_TAGS


def test_a_page_that_stays_open_prints_other_labels_as_another_run(owner, lot):
    address, first = f"{reverse('labels')}?lot={lot.code}", asked(lot, 1)

    for sent in (first, first, {**first, "start_at": 2}):
        owner.post(address, sent)

    assert [run.start_at for run in PrintRun.objects.order_by("id")] == [1, 2]
    assert printed_counts([lot.code]) == {lot.code: 2}


def test_the_next_printing_begins_after_the_last_label_that_was_used(owner, lot):
    address = f"{reverse('labels')}?lot={lot.code}"
    owner.post(address, asked(lot, 4, start_at=5))

    page = owner.get(address)

    assert page.context["form"]["start_at"].value() == 9
    assert "4 good, 4 labels printed, the last" in page.content.decode()
    assert owner.get(f"{address}&sheet=a4-2x7").context["form"]["start_at"].value() == 1


def test_another_sheet_brings_its_own_picture_and_what_the_printer_was_out_on_it(owner, lot):
    owner.post(f"{reverse('labels')}?lot={lot.code}", asked(lot, 1, offset_x="1.5"))

    same = owner.get(reverse("labels-sheet"), {"sheet": "a4-3x8"}).content.decode()
    other = owner.get(reverse("labels-sheet"), {"sheet": "letter-3x10"}).content.decode()

    assert same.count("data-label=") == 24
    assert 'value="1.5"' in same
    assert other.count("data-label=") == 30
    assert 'value="1.5"' not in other


def test_a_sheet_nobody_measured_says_so_before_labels_are_spent(owner, lot):
    page = owner.get(f"{reverse('labels')}?lot={lot.code}&sheet=a4-5x13").content.decode()

    assert "were not measured on a real one" in page


def test_seconds_get_no_label(owner, marit):
    lot = factories.judged_lot(who=marit, good=0, second=2, put_up=factories.put_up(pieces=9, who=marit))

    assert "no good pieces here to label" in owner.get(reverse("labels"), {"lot": lot.code}).content.decode()


def test_one_tag_is_enough_for_a_pot_that_hangs_together(owner, marit):
    pot = factories.loaded_pot(pieces=3, who=marit)

    answer = owner.post(
        reverse("wet-tag", args=[pot.code]), {"tags": 1, "sheet": "roll-100x150", "start_at": 1}
    )

    assert read(answer.content)[1] == [pot.code]


def test_a_sheet_too_small_for_a_tag_is_refused_with_what_would_do(owner, marit):
    pot = factories.loaded_pot(pieces=3, who=marit)

    answer = owner.post(reverse("wet-tag", args=[pot.code]), {"tags": 3, "sheet": "a4-5x13", "start_at": 1})

    assert answer.status_code == 422
    assert "Choose a sheet with larger labels." in answer.content.decode()
    assert not PrintRun.objects.exists()
