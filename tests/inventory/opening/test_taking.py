"""A list of opening stock: every kind of row, errors by row and column, nothing half-imported, twice the same is once."""

from __future__ import annotations

import csv
import io
import uuid

import pytest
from django.db.models import Sum
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from dyehouse.ledger.models import Balance, Item, Movement
from dyehouse.ledger.verify import breaches
from inventory.opening.columns import COLUMNS, EXAMPLES, example_csv
from inventory.opening.dyed import LotCodeTaken, dyed_from_before
from inventory.opening.taking import look_at, take_in
from recipes.lists.cells import ListWrong
from recipes.lists.reading import FileRefused
from recipes.lots.models import DyeLot
from recipes.models import Auxiliary, Base, Colourway, Dye, DyedYarn, Jar, MillLot, PutUp, StockBottle
from tests import factories

MODELS = (
    Base,
    PutUp,
    MillLot,
    Dye,
    Jar,
    StockBottle,
    Auxiliary,
    Colourway,
    DyedYarn,
    DyeLot,
    Movement,
    Item,
    Balance,
)


def listed(*rows: dict[str, str]) -> str:
    written = io.StringIO()
    writer = csv.DictWriter(written, [column.name for column in COLUMNS], restval="")
    writer.writeheader()
    writer.writerows(rows)
    return written.getvalue()


def counts() -> list[int]:
    return [model.objects.count() for model in MODELS]


def in_place(code: str, kind: str) -> int:
    there = Balance.objects.filter(place__code=code, item__kind=kind)
    return there.aggregate(sum=Sum("on_hand"))["sum"] or 0


YARN = {"kind": "yarn", "base": "Harbour Sock", "put-up grams": "100", "quantity": "40"}
DYE = {"kind": "dye", "name": "Brick red", "quantity": "85.4", "unit": "g"}
STOCK = {
    "kind": "stock",
    "name": "Brick red",
    "quantity": "450",
    "unit": "ml",
    "strength": "1",
    "made on": "2026-03-14",
}
ACID = {"kind": "auxiliary", "name": "Citric acid", "quantity": "2", "unit": "kg", "role": "acid"}
DYED = {
    "kind": "dyed yarn",
    "base": "Harbour Sock",
    "put-up grams": "100",
    "quantity": "4",
    "colourway": "Slack Water",
}


@pytest.mark.django_db
class TestWhatIsTakenIn:
    def test_each_kind_lands_where_it_belongs(self):
        take_in(
            text=listed(
                {**YARN, "metres": "400", "lot": "H26"},
                DYE,
                STOCK,
                ACID,
                {**DYED, "place": "Shelf A3"},
                {**DYED, "quantity": "1"},
            ),
            who=factories.OwnerFactory(),
        )

        assert in_place("store", "undyed") == 40
        assert in_place("store", "dye") == 85_400
        assert in_place("store", "stock") == 450_000
        assert in_place("store", "auxiliary") == 2_000_000
        assert in_place("shelf-shelf-a3", "dyed") == 4
        assert in_place("dry", "dyed") == 1
        assert StockBottle.objects.get().strength_mg_per_litre == 10_000
        assert PutUp.objects.get().metres == 400
        assert MillLot.objects.get().number == "H26"
        assert breaches() == []

    @pytest.mark.parametrize("name", EXAMPLES)
    def test_the_examples_are_lists_that_can_be_taken_in(self, name: str):
        # The stocks name a jar that the dyes' example brings.
        if name == "stocks":
            take_in(text=example_csv("dyes"), who=factories.OwnerFactory())

        looked = look_at(example_csv(name))

        assert looked.wrong == []
        assert take_in(text=example_csv(name), who=factories.OwnerFactory()).rows == len(EXAMPLES[name][1])

    def test_names_that_are_known_are_used_however_they_are_capitalised(self):
        base = factories.base("Harbour Sock")
        factories.put_up(base=base, pieces=10, metres=400)

        looked = look_at(listed({**YARN, "base": "harbour SOCK"}))
        take_in(text=listed({**YARN, "base": "harbour SOCK"}), who=factories.OwnerFactory())

        assert looked.planned[0].news == ("beside 10 there already",)
        assert Base.objects.count() == 1
        assert in_place("store", "undyed") == 50

    def test_a_row_says_what_it_adds(self):
        news = look_at(listed({**DYED, "place": "Shelf A3"})).planned[0].news

        assert news == ("new base", "new put-up", "new colourway", "new place")

    def test_what_looks_like_a_formula_is_a_name(self):
        take_in(text=listed({**DYE, "name": '=HYPERLINK("x")'}), who=factories.OwnerFactory())

        assert Dye.objects.get().name == '=HYPERLINK("x")'

    def test_a_formula_is_no_number(self):
        (wrong,) = look_at(listed({**YARN, "quantity": "=2+3"})).wrong

        assert (wrong.row, wrong.column, wrong.typed) == (2, "quantity", "=2+3")

    def test_ounces_weigh_powder_and_fluid_ounces_measure_liquids(self):
        # Avoirdupois ounce 28.349523125 g, US fluid ounce 29.5735295625 ml: NIST Handbook 44, Appendix C.
        take_in(
            text=listed({**DYE, "quantity": "1", "unit": "oz"}, {**STOCK, "quantity": "1", "unit": "fl oz"}),
            who=factories.OwnerFactory(),
        )

        assert in_place("store", "dye") == 28_350
        assert in_place("store", "stock") == 29_574

    def test_a_jar_with_its_weights_is_counted_by_one_weighing(self):
        # 207.9 g with the jar less 122.5 g empty are 85.4 g.
        weighed = {**DYE, "lot": "B7", "gross grams": "207.9", "tare grams": "122.5"}
        by_gross_alone = {**DYE, "lot": "B8", "gross grams": "200"}

        take_in(text=listed(weighed, by_gross_alone, {**DYE, "lot": "B9"}), who=factories.OwnerFactory())

        jars = Jar.objects.order_by("label").values_list("gross_milligrams", "tare_milligrams")
        assert list(jars) == [(207_900, 122_500), (200_000, 114_600), (None, None)]

    def test_a_jar_without_a_label_is_numbered_past_those_that_stand_further_down(self):
        text = listed(DYE, {**DYE, "lot": "Jar 1"}, DYE, {**DYE, "lot": "jar 3"})
        assert not look_at(text).wrong

        take_in(text=text, who=factories.OwnerFactory())

        assert sorted(Jar.objects.values_list("label", flat=True)) == ["Jar 1", "jar 2", "jar 3", "jar 4"]

    def test_a_jar_without_a_label_beside_one_that_is_there(self):
        dye = factories.dye("Brick red")
        factories.jar(dye=dye, label="jar 1")

        take_in(text=listed(DYE, {**DYE, "lot": "jar 2"}), who=factories.OwnerFactory())

        assert sorted(dye.jars.values_list("label", flat=True)) == ["jar 1", "jar 2", "jar 3"]


