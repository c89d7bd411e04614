"""The pages on which a notebook comes in: one recipe typed, or a list of them that comes in whole or not at all."""

from __future__ import annotations

import csv
import datetime as dt
import io
import uuid

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from recipes.colourways import keep_secret
from recipes.lists.cells import ListWrong
from recipes.lots.models import Photo
from recipes.lots.notebook.columns import COLUMNS, example_csv
from recipes.lots.notebook.listing import look_at, take_in
from recipes.lots.notebook.reading import NotedPot, NotedRow
from recipes.lots.notebook.taking import Recipe, take_in_notes
from recipes.models import Auxiliary, Base, Colourway, Dye, Rule, WayOfDyeing
from recipes.ways import rules_of
from tests import factories

pytestmark = pytest.mark.django_db

HUNDRED = NotedPot(per_100g=True)
FIVE_SKEINS = NotedPot(per_100g=False, dry_milligrams=500_000, bath_microlitres=15_000_000, pieces=5)
UNKNOWN_POT = NotedPot(per_100g=False)


@pytest.fixture(autouse=True)
def studio():
    return factories.studio()


@pytest.fixture
def marit():
    return factories.OwnerFactory()


@pytest.fixture
def owner(marit) -> Client:
    client = Client()
    client.force_login(marit)
    return client


@pytest.fixture
def store():
    """Red and Teal, vinegar and citric acid, salt."""
    red, teal = factories.dye("Red"), factories.dye("Teal", dye_class=Dye.Class.COLD_REACTIVE)
    factories.auxiliary("Vinegar")
    factories.auxiliary("Citric acid", form=Auxiliary.Form.POWDER, strength_hundredths_percent=None)
    factories.auxiliary("Salt", role="salt", form=Auxiliary.Form.POWDER, strength_hundredths_percent=None)
    return red, teal


def recipe(*rows: dict[str, str], **facts) -> Recipe:
    noted = [NotedRow(at, **row) for at, row in enumerate(rows, 1)]
    return Recipe(**{"base": factories.base(), "pot": HUNDRED, "rows": noted, **facts})


class TestThePage:
    def sent(self, *rows: dict[str, str], **facts: str) -> dict[str, str]:
        form = {
            "key": str(uuid.uuid4()), "colourway": "new", "per": "100 g", "row-TOTAL_FORMS": str(len(rows)),
            "row-INITIAL_FORMS": "0", **facts,
        }  # fmt: skip
        for at, row in enumerate(rows):
            form |= {f"row-{at}-{name}": value for name, value in row.items()}
        return form

    def test_it_is_read_looked_at_and_kept_without_script(self, owner, store):
        base = factories.base("Moor Sock")
        factories.bottle(jar=factories.jar(dye=store[0]))
        opened = owner.get(reverse("notebook")).content.decode()
        words = {"base": base.pk, "name": "Tin Roof", "words": "12 ml red 1 %\n20 ml vinegar"}
        read = owner.post(reverse("notebook"), self.sent(read="1", **words)).content.decode()
        rows = (
            {"what": "Red", "amount": "12 ml", "strength": "1"},
            {"what": "Vinegar", "amount": "20 ml"},
            {},
        )
        looked = owner.post(reverse("notebook"), self.sent(*rows, look="1", **words)).content.decode()
        assert not WayOfDyeing.objects.exists()
        kept = owner.post(
            reverse("notebook"), self.sent(*rows, keep="1", photo=factories.photo_file(), **words)
        )

        assert opened.count('name="row-3-what"') == 1
        assert 'value="12 ml"' in read
        assert "2 rows read from the words." in read
        # 12 ml of 1 % on 100 g: 0.12 %.
        assert "0.12 % of dry fibre" in looked
        assert "Missing to dye it" in looked
        way = WayOfDyeing.objects.get()
        assert kept["Location"] == reverse("way", args=[way.pk])
        assert way.as_written == "12 ml red 1 %\n20 ml vinegar"
        photo = Photo.objects.get(way=way)
        assert photo.kind == "notes"
        assert str(photo.key) in owner.get(kept["Location"]).content.decode()
        assert owner.get(reverse("photo", args=[photo.key])).status_code == 200

    def test_what_is_wrong_stands_beside_its_field_and_nothing_is_kept(self, owner, store):
        sent = self.sent(
            {"what": "Heather", "amount": "1,250 g"}, keep="1", base=factories.base().pk, name="Moss"
        )

        answer = owner.post(reverse("notebook"), sent)

        page = answer.content.decode()
        assert answer.status_code == 422
        assert "can be read in two ways" in page
        assert 'value="1,250 g"' in page
        assert 'value="Moss"' in page
        assert not WayOfDyeing.objects.exists()
        assert not Colourway.objects.exists()

    def test_a_taken_name_stands_beside_the_name(self, owner, store):
        factories.colourway("Moss")
        sent = self.sent({"what": "Red", "amount": "1 g"}, keep="1", base=factories.base().pk, name="Moss")

        answer = owner.post(reverse("notebook"), sent)

        assert answer.status_code == 422
        assert "There is a colourway called Moss already." in answer.content.decode()

    def test_what_is_no_picture_is_refused_and_nothing_is_kept(self, owner, store):
        sent = self.sent(
            {"what": "Red", "amount": "1 g"},
            keep="1",
            base=factories.base().pk,
            photo=io.BytesIO(b"no picture"),
        )

        assert owner.post(reverse("notebook"), sent).status_code == 422
        assert not WayOfDyeing.objects.exists()

    def test_more_rows_keep_what_was_typed(self, owner, store):
        page = owner.post(
            reverse("notebook"), self.sent({"what": "Red", "amount": "1 g"}, more="1", name="Moss")
        ).content.decode()

        assert 'value="1 g"' in page
        assert 'name="row-4-what"' in page
        assert 'value="Moss"' in page

    def test_a_photo_of_the_page_is_added_later(self, owner, marit, store):
        way = take_in_notes(key=uuid.uuid4(), recipe=recipe({"what": "Red", "amount": "1 g"}), who=marit)

        owner.post(
            reverse("way-photo", args=[way.pk]), {"key": uuid.uuid4(), "photo": factories.photo_file()}
        )

        assert Photo.objects.get().way == way

    def test_the_pages_take_twelve_queries_at_most(self, owner, marit, store, django_assert_max_num_queries):
        for number in range(30):
            factories.colourway(f"Moss {number}")
            factories.dye(f"Dye {number}")
        way = take_in_notes(key=uuid.uuid4(), recipe=recipe({"what": "Red", "amount": "1 g"}), who=marit)
        for address in (reverse("notebook"), reverse("notebook-list"), reverse("way", args=[way.pk])):
            with django_assert_max_num_queries(12):
                assert owner.get(address).status_code == 200


