"""Labels placed on sheets, read back from the PDF."""

from __future__ import annotations

import io
from decimal import Decimal

import pikepdf
import pytest

from dyehouse.paper.imposing import impose, outline_page
from dyehouse.paper.sheets import SHEETS, Offset, OffsetTooFar, positions, sheet_named
from tests.dyehouse.paper.reading import page_sizes, pages_as_pictures, placed_forms

TENTH = Decimal("0.1")


def artwork(sheet, pages: int) -> bytes:
    """Pages of the size of one label with a line of their own."""
    with pikepdf.new() as document:
        for number in range(pages):
            document.add_blank_page(
                page_size=(sheet.label_width_um * 72 / 25_400, sheet.label_height_um * 72 / 25_400)
            )
            document.pages[-1].Contents = document.make_stream(
                f"0 {number + 1} m 20 {number + 1} l S".encode()
            )
        written = io.BytesIO()
        document.save(written)
    return written.getvalue()


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.slug)
def test_every_corner_of_every_label_is_within_a_tenth_of_a_millimetre(sheet):
    pdf = impose(artwork(sheet, 1), [0] * sheet.labels, sheet)

    forms = placed_forms(pdf)
    assert len(forms) == sheet.labels
    for form, place in zip(forms, positions(sheet, 1, sheet.labels), strict=True):
        left, top = Decimal(place.left_um) / 1000, Decimal(place.top_um) / 1000
        right = left + Decimal(sheet.label_width_um) / 1000
        bottom = top + Decimal(sheet.label_height_um) / 1000
        assert abs(form.left - left) < TENTH
        assert abs(form.top - top) < TENTH
        assert abs(form.right - right) < TENTH
        assert abs(form.bottom - bottom) < TENTH


def test_labels_start_where_asked_and_go_on_over_the_page():
    sheet = sheet_named("a4-3x8")

    pdf = impose(artwork(sheet, 2), [0, 1, 1, 0], sheet, start_at=23)

    forms = placed_forms(pdf)
    assert [(form.page, form.name) for form in forms] == [(0, "/L0"), (0, "/L1"), (1, "/L1"), (1, "/L0")]
    assert abs(forms[0].left - Decimal("73.25")) < TENTH
    assert abs(forms[0].top - Decimal("250.2")) < TENTH


def test_an_offset_moves_everything_right_and_down():
    sheet = sheet_named("letter-2x5")

    here = placed_forms(impose(artwork(sheet, 1), [0], sheet))[0]
    moved = placed_forms(impose(artwork(sheet, 1), [0], sheet, offset=Offset(1_500, -500)))[0]

    assert abs(moved.left - here.left - Decimal("1.5")) < Decimal("0.001")
    assert abs(moved.top - here.top + Decimal("0.5")) < Decimal("0.001")
    with pytest.raises(OffsetTooFar):
        impose(artwork(sheet, 1), [0], sheet, offset=Offset(11_000, 0))


def test_a_label_used_a_hundred_times_is_in_the_file_once():
    sheet = sheet_named("a4-3x8")

    once = impose(artwork(sheet, 1), [0], sheet)
    often = impose(artwork(sheet, 1), [0] * 96, sheet)

    with pikepdf.open(io.BytesIO(often)) as document:
        forms = {page.Resources.XObject["/L0"].objgen for page in document.pages}
    assert len(page_sizes(often)) == 4
    assert len(forms) == 1
    assert len(often) < len(once) + 6_000


def test_a_roll_gets_a_page_of_its_own_for_each_label():
    sheet = sheet_named("roll-4x6in")

    assert page_sizes(impose(artwork(sheet, 1), [0, 0], sheet)) == [(288, 432), (288, 432)]


def test_the_same_labels_make_the_same_file():
    sheet = sheet_named("a4-2x7")

    assert impose(artwork(sheet, 1), [0, 0], sheet) == impose(artwork(sheet, 1), [0, 0], sheet)


def test_the_outline_page_draws_each_edge_where_the_label_ends():
    dpi = 600
    sheet = sheet_named("a4-3x8")

    page = pages_as_pictures(outline_page(sheet), dpi)[0]

    middle_of_first_row = round((12.9 + 8) / 25.4 * dpi)
    dark = [x for x in range(page.width) if page.getpixel((x, middle_of_first_row)) < 128]
    expected = [7.25, 70.75, 73.25, 136.75, 139.25, 202.75]
    for edge in expected:
        assert min(abs(x / dpi * 25.4 - edge) for x in dark) < 0.1
    assert all(min(abs(x / dpi * 25.4 - edge) for edge in expected) < 0.2 for x in dark)
