"""Techniques in the log: kept, worded, corrected, learned, planned and done, and what they say of the yarn."""

from __future__ import annotations

import datetime as dt
import uuid
from fractions import Fraction

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from dyehouse.studio.models import Measure
from recipes.dyeing.lay import lay_from_rows
from recipes.dyeing.potline import read_line
from recipes.dyeing.techniques import TECHNIQUES, technique_words
from recipes.lots import learning, log, redye
from recipes.lots.contents import counts, what_is_in
from recipes.lots.departing import deed_of
from recipes.lots.laying import keep_lay
from recipes.lots.models import LogEntry, PlannedStep, Pot, PotLoad
from recipes.lots.planned import planned_steps
from recipes.lots.put_on import PutOn, what_was_put_on
from recipes.lots.queries import entries_of
from recipes.lots.redye_queries import step_lines
from recipes.lots.wording import entry_words, step_words
from recipes.models import Rule, WayOfDyeing
from recipes.way_words import rule_words
from recipes.ways import rules_of
from tests import factories

pytestmark = pytest.mark.django_db

NOW = timezone.now().replace(microsecond=0)


@pytest.fixture(autouse=True)
def studio():
    return factories.studio()


@pytest.fixture
def marit():
    return factories.OwnerFactory(username="marit")


@pytest.fixture
def owner(marit) -> Client:
    client = Client()
    client.force_login(marit)
    return client


@pytest.fixture
def pot(marit) -> Pot:
    """Five skeins of 100 g whose hanks are 1.5 m round; Red and Blue at 1 %, a jar of Violet, vinegar."""
    for name in ("Red", "Blue"):
        factories.bottle(jar=factories.jar(dye=factories.dye(name, chip="#a02030"), who=marit), who=marit)
    factories.jar(dye=factories.dye("Violet"), who=marit)
    factories.auxiliary("Vinegar", amount=1_000_000, who=marit)
    pot = factories.loaded_pot(who=marit, pieces=5, happened_at=NOW - dt.timedelta(hours=4))
    base = PotLoad.objects.get(pot=pot).put_up.base
    base.hank_circumference_millimetres = 1500
    base.save()
    return pot


@pytest.fixture
def thirds(pot, marit) -> Pot:
    lay = lay_from_rows(
        [("A", "1/3", "", ""), ("B", "1/3", "", ""), ("tip", "rest", "", "")],
        folded=False,
        circumference_millimetres=1500,
    )
    return keep_lay(pot=pot, lay=lay, key=uuid.uuid4(), who=marit)


def write(pot: Pot, who, *lines: str, start: int = 180, apart: int = 10) -> list[LogEntry]:
    """Lines at the pot, so many minutes apart, the first of them so many minutes ago."""
    kept: list[LogEntry] = []
    for place, line in enumerate(lines):
        at = NOW - dt.timedelta(minutes=start - place * apart)
        kept += log.keep_line(pot=pot, key=uuid.uuid4(), typed=line, who=who, clock=at, now=at)
    return kept


def put_on(pot: Pot) -> PutOn:
    kept = [entry for entry in entries_of(pot) if counts(entry)]
    return what_was_put_on(pot, kept=kept, contents=what_is_in(pot), now=NOW)


def test_a_step_typed_at_the_pot_is_kept_with_its_details(pot, marit):
    dip, hold, enter = write(pot, marit, "dip 20 cm 30 s red", "hold 20 min at 82", "enter 2 hanks")

    assert (dip.kind, dip.technique, dip.millimetres, dip.seconds, dip.name) == (
        "technique", "dip", 200, 30, "red",
    )  # fmt: skip
    assert (hold.seconds, hold.centi_celsius) == (1200, 8200)
    assert (enter.technique, enter.hanks) == ("enter", 2)
    assert entry_words(dip) == "Dip 20 cm for 30 s in red"
    assert not any(entry.question for entry in (dip, hold, enter))


