import datetime as dt
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.promises.files.fields import guess_columns, missing_fields
from inventory.promises.files.rows import FileRow, read_rows
from inventory.promises.models import ColumnMap
from recipes.lists.cells import Wrong
from recipes.lists.reading import FileRefused, read_table, text_of

SIGN_UPS = "Order no,Placed at,Email,Name,Postcode,Country,Club,Level,Base,How many,Please avoid,Same pot,Months,Paid\n"
ORDERS = "ref;date;e-mail;recipient;zip;country;product;yarn;qty;price;payment\n"


def read(
    text: str, *, kind: str = ColumnMap.Kind.SIGN_UPS, day_order: str = "", words: dict | None = None
) -> tuple[list[FileRow], list[Wrong]]:
    table = read_table(text, columns=None)
    return read_rows(
        table,
        kind=kind,
        columns=guess_columns(kind, table.header),
        words=words or {},
        day_order=day_order,
        zone=ZoneInfo("Europe/Amsterdam"),
        currency="EUR",
    )


def sign_up(**cells: str) -> str:
    said = {
        "number": "S1",
        "placed": "2026-09-01",
        "email": "wren@example.org",
        "name": "Wren Aldous",
        "postcode": "1012 JS",
        "country": "NL",
        "club": "Tidewrack",
        "level": "Two skeins",
        "base": "Sock",
        "count": "1",
        "avoid": "",
        "pot": "",
        "months": "",
        "paid": "paid",
        **cells,
    }
    return SIGN_UPS + ",".join(f'"{cell}"' for cell in said.values()) + "\n"


def test_every_heading_of_a_plain_file_finds_its_field():
    table = read_table(sign_up(), columns=None)
    columns = guess_columns(ColumnMap.Kind.SIGN_UPS, table.header)
    assert set(columns.values()) == set(table.header)
    assert missing_fields(ColumnMap.Kind.SIGN_UPS, columns) == []


def test_a_file_without_its_order_numbers_or_people_says_which_fields_are_missing():
    missing = missing_fields(ColumnMap.Kind.ORDERS, {"product": "what"})
    assert [field.key for field in missing] == ["number", "email"]


def test_a_sign_up_is_read_with_what_its_person_avoids():
    (row,), wrong = read(sign_up(avoid="orange; no nylon, brown", pot="yes", months="6", country="UK"))
    assert wrong == []
    assert (row.number, row.count, row.level, row.base, row.months) == ("S1", 1, "Two skeins", "Sock", 6)
    assert (row.avoids_families, row.avoids_fibres, row.same_pot) == (("brown", "orange"), ("nylon",), True)
    assert row.whose.country == "GB"
    assert row.placed_at == dt.datetime(2026, 9, 1, 12, tzinfo=ZoneInfo("Europe/Amsterdam"))


@pytest.mark.parametrize(
    ("cells", "column", "says"),
    [
        ({"count": "two"}, "how many", "not a number"),
        ({"count": "-1"}, "how many", "from 1 to"),
        ({"placed": "31/02/2026"}, "placed at", "no such day"),
        ({"placed": "12/09/2026 14:05"}, "placed at", "read in two ways"),
        ({"placed": "soon"}, "placed at", "year, month and day"),
        ({"placed": "9999-01-01"}, "placed at", "Check it"),
        ({"email": "wren at home"}, "email", "not an e-mail address"),
        ({"email": "", "name": ""}, "email", "Nobody is named"),
        ({"number": ""}, "order no", "number of its order"),
        ({"country": "Holland"}, "country", "two letters"),
        ({"paid": "sort of"}, "paid", "what this word means"),
        ({"pot": "perhaps"}, "same pot", "what this word means"),
        ({"months": "200"}, "months", "from 1 to"),
    ],
)
def test_a_cell_that_cannot_be_read_is_named_with_what_would_be_right(cells, column, says):
    rows, wrong = read(sign_up(**cells))
    assert rows == []
    assert [(each.row, each.column) for each in wrong] == [(2, column)]
    assert says in wrong[0].sentence


