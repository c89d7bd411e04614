"""Day numbers, shelf labels, mixing lists and count sheets: what they say, what they keep to themselves, the same again."""

from __future__ import annotations

import datetime as dt
import re

import pytest
import zxingcpp
from django.urls import reverse
from django.utils import timezone

from dyehouse.paper.models import PrintRun
from dyehouse.paper.placed import FONT_OF, LabelTooSmall
from dyehouse.paper.sheets import SHEETS, sheet_named
from dyehouse.paper.stickers import (
    DayNumber,
    ShelfLabel,
    day_numbers,
    lay_out_day,
    lay_out_shelf,
    shelf_labels,
)
from inventory.kits import PartWanted, make_kit
from inventory.models import Kit
from recipes.colourways import keep_secret
from tests import factories
from tests.dyehouse.paper.making import LONG_NAME
from tests.dyehouse.paper.reading import pages_as_pictures, text_of

SMALL = {"sheet": "a4-5x13", "start_at": 1}


@pytest.fixture
def marit(db):
    factories.studio(name="Weir Lane", country="IE")
    return factories.OwnerFactory()


@pytest.fixture
def owner(client, marit):
    client.force_login(marit)
    return client


def again(client) -> str:
    run = PrintRun.objects.latest("id")
    return text_of(client.get(reverse("labels-again", args=[run.pk])).content)


# --- Day numbers ------------------------------------------------------------------------------------------------------


def test_numbers_stand_outside_without_what_is_inside(owner):
    factories.colourway("Rowan Berry")

    answer = owner.post(
        reverse("numbers-of-days"),
        {"part": "outside", "days": 3, "boxes": 2, "colourways": "Rowan Berry\n" * 3, **SMALL},
    )

    text = text_of(answer.content)
    assert re.findall(r"\d+", text) == ["1", "2", "3", "1", "2", "3"]
    assert "Rowan" not in text
    assert PrintRun.objects.get().count == 6
    assert again(owner) == text


def test_colourways_stand_inside_in_the_order_of_the_days(owner):
    factories.colourway("Rowan Berry")
    fog = factories.colourway("Sea Fog")

    answer = owner.post(
        reverse("numbers-of-days"),
        {"part": "both", "days": 2, "boxes": 1, "colourways": f"rowan berry\n{fog.code.lower()}", **SMALL},
    )

    text = text_of(answer.content)
    assert text.index("Day 1") < text.index("Rowan Berry") < text.index("Day 2") < text.index("Sea Fog")
    assert PrintRun.objects.get().count == 4


def test_a_secret_stands_inside_by_its_code_until_the_owner_opens_it(owner, client):
    secret = factories.colourway("Rowan Berry")
    keep_secret(colourway=secret, until=timezone.now() + dt.timedelta(days=3))
    asked = {"part": "inside", "days": 1, "boxes": 1, "colourways": secret.code, **SMALL}

    closed = text_of(owner.post(reverse("numbers-of-days"), asked).content)
    answer = owner.post(reverse("numbers-of-days"), {**asked, "open_names": "on"})

    assert secret.code in closed
    assert "Rowan" not in closed
    assert "Rowan Berry" in text_of(answer.content)
    assert "Rowan" not in answer["Content-Disposition"]
    assert PrintRun.objects.latest("id").names_opened
    client.force_login(factories.HelperFactory())
    opened = client.get(reverse("labels-again", args=[PrintRun.objects.latest("id").pk]))
    assert opened.status_code == 403


def test_a_helper_neither_finds_nor_opens_a_secret_by_its_name(client, marit):
    secret = factories.colourway("Rowan Berry")
    keep_secret(colourway=secret, until=timezone.now() + dt.timedelta(days=3))
    client.force_login(factories.HelperFactory())
    asked = {
        "part": "inside",
        "days": 1,
        "boxes": 1,
        "colourways": "Rowan Berry",
        "open_names": "on",
        **SMALL,
    }

    by_name = client.post(reverse("numbers-of-days"), asked)
    by_code = client.post(reverse("numbers-of-days"), {**asked, "colourways": secret.code})

    assert by_name.status_code == 422
    assert "Rowan" not in text_of(by_code.content)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"colourways": "Rowan Berry"}, "There is 1 line for 2 days."),
        ({"colourways": "Rowan Berry\nNobody"}, "Line 2: there is no colourway called “Nobody”."),
        ({"days": "0"}, "There is one day at least."),
        ({"boxes": ""}, "Write how many boxes are packed."),
        ({"start_at": 66}, "This sheet has 65 labels."),
    ],
)
def test_what_cannot_be_printed_is_said_and_nothing_is_counted(owner, changed, words):
    factories.colourway("Rowan Berry")
    asked = {"part": "inside", "days": 2, "boxes": 1, "colourways": "Rowan Berry\nRowan Berry", **SMALL}

    answer = owner.post(reverse("numbers-of-days"), {**asked, **changed})

    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not PrintRun.objects.exists()


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.slug)
@pytest.mark.parametrize("number", [1, 24, 60])
def test_a_number_keeps_to_its_sticker(sheet, number):
    dpi = 200
    page = pages_as_pictures(day_numbers([DayNumber(number=number, studio="Weir Lane")], sheet), dpi)[0]

    # What is cut along lies outside the stickers.
    left, top = (round(um / 25_400 * dpi) for um in (sheet.left_um, sheet.top_um))
    wide, high = (round(um / 25_400 * dpi) for um in (sheet.label_width_um, sheet.label_height_um))
    cell = page.crop((left, top, left + wide, top + high))
    ink = cell.point(lambda value: 255 if value < 160 else 0).getbbox()
    assert ink is not None
    assert ink[0] > 2
    assert ink[1] > 2
    assert ink[2] < wide - 2
    assert ink[3] < high - 2
    assert ink[3] - ink[1] > high // 3