def test_an_addition_keeps_where_it_went_and_how_it_was_put_on(thirds, marit):
    painted, on_tip, skein, powder = write(
        thirds,
        marit,
        "paint A 30 ml red",
        "15 ml blue on the tip",
        "skein 2: 5 ml blue",
        "speckle 0.4 g violet",
    )

    assert (painted.kind, painted.section, painted.technique) == ("stock", "A", "hand_paint")
    assert (on_tip.section, skein.section) == ("tip", "skein 2")
    assert (powder.kind, powder.milligrams, powder.technique) == ("powder", 400, "speckle")
    assert entry_words(painted) == "Hand-paint 30 ml Red 1 % on section A"


def test_one_amount_on_two_sections_asks_and_is_answered_by_a_touch(thirds, marit, owner):
    (note,) = write(thirds, marit, "15 ml red on A and B")
    page = owner.get(reverse("pot", args=[thirds.code])).content.decode()

    assert note.kind == "note"
    assert "15 ml of red in all" in page
    answer = reverse("pot-entry-answer", args=[thirds.code, note.key])
    owner.post(answer, {"typed": "15 ml of red on section A; 15 ml of red on section B"})
    poured = LogEntry.objects.filter(pot=thirds, kind="stock").order_by("id")
    assert [(entry.section, entry.microlitres) for entry in poured] == [("A", 15_000), ("B", 15_000)]


def test_a_step_is_struck_and_corrected_like_any_entry(pot, marit):
    (dip,) = write(pot, marit, "dip 20 cm 30 s")
    right = log.correct(entry=dip, key=uuid.uuid4(), who=marit, typed="dip 25 cm 30 s")

    assert (right.millimetres, right.corrects) == (250, dip)
    again = log.put_back(
        entry=log.strike(entry=right, key=uuid.uuid4(), who=marit).strikes, key=uuid.uuid4(), who=marit
    )
    assert (again.technique, again.millimetres, again.seconds) == ("dip", 250, 30)


def test_a_technique_that_nobody_knows_is_refused(pot, marit):
    with pytest.raises(log.NotAnEntry):
        log.add_entry(
            pot=pot, key=uuid.uuid4(), kind="technique", who=marit, happened_at=NOW, technique="microwave"
        )


STEPS = [
    ("dip", {"millimetres": 200, "seconds": 90}),
    ("dip", {"millimetres": 203, "name": "red 1%"}),
    ("dip", {"section": "half the hank", "seconds": 10}),
    ("dip", {"section": "A", "seconds": 10}),
    ("dip", {"hanks": 2, "millimetres": 75}),
    ("hand_paint", {}),
    ("hand_paint", {"section": "A, C"}),
    ("speckle", {}),
    ("wrap", {"name": "film"}),
    ("wrap", {"section": "A, B"}),
    ("steam", {"seconds": 5400}),
    ("steam", {}),
    ("hold", {"seconds": 1200}),
    ("hold", {"seconds": 150}),
    ("enter", {"hanks": 1}),
    ("enter", {"name": "all of them"}),
    ("enter", {}),
    ("lift", {"hanks": 2}),
    ("resist", {"name": "ties"}),
    ("glaze", {}),
    ("overdye", {}),
    ("immersion", {}),
    ("low_immersion", {}),
]


@pytest.mark.parametrize(("technique", "details"), STEPS)
def test_what_a_correction_starts_from_is_read_as_the_same_step(technique, details):
    """The words of a step that was touched stand in the field that corrects it, so they must be read the same."""
    assert {slug for slug, _ in STEPS} == {each.slug for each in TECHNIQUES}

    (reading,) = read_line(technique_words(technique, **details))

    assert (reading.kind, reading.technique, reading.question) == ("technique", technique, "")
    assert {name: getattr(reading, name) for name in details} == details