@pytest.mark.django_db
class TestWhatIsWrong:
    @pytest.mark.parametrize(
        ("row", "column", "sentence"),
        [
            ({**YARN, "kind": "wool"}, "kind", "This is not one of the words"),
            ({**YARN, "kind": ""}, "kind", "Say what this row is"),
            ({**YARN, "base": ""}, "base", "A row of yarn needs this"),
            ({**YARN, "strength": "1"}, "strength", "A row of yarn has no strength"),
            ({**YARN, "quantity": "2.5"}, "quantity", "Write a whole number"),
            ({**YARN, "quantity": "-2"}, "quantity", "This must be from 1 to 100000"),
            ({**YARN, "quantity": "1,250"}, "quantity", "can be read in two ways"),
            ({**YARN, "unit": "g"}, "unit", "Yarn is counted in pieces"),
            ({**YARN, "base": "x" * 81}, "base", "longer than 80 letters"),
            ({**DYE, "unit": "ml"}, "unit", "This is no unit for it"),
            ({**DYE, "unit": ""}, "unit", "A row of dye needs this"),
            ({**DYE, "dye class": "magic"}, "dye class", "This is not one of the words"),
            ({**DYE, "gross grams": "60"}, "gross grams", "less than the dye alone"),
            ({**DYE, "gross grams": "x"}, "gross grams", "x"),
            (
                {**DYE, "gross grams": "207.9", "tare grams": "100"},
                "gross grams",
                "Gross less tare leaves 107.9 g, and the quantity is 85.4 g.",
            ),
            ({**YARN, "tare grams": "12"}, "tare grams", "A row of yarn has no tare grams"),
            ({**STOCK, "unit": "oz"}, "unit", "Write ml, l or fl oz"),
            ({**STOCK, "strength": "0"}, "strength", "more than 0 %"),
            ({**STOCK, "made on": "14.3.2026"}, "made on", "Write the day as year, month and day"),
            ({**STOCK, "made on": "2999-01-01"}, "made on", "still to come"),
            ({**STOCK, "lot": "B7"}, "lot", "No jar of Brick red is labelled B7"),
            ({**DYED, "grade": "redye"}, "grade", "Write one of: good, second, sample"),
            ({**DYED, "lot": "ÄÖ 7"}, "lot", "letters A to Z and figures"),
        ],
    )
    def test_each_cell_is_named_with_what_is_right(self, row: dict[str, str], column: str, sentence: str):
        looked = look_at(listed(ACID, row))

        assert [(each.row, each.column) for each in looked.wrong] == [(3, column)]
        assert sentence in looked.wrong[0].sentence

    @pytest.mark.parametrize(
        ("first", "second", "column"),
        [
            ({**YARN, "metres": "400"}, {**YARN, "metres": "380"}, "metres"),
            ({**DYE, "lot": "B7"}, {**DYE, "lot": "b7"}, "lot"),
            ({**DYE, "dye class": "milling acid"}, {**DYE, "dye class": "fast acid"}, "dye class"),
            (ACID, {**ACID, "unit": "l"}, "unit"),
            ({**DYED, "lot": "SW26"}, {**DYED, "lot": "sw26", "colourway": "Sloe"}, "lot"),
        ],
    )
    def test_rows_that_contradict_each_other_are_named(
        self, first: dict[str, str], second: dict[str, str], column: str
    ):
        assert [(each.row, each.column) for each in look_at(listed(first, second)).wrong] == [(3, column)]

    def test_a_lot_that_was_dyed_here_is_not_from_before(self):
        lot = factories.judged_lot(colourway=factories.colourway("Slack Water"))

        (wrong,) = look_at(listed({**DYED, "lot": lot.code})).wrong

        assert "was dyed in this house" in wrong.sentence

    def test_one_wrong_row_keeps_all_of_them_out(self):
        owner, before = factories.OwnerFactory(), counts()

        with pytest.raises(ListWrong):
            take_in(text=listed(YARN, DYE, STOCK, {**DYED, "quantity": "many"}), who=owner)

        assert counts() == before

    @pytest.mark.parametrize(
        ("text", "sentence"),
        [
            ("name,quantity\nRed,5\n", "one of them is kind"),
            ("kind,colour\ndye,red\n", "“colour” is not a column"),
            ("kind,name,name\ndye,red,red\n", "name stands there twice"),
            ("kind,name\n", "has no rows"),
        ],
    )
    def test_other_columns_are_refused(self, text: str, sentence: str):
        with pytest.raises(FileRefused, match=sentence):
            look_at(text)


