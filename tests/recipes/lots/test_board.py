"""The board of the pots at work: since when, what is in, what is next or still lacks, holds, heat as last recorded."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from recipes.colourways import keep_secret
from recipes.lots.board import board
from recipes.lots.log import add_entry, keep_line, keep_step, strike
from recipes.lots.models import LogEntry, PlannedStep, Pot, PotLoad
from recipes.lots.pots import load_planned, weigh_load
from recipes.lots.queries import pot_page
from recipes.lots.standing import pots_at_work
from tests import factories

pytestmark = pytest.mark.django_db
NOON = dt.datetime(2026, 3, 4, 12, 0, tzinfo=dt.UTC)
MOST_QUERIES = 12


def after(minutes: float) -> dt.datetime:
    return NOON + dt.timedelta(minutes=minutes)


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
    return factories.loaded_pot(who=marit, happened_at=NOON)


def keep(pot: Pot, typed: str, who, *, minutes: float) -> LogEntry:
    return keep_line(
        pot=pot, key=uuid.uuid4(), typed=typed, who=who, clock=after(minutes), now=after(minutes)
    )[0]


def hold(pot: Pot, who, *, minutes: float, long: int) -> LogEntry:
    return add_entry(
        pot=pot,
        key=uuid.uuid4(),
        kind="technique",
        technique="hold",
        seconds=long * 60,
        who=who,
        happened_at=after(minutes),
    )


def on_board(pot: Pot, user, *, minutes: float):
    shown = board(user=user, now=after(minutes)).at_work
    return next(each for each in shown if each.pot == pot)


def body(user, where: str, *, minutes: float) -> str:
    client = Client()
    with time_machine.travel(after(minutes), tick=False):
        client.force_login(user)
        return client.get(where).content.decode()


# --- Since when, by whom ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("minutes", "words"),
    [(10.5, ""), (12, "2 min"), (200, "3 h 10 min"), (10 + 26 * 60, "1 day"), (10 + 50 * 60, "2 days")],
)
def test_it_says_for_how_long_nothing_was_written_down_and_who_wrote_last(pot, marit, jo, minutes, words):
    keep(pot, "5 ml red", marit, minutes=5)
    keep(pot, "82 C", jo, minutes=10)

    line = on_board(pot, marit, minutes=minutes)

    assert (line.untouched_for, line.touched_by, line.touched_at) == (words, "Jo", after(10))


def test_an_entry_that_was_struck_was_no_touch(pot, marit, jo):
    keep(pot, "5 ml red", marit, minutes=5)
    strike(entry=keep(pot, "82 C", jo, minutes=60), key=uuid.uuid4(), who=jo, now=after(61))

    assert on_board(pot, marit, minutes=65).touched_at == after(5)


def test_a_pot_with_nothing_written_down_counts_from_when_it_was_loaded(pot, marit):
    line = on_board(pot, marit, minutes=30)

    assert (line.untouched_for, line.touched_by) == ("30 min", "")
    assert "nothing is in by the log" in body(marit, reverse("pots"), minutes=30)


# --- What is in, what lacks -------------------------------------------------------------------------------------------


def test_what_is_in_is_told_with_its_depth_and_the_acid_with_its_amount(pot, marit):
    keep(pot, "50 ml red", marit, minutes=5)
    keep(pot, "25 ml vinegar", marit, minutes=6)

    page = body(marit, reverse("pots"), minutes=10)

    # 50 ml of 1 % on 500 g of fibre: 0.5 g, 0.1 % by the definition of depth of shade.
    assert "Red <strong>0.1 %</strong>" in page
    assert "Vinegar <strong>25 ml</strong>" in page


def test_a_trial_is_told_only_what_its_log_lacks_and_never_a_step(pot, marit):
    assert on_board(pot, marit, minutes=1).standing.lacks == [
        "a dry weighing",
        "the water",
        "dye",
        "acid",
        "heat",
        "a temperature",
    ]

    weigh_load(pot=pot, dry_milligrams=512_000)
    for number, typed in enumerate(("12 l water", "50 ml red", "25 ml vinegar", "heat on", "82 C")):
        keep(pot, typed, marit, minutes=number)

    standing = on_board(pot, marit, minutes=20).standing
    assert standing.lacks == []
    assert standing.next is None
    assert not standing.all_done
    assert "Next" not in body(marit, reverse("pots"), minutes=20)


def test_a_cold_reactive_dye_lacks_no_acid(pot, marit):
    reactive = factories.dye("Fibre blue", dye_class="cold_reactive")
    factories.bottle(jar=factories.jar(dye=reactive, who=marit), who=marit)
    keep(pot, "50 ml fibre blue", marit, minutes=1)

    assert "acid" not in on_board(pot, marit, minutes=2).standing.lacks


# --- What is next -----------------------------------------------------------------------------------------------------


@pytest.fixture
def planned(marit) -> Pot:
    """A redye in work whose steps are planned for minutes 0, 10, 20 and so on after the first."""
    pot = factories.redye_plan(who=marit, pieces=3).pots.get()
    for number, step in enumerate(PlannedStep.objects.filter(pot=pot).order_by("number")):
        PlannedStep.objects.filter(pk=step.pk).update(minute=10 * number)
    load_planned(key=uuid.uuid4(), pot=pot, mill_lot=None, dry_milligrams=None, who=marit, happened_at=NOON)
    return Pot.objects.get(pk=pot.pk)


def steps(pot: Pot) -> list[PlannedStep]:
    return list(PlannedStep.objects.filter(pot=pot).select_related("rule").order_by("number"))


def do(step: PlannedStep, who, *, minutes: float) -> LogEntry:
    return keep_step(pot=step.pot, step=step, key=uuid.uuid4(), who=who, happened_at=after(minutes))


def test_before_the_first_entry_the_next_step_has_no_clock_time(planned, marit):
    following = on_board(planned, marit, minutes=3).standing.next

    assert following.number == steps(planned)[0].number
    assert (following.due_at, following.timing) == (None, "")


@pytest.mark.parametrize(
    ("minutes", "timing"),
    [(2, "in 13 min"), (9, "in 6 min"), (10, "now"), (20, "now"), (21, "6 min ago"), (100, "1 h 25 min ago")],
)
def test_the_next_step_has_its_clock_time_from_the_first_entry(planned, marit, minutes, timing):
    # The plan begins at 12:05, so its minute 10 is a quarter past twelve. Five minutes either way count as in time.
    do(steps(planned)[0], marit, minutes=5)

    following = on_board(planned, marit, minutes=minutes).standing.next

    assert following.step == steps(planned)[1]
    assert (following.due_at, following.timing) == (after(15), timing)


def test_when_all_steps_are_done_that_is_said(planned, marit):
    for number, step in enumerate(steps(planned)):
        do(step, marit, minutes=10 * number)

    standing = on_board(planned, marit, minutes=200).standing
    assert standing.next is None
    assert standing.all_done
    assert f"All {len(steps(planned))} planned steps are done" in body(marit, reverse("pots"), minutes=200)


def test_the_pots_page_has_the_next_step_at_the_top_with_its_time_and_one_touch(planned, marit):
    do(steps(planned)[0], marit, minutes=5)
    where = reverse("pot", args=[planned.code])

    page = body(marit, where, minutes=12)

    top = page[page.index('id="pot-next"') : page.index('id="pot-in"')]
    assert "planned for 12:15" in top
    assert reverse("pot-step", args=[planned.code, steps(planned)[1].number]) in top
    assert "Done as planned" in top
    live = body(marit, where + "?live=1", minutes=12)
    assert "planned for 12:15" in live


def test_over_midnight_the_next_step_says_its_day(planned, marit):
    late = dt.timedelta(hours=11, minutes=55)
    keep_step(pot=planned, step=steps(planned)[0], key=uuid.uuid4(), who=marit, happened_at=NOON + late)

    page = body(marit, reverse("pots"), minutes=11 * 60 + 57)

    assert "<strong>00:05</strong> tomorrow" in page


# --- Holds ------------------------------------------------------------------------------------------------------------


def test_a_hold_runs_from_when_it_was_written_down_to_its_end(pot, marit):
    hold(pot, marit, minutes=10, long=30)

    standing = on_board(pot, marit, minutes=20).standing
    assert (standing.hold.ends_at, standing.over) == (after(40), False)
    assert f'data-ends="{after(40).isoformat()}"' in body(marit, reverse("pots"), minutes=20)


def test_a_hold_that_is_over_stays_until_something_is_written_down(pot, marit):
    hold(pot, marit, minutes=10, long=30)
    assert on_board(pot, marit, minutes=90).standing.over
    assert "hold over at 12:40" in body(marit, reverse("pots"), minutes=90)

    keep(pot, "heat off", marit, minutes=95)

    assert on_board(pot, marit, minutes=100).standing.hold is None
    assert pots_at_work(now=after(100))[0].hold is None


def test_a_steaming_is_counted_down_too_and_a_dip_is_not(pot, marit):
    for minute, technique, seconds in ((10, "steam", 1_800), (12, "dip", 30)):
        add_entry(
            pot=pot,
            key=uuid.uuid4(),
            kind="technique",
            technique=technique,
            seconds=seconds,
            who=marit,
            happened_at=after(minute),
        )

    running = on_board(pot, marit, minutes=20).standing.hold
    assert (running.technique, running.ends_at) == ("steam", after(40))
    assert pots_at_work(now=after(20))[0].hold == running
    assert "steam until 12:40" in body(marit, reverse("pots"), minutes=20)


def test_a_temperature_read_during_a_hold_ends_nothing(pot, marit):
    hold(pot, marit, minutes=10, long=30)
    keep(pot, "83 C", marit, minutes=20)

    assert on_board(pot, marit, minutes=25).standing.hold.ends_at == after(40)
    assert pots_at_work(now=after(25))[0].hold.ends_at == after(40)


def test_the_newest_hold_counts_and_a_struck_one_does_not(pot, marit):
    hold(pot, marit, minutes=10, long=60)
    second = hold(pot, marit, minutes=20, long=15)
    assert on_board(pot, marit, minutes=25).standing.hold.ends_at == after(35)

    strike(entry=second, key=uuid.uuid4(), who=marit)

    assert on_board(pot, marit, minutes=25).standing.hold.ends_at == after(70)


def test_a_hold_of_another_pot_is_seen_from_the_page_of_this_one(pot, marit):
    other = factories.loaded_pot(who=marit, happened_at=NOON)
    hold(other, marit, minutes=10, long=30)

    page = body(marit, reverse("pot", args=[pot.code]), minutes=20)

    assert f'data-hold="{other.code}" data-technique="hold" data-ends="{after(40).isoformat()}"' in page


# --- Heat, marks, order -----------------------------------------------------------------------------------------------


def test_heat_is_told_as_last_recorded_and_never_as_on(pot, marit):
    assert "no heat recorded" in body(marit, reverse("pots"), minutes=1)
    keep(pot, "heat on low", marit, minutes=5)
    page = body(marit, reverse("pots"), minutes=200)
    assert "heat last recorded on, low, at 12:05" in page
    assert "heat is on" not in page.casefold()

    keep(pot, "heat off", marit, minutes=210)

    assert "heat last recorded off at 15:30" in body(marit, reverse("pots"), minutes=220)
    assert "heat last recorded off yesterday at 15:30" in body(marit, reverse("pots"), minutes=24 * 60)


def test_what_asks_and_what_may_be_there_twice_is_marked(pot, marit, jo):
    keep(pot, "25 ml vinegar", marit, minutes=1)
    keep(pot, "25 ml vinegar", jo, minutes=9)
    keep(pot, "5 red", marit, minutes=10)

    line = on_board(pot, marit, minutes=12)

    assert (line.twice, line.asks) == (1, 1)


def test_each_pot_keeps_its_place_whichever_was_touched_last(pot, marit):
    second = factories.loaded_pot(who=marit, happened_at=after(5))
    keep(pot, "heat on", marit, minutes=10)
    keep(second, "heat on", marit, minutes=11)
    keep(pot, "82 C", marit, minutes=12)

    assert [each.pot for each in board(user=marit, now=after(13)).at_work] == [pot, second]


def test_a_secret_colourway_goes_by_its_code_for_a_helper(pot, marit, jo):
    pot.colourway.name = "Frost Fair"
    pot.colourway.save()
    keep_secret(colourway=pot.colourway, until=after(60 * 24 * 30))

    assert "Frost Fair" in body(marit, reverse("pots"), minutes=5)
    assert "Frost Fair" not in body(jo, reverse("pots"), minutes=5)


# --- Whose pot --------------------------------------------------------------------------------------------------------


def test_a_pot_is_of_who_loaded_it_and_mine_leaves_only_mine(pot, marit, jo):
    theirs = factories.loaded_pot(who=jo, happened_at=NOON)

    page = body(marit, reverse("pots"), minutes=5)
    assert "of Jo" in page
    assert "yours" in page
    mine = body(jo, reverse("pots") + "?mine=1", minutes=5)
    assert theirs.code in mine
    assert pot.code not in mine
    assert "No pot in work is yours" in body(
        factories.HelperFactory(), reverse("pots") + "?mine=1", minutes=5
    )


def test_a_helper_who_loads_a_planned_pot_dyes_it(marit, jo):
    pot = factories.planned_pot(who=marit)
    assert Pot.objects.get(pk=pot.pk).started_by == marit

    load_planned(key=uuid.uuid4(), pot=pot, mill_lot=None, dry_milligrams=None, who=jo)

    loaded = Pot.objects.get(pk=pot.pk)
    assert loaded.started_by == jo
    assert [each.name for each in pot_page(loaded, user=marit).standing.shares] == []


def test_a_plan_keeps_who_made_it_when_somebody_else_dyes_it(marit, jo):
    plan = factories.redye_plan(who=marit, pieces=3)

    load_planned(key=uuid.uuid4(), pot=plan.pots.get(), mill_lot=None, dry_milligrams=None, who=jo)

    plan.refresh_from_db()
    assert plan.made_by == marit


def test_a_pots_page_says_whose_it_is_and_how_many_entries_are_whose(pot, marit, jo):
    for minute in range(3):
        keep(pot, "turned the skeins", jo, minutes=minute)
    keep(pot, "82 C", marit, minutes=5)

    shares = pot_page(pot, user=jo).standing.shares
    assert [(share.name, share.entries) for share in shares] == [("Jo", 3), ("Marit", 1)]
    page = body(jo, reverse("pot", args=[pot.code]), minutes=10)
    assert "Jo 3, Marit 1" in page


# --- The page ---------------------------------------------------------------------------------------------------------


def test_the_board_looks_again_for_only_its_own_part(pot, marit):
    client = Client()
    client.force_login(marit)

    parts = client.get(reverse("pots") + "?live=1")

    assert parts["X-Kept"] == "board"
    assert 'id="board"' in parts.content.decode()
    assert "<html" not in parts.content.decode()


@pytest.mark.parametrize("pots", [1, 12])
def test_the_board_takes_few_queries_however_many_pots(marit, pots, django_assert_max_num_queries):
    plan = factories.redye_plan(who=marit, pieces=3)
    planned = plan.pots.get()
    load_planned(key=uuid.uuid4(), pot=planned, mill_lot=None, dry_milligrams=None, who=marit)
    put_up = PotLoad.objects.filter(pot=planned).get().put_up
    for number in range(pots):
        trial = factories.loaded_pot(put_up=put_up, who=marit)
        Pot.objects.filter(pk=trial.pk).update(bath_from=planned if number % 2 else None)
        for typed in ("5 ml red", "heat on", "82 C", "5 g citric", "3 ml nowhere"):
            keep_line(pot=trial, key=uuid.uuid4(), typed=typed, who=marit)
        hold(trial, marit, minutes=0, long=30)
    client = Client()
    client.force_login(marit)

    for where in (
        reverse("pots"),
        reverse("pots") + "?live=1",
        reverse("pots") + "?mine=1",
        reverse("day-close"),
    ):
        with django_assert_max_num_queries(MOST_QUERIES):
            assert client.get(where).status_code == 200