class TestOnTheYarn:
    def test_hand_painting_shows_what_lies_on_100_g_under_each_section(self, thirds, marit):
        write(thirds, marit, "hand paint", "30 ml red on A", "20 ml blue on the tip")
        first, tip, everything = put_on(thirds).painted

        # 30 ml on a third of 500 g: 18 ml on 100 g; 50 ml on 500 g: 10 ml on 100 g. Arithmetic.
        assert (first.where, first.figure.value) == ("on section A", 18_000)
        assert tip.figure.value == 12_000
        assert (everything.where, everything.figure.value) == ("in all", 10_000)
        assert first.figure.working.substitution

    def test_a_section_that_no_lay_names_has_no_figure(self, pot, marit):
        write(pot, marit, "paint the left end 30 ml red")

        (row,) = put_on(pot).painted
        assert (row.microlitres, row.figure) == (30_000, None)

    def test_what_goes_into_a_bath_after_painting_is_not_painted(self, pot, marit):
        write(pot, marit, "hand paint", "30 ml red", "immersion", "10 ml blue")

        (row,) = put_on(pot).painted
        assert row.microlitres == 30_000

    def test_speckles_say_how_well_their_weight_is_known(self, pot, marit):
        Measure.objects.create(name="Fine", kind=Measure.Kind.SCALE, step=10, most=200_000)
        write(pot, marit, "speckle jar 25.43 25.06 violet", "0.6 g violet")

        (row,) = put_on(pot).speckled
        # Check value 33 of the project's facts: 0.37 g by difference on a 0.01 g balance is ± 0.01 g, u = 0.0041 g.
        assert (row.figure.value.milligrams, row.figure.value.worst_milligrams) == (370, 10)
        assert "dose from a stock" in row.figure.value.sentence

    def test_low_immersion_says_its_liquor_ratio_beside_an_open_pots(self, pot, marit):
        write(pot, marit, "2 l water", "low immersion")

        assert "20:1 to 40:1" in put_on(pot).in_little_bath
        assert what_is_in(pot).liquor_ratio.value == 4

    def test_a_gradient_shows_which_hank_saw_what(self, pot, marit):
        write(
            pot, marit, "enter 1 hank", "5 ml red", "enter 1 hank", "20 ml vinegar", "enter the rest",
            start=60, apart=10,
        )  # fmt: skip

        first, second, rest = put_on(pot).hanks
        assert [row.hanks for row in (first, second, rest)] == ["Hank 1", "Hank 2", "Hanks 3 to 5"]
        assert [row.minutes for row in (first, second, rest)] == [60, 40, 20]
        assert first.saw == ("5 ml Red 1 %", "20 ml Vinegar")
        assert (second.found, second.saw) == (("5 ml Red 1 %",), ("20 ml Vinegar",))
        assert rest.found == ("5 ml Red 1 %", "20 ml Vinegar")

    def test_the_pots_page_and_the_lots_page_show_it_in_a_few_questions(
        self, thirds, marit, owner, django_assert_max_num_queries
    ):
        write(
            thirds,
            marit,
            "hand paint",
            "30 ml red on A",
            "speckle 0.4 g violet",
            "enter 2 hanks",
            "low immersion",
        )
        with django_assert_max_num_queries(12):
            page = owner.get(reverse("pot", args=[thirds.code])).content.decode()
        for words in (
            "Laid on by hand",
            "Powder put on dry",
            "Which hank saw what",
            "18 ml on 100 g",
            "lay-strip",
        ):
            assert words in page
        lot = factories.lot_out(pot=thirds, who=marit)
        with django_assert_max_num_queries(12):
            page = owner.get(reverse("lot", args=[lot.code])).content.decode()
        for words in ("Laid on by hand", "Which hank saw what", "lay-strip"):
            assert words in page


class TestTouched:
    def tap(self, owner: Client, pot: Pot, **sent: str):
        return owner.post(
            reverse("pot-tap", args=[pot.code]), {"kind": "technique", "slug": "technique-dip", **sent}
        )

    def test_typed_details_are_kept(self, pot, owner):
        self.tap(owner, pot, technique="dip", cm="20", seconds="30", what="red", section="A")

        entry = LogEntry.objects.get(pot=pot, kind="technique")
        assert (entry.millimetres, entry.seconds, entry.name, entry.section) == (200, 30, "red", "A")

    def test_a_usual_button_keeps_its_details(self, pot, owner):
        self.tap(owner, pot, technique="steam", usual="1800--")

        assert LogEntry.objects.get(pot=pot, kind="technique").seconds == 1800

    def test_what_was_typed_goes_with_the_usual_button_that_was_touched(self, pot, owner):
        self.tap(owner, pot, technique="dip", cm="25", usual="30--")

        entry = LogEntry.objects.get(pot=pot, kind="technique")
        assert (entry.millimetres, entry.seconds) == (250, 30)

    def test_a_hold_without_minutes_is_asked_for_them_and_nothing_is_kept(self, pot, owner):
        answered = self.tap(owner, pot, technique="hold")

        assert answered.status_code == 422
        assert "how many minutes" in answered.content.decode()
        assert not LogEntry.objects.filter(pot=pot, kind="technique").exists()

    def test_a_touch_of_a_bottle_goes_on_the_chosen_section(self, thirds, owner):
        bottle = LogEntry._meta.get_field("bottle").related_model.objects.first()
        owner.post(
            reverse("pot-tap", args=[thirds.code]),
            {"kind": "stock", "bottle": bottle.pk, "microlitres": "5000", "section": "A"},
        )

        assert LogEntry.objects.get(pot=thirds, kind="stock").section == "A"

    def test_what_was_done_last_stands_first(self, pot, marit, owner):
        write(pot, marit, "resist with ties")
        page = owner.get(reverse("pot", args=[pot.code])).content.decode()

        assert page.index('id="tap-technique-resist"') < page.index('id="tap-technique-dip"')


