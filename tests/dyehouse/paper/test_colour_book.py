"""The colour book: a page a colourway with its snip's square, secrets for the owner alone, and the whole as a list."""

from __future__ import annotations

import csv
import datetime as dt
import io
import uuid

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from dyehouse.paper.book_contents import book_contents, colourways_for_book
from dyehouse.paper.book_csv import COLUMNS
from dyehouse.paper.models import PrintRun
from dyehouse.studio.cells import safe
from recipes.colourways import keep_secret, name_colourway, note_snip, sort_into_families
from recipes.lots.models import Photo
from recipes.lots.notebook.reading import NotedPot, NotedRow
from recipes.lots.notebook.taking import Recipe, take_in_notes
from recipes.lots.photos import add_photo
from tests import factories
from tests.dyehouse.paper.reading import pages_as_pictures, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def studio():
    return factories.studio(country="DE")


@pytest.fixture
def marit():
    return factories.OwnerFactory()


@pytest.fixture
def owner(marit) -> Client:
    client = Client()
    client.force_login(marit)
    return client


@pytest.fixture
def helper() -> Client:
    client = Client()
    client.force_login(factories.HelperFactory())
    return client


@pytest.fixture
def way(marit):
    """Tin Roof, learned from a pot of three skeins, with a photo, families and a snip."""
    made = factories.way(who=marit)
    colourway = name_colourway(colourway=made.colourway, name="Tin Roof")
    sort_into_families(colourway=colourway, families=["grey", "blue"])
    note_snip(colourway=colourway, where="grey book, page 14")
    add_photo(
        key=uuid.uuid4(), upload=factories.photo_file(size=(480, 360)), kind=Photo.Kind.DAYLIGHT, who=marit,
        dye_lot=made.origin.pot.dye_lot,
    )  # fmt: skip
    return made


def from_notes(marit, name: str, base=None):
    recipe = Recipe(
        base=base or factories.base(),
        pot=NotedPot(per_100g=True),
        rows=[NotedRow(1, what="Rust", amount="0.5 %", it_is="dye"), NotedRow(2, step="82 C", minute="40")],
        new_name=name,
    )
    return take_in_notes(key=uuid.uuid4(), recipe=recipe, who=marit)


def printed(client: Client, **fields) -> bytes:
    answer = client.post(reverse("colour-book"), {"key": uuid.uuid4(), **fields})
    assert answer.status_code == 200
    assert answer["Content-Type"] == "application/pdf"
    return answer.content


def listed(client: Client) -> list[dict[str, str]]:
    content = client.get(reverse("colour-book-list")).content.decode()
    assert content.startswith("\ufeff")
    return list(csv.DictReader(io.StringIO(content.removeprefix("\ufeff"), newline="")))


def test_a_page_says_how_it_is_dyed_and_has_a_square_for_its_snip(owner, way):
    pdf = printed(owner, code=way.colourway.code)

    (picture,) = pages_as_pictures(pdf, dpi=100)
    text = text_of(pdf)
    # A4 is 210 by 297 mm.
    assert abs(picture.width - 827) <= 1
    assert abs(picture.height - 1169) <= 1
    for words in (
        "Tin Roof",
        "Blue, grey",
        "Its snip: grey book, page 14",
        f"Lot {way.origin.pot.dye_lot.code},",
        "dyed by Marit: 3 pieces, 300 g dry",
        "75 % wool, 25 % nylon, superwash, 400 m in 100 g",
        # 30 ml of 1 % on 300 g: 0.1 %, and 0.1 g for 100 g.
        "0.1 % of dry fibre",
        "82 °C",
        "Glue the snip here",
    ):
        assert words in text
    assert PrintRun.objects.get().codes == [way.colourway.code]


def test_a_colourway_on_four_bases_keeps_to_its_page(owner, marit, way):
    steps = [NotedRow(number, step=f"{40 + number} C", minute=f"{number * 5}") for number in range(1, 9)]
    for _ in range(3):
        recipe = Recipe(
            base=factories.base(), pot=NotedPot(per_100g=True), rows=steps, colourway=way.colourway
        )
        take_in_notes(key=uuid.uuid4(), recipe=recipe, who=marit)

    pdf = printed(owner, code=way.colourway.code)

    assert len(pages_as_pictures(pdf, dpi=20)) == 1
    assert text_of(pdf).count("By the rule") == 4


