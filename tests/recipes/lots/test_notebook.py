"""Recipes from a notebook: each amount by its basis, nothing converted that has no weight, all or nothing of a list."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.test import Client
from django.urls import reverse

from recipes.lots import finishing, pots, redye
from recipes.lots.notebook.lacking import lacking
from recipes.lots.notebook.reading import NotedPot, NotedRow, read_rows
from recipes.lots.notebook.taking import Recipe, RowsWrong, take_in_notes
from recipes.lots.notebook.text import rows_from_text
from recipes.lots.notebook.things import Things
from recipes.lots.today import heating_for, today_for
from recipes.models import Auxiliary, Base, Colourway, Dye, WayOfDyeing
from recipes.ways import WayFacts, depart, drafts_of, rules_of
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


def read(*rows: dict[str, str], pot: NotedPot = HUNDRED, base: Base | None = None):
    noted = [NotedRow(at, **row) for at, row in enumerate(rows, 1)]
    return read_rows(noted, pot=pot, base=base or factories.base(), things=Things.now())


def one(pot: NotedPot = HUNDRED, base: Base | None = None, **row: str):
    found = read(row, pot=pot, base=base)
    assert found.wrong == []
    (step,) = found.steps
    return step


class TestAmounts:
    """Rates are micrograms or nanolitres a kilogram, a litre, a piece or a pot; arithmetic of definitions."""

    @pytest.mark.parametrize(
        ("pot", "row", "basis", "unit", "thousandths", "strength"),
        [
            # 1.5 g on 100 g is 1.5 %: 15 g a kilogram.
            (HUNDRED, {"what": "red", "amount": "1.5 g"}, "fibre", "mg", 15_000_000, None),
            # 5 ml of 1 % hold 50 mg; on 100 g that is 0.5 g a kilogram.
            (HUNDRED, {"what": "Red", "amount": "5 ml 1 %"}, "fibre", "mg", 500_000, 10_000),
            (HUNDRED, {"what": "Red", "amount": "5 ml", "strength": "1"}, "fibre", "mg", 500_000, 10_000),
            (HUNDRED, {"what": "Red", "amount": "0.5 %"}, "fibre", "mg", 5_000_000, None),
            (HUNDRED, {"what": "Vinegar", "amount": "20 ml"}, "fibre", "ul", 200_000_000, None),
            # 10 % of a liquid on the fibre is 10 ml on 100 g.
            (HUNDRED, {"what": "Vinegar", "amount": "10 %"}, "fibre", "ul", 100_000_000, None),
            (HUNDRED, {"what": "Salt", "amount": "2 g per litre"}, "bath", "mg", 2_000_000, None),
            (HUNDRED, {"what": "water", "amount": "2.5 l"}, "fibre", "ul", 25_000_000_000, None),
            (HUNDRED, {"what": "water", "amount": "25:1"}, "fibre", "ul", 25_000_000_000, None),
            # 7.5 g in a pot of 500 g is 1.5 %.
            (FIVE_SKEINS, {"what": "Red", "amount": "7.5 g"}, "fibre", "mg", 15_000_000, None),
            (
                FIVE_SKEINS,
                {"what": "Red", "amount": "7.5 g", "goes": "piece"},
                "piece",
                "mg",
                1_500_000,
                None,
            ),
            (FIVE_SKEINS, {"what": "Salt", "amount": "30 g", "goes": "bath"}, "bath", "mg", 2_000_000, None),
            (FIVE_SKEINS, {"what": "Citric acid", "amount": "7.5 g"}, "fibre", "mg", 15_000_000, None),
            (FIVE_SKEINS, {"what": "Vinegar", "amount": "3 ml per skein"}, "piece", "ul", 3_000_000, None),
            # Without the yarn's weight it is the same in every pot.
            (UNKNOWN_POT, {"what": "Red", "amount": "7.5 g"}, "pot", "mg", 7_500_000, None),
        ],
    )
    def test_what_is_weighed_or_measured_becomes_a_rate(
        self, store, pot, row, basis, unit, thousandths, strength
    ):
        step = one(pot, **row)

        assert (step.basis, step.unit, step.thousandths) == (basis, unit, thousandths)
        assert step.strength_mg_per_litre == strength

    def test_salt_in_a_pot_of_cotton_goes_by_the_litre_as_its_kind_suggests(self, store):
        cotton = factories.base(fibres={"cotton": 1000})

        step = one(FIVE_SKEINS, cotton, what="Salt", amount="450 g")

        # facts/dye_chemistry.md section 5: salt on cellulose by the litre; 450 g in 15 l is 30 g a litre.
        assert (step.basis, step.thousandths) == ("bath", 30_000_000)

    @pytest.mark.parametrize("words", ["3 drops", "1/2 tsp", "a pinch", "1 cup"])
    def test_a_kitchen_measure_stays_in_its_words(self, store, words):
        step = one(FIVE_SKEINS, what="Red", amount=words)

        assert (step.basis, step.thousandths, step.as_typed) == ("pot", None, words)
        assert one(what="Red", amount=words).as_typed == f"{words} on 100 g"

    def test_an_acid_to_a_ph_aims_at_the_reading(self, store):
        plain = one(what="Vinegar", amount="until pH 4.5")
        guided = one(FIVE_SKEINS, what="Vinegar", amount="60 ml, to pH 4.5")

        assert (plain.basis, plain.ph_hundredths, plain.thousandths) == ("reading", 450, None)
        # 60 ml on 0.5 kg, as a guide.
        assert (guided.basis, guided.ph_hundredths, guided.thousandths) == ("reading", 450, 120_000_000)

    def test_drops_of_a_stock_keep_its_strength(self, store):
        step = one(what="Red", amount="3 drops of 1 %")

        assert (step.as_typed, step.strength_mg_per_litre) == ("3 drops on 100 g", 10_000)

    def test_millilitres_of_a_stock_of_no_known_strength_are_kept_and_named_as_missing(self, store):
        step = one(what="Red", amount="5 ml")

        assert (step.unit, step.thousandths, step.strength_mg_per_litre) == ("ul", 50_000_000, None)
        assert "Strength" in {lack.name for lack in lacking([step], HUNDRED.facts)}

    def test_steps_in_words_are_read_where_they_are_certain_and_else_are_notes(self, store):
        steps = read(
            {"step": "82 C", "minute": "45"}, {"step": "lay them like a fan"}, {"step": "heat off"}
        ).steps

        assert [(step.kind, step.centi_celsius, step.text) for step in steps] == [
            ("temperature", 8_200, ""),
            ("note", None, "lay them like a fan"),
            ("heat", None, ""),
        ]

    def test_minutes_put_the_rows_in_order(self, store):
        found = read(
            {"what": "Red", "amount": "1 g"},
            {"step": "82 C", "minute": "40"},
            {"what": "Vinegar", "amount": "20 ml", "minute": "15"},
        )

        assert [step.kind for step in found.steps] == ["dye", "auxiliary", "temperature"]

    @pytest.mark.parametrize(
        ("pot", "row", "column", "sentence"),
        [
            (HUNDRED, {"what": "Heather", "amount": "1 g"}, "what", "“Heather” is not in the store."),
            (HUNDRED, {"what": "Red"}, "amount", "There is no amount."),
            (HUNDRED, {"amount": "1 g"}, "what", "Write what goes in"),
            (HUNDRED, {"what": "Red", "amount": "1 g", "step": "82 C"}, "step", "A row is one thing"),
            (
                HUNDRED,
                {"what": "Red", "amount": "5 ml 1 %", "strength": "2"},
                "strength",
                "The amount says 1 %.",
            ),
            (HUNDRED, {"what": "Red", "amount": "5 ml", "strength": "60"}, "strength", "from 0.0001 to 50 %"),
            (HUNDRED, {"what": "Red", "amount": "to pH 4"}, "amount", "Dye is weighed"),
            (HUNDRED, {"what": "Salt", "amount": "to pH 4"}, "amount", "no acid or alkali"),
            (HUNDRED, {"what": "Citric acid", "amount": "5 ml"}, "amount", "is weighed here"),
            (HUNDRED, {"what": "Vinegar", "amount": "5 g"}, "amount", "is measured here"),
            (HUNDRED, {"what": "Red", "amount": "0.5 %", "goes": "bath"}, "goes", "share of the fibre"),
            (HUNDRED, {"what": "Red", "amount": "3 drops", "goes": "fibre"}, "goes", "no weight to scale"),
            (UNKNOWN_POT, {"what": "Red", "amount": "1 g", "goes": "fibre"}, "goes", "dry weight"),
            (HUNDRED, {"what": "Red", "amount": "1 g", "minute": "soon"}, "minute", "is not a number"),
            (HUNDRED, {"step": "add 5 g red"}, "step", "Something goes in here."),
        ],
    )
    def test_what_cannot_be_is_said_beside_its_cell(self, store, pot, row, column, sentence):
        factories.jar(dye=store[0])
        found = read(row, pot=pot)

        assert found.steps == []
        (wrong,) = found.wrong
        assert (wrong.row, wrong.column) == (1, column)
        assert sentence in wrong.sentence


def recipe(*rows: dict[str, str], **facts) -> Recipe:
    noted = [NotedRow(at, **row) for at, row in enumerate(rows, 1)]
    return Recipe(**{"base": factories.base(), "pot": HUNDRED, "rows": noted, **facts})


class TestTakingIn:
    def test_a_recipe_becomes_a_way_from_notes_with_all_that_is_new(self, marit):
        way = take_in_notes(
            key=uuid.uuid4(),
            recipe=recipe(
                {"what": "Brick", "amount": "5 ml 1 %", "it_is": "dye"},
                {"what": "Vinegar", "amount": "20 ml", "it_is": "acid, liquid"},
                new_name="Tin Roof",
                noted_on=dt.date(2023, 11, 2),
                as_written="the one\nwith the edge",
            ),
            who=marit,
        )

        assert (way.from_notes, way.noted_on, way.as_written) == (
            True, dt.date(2023, 11, 2), "the one\nwith the edge",
        )  # fmt: skip
        assert (way.colourway.name, way.number, way.dry_milligrams) == ("Tin Roof", 1, 100_000)
        brick, vinegar = rules_of(way)
        assert (brick.dye.name, brick.dye.dye_class) == ("Brick", "acid_unknown")
        assert (vinegar.auxiliary.role, vinegar.auxiliary.form) == ("acid", "liquid")
        assert {lack.name for lack in lacking([brick, vinegar], WayFacts.of(way))} == {
            "Class", "Water", "Heat", "Times", "Pre-soak", "Lay", "Cooling",
        }  # fmt: skip

    def test_the_same_key_keeps_one(self, marit, store):
        key, what = uuid.uuid4(), recipe({"what": "Red", "amount": "1 g"})

        first, again = (take_in_notes(key=key, recipe=what, who=marit) for _ in range(2))

        assert first == again
        assert (WayOfDyeing.objects.count(), Colourway.objects.count()) == (1, 1)

    def test_nothing_of_a_wrong_recipe_stays(self, marit):
        wrong = recipe(
            {"what": "Brick", "amount": "1 g", "it_is": "dye"}, {"what": "Brick", "amount": "some"}
        )

        with pytest.raises(RowsWrong):
            take_in_notes(key=uuid.uuid4(), recipe=wrong, who=marit)

        assert not Dye.objects.exists()
        assert not Colourway.objects.exists()
        assert not WayOfDyeing.objects.exists()

    def test_it_is_marked_until_a_pot_of_it_was_judged_and_can_be_dyed(self, marit, owner, store):
        mark = "from notes, not yet dyed here"
        way = take_in_notes(
            key=uuid.uuid4(),
            recipe=recipe({"what": "Red", "amount": "0.5 %"}, new_name="Tin Roof"),
            who=marit,
        )
        put_up = factories.put_up(base=way.base, pieces=10, who=marit)
        vessel = factories.VesselFactory()
        asked = {"pieces": 3, "put_up": put_up.pk, "vessel": vessel.pk, "ratio": "30"}
        pages = [
            reverse("way", args=[way.pk]),
            reverse("way-correct", args=[way.pk]),
            reverse("colourway", args=[way.colourway.code]),
            reverse("colourways"),
            reverse("redye", args=[way.colourway.code]) + f"?pieces=3&put_up={put_up.pk}&vessel={vessel.pk}",
        ]
        assert all(mark in owner.get(page).content.decode() for page in pages)

        planned = owner.post(
            reverse("redye", args=[way.colourway.code]), {"key": uuid.uuid4(), "way": way.pk, **asked}
        )
        (pot,) = way.pots.all()
        pages += [planned["Location"], reverse("pot", args=[pot.code])]
        assert all(mark in owner.get(page).content.decode() for page in pages)
        # 0.5 % of 300 g.
        assert pot.planned.get(rule__kind="dye").milligrams == 1_500
        pots.load_planned(key=uuid.uuid4(), pot=pot, mill_lot=None, dry_milligrams=None, who=marit)
        lot = finishing.out_of_pot(key=uuid.uuid4(), pot=pot, bath="clear", who=marit)
        pages.append(reverse("lot", args=[lot.code]))
        assert all(mark in owner.get(page).content.decode() for page in pages)

        finishing.judge(
            key=uuid.uuid4(), dye_lot=lot, counts={(put_up.pk, "good"): 3}, who=marit, verdict="first"
        )

        assert not any(mark in owner.get(page).content.decode() for page in pages)

    def test_its_card_says_so(self, marit, store):
        from dyehouse.paper.cards import cards_of
        from dyehouse.studio.models import Studio
        from recipes.lots.models import RedyePlan
        from recipes.lots.untried import untried

        way = take_in_notes(key=uuid.uuid4(), recipe=recipe({"what": "Red", "amount": "0.5 %"}), who=marit)
        factories.put_up(base=way.base)
        made = factories.redye_plan(who=marit, pieces=3, of=way)
        plan = RedyePlan.objects.annotate(way_untried=untried("way")).get(pk=made.pk)

        (card,) = cards_of(
            plan, list(plan.pots.all()), all_pots=list(plan.pots.all()), studio=Studio.current()
        )

        assert card.way == "way 1, from notes, not yet dyed here"

    def test_a_correction_of_it_is_from_notes_as_well(self, marit, owner, store):
        from recipes.ways import Notes

        way = take_in_notes(
            key=uuid.uuid4(),
            recipe=recipe(
                {"what": "Red", "amount": "1 g"}, {"what": "Vinegar", "amount": "20 ml"}, as_written="so"
            ),
            who=marit,
        )

        corrected = depart(way=way, rules=drafts_of(way)[:1], why="no acid", who=marit, notes=Notes.of(way))

        assert (corrected.from_notes, corrected.as_written) == (True, "so")
        assert "not yet dyed here" in owner.get(reverse("way", args=[corrected.pk])).content.decode()


class TestTheWordsReadIntoRows:
    def test_lines_become_rows_as_at_the_pot(self, store):
        factories.bottle(jar=factories.jar(dye=store[0]))
        rows = rows_from_text(
            "5 ml red 1 %\nTeal 0.5 %\n\n2 g per litre of salt\n82 C for half an hour\n14:00 heat on\n14:40 3 drops red",
            things=Things.now(),
        )

        assert [(row.what, row.amount, row.strength, row.step, row.minute) for row, _ in rows] == [
            ("Red", "5 ml", "1", "", ""),
            ("Teal", "0.5 %", "", "", ""),
            ("Salt", "2 g per litre", "", "", ""),
            ("", "", "", "82 C for half an hour", ""),
            ("", "", "", "14:00 heat on", "0"),
            ("Red", "3 drops", "", "", "40"),
        ]

    def test_what_is_in_doubt_comes_with_a_question(self, store):
        ((row, question),) = rows_from_text("5 or 6 ml red", things=Things.now())

        assert question
        assert row.step == "5 or 6 ml red"


def test_a_redye_of_a_way_by_the_litre_without_litres_says_what_it_takes(marit, owner, store):
    way = take_in_notes(
        key=uuid.uuid4(), recipe=recipe({"what": "Red", "amount": "1 g per litre"}), who=marit
    )
    page = owner.get(reverse("colourway", args=[way.colourway.code])).content.decode()
    ask = redye.RedyeAsk(
        way=way, put_up=factories.put_up(base=way.base), mill_lot=None, pieces=3, piece_dry_milligrams=100_000,
        vessel=factories.VesselFactory(), liquor_ratio_tenths=300,
    )  # fmt: skip

    assert "1 g per litre of bath" in page
    # 3 pieces of 100 g at 30:1 are 9 litres.
    (dye,) = [step for step in redye.preview_redye(ask).pots[0].steps if step.rule and step.rule.dye]
    assert dye.milligrams == 9_000


def test_the_temperatures_of_a_redye_from_notes_are_those_of_the_notes(marit, store):
    hot = recipe({"what": "Red", "amount": "0.5 %"}, {"step": "74 C"}, base=factories.base(superwash=False))
    way = take_in_notes(key=uuid.uuid4(), recipe=hot, who=marit)
    ask = redye.RedyeAsk(
        way=way, put_up=factories.put_up(base=way.base), mill_lot=None, pieces=3, piece_dry_milligrams=100_000,
        vessel=factories.VesselFactory(), liquor_ratio_tenths=300,
    )  # fmt: skip

    heating = heating_for(ask, redye.preview_redye(ask).pots[0], today_for(ask))

    assert max(step.to_centi_celsius or 0 for step in heating.programme.steps) == 7_400
    assert heating.starts_at is None