def as_csv(rows: list[dict[str, str]]) -> str:
    written = io.StringIO(newline="")
    writer = csv.DictWriter(written, [column.name for column in COLUMNS], restval="")
    writer.writeheader()
    writer.writerows(rows)
    return written.getvalue()


def forty_five() -> list[dict[str, str]]:
    rows: list[dict[str, str]] = []
    for number in range(1, 46):
        rows += [
            {
                "recipe": str(number), "colourway": f"Old Colour {number}" if number % 5 else "",
                "base": ("Moor Sock", "Ferry DK", "Fell Worsted")[number % 3], "for": "100 g" if number % 2 else "pot",
                "dry grams": "" if number % 2 else "500", "written on": "2019-05-04", "families": "green; brown",
                "what": "Brick red", "amount": f"{number} ml", "strength": "1", "it is": "dye",
            },
            {"what": "Vinegar", "amount": "20 ml", "it is": "acid, liquid", "minute": "15"},
            {"step": "82 C", "minute": "45"},
        ]  # fmt: skip
    return rows


class TestTheList:
    def test_forty_five_recipes_come_in_at_once_and_once(self, marit):
        text = as_csv(forty_five())

        looked = look_at(text)
        assert (len(looked.recipes), looked.wrong) == (45, [])
        assert not Dye.objects.exists()
        taken, again = (take_in(text=text, who=marit) for _ in range(2))

        assert (taken.recipes, again.taken_before) == (45, True)
        assert look_at(text).taken_before
        ways = list(WayOfDyeing.objects.select_related("colourway").order_by("pk"))
        assert len(ways) == 45
        assert all(way.from_notes and way.noted_on == dt.date(2019, 5, 4) for way in ways)
        assert (Base.objects.count(), Dye.objects.count(), Auxiliary.objects.count()) == (3, 1, 1)
        assert Rule.objects.filter(way__in=ways).count() == 135
        assert sum(way.colourway.name == "" for way in ways) == 9
        assert ways[0].colourway.families == ["green", "brown"]
        # 1 ml of 1 % on 100 g is 10 mg: 0.1 g a kilogram. 2 ml in a pot of 500 g are 20 mg: 0.04 g a kilogram.
        assert [rules_of(way)[0].thousandths for way in ways[:2]] == [100_000, 40_000]

    def test_what_is_wrong_is_told_by_row_and_column_and_nothing_comes_in(self, marit):
        rows = forty_five()
        rows[4] |= {"amount": "20 mgl"}
        rows[6] |= {"dry grams": "300"}
        rows[9] |= {"families": "beige"}

        looked = look_at(as_csv(rows))

        assert [(wrong.row, wrong.column, wrong.typed) for wrong in looked.wrong] == [
            (6, "amount", "20 mgl"),
            (8, "dry grams", "300"),
            (11, "families", "beige"),
        ]
        with pytest.raises(ListWrong):
            take_in(text=as_csv(rows), who=marit)
        assert not WayOfDyeing.objects.exists()
        assert not Base.objects.exists()
        assert not Dye.objects.exists()

    def test_rows_of_one_recipe_must_agree(self):
        rows = [
            {
                "recipe": "a",
                "base": "Moor Sock",
                "lay": "loose",
                "what": "Red",
                "amount": "1 g",
                "it is": "dye",
            },
            {"lay": "flat", "what": "Red", "amount": "2 g"},
        ]

        (wrong,) = look_at(as_csv(rows)).wrong

        assert (wrong.row, wrong.column) == (3, "lay")
        assert "Row 2 says “loose”" in wrong.sentence

    def test_two_recipes_of_one_new_colourway_are_of_one(self, marit):
        rows = [
            {
                "recipe": "a",
                "colourway": "Moss",
                "base": "Moor Sock",
                "what": "Red",
                "amount": "1 g",
                "it is": "dye",
            },
            {"recipe": "b", "colourway": "moss", "base": "Ferry DK", "what": "Red", "amount": "2 g"},
        ]

        take_in(text=as_csv(rows), who=marit)

        moss = Colourway.objects.get()
        assert {way.base.name for way in moss.ways.all()} == {"Moor Sock", "Ferry DK"}

    def test_the_example_on_the_page_comes_in(self, owner):
        answer = owner.get(reverse("notebook-example"))
        assert answer.content.decode().startswith("\ufeff")
        file = io.BytesIO(answer.content)
        file.name = "recipes.csv"

        looked = owner.post(reverse("notebook-list"), {"file": file}).content.decode()
        taken = owner.post(reverse("notebook-take"), {"text": example_csv()})

        assert "Slack Water" in looked
        assert "Missing" in looked
        assert taken["Location"] == reverse("colourways")
        assert WayOfDyeing.objects.count() == 2

    @pytest.mark.parametrize(
        ("text", "sentence"),
        [
            ("what,amount\nRed,1 g\n", "one of them is base"),
            ("base,colour\nMoor,red\n", "“colour” is not a column"),
            ("base,base\nMoor,Moor\n", "stands there twice"),
            ("base\n", "has no rows"),
        ],
    )
    def test_what_is_no_such_list_is_said_beside_the_file(self, owner, text, sentence):
        file = io.BytesIO(text.encode())
        file.name = "recipes.csv"

        answer = owner.post(reverse("notebook-list"), {"file": file})

        assert answer.status_code == 422
        assert sentence in answer.content.decode()

    def test_a_list_is_the_owners_to_take_in(self):
        client = Client()
        client.force_login(factories.HelperFactory())

        assert client.post(reverse("notebook-take"), {"text": example_csv()}).status_code == 403


def test_notes_written_in_the_future_are_asked_about(owner, store):
    sent = TestThePage().sent(
        {"what": "Red", "amount": "1 g"},
        keep="1",
        base=factories.base().pk,
        noted_on=str(timezone.localdate() + dt.timedelta(days=2)),
    )

    answer = owner.post(reverse("notebook"), sent)

    assert "This day is still to come." in answer.content.decode()


def test_the_words_of_a_secret_colourways_notes_are_the_owners(owner, marit):
    way = factories.way_from_notes(who=marit)
    keep_secret(colourway=way.colourway, until=timezone.now() + dt.timedelta(days=9))
    helper = Client()
    helper.force_login(factories.HelperFactory())

    for page in (reverse("way", args=[way.pk]), reverse("colourway", args=[way.colourway.code])):
        assert "walnut, some drops more" in owner.get(page).content.decode()
        assert "walnut, some drops more" not in helper.get(page).content.decode()