@pytest.mark.django_db
class TestTwice:
    def test_the_same_list_again_changes_nothing(self):
        owner, text = factories.OwnerFactory(), listed(YARN, DYE, STOCK, ACID, DYED)
        take_in(text=text, who=owner)
        before = counts()

        again = take_in(text=text.replace(",", ";"), who=owner)

        assert again.taken_before
        assert counts() == before
        assert look_at(text).taken_before

    def test_a_list_of_dyes_alone_is_known_again_too(self):
        owner = factories.OwnerFactory()
        take_in(text=listed(DYE, {**DYE, "name": "Teal"}), who=owner)

        assert take_in(text=listed(DYE, {**DYE, "name": "Teal"}), who=owner).taken_before


@pytest.mark.django_db
class TestTyped:
    def test_dyed_yarn_lies_on_its_shelf_under_a_new_code(self):
        place, owner = factories.shelf_place("Shelf A3"), factories.OwnerFactory()

        lot = dyed_from_before(
            key=uuid.uuid4(),
            colourway=factories.colourway("Slack Water"),
            put_up=factories.put_up(),
            pieces=3,
            who=owner,
            place=place,
        )

        assert lot.from_before
        assert Balance.objects.get(place=place).on_hand == 3
        assert breaches() == []

    def test_the_same_key_again_takes_in_once(self):
        asked = {
            "key": uuid.uuid4(),
            "colourway": factories.colourway(),
            "put_up": factories.put_up(),
            "pieces": 3,
            "who": factories.OwnerFactory(),
        }

        assert dyed_from_before(**asked) == dyed_from_before(**asked)
        assert in_place("dry", "dyed") == 3

    def test_a_code_of_a_pot_is_not_given_to_a_lot_from_before(self):
        pot = factories.loaded_pot()

        with pytest.raises(LotCodeTaken, match="is the code of a pot or a colourway"):
            dyed_from_before(
                key=uuid.uuid4(),
                colourway=factories.colourway(),
                put_up=factories.put_up(),
                pieces=3,
                who=factories.OwnerFactory(),
                lot_code=pot.code,
            )


class TestSums(TestCase):
    @given(
        st.lists(st.tuples(st.sampled_from(["100", "50", "20"]), st.integers(1, 90)), min_size=1, max_size=12)
    )
    @settings(max_examples=15, deadline=None)
    def test_as_many_pieces_are_in_the_store_as_the_list_says(self, rows):
        text = listed(*({**YARN, "put-up grams": grams, "quantity": str(pieces)} for grams, pieces in rows))

        take_in(text=text, who=factories.OwnerFactory())

        assert in_place("store", "undyed") == sum(pieces for _, pieces in rows)