class TestLearned:
    @pytest.fixture
    def way(self, thirds, marit) -> WayOfDyeing:
        write(
            thirds, marit, "2 l water", "paint A 30 ml red", "15 ml blue on tip", "dip 20 cm 30 s in red", "enter 1 hank",
            "enter 2 hanks", "enter 2 hanks", "steam 30 min",
        )  # fmt: skip
        return learning.learn_way(pot=thirds, who=marit)

    def test_a_way_has_the_steps_the_sections_and_the_lay(self, way, thirds):
        rules = {rule.technique or rule.section: rule for rule in rules_of(way)}

        assert (rules["hand_paint"].kind, rules["hand_paint"].section) == ("dye", "A")
        assert rules["tip"].section == "tip"
        dip = rules["dip"]
        assert (dip.kind, dip.seconds, dip.millimetres, dip.text) == (Rule.Kind.TECHNIQUE, 30, 200, "red")
        assert rule_words(dip) == "Dip 20 cm for 30 s in red"
        assert way.lay_plan == Pot.objects.get(pk=thirds.pk).lay_plan

    def plan(self, way: WayOfDyeing, who, pieces: int) -> Pot:
        load = PotLoad.objects.select_related("put_up", "mill_lot").first()
        ask = redye.RedyeAsk(
            way,
            load.put_up,
            load.mill_lot,
            pieces,
            100_000,
            factories.VesselFactory(working_millilitres=60_000),
            200,
        )
        return redye.plan_redye(key=uuid.uuid4(), ask=ask, who=who).pots.get()

    def test_hanks_follow_the_load_and_lengths_and_seconds_do_not(self, way, marit):
        pot = self.plan(way, marit, 10)
        steps = planned_steps(pot)

        assert [step.hanks for step in steps if step.rule and step.rule.technique == "enter"] == [2, 4, 4]
        dip = next(step for step in steps if step.rule and step.rule.technique == "dip")
        assert (dip.rule.seconds, dip.rule.millimetres) == (30, 200)
        assert "Enter 4 hanks" in [step_words(step) for step in steps]
        assert pot.lay_plan == way.lay_plan

    def test_the_same_goes_on_the_same_section_again(self, way, marit):
        pot = self.plan(way, marit, 5)
        steps = {step.rule.section: step for step in planned_steps(pot) if step.rule and step.rule.dye_id}

        assert step_words(steps["A"]) == "Hand-paint 30 ml Red 1 % on section A"
        assert step_words(steps["tip"]) == "15 ml Blue 1 % on the tip"

    def test_what_is_written_does_the_step_of_its_section(self, way, marit):
        pot = self.plan(way, marit, 5)
        Pot.objects.filter(pk=pot.pk).update(loaded_at=NOW - dt.timedelta(hours=3))
        pot.refresh_from_db()
        steps = {step.rule.section: step for step in planned_steps(pot) if step.rule and step.rule.dye_id}
        (on_tip,) = write(pot, marit, "15 ml blue on tip")
        (elsewhere,) = write(pot, marit, "30 ml red on B")

        assert on_tip.planned == steps["tip"]
        assert elsewhere.planned is None

    def test_a_dip_that_was_done_otherwise_departs_and_teaches(self, way, marit):
        pot = self.plan(way, marit, 5)
        Pot.objects.filter(pk=pot.pk).update(loaded_at=NOW - dt.timedelta(hours=3))
        pot = Pot.objects.select_related("way__base").get(pk=pot.pk)
        write(pot, marit, "dip 25 cm 30 s in red", "wrap in film")
        deed = deed_of(pot)

        assert "Dip 25 cm for 30 s in red instead of Dip 20 cm for 30 s in red." in deed.departs
        assert any(sentence.startswith("Not planned: Wrap in film") for sentence in deed.departs)
        assert [draft.millimetres for draft in deed.rules if draft.technique == "dip"] == [250]
        assert PlannedStep.objects.filter(pot=pot, done__technique="dip").exists()

    def test_a_way_is_corrected_in_a_technique_and_a_section(self, way, owner):
        page = owner.get(reverse("way-correct", args=[way.pk]))
        form = page.context["form"]
        dip = next(rule for rule in form.rules if rule.technique == "dip")
        painted = next(rule for rule in form.rules if rule.section == "A")
        sent = {name: form[name].value() for name in form.fields}
        sent = {name: "" if value is None else value for name, value in sent.items()}
        sent |= {f"step_{dip.pk}": "dip 25 cm 1 min in red", f"section_{painted.pk}": "B", "why": "more red"}
        sent = {name: value for name, value in sent.items() if value is not False}
        answered = owner.post(reverse("way-correct", args=[way.pk]), {**sent, "keep": "1"})

        assert answered.status_code in (302, 303), answered.context["form"].errors
        new = WayOfDyeing.objects.order_by("-id")[0]
        rules = rules_of(new)
        assert [(rule.millimetres, rule.seconds) for rule in rules if rule.technique == "dip"] == [(250, 60)]
        assert [rule.section for rule in rules if rule.technique == "hand_paint"] == ["B"]
        page = owner.get(reverse("way", args=[new.pk])).content.decode()
        assert "on section B, hand-painted instead of on section A, hand-painted" in page

    def test_a_step_that_cannot_be_read_is_asked_about(self, way, owner):
        form = owner.get(reverse("way-correct", args=[way.pk])).context["form"]
        dip = next(rule for rule in form.rules if rule.technique == "dip")
        sent = {name: form[name].value() for name in form.fields}
        sent = {name: "" if value is None else value for name, value in sent.items() if value is not False}
        answered = owner.post(
            reverse("way-correct", args=[way.pk]),
            {**sent, f"step_{dip.pk}": "dip it twice", "why": "x", "keep": "1"},
        )

        assert answered.status_code == 422
        assert "dip it twice" in answered.content.decode()
        assert WayOfDyeing.objects.count() == 1


