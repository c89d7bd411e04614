"""What may be written down twice is asked about on both phones, is never dropped and never in the way."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from recipes.lots.contents import what_is_in
from recipes.lots.log import add_entry, correct, keep_line, keep_step, put_back, strike
from recipes.lots.models import LogEntry, PlannedStep, Pot
from recipes.lots.queries import entries_of, pot_page
from recipes.lots.twice import written_twice
from tests import factories

pytestmark = pytest.mark.django_db
NOON = dt.datetime(2026, 3, 4, 12, 0, tzinfo=dt.UTC)


@pytest.fixture
def marit():
    factories.studio()
    return factories.OwnerFactory(called="Marit")


@pytest.fixture
def jo():
    return factories.HelperFactory(called="Jo")


@pytest.fixture
def pot(marit) -> Pot:
    factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=marit), who=marit)
    factories.auxiliary("Vinegar", amount=1_000_000, who=marit)
    factories.auxiliary("Salt", role="salt", form="powder", strength_hundredths_percent=None, who=marit)
    return factories.loaded_pot(who=marit, happened_at=NOON - dt.timedelta(hours=2))


def keep(pot: Pot, typed: str, who, *, seconds: float = 0) -> list[LogEntry]:
    at = NOON + dt.timedelta(seconds=seconds)
    return keep_line(pot=pot, key=uuid.uuid4(), typed=typed, who=who, clock=at, now=at)


def asked(pot: Pot) -> dict[int, int]:
    """Which entries are asked about, and about which one before."""
    return {pk: twice.last.pk for pk, twice in written_twice(entries_of(pot)).items()}


@pytest.mark.parametrize(("later", "is_asked"), [(0, True), (10, True), (10.5, False), (600, False)])
def test_the_same_is_asked_about_within_ten_seconds(pot, marit, jo, later, is_asked):
    (first,) = keep(pot, "5 ml red", marit)
    (second,) = keep(pot, "5 ml red 1%", jo, seconds=later)

    assert asked(pot) == ({second.pk: first.pk} if is_asked else {})


@pytest.mark.parametrize("other", ["6 ml red", "5 ml red on section A", "5 g salt", "12 l water", "pH 5"])
def test_something_else_within_ten_seconds_is_not_asked_about(pot, marit, jo, other):
    keep(pot, "5 ml red", marit)
    keep(pot, other, jo, seconds=4)

    assert asked(pot) == {}


@pytest.mark.parametrize("typed", ["heat off", "82 C", "pH 4.5", "10 l water", "5 g salt", "3 ml woad"])
def test_whatever_it_is_two_phones_may_have_written_it(pot, marit, jo, typed):
    (first,) = keep(pot, typed, marit)
    (second,) = keep(pot, typed, jo, seconds=3)

    assert asked(pot) == {second.pk: first.pk}


def test_notes_alike_are_no_deed(pot, marit, jo):
    keep(pot, "turned the skeins", marit)
    keep(pot, "turned the skeins", jo, seconds=3)

    assert asked(pot) == {}


def test_both_count_and_both_took_from_the_bottle_until_one_is_removed(pot, marit, jo):
    keep(pot, "5 ml red", marit)
    (second,) = keep(pot, "5 ml red", jo, seconds=2)
    assert what_is_in(pot).dyes[0].stock_microlitres == 10_000

    strike(entry=second, key=uuid.uuid4(), who=jo)

    assert what_is_in(pot).dyes[0].stock_microlitres == 5_000
    assert asked(pot) == {}


def test_acid_is_asked_about_whenever_acid_is_in_and_names_the_last_of_it(pot, marit, jo):
    (first,) = keep(pot, "50 ml vinegar", marit)
    (second,) = keep(pot, "20 ml vinegar", jo, seconds=35 * 60)
    (third,) = keep(pot, "10 ml vinegar", marit, seconds=50 * 60)

    assert asked(pot) == {second.pk: first.pk, third.pk: second.pk}


def test_acid_that_is_not_in_the_store_is_acid_by_its_name(pot, marit, jo):
    (first,) = keep(pot, "50 ml vinegar", marit)
    (second,) = keep(pot, "5 g ascorbic acid", jo, seconds=900)

    assert asked(pot) == {second.pk: first.pk}


def test_a_late_entry_of_acid_is_the_one_that_is_asked_about(pot, marit, jo):
    (first,) = keep(pot, "50 ml vinegar", marit)
    (late,) = keep(pot, "11:40 50 ml vinegar", jo, seconds=60)

    assert asked(pot) == {late.pk: first.pk}


def test_salt_in_portions_is_nothing_to_ask_about(pot, marit):
    keep(pot, "50 g salt", marit)
    keep(pot, "50 g salt", marit, seconds=600)

    assert asked(pot) == {}


def test_two_parts_of_one_line_are_meant(pot, marit):
    keep(pot, "5 ml red, 5 ml red, 20 ml vinegar, 20 ml vinegar", marit)

    assert LogEntry.objects.filter(pot=pot).count() == 4
    assert asked(pot) == {}


def test_the_same_line_once_more_is_asked_about_in_each_part(pot, marit, jo):
    keep(pot, "5 ml red, heat on", marit)
    second = keep(pot, "5 ml red, heat on", jo, seconds=5)

    assert set(asked(pot)) == {entry.pk for entry in second}


def test_what_was_struck_is_not_asked_about_and_asks_about_nothing(pot, marit, jo):
    (first,) = keep(pot, "50 ml vinegar", marit)
    strike(entry=first, key=uuid.uuid4(), who=marit)
    (second,) = keep(pot, "50 ml vinegar", jo, seconds=60)
    assert asked(pot) == {}

    back = put_back(entry=first, key=uuid.uuid4(), who=marit)

    assert asked(pot) == {second.pk: back.pk}


def test_a_correction_stands_in_the_place_of_what_it_corrects(pot, marit, jo):
    (first,) = keep(pot, "50 ml vinegar", marit)
    (second,) = keep(pot, "20 ml vinegar", jo, seconds=1800)
    corrected = correct(entry=first, key=uuid.uuid4(), who=marit, typed="55 ml vinegar")

    assert asked(pot) == {second.pk: corrected.pk}


@pytest.fixture
def planned(marit) -> Pot:
    """A pot whose plan holds acid in two portions of 50 ml, twenty minutes apart."""
    lines = ("7.5 l water", "30 ml red 1%", "9 ml vinegar", "heat on", "9 ml vinegar", "82 C", "heat off")
    factories.auxiliary("Vinegar", amount=1_000_000, who=marit)
    plan = factories.redye_plan(who=marit, pieces=3, of=factories.way(who=marit, lines=lines))
    pot = plan.pots.get()
    pot.loaded_at = NOON
    pot.save()
    return pot


def acid_steps(pot: Pot) -> list[PlannedStep]:
    return list(PlannedStep.objects.filter(pot=pot, rule__kind="auxiliary").order_by("number"))


def do(step: PlannedStep, who, *, seconds: float) -> LogEntry:
    at = NOON + dt.timedelta(seconds=seconds)
    return keep_step(pot=step.pot, step=step, key=uuid.uuid4(), who=who, happened_at=at)


def test_a_second_portion_that_the_plan_holds_is_not_asked_about(planned, marit):
    first, second = acid_steps(planned)
    do(first, marit, seconds=0)
    do(second, marit, seconds=1200)

    assert asked(planned) == {}


def test_a_third_portion_that_it_does_not_hold_is(planned, marit, jo):
    first, second = acid_steps(planned)
    do(first, marit, seconds=0)
    last = do(second, marit, seconds=1200)
    (more,) = keep(planned, "9 ml vinegar", jo, seconds=1800)

    assert asked(planned) == {more.pk: last.pk}


def test_one_planned_step_done_on_two_phones_is_asked_about(planned, marit, jo):
    step = acid_steps(planned)[0]
    first = do(step, marit, seconds=0)
    second = do(step, jo, seconds=240)

    assert asked(planned) == {second.pk: first.pk}


def test_two_phones_at_once_have_not_done_two_portions_that_the_plan_sets_apart(planned, marit, jo):
    early, late = acid_steps(planned)
    PlannedStep.objects.filter(pk=late.pk).update(minute=(early.minute or 0) + 30)
    (first,) = keep(planned, "9 ml vinegar", marit)
    (second,) = keep(planned, "9 ml vinegar", jo, seconds=4)

    assert (first.planned_id, second.planned_id) == (early.pk, late.pk)
    assert asked(planned) == {second.pk: first.pk}


@time_machine.travel(NOON + dt.timedelta(minutes=5), tick=False)
def test_the_row_says_so_on_both_phones_and_one_touch_removes_it(pot, marit, jo):
    keep(pot, "50 ml vinegar", jo, seconds=-1500)
    (second,) = keep(pot, "50 ml vinegar", marit)
    where = reverse("pot", args=[pot.code])
    phones = [Client(), Client()]
    for person, phone in zip((marit, jo), phones, strict=True):
        phone.force_login(person)
        assert "twice? last at 11:35 by Jo" in phone.get(where).content.decode()
        assert "twice? last at 11:35 by Jo" in phone.get(where + "?live=1").content.decode()

    phones[1].post(reverse("pot-entry-strike", args=[pot.code, second.key]), {"key": uuid.uuid4()})

    assert "twice?" not in phones[0].get(where).content.decode()
    assert LogEntry.objects.filter(strikes=second).exists()


def test_each_pot_of_a_lot_is_looked_at_by_itself(pot, marit):
    other = factories.loaded_pot(who=marit)
    keep(pot, "50 ml vinegar", marit)
    keep(other, "50 ml vinegar", marit, seconds=3)

    both = [*entries_of(pot), *entries_of(other)]
    assert written_twice(both) == {}


def test_asking_costs_no_query_more(pot, marit, jo, django_assert_num_queries):
    for number in range(5):
        keep(pot, "50 ml vinegar", marit, seconds=number)
    entries = entries_of(pot)

    with django_assert_num_queries(0):
        assert len(written_twice(entries)) == 4
    assert sum(1 for row in pot_page(pot, user=marit).rows if row.twice) == 4


def test_a_touch_that_came_twice_is_kept_twice_and_asked_about(pot, marit):
    bottle = factories.bottle(who=marit)
    for second in (0, 1):
        add_entry(
            pot=pot,
            key=uuid.uuid4(),
            kind="stock",
            who=marit,
            happened_at=NOON + dt.timedelta(seconds=second),
            bottle=bottle,
            microlitres=5_000,
        )

    assert len(asked(pot)) == 1