def test_the_square_is_forty_millimetres_and_the_code_is_the_bare_code(owner, way):
    zxing = pytest.importorskip("zxingcpp")
    (picture,) = pages_as_pictures(printed(owner, code=way.colourway.code), dpi=254)

    # 254 dots to the inch are ten a millimetre. The square is dashed at 102 mm from the left of the page (16 + 86).
    wide = [x for x in range(1000, 1460) if any(picture.getpixel((x, y)) < 140 for y in range(500, 900, 2))]
    assert abs((max(wide) - min(wide)) - 400) <= 8
    assert [found.text for found in zxing.read_barcodes(picture)] == [way.colourway.code]


def test_the_whole_book_begins_with_a_list_by_family(owner, way, marit):
    from_notes(marit, "Old Ochre")

    pdf = printed(owner)

    text = text_of(pdf)
    assert len(pages_as_pictures(pdf, dpi=20)) == 3
    assert text.index("Blue") < text.index("Not sorted into a family")
    # The numbers of the list, Tin Roof's in two families, are those at the feet of the pages: Old Ochre comes first.
    assert text.startswith("3 3 2 ")
    assert text.index("Page 1") < text.index("Old Ochre", text.index("Page 1")) < text.index("Page 2")
    assert "Page 3" in text
    assert "from notes, not yet dyed here" in text
    assert "Missing to dye it: Class, water, acid, pre-soak, lay, cooling." in text


def test_families_choose_what_is_printed(owner, way, marit):
    from_notes(marit, "Old Ochre")

    assert "Old Ochre" not in text_of(printed(owner, families=["blue"]))
    answer = owner.post(reverse("colour-book"), {"key": uuid.uuid4(), "families": ["red"]})
    assert answer.status_code == 422
    assert "There is nothing to print" in answer.content.decode()


def test_a_secret_one_is_the_owners_alone_and_marked(owner, helper, way, marit):
    from_notes(marit, "Old Ochre")
    keep_secret(colourway=way.colourway, until=timezone.now() + dt.timedelta(days=9))

    mine, without, theirs = printed(owner, secrets="on"), printed(owner), printed(helper, secrets="on")

    from_notes(marit, "Old Slate", base=way.base)
    assert "1 more is still secret and left out." in text_of(printed(owner))
    assert "left out" not in text_of(printed(helper))
    assert "Secret until" in text_of(mine)
    assert "Tin Roof" in text_of(mine)
    for pdf in (without, theirs):
        assert "Tin Roof" not in text_of(pdf)
        assert way.colourway.code not in text_of(pdf)
    assert [run.names_opened for run in PrintRun.objects.order_by("pk")] == [True, False, False, False, False]
    assert {row["colourway"] for row in listed(owner)} == {"Tin Roof", "Old Ochre", "Old Slate"}
    assert {row["colourway"] for row in listed(helper)} == {"Old Ochre", "Old Slate"}


def test_the_list_has_plain_numbers_by_what_they_go_with(owner, way):
    rows = listed(owner)

    assert list(rows[0]) == [name for name, _ in COLUMNS]
    red = next(row for row in rows if row["name"] == "Red")
    assert (red["goes with"], red["amount"], red["unit"], red["stock percent"], red["for 100 g"]) == (
        "fibre", "0.1", "g on 100 g", "1", "0.1",
    )  # fmt: skip
    water = next(row for row in rows if row["what"] == "water")
    # 7.5 l on 300 g are 2500 ml on 100 g.
    assert (water["amount"], water["unit"]) == ("2500", "ml on 100 g")
    assert next(row for row in rows if row["what"] == "temperature")["celsius"] == "82"
    assert red["families"] == "blue; grey"
    assert red["pot dry grams"] == "300"


@pytest.mark.parametrize("words", ["=1+1", "+44", "-3", "@home", "\ttab"])
def test_no_cell_begins_a_formula(owner, marit, words):
    made = from_notes(marit, f"{words.strip()} Ochre")

    assert safe(words) == f"'{words}"
    row = next(row for row in listed(owner) if row["code"] == made.colourway.code)
    assert row["colourway"] == safe(f"{words.strip()} Ochre")


def test_the_book_asks_the_database_a_fixed_number_of_times(marit, owner, way, django_assert_max_num_queries):
    for number in range(12):
        from_notes(marit, f"Old {number}", base=way.base)

    with django_assert_max_num_queries(9):
        contents = book_contents(colourways_for_book(), user=marit)
    assert len(contents.pages) == 13
    with django_assert_max_num_queries(12):
        owner.get(reverse("colour-book"))
    with django_assert_max_num_queries(12):
        owner.get(reverse("colour-book-list"))


def test_a_get_prints_nothing(owner, way):
    assert "1 colourway in the book." in owner.get(reverse("colour-book")).content.decode()
    alone = owner.get(reverse("colour-book") + f"?colourway={way.colourway.code}").content.decode()
    assert "The page of <strong>Tin Roof</strong> alone." in alone
    assert not PrintRun.objects.exists()