def test_a_long_name_inside_shrinks_and_is_all_there():
    page = lay_out_day(DayNumber(number=7, inside=True, colourway=LONG_NAME), sheet_named("a4-5x13"))

    printed = " ".join(line.text for line in page.lines if line.kind == "name")
    assert printed == LONG_NAME
    with pytest.raises(LabelTooSmall):
        lay_out_day(DayNumber(number=7, inside=True, colourway=LONG_NAME * 3), sheet_named("letter-4x20"))


def test_letters_the_fonts_lack_are_named_and_printed_when_that_is_wanted(owner):
    factories.colourway("深海")
    asked = {"part": "inside", "days": 1, "boxes": 1, "colourways": "深海", **SMALL}

    refused = owner.post(reverse("numbers-of-days"), asked)
    printed = owner.post(reverse("numbers-of-days"), {**asked, "all_the_same": "1"})

    assert refused.status_code == 422
    assert "Chinese characters" in refused.content.decode()
    assert "Print them all the same" in refused.content.decode()
    assert printed["Content-Type"] == "application/pdf"


def test_a_box_of_days_prints_its_numbers_in_the_order_of_its_kit(owner, marit):
    fog, put_up = factories.colourway("Sea Fog"), factories.put_up(pieces=9, who=marit)
    kit = make_kit(
        name="Winter box",
        kind=Kit.Kind.BOX,
        parts=[PartWanted(fog, put_up), PartWanted(factories.colourway("Rowan Berry"), put_up)],
    )

    form = owner.get(reverse("numbers-of-days"), {"kit": kit.pk}).context["form"]

    assert form["days"].value() == 2
    assert form["colourways"].value() == "Sea Fog\nRowan Berry"
    assert form["part"].value() == "both"


# --- Shelf labels -----------------------------------------------------------------------------------------------------


def test_a_shelf_label_says_its_place_and_a_scanner_types_it(owner):
    place = factories.shelf_place("Bin 12")

    answer = owner.post(
        reverse("shelf-labels"), {"places": [place.pk], "copies": 2, "sheet": "a4-3x8", "start_at": 1}
    )

    assert text_of(answer.content).count("Bin 12") == 2
    found = zxingcpp.read_barcodes(pages_as_pictures(answer.content, 300)[0])
    assert [(code.text, code.format) for code in found] == [("Bin 12", zxingcpp.BarcodeFormat.Code128)] * 2
    assert again(owner).count("Bin 12") == 2


def test_a_place_in_letters_no_bar_code_has_gets_none():
    page = lay_out_shelf(ShelfLabel(name="Dörr-Regal"), sheet_named("a4-3x8"))

    assert page.pictures == []


@pytest.mark.parametrize("name", ["A", "Bin 12", LONG_NAME])
def test_a_place_stands_as_large_as_its_label_lets_it(name):
    sheet = sheet_named("a4-2x4")
    page = lay_out_shelf(ShelfLabel(name=name), sheet)

    assert " ".join(line.text for line in page.lines) == name
    assert all(line.kind in FONT_OF for line in page.lines)
    assert all(line.top + line.height <= sheet.label_height_um for line in page.lines)
    assert shelf_labels([ShelfLabel(name=name)], sheet).startswith(b"%PDF")


# --- Lists ------------------------------------------------------------------------------------------------------------


def test_a_mixing_list_has_what_all_pots_take_together(owner, marit):
    plan = factories.redye_plan(who=marit)
    codes = [pot.code for pot in plan.pots.all()]

    page = owner.get(reverse("mixing-list")).content.decode()
    answer = owner.post(reverse("mixing-list"), {"pots": codes})

    text = text_of(answer.content)
    assert all(code in page and code in text for code in codes)
    # 30 ml of the 1 % stock dyed three skeins: 100 ml for ten
    assert "100 ml" in text
    assert "Citric acid" in text
    run = PrintRun.objects.get()
    assert (run.count, run.codes) == (1, codes)
    assert again(owner) == text


def test_a_mixing_list_is_for_the_pots_that_are_chosen(owner, marit):
    plan = factories.redye_plan(who=marit)
    first, *others = [pot.code for pot in plan.pots.all()]

    text = text_of(owner.post(reverse("mixing-list"), {"pots": [first]}).content)

    assert first in text
    assert not any(code in text for code in others)
    assert owner.post(reverse("mixing-list"), {}).status_code == 422


def test_a_count_sheet_lists_what_lies_in_a_place_and_hides_the_book(owner, marit):
    lot, place, _ = factories.shelved_lot(who=marit)

    asked = {"places": [place.pk]}
    blind = text_of(owner.post(reverse("count-sheets"), asked).content)
    led = text_of(owner.post(reverse("count-sheets"), {**asked, "shows_book": "on"}).content)

    assert lot.code in blind
    assert place.name in blind
    assert "Book" not in blind
    assert "Book" in led
    assert again(owner) == led


def test_a_count_sheet_is_open_paper(owner, marit):
    lot, place, _ = factories.shelved_lot(who=marit)
    lot.colourway.name = "Rowan Berry"
    lot.colourway.save()
    keep_secret(colourway=lot.colourway, until=timezone.now() + dt.timedelta(days=3))

    text = text_of(owner.post(reverse("count-sheets"), {"places": [place.pk]}).content)

    assert "Rowan" not in text
    assert lot.colourway.code in text


@pytest.mark.parametrize("name", ["mixing-list", "count-sheets", "shelf-labels"])
def test_an_empty_house_says_what_to_do_first(owner, name):
    assert 'class="empty"' in owner.get(reverse(name)).content.decode()