def test_days_are_read_in_the_files_own_order_once_it_is_told():
    for order, day in (("dmy", dt.date(2026, 9, 12)), ("mdy", dt.date(2026, 12, 9))):
        (row,), wrong = read(sign_up(placed="12/09/2026"), day_order=order)
        assert wrong == []
        assert row.placed_at is not None
        assert row.placed_at.date() == day
    (clear,), _ = read(sign_up(placed="09/28/2026"))
    assert clear.placed_at is not None
    assert clear.placed_at.date() == dt.date(2026, 9, 28)


def test_an_order_over_several_rows_has_its_buyer_on_the_first_alone():
    text = ORDERS + (
        "A1;2026-06-08;wren@example.org;Wren Aldous;1012 JS;NL;Box;Sock;1;189,00;deposit\n"
        "A1;;;;;;Box;DK;2;$189.00;\n"
    )
    (first, second), wrong = read(text, kind=ColumnMap.Kind.ORDERS)
    assert wrong == []
    assert second.whose == first.whose
    assert (second.position, second.base, second.count, second.price_minor) == (2, "DK", 2, 18900)
    assert (second.placed_at, second.paid) == (first.placed_at, "deposit")


def test_the_same_row_twice_is_named_and_only_one_is_taken():
    rows, wrong = read(sign_up() + sign_up().splitlines()[1] + "\n")
    assert len(rows) == 1
    assert wrong[0].sentence == "This row is the same as row 2. One of them is enough."


def test_what_was_read_in_doubt_asks():
    (row,), wrong = read(sign_up(email="", name="\u202eWren ?ldous", avoid="glitter"))
    assert wrong == []
    assert row.whose.name == "Wren ?ldous"
    assert [question.split(":")[0].split(",")[0] for question in row.questions] == [
        "A sign that turns text round stood in the name and was left out.",
        "No e-mail",
        "A question mark stands in the name or address",
        "“glitter” is no colour family and no fibre; it is kept as a note.",
    ]


def test_words_that_were_told_once_are_known():
    words = {"avoid": {"glitter": "fibre:metallic"}, "paid": {"sort of": "deposit"}}
    (row,), wrong = read(sign_up(avoid="Glitter", paid="sort of"), words=words)
    assert (row.avoids_fibres, row.paid, row.questions, wrong) == (("metallic",), "deposit", (), [])


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_the_same_rows_come_out_of_every_way_of_saving_a_file(encoding, delimiter):
    note = "line one\nline two"
    plain = f'Order no,Email,Name,Level,Note\nS1,wren@example.org,Zoë Brandt,Minis,"{note}"\n'
    text = plain.replace(",", delimiter)
    (row,), wrong = read(text_of(text.encode(encoding)))
    assert wrong == []
    assert (row.whose.name, row.level, row.note) == ("Zoë Brandt", "Minis", "line one line two")


def test_ten_thousand_rows_are_read_and_one_more_is_too_many():
    lines = "Order no,Email,Level\n" + "".join(f"S{n},p{n}@example.org,Minis\n" for n in range(10_001))
    with pytest.raises(FileRefused, match="10,000 are the most"):
        read_table(lines, columns=None, most_rows=10_000, most_bytes=8_000_000)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.lists(st.text(max_size=12), min_size=14, max_size=14), max_size=6))
def test_whatever_stands_in_the_cells_is_read_or_named(rows):
    """Every row is either read or has something wrong that is said; no row is both or neither, none is invented."""
    table = read_table(SIGN_UPS, columns=None)
    numbered = tuple((number, tuple(cells)) for number, cells in enumerate(rows, 2))
    read_ones, wrong = read_rows(
        type(table)(table.header, numbered, ""),
        kind=ColumnMap.Kind.SIGN_UPS,
        columns=guess_columns(ColumnMap.Kind.SIGN_UPS, table.header),
        words={},
        day_order="",
        zone=ZoneInfo("UTC"),
        currency="EUR",
    )
    assert {row.row for row in read_ones} | {each.row for each in wrong} == {number for number, _ in numbered}
    assert not {row.row for row in read_ones} & {each.row for each in wrong}
    assert all(each.sentence for each in wrong)
