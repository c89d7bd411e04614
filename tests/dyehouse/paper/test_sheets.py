"""Sheets by their dimensions. Margins and pitches of the named grids are recomputed from page, label and gap."""

from __future__ import annotations

import pytest

from dyehouse.paper.sheets import (
    SHEETS,
    Offset,
    OffsetTooFar,
    Sheet,
    SheetDoesNotFit,
    SheetUnknown,
    StartOutsideSheet,
    check_offset,
    custom_sheet,
    pages_needed,
    points,
    positions,
    sheet_named,
)

INCH = 25_400


def test_a4_of_3_by_8_begins_and_ends_where_its_packet_says():
    sheet = sheet_named("a4-3x8")

    last = positions(sheet, 1, 24)[-1]

    # A4 less three labels of 63.5 mm and two gaps of 2.5 mm, halved; likewise down the page.
    assert (sheet.left_um, sheet.top_um) == (7_250, 12_900)
    assert (last.left_um + sheet.label_width_um, last.top_um + sheet.label_height_um) == (202_750, 284_100)


def test_a4_of_3_by_7_has_the_margins_printed_on_a_sheet():
    sheet = sheet_named("a4-3x7")

    # A page about this sheet prints left 7.2, top 15.15, gap 2.5 and 0 mm.
    assert (sheet.left_um, sheet.top_um, sheet.pitch_x_um, sheet.pitch_y_um) == (
        7_250,
        15_150,
        66_000,
        38_100,
    )


@pytest.mark.parametrize(
    ("slug", "left", "top", "pitch_x", "pitch_y"),
    [
        ("letter-3x10", 0.1875, 0.5, 2.75, 1),
        ("letter-2x5", 0.15625, 0.5, 4.1875, 2),
        ("letter-2x3", 0.15625, 0.5, 4.1875, 10 / 3),
        ("letter-4x20", 0.3, 0.5, 2.05, 0.5),
    ],
)
def test_letter_grids_keep_their_inches_to_a_micrometre(slug, left, top, pitch_x, pitch_y):
    sheet = sheet_named(slug)

    # Margins recomputed from 8.5 x 11 in; a micrometre is what rounding to whole ones may cost.
    for found, inches in (
        (sheet.left_um, left),
        (sheet.top_um, top),
        (sheet.pitch_x_um, pitch_x),
        (sheet.pitch_y_um, pitch_y),
    ):
        assert abs(found - inches * INCH) <= 1


@pytest.mark.parametrize(
    ("slug", "width", "height"),
    [
        ("a4-3x8", "595.2756", "841.8898"),
        ("letter-3x10", "612.0000", "792.0000"),
        ("roll-100x150", "283.4646", "425.1969"),
        ("roll-4x6in", "288.0000", "432.0000"),
    ],
)
def test_page_boxes_in_points(slug, width, height):
    sheet = sheet_named(slug)

    # ISO 216 and ASME Y14.1 sizes at 72 points to the inch.
    assert (points(sheet.width_um), points(sheet.height_um)) == (width, height)


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.slug)
def test_labels_of_every_sheet_lie_on_the_page_and_apart(sheet):
    places = positions(sheet, 1, sheet.labels)

    assert len({(place.left_um, place.top_um) for place in places}) == sheet.labels
    assert all(place.page == 0 for place in places)
    assert all(0 <= place.left_um <= sheet.width_um - sheet.label_width_um for place in places)
    assert all(0 <= place.top_um <= sheet.height_um - sheet.label_height_um for place in places)


def test_labels_run_row_by_row_from_the_chosen_one_and_over_the_page():
    places = positions(sheet_named("a4-3x8"), 23, 4)

    assert [place.page for place in places] == [0, 0, 1, 1]
    assert places[2].left_um == 7_250
    assert places[2].top_um == 12_900
    assert pages_needed(sheet_named("a4-3x8"), 23, 4) == 2
    assert pages_needed(sheet_named("a4-3x8"), 23, 0) == 0


@pytest.mark.parametrize("start", [0, 25, -1])
def test_a_first_label_that_is_not_on_the_sheet_is_refused_with_the_range(start):
    with pytest.raises(StartOutsideSheet, match="from 1 to 24") as refused:
        positions(sheet_named("a4-3x8"), start, 1)

    assert refused.value.field == "start_at"


def test_a_name_that_no_sheet_has_is_refused():
    with pytest.raises(SheetUnknown, match="a5-1x1"):
        sheet_named("a5-1x1")


def test_a_sheet_of_ones_own_is_centred_and_comes_back_from_json():
    sheet = custom_sheet(
        name="Kraft tags",
        width_um=210_000,
        height_um=297_000,
        columns=2,
        rows=4,
        label_width_um=90_000,
        label_height_um=60_000,
    )

    assert (sheet.left_um, sheet.top_um) == (15_000, 28_500)
    assert Sheet.from_payload(sheet.as_payload()) == sheet


def test_labels_that_run_off_the_page_are_refused_with_where_they_end():
    with pytest.raises(SheetDoesNotFit, match=r"210\.5 mm, and the sheet is 210 mm wide") as refused:
        custom_sheet(
            name="Too wide",
            width_um=210_000,
            height_um=297_000,
            columns=3,
            rows=8,
            label_width_um=70_000,
            label_height_um=30_000,
            left_um=500,
        )

    assert refused.value.field == "label_width"


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"columns": 0}, "columns"),
        ({"rows": 0}, "rows"),
        ({"label_height_um": 9_000}, "label_height"),
        ({"gap_x_um": -1}, "gap_x"),
        ({"top_um": 100_000}, "label_height"),
    ],
)
def test_a_sheet_that_cannot_be_is_refused_beside_the_field(wrong, field):
    size = {
        "width_um": 210_000,
        "height_um": 297_000,
        "columns": 2,
        "rows": 7,
        "label_width_um": 99_100,
        "label_height_um": 38_100,
    }

    with pytest.raises(SheetDoesNotFit) as refused:
        custom_sheet(name="Wrong", **{**size, **wrong})

    assert refused.value.field == field


def test_printing_moves_by_ten_millimetres_at_most():
    assert check_offset(Offset(-10_000, 10_000)) == Offset(-10_000, 10_000)
    with pytest.raises(OffsetTooFar, match=r"10\.5 mm is too far"):
        check_offset(Offset(0, 10_500))
