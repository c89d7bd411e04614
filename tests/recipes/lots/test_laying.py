"""How the pieces of a pot lie: the page that says it, the note of it, and what follows from it."""

from __future__ import annotations

import uuid

import pytest
from django.test import Client
from django.urls import reverse

from recipes.dyeing.lay import Lay, lay_from_json, lay_from_rows
from recipes.lots.contents import what_is_in
from recipes.lots.laying import keep_lay
from recipes.lots.learning import propose_way
from recipes.lots.log import keep_line
from recipes.lots.missing import LAY, what_is_missing
from recipes.lots.models import LogEntry, Pot, PotLoad
from recipes.lots.queries import entries_of, loads_of
from tests import factories

pytestmark = pytest.mark.django_db


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
    pot = factories.loaded_pot(who=marit)
    base = PotLoad.objects.get(pot=pot).put_up.base
    base.hank_circumference_millimetres = 1500
    base.save()
    return pot


def rows(*typed: tuple[str, str, str]) -> dict[str, str]:
    """A form's rows as a browser sends them: name, how far, words."""
    sent = {"rows": str(len(typed)), "key": str(uuid.uuid4()), "folded": "open"}
    for at, (name, extent, words) in enumerate(typed):
        sent |= {f"section-{at}-name": name, f"section-{at}-extent": extent, f"section-{at}-words": words}
        sent[f"section-{at}-colour"] = "#ffffff"
    return sent


THIRDS = (("A", "1/3", "strong"), ("B", "1/3", ""), ("C", "rest", ""))


def kept(pot: Pot) -> Lay | None:
    return lay_from_json(Pot.objects.get(pk=pot.pk).lay_plan)


class TestThePage:
    def send(self, owner: Client, pot: Pot, **sent: str):
        return owner.post(reverse("pot-lay", args=[pot.code]), sent)

    def test_sections_are_kept_and_the_log_tells_who_said_so(self, pot, owner, marit):
        answered = self.send(owner, pot, **rows(*THIRDS), keep="1")

        assert answered.status_code in (302, 303)
        lay = kept(pot)
        assert lay is not None
        assert lay.names == ("A", "B", "C")
        assert lay.circumference_millimetres == 1500
        note = LogEntry.objects.get(pot=pot)
        assert (note.kind, note.name, note.who) == ("note", "lay", marit)
        assert "A 1/3 (50 cm), strong" in note.text

    def test_a_usual_lay_fills_the_rows_and_keeps_nothing_yet(self, pot, owner):
        page = self.send(owner, pot, **rows(), preset="thirds").content.decode()

        assert page.count('value="1/3"') == 3
        assert "lay-strip" in page
        assert "50 cm" in page
        assert kept(pot) is None

    def test_rows_are_added_and_left_out_without_a_script(self, pot, owner):
        more = self.send(owner, pot, **rows(*THIRDS), more="1").content.decode()
        less = self.send(owner, pot, **rows(*THIRDS), without="0").content.decode()

        assert 'name="section-3-name" value="D"' in more
        assert 'name="section-0-name" value="B"' in less
        assert "section-2-name" not in less
        assert kept(pot) is None

    def test_a_folded_hank_is_half_as_long_and_drawn_on_both_legs(self, pot, owner):
        page = self.send(owner, pot, **{**rows(*THIRDS), "folded": "folded"}, draw="1").content.decode()

        assert "25 cm" in page
        assert page.count(">A</text>") == 2

    @pytest.mark.parametrize(
        ("typed", "words"),
        [
            ((("A", "2/3", ""), ("B", "1/2", "")), "do not fit on the hank"),
            ((("A", "90 cm", ""), ("B", "70 cm", "")), "together they are 160 cm, and it is 150 cm long"),
            ((("A", "1/3", ""), ("", "1/3", "")), "Give the section a letter"),
            ((("A", "far", ""), ("B", "1/3", "")), "is no part of a hank"),
            ((("A", "1/3", ""), ("a", "1/3", "")), "two sections called a"),
            ((("A", "", "pale"),), "Write how far it goes"),
        ],
    )
    def test_what_cannot_be_is_said_beside_it_and_what_was_typed_stays(self, pot, owner, typed, words):
        answered = self.send(owner, pot, **rows(*typed), keep="1")
        page = answered.content.decode()

        assert answered.status_code == 422
        assert words in page
        for at, (name, extent, said) in enumerate(typed):
            for field, value in (("name", name), ("extent", extent), ("words", said)):
                assert not value or f'name="section-{at}-{field}" value="{value}"' in page
        assert kept(pot) is None

    def test_an_unused_row_is_left_out_and_no_row_takes_the_lay_away(self, pot, owner):
        self.send(owner, pot, **rows(*THIRDS, ("D", "", "")), keep="1")
        first = kept(pot)
        assert first is not None
        assert first.names == ("A", "B", "C")
        self.send(owner, pot, **rows(), keep="1")

        assert kept(pot) is None
        assert [note.text for note in LogEntry.objects.order_by("id")][-1] == "How it lies: no sections"

    def test_it_is_a_few_questions(self, pot, owner, django_assert_max_num_queries):
        self.send(owner, pot, **rows(*THIRDS), keep="1")
        with django_assert_max_num_queries(12):
            owner.get(reverse("pot-lay", args=[pot.code]))

    def test_a_planned_pot_may_say_it_before_it_is_loaded(self, owner, marit):
        planned = factories.planned_pot(who=marit)
        self.send(owner, planned, **rows(*THIRDS), keep="1")

        assert kept(planned) is not None
        assert not LogEntry.objects.exists()


def thirds() -> Lay:
    return lay_from_rows(
        [(name, extent, words, "") for name, extent, words in THIRDS],
        folded=False,
        circumference_millimetres=1500,
    )


def test_the_same_lay_again_changes_nothing(pot, marit):
    for _ in range(2):
        keep_lay(pot=pot, lay=thirds(), key=uuid.uuid4(), who=marit)

    assert LogEntry.objects.filter(pot=pot).count() == 1


def test_sections_answer_how_the_pieces_lay(pot, marit):
    def lacks() -> set[str]:
        here = Pot.objects.get(pk=pot.pk)
        found = what_is_missing(
            here,
            loads=loads_of(here),
            entries=entries_of(here),
            contents=what_is_in(here),
            has_photo=True,
            has_verdict=True,
        )
        return {lack.slug for lack in found}

    before = lacks()
    keep_lay(pot=pot, lay=thirds(), key=uuid.uuid4(), who=marit)

    assert LAY in before
    assert LAY not in lacks()


def test_saying_how_it_lies_is_no_step_of_a_way(pot, marit):
    keep_lay(pot=pot, lay=thirds(), key=uuid.uuid4(), who=marit)
    keep_line(pot=pot, key=uuid.uuid4(), typed="2 l water", who=marit)
    proposed = propose_way(Pot.objects.get(pk=pot.pk))

    assert [rule.draft.kind for rule in proposed.rules] == ["water"]
    assert lay_from_json(proposed.facts.lay_plan) == thirds()


def test_a_section_by_its_name_is_read_at_this_pot(pot, marit):
    lay = lay_from_rows(
        [("red end", "1/2", "", ""), ("B", "rest", "", "")], folded=False, circumference_millimetres=None
    )
    keep_lay(pot=pot, lay=lay, key=uuid.uuid4(), who=marit)
    (entry,) = keep_line(
        pot=Pot.objects.get(pk=pot.pk), key=uuid.uuid4(), typed="5 ml teal on the red end", who=marit
    )

    assert (entry.microlitres, entry.section) == (5_000, "red end")
