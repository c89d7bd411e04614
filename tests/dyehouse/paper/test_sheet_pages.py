"""Sheets that the studio measured, their outline, and the printer's own error kept for each."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse

from dyehouse.paper.models import OwnSheet, PrinterOffset
from dyehouse.paper.own_sheets import keep_own_sheet, offset_on, sheet_here, sheets_here
from dyehouse.paper.sheets import SheetUnknown, custom_sheet, positions, sheet_named
from dyehouse.paper.yarn_label import yarn_labels
from tests import factories
from tests.dyehouse.paper.making import label
from tests.dyehouse.paper.reading import pages_as_pictures, placed_forms

pytestmark = pytest.mark.django_db

MEASURED = {
    "name": "Strips from the drawer",
    "width": "210",
    "height": "297",
    "columns": "2",
    "rows": "4",
    "label_width": "95",
    "label_height": "60,5",
    "left": "8",
    "top": "20",
    "pitch_x": "99",
    "pitch_y": "63",
}


@pytest.fixture
def owner(client):
    factories.studio()
    client.force_login(factories.OwnerFactory())
    return client


def test_a_sheet_is_measured_in_millimetres_and_can_be_printed_on(owner):
    answer = owner.post(reverse("sheet-new"), MEASURED)

    row = OwnSheet.objects.get()
    assert answer["Location"] == reverse("sheet", args=[f"own-{row.pk}"])
    sheet = sheet_here(f"own-{row.pk}")
    assert (sheet.label_height_um, sheet.pitch_x_um, sheet.left_um) == (60_500, 99_000, 8_000)
    forms = placed_forms(yarn_labels([label()] * 8, sheet))
    for form, place in zip(forms, positions(sheet, 1, 8), strict=True):
        assert abs(form.left - Decimal(place.left_um) / 1000) < Decimal("0.1")
        assert abs(form.top - Decimal(place.top_um) / 1000) < Decimal("0.1")


def test_without_margins_and_pitch_the_labels_stand_in_the_middle_without_gaps(owner):
    owner.post(reverse("sheet-new"), MEASURED | {"left": "", "top": "", "pitch_x": "", "pitch_y": ""})

    sheet = sheet_here(f"own-{OwnSheet.objects.get().pk}")
    assert (sheet.left_um, sheet.top_um) == (10_000, 27_500)
    assert (sheet.gap_x_um, sheet.gap_y_um) == (0, 0)


def test_a_roll_is_one_label_a_page(owner):
    owner.post(
        reverse("sheet-new"), {"name": "Small roll", "roll": "on", "label_width": "62", "label_height": "29"}
    )

    sheet = sheet_here(f"own-{OwnSheet.objects.get().pk}")
    assert sheet.is_roll
    assert len(pages_as_pictures(yarn_labels([label(care="", maker="")] * 3, sheet), 72)) == 3


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"label_width": "110"}, "less than a label"),
        ({"label_width": "110", "pitch_x": ""}, "2 labels across end at"),
        ({"label_height": "9"}, "Write between 10 and"),
        ({"columns": ""}, "Count the labels across."),
        ({"width": "wide"}, "Write millimetres, for example 63.5."),
        ({"name": ""}, "Give it a name"),
    ],
)
def test_what_cannot_be_a_sheet_is_said_beside_the_field_and_nothing_is_kept(owner, changed, words):
    answer = owner.post(reverse("sheet-new"), MEASURED | changed)

    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert "Strips from the drawer" in answer.content.decode() or not changed.get("name", "x")
    assert not OwnSheet.objects.exists()


def test_two_sheets_do_not_share_a_name(owner):
    factories.own_sheet(MEASURED["name"])

    assert "There is a sheet called" in owner.post(reverse("sheet-new"), MEASURED).content.decode()


def test_a_sheet_measured_again_leaves_what_was_printed_as_it_was(owner):
    row = factories.own_sheet()
    slug = f"own-{row.pk}"
    lot = factories.judged_lot(
        put_up=factories.put_up(base=factories.base(fibres={"wool": 1000}), pieces=9), good=2
    )
    put_up = lot.pots.get().loads.get().put_up_id
    first = owner.post(
        f"{reverse('labels')}?lot={lot.code}",
        {"design": "tag", "market": "eu", "sheet": slug, "start_at": 1, f"count_{lot.code}-{put_up}": 2},
    )
    before = placed_forms(first.content)

    owner.post(reverse("sheet-change", args=[slug]), MEASURED | {"left": "5", "name": row.name})
    owner.post(reverse("sheet-drop", args=[slug]))

    run = factories.PrintRun.objects.get()
    assert placed_forms(owner.get(reverse("labels-again", args=[run.pk])).content) == before
    assert slug not in sheets_here()
    assert sheet_here(slug).left_um == 5_000


def test_how_far_the_printer_is_out_is_kept_for_the_sheet_and_for_everybody(owner, client):
    owner.post(reverse("sheet", args=["a4-3x8"]), {"x": "1.5", "y": "-0.5"})

    assert (offset_on(sheet_named("a4-3x8")).x_um, offset_on(sheet_named("a4-3x8")).y_um) == (1_500, -500)
    assert offset_on(sheet_named("a4-3x7")).x_um == 0
    client.force_login(factories.HelperFactory())
    fields = client.get(reverse("labels-sheet"), {"sheet": "a4-3x8"}).content.decode()
    assert 'value="1.5"' in fields
    assert 'value="-0.5"' in fields


def test_an_offset_too_far_is_refused(owner):
    assert owner.post(reverse("sheet", args=["a4-3x8"]), {"x": "11"}).status_code == 422
    assert not PrinterOffset.objects.exists()


def test_the_outline_is_moved_by_what_is_tried(owner):
    def left_edge(**tried) -> float:
        page = pages_as_pictures(owner.get(reverse("labels-outline", args=["a4-3x8"]), tried).content, 300)[0]
        dark = page.point(lambda value: 255 if value < 160 else 0).getbbox()
        return dark[0] / 300 * 25.4

    assert abs(left_edge() - 7.25) < 0.15
    assert abs(left_edge(x="2") - 9.25) < 0.15


def test_bands_on_plain_paper_have_marks_to_cut_along():
    sheet = sheet_named("a4-1x6-cut")

    page = pages_as_pictures(yarn_labels([label(shape="band")], sheet), 300)[0]

    in_the_margin = page.crop((0, 0, round(9 / 25.4 * 300), page.height))
    assert in_the_margin.point(lambda value: 255 if value < 160 else 0).getbbox() is not None


def test_a_sheet_nobody_knows_is_refused():
    for slug in ("own-1", "own-", "own-x", "unheard-of"):
        with pytest.raises(SheetUnknown):
            sheet_here(slug)


def test_an_overlapping_sheet_never_gets_into_the_book():
    with pytest.raises(ValueError, match="gap"):
        keep_own_sheet(
            sheet=custom_sheet(
                name="Too close", width_um=200_000, height_um=200_000, columns=2, rows=1,
                label_width_um=50_000, label_height_um=50_000, gap_x_um=-1_000,
            )
        )  # fmt: skip