def test_a_share_of_a_hank_is_a_share_of_the_fibre(thirds, marit):
    write(thirds, marit, "paint A 30 ml red")
    (row,) = put_on(thirds).painted

    assert row.figure.value == Fraction(30_000 * 100_000 * 3, 500_000)


def test_a_redye_shows_the_hanks_of_each_pot_and_how_they_came_about(thirds, marit, owner):
    write(thirds, marit, "2 l water", "30 ml red 1%", "enter 1 hank", "enter 2 hanks", "enter 2 hanks")
    way = learning.learn_way(pot=thirds, who=marit)
    load = PotLoad.objects.select_related("put_up", "mill_lot").get(pot=thirds)
    vessel = factories.VesselFactory(working_millilitres=60_000)
    ask = redye.RedyeAsk(way, load.put_up, load.mill_lot, 8, 100_000, vessel, 200)

    lines = step_lines(redye.preview_redye(ask).pots[0].steps)
    entered = [line for line in lines if line.what == "Enter hanks"]
    # 1, 2 and 2 of five for a load of eight: 1.6, 3.2 and 3.2, in whole hanks that add up to eight.
    assert [(line.amount, line.by_rule) for line in entered] == [
        ("2 hanks", "Enter 1 hank"),
        ("3 hanks", "Enter 2 hanks"),
        ("3 hanks", "Enter 2 hanks"),
    ]
    assert all(line.working is not None for line in entered)
