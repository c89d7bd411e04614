"""The pot log: lines kept as entries, dye leaving the store, strikes and corrections."""

from __future__ import annotations

import datetime as dt
import json
import uuid
from decimal import Decimal
from pathlib import Path

import pytest
from django.db import IntegrityError, connection, transaction
from django.utils import timezone

from dyehouse.ledger.models import Balance, Line
from recipes.lots.contents import what_is_in
from recipes.lots.log import (
    NotAnEntry,
    NothingTyped,
    NotLoaded,
    StruckAlready,
    add_entry,
    correct,
    keep_line,
    put_back,
    strike,
)
from recipes.lots.models import LogEntry, Pot
from recipes.models import Jar, StockBottle
from tests import factories

pytestmark = pytest.mark.django_db
NOON = dt.datetime(2026, 3, 4, 12, 0, tzinfo=dt.UTC)


@pytest.fixture
def who():
    return factories.OwnerFactory()


@pytest.fixture
def pot(who) -> Pot:
    return factories.loaded_pot(who=who)


@pytest.fixture
def red(who) -> StockBottle:
    """A bottle of Red at 1 %, 500 ml."""
    return factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=who), who=who)


def keep(pot: Pot, typed: str, who, **more) -> list[LogEntry]:
    return keep_line(pot=pot, key=uuid.uuid4(), typed=typed, who=who, **more)


def in_store(lot) -> int:
    return Balance.objects.get(lot=lot, place__code="store").on_hand


def used_up(lot) -> int:
    """What the ledger says went out of the store and was not taken back."""
    lines = Line.objects.filter(lot=lot)
    out = sum(line.quantity for line in lines.filter(to_place__code="consumed"))
    back = sum(line.quantity for line in lines.filter(from_place__code="consumed"))
    return out - back


def test_a_line_is_kept_as_typed_and_as_read_and_the_stock_leaves_its_bottle(pot, red, who):
    (entry,) = keep(pot, "5 ml red 1%", who)

    assert (entry.kind, entry.microlitres, entry.bottle, entry.question) == ("stock", 5_000, red, "")
    assert entry.typed == "5 ml red 1%"
    assert entry.strength_mg_per_litre == 10_000
    assert in_store(red.lot) == 495_000


def test_several_things_in_a_line_are_several_entries_with_its_clock(pot, red, who):
    factories.bottle(jar=factories.jar(dye=factories.dye("Teal"), who=who), who=who)

    entries = keep(pot, "11:20 +5 ml red, 10 ml teal, heat off", who, now=NOON)

    assert [entry.kind for entry in entries] == ["stock", "stock", "heat"]
    assert {entry.happened_at for entry in entries} == {NOON.replace(hour=11, minute=20)}
    assert len({entry.key for entry in entries}) == 3


def test_a_time_still_to_come_means_yesterday(pot, red, who):
    (entry,) = keep(pot, "23:10 5 ml red", who, now=NOON)

    assert entry.happened_at == NOON.replace(day=3, hour=23, minute=10)


def test_a_clock_a_little_ahead_is_not_yesterdays(pot, red, who):
    (entry,) = keep(pot, "12:03 5 ml red", who, now=NOON)

    assert entry.happened_at == NOON


def test_the_phones_clock_is_honoured_but_never_one_in_the_future(pot, red, who):
    (earlier,) = keep(pot, "5 ml red", who, clock=NOON - dt.timedelta(hours=2), now=NOON)
    (ahead,) = keep(pot, "5 ml red", who, clock=NOON + dt.timedelta(hours=2), now=NOON)

    assert earlier.happened_at == NOON - dt.timedelta(hours=2)
    assert ahead.happened_at == NOON


def test_the_same_key_twice_keeps_one(pot, red, who):
    key = uuid.uuid4()

    first = keep_line(pot=pot, key=key, typed="5 ml red, heat on", who=who)
    again = keep_line(pot=pot, key=key, typed="5 ml red, heat on", who=who)

    assert [entry.pk for entry in again] == [entry.pk for entry in first]
    assert LogEntry.objects.filter(pot=pot).count() == 2
    assert in_store(red.lot) == 495_000


def test_what_the_book_lacks_is_found_at_the_pot_and_nothing_is_refused(pot, red, who):
    keep(pot, "800 ml red 1%", who)

    assert in_store(red.lot) == 0
    found = Line.objects.get(lot=red.lot, from_place__code="count_difference")
    assert found.quantity == 300_000
    assert what_is_in(pot).dyes[0].stock_microlitres == 800_000


def test_a_strength_that_no_bottle_has_is_a_bottle_found_at_the_pot(pot, red, who):
    (entry,) = keep(pot, "5 ml red 2%", who)

    assert entry.bottle is not None
    assert entry.bottle != red
    assert entry.bottle.strength_mg_per_litre == 20_000
    assert used_up(entry.bottle.lot) == 5_000
    assert in_store(red.lot) == 500_000


def test_two_strengths_on_the_bench_are_asked_about_and_no_dye_is_reckoned_until_it_is_told(pot, red, who):
    factories.bottle(jar=red.jar, strength_mg_per_litre=1_000, who=who)

    (entry,) = keep(pot, "5 ml red", who)

    assert entry.question == "Red is here at 0.1 % and 1 %: which bottle was it?"
    assert entry.microlitres == 5_000
    assert what_is_in(pot).dyes == []
    assert [each.pk for each in what_is_in(pot).unweighed] == [entry.pk]


def test_a_name_that_is_not_in_the_store_is_kept_with_its_amount_and_asked_about(pot, who):
    factories.dye("Red")

    (entry,) = keep(pot, "12,5 ml teal 1%", who)

    assert entry.question == "Teal is not in the store: which dye is it?"
    assert (entry.name, entry.microlitres, entry.strength_mg_per_litre) == ("teal", 12_500, 10_000)
    assert entry.dye is None
    assert [each.pk for each in what_is_in(pot).unlinked] == [entry.pk]


def test_a_name_nearly_spelled_so_is_asked_about_and_never_taken(pot, who):
    violet = factories.dye("Violet")
    factories.jar(dye=violet, who=who)

    (entry,) = keep(pot, "0.37 g voilet", who)

    assert entry.dye is None
    assert "Violet" in entry.question
    assert entry.milligrams == 370


def test_linking_a_name_later_posts_the_use_then(pot, who):
    (entry,) = keep(pot, "12,5 ml teal 1%", who)
    teal = factories.bottle(jar=factories.jar(dye=factories.dye("Sea teal"), who=who), who=who)

    linked = correct(entry=entry, key=uuid.uuid4(), who=who, dye=teal.dye)

    assert linked.question == ""
    assert linked.bottle == teal
    assert linked.corrects == entry
    assert in_store(teal.lot) == 487_500
    assert what_is_in(pot).unlinked == []


def test_powder_comes_from_the_one_open_jar_and_two_weighings_give_its_amount(pot, who):
    jar = factories.jar(dye=factories.dye("Violet"), grams=25, who=who)

    (entry,) = keep(pot, "jar 25.43 25.06 violet", who)

    assert (entry.jar, entry.milligrams) == (jar, 370)
    assert (entry.jar_before_milligrams, entry.jar_after_milligrams) == (25_430, 25_060)
    assert in_store(jar.lot) == 24_630


def test_two_open_jars_of_a_dye_are_asked_about(pot, who):
    violet = factories.dye("Violet")
    old = factories.jar(dye=violet, label="A", who=who)
    new = factories.jar(dye=violet, label="B", who=who)

    (entry,) = keep(pot, "0.37 g violet", who)
    assert entry.jar is None
    assert entry.question == "More than one jar of Violet is open, A and B: which one was it?"
    assert (used_up(old.lot), used_up(new.lot)) == (0, 0)

    answered = correct(entry=entry, key=uuid.uuid4(), who=who, jar=new)
    assert answered.question == ""
    assert (used_up(old.lot), used_up(new.lot)) == (0, 370)


def test_a_dye_without_a_jar_gets_one_found_at_the_pot(pot, who):
    violet = factories.dye("Violet")

    (entry,) = keep(pot, "0.37 g violet", who)

    assert Jar.objects.get(dye=violet).label == "found at the pot"
    assert used_up(entry.jar.lot) == 370


def test_an_auxiliary_leaves_the_store_in_its_own_measure(pot, who):
    vinegar = factories.auxiliary(amount=1_000_000, who=who)

    keep(pot, "20 ml vinegar", who)

    assert in_store(vinegar.lot) == 980_000


def test_a_solution_of_what_is_kept_as_powder_is_asked_about_and_not_posted(pot, who):
    citric = factories.auxiliary("Citric acid", form="powder", amount=500_000, who=who)

    (entry,) = keep(pot, "20 ml citric acid", who)

    assert entry.question
    assert in_store(citric.lot) == 500_000


def test_a_pinch_is_kept_as_typed_and_never_turned_into_grams(pot, who):
    black = factories.jar(dye=factories.dye("Black"), who=who)

    (entry,) = keep(pot, "3 pinches of black on top", who)

    assert (entry.milligrams, entry.as_typed) == (None, "3 pinches")
    assert used_up(black.lot) == 0


def test_same_again_repeats_the_last_addition_and_is_a_note_where_there_is_none(pot, red, who):
    (nothing,) = keep(pot, "same again", who)
    assert nothing.kind == "note"
    assert nothing.question

    keep(pot, "5 ml red", who)
    (again,) = keep(pot, "same again", who)
    assert (again.kind, again.microlitres, again.bottle, again.typed) == ("stock", 5_000, red, "same again")


def test_a_struck_entry_stays_counts_for_nothing_and_gives_its_stock_back(pot, red, who):
    (entry,) = keep(pot, "5 ml red", who)

    struck = strike(entry=entry, key=uuid.uuid4(), who=who)

    entry.refresh_from_db()
    assert entry.struck_by == struck
    assert what_is_in(pot).dyes == []
    assert in_store(red.lot) == 500_000


def test_two_people_striking_the_same_entry_strike_it_once(pot, red, who):
    (entry,) = keep(pot, "5 ml red", who)

    first = strike(entry=entry, key=uuid.uuid4(), who=who)
    second = strike(entry=entry, key=uuid.uuid4(), who=factories.HelperFactory())

    assert first.pk == second.pk
    assert in_store(red.lot) == 500_000


def test_striking_what_was_found_takes_the_finding_back_too(pot, red, who):
    (entry,) = keep(pot, "800 ml red", who)

    strike(entry=entry, key=uuid.uuid4(), who=who)

    assert in_store(red.lot) == 500_000


def test_a_strike_cannot_be_struck_but_the_entry_can_be_put_back(pot, red, who):
    (entry,) = keep(pot, "5 ml red", who)
    struck = strike(entry=entry, key=uuid.uuid4(), who=who)

    with pytest.raises(NotAnEntry):
        strike(entry=struck, key=uuid.uuid4(), who=who)
    back = put_back(entry=entry, key=uuid.uuid4(), who=who)

    assert (back.microlitres, back.happened_at) == (5_000, entry.happened_at)
    assert in_store(red.lot) == 495_000
    with pytest.raises(StruckAlready):
        put_back(entry=entry, key=uuid.uuid4(), who=who)


def test_a_correction_strikes_the_old_entry_and_keeps_its_time(pot, red, who):
    (entry,) = keep(pot, "11:00 5 ml red", who, now=NOON)
    key = uuid.uuid4()

    right = correct(entry=entry, key=key, who=who, typed="15 ml red")
    again = correct(entry=entry, key=key, who=who, typed="15 ml red")

    assert right.pk == again.pk
    assert (right.corrects, right.microlitres, right.happened_at) == (entry, 15_000, entry.happened_at)
    assert in_store(red.lot) == 485_000
    with pytest.raises(StruckAlready):
        correct(entry=entry, key=uuid.uuid4(), who=who, typed="20 ml red")


def test_a_correction_with_a_clock_goes_to_that_time_on_the_entrys_own_day(pot, red, who):
    (entry,) = keep(pot, "11:00 5 ml red", who, now=NOON)

    right = correct(entry=entry, key=uuid.uuid4(), who=who, typed="14:35 5 ml red")

    assert right.happened_at == NOON.replace(hour=14, minute=35)


def test_an_empty_line_is_refused_with_what_would_be_right(pot, who):
    with pytest.raises(NothingTyped, match="5 ml red"):
        keep(pot, " \t ", who)
    assert not LogEntry.objects.exists()


def test_nothing_goes_into_a_pot_that_is_not_loaded(who):
    planned = factories.planned_pot(who=who)

    with pytest.raises(NotLoaded, match="Load it first"):
        keep(planned, "5 ml red", who)


def test_a_late_entry_for_a_pot_that_is_out_is_still_kept(pot, red, who):
    Pot.objects.filter(pk=pot.pk).update(out_at=None)
    from recipes.lots.finishing import out_of_pot

    out_of_pot(key=uuid.uuid4(), pot=pot, bath="clear", who=who)

    (entry,) = keep(pot, "5 ml red", who)

    assert entry.pot == pot


def test_control_characters_and_very_long_lines_are_kept_without_an_error(pot, who):
    (odd,) = keep(pot, "5 ml\x00red\x07", who)
    assert "\x00" not in odd.typed

    long = keep(pot, "stirred " * 200, who)
    assert "".join(entry.text for entry in long).replace(" ", "") == "stirred" * 200
    assert all(entry.question for entry in long)


def test_quick_entries_need_an_amount_and_a_lighter_jar(pot, red, who):
    with pytest.raises(NotAnEntry, match="more than nothing"):
        add_entry(pot=pot, key=uuid.uuid4(), kind="stock", who=who, happened_at=NOON, bottle=red)
    with pytest.raises(NotAnEntry, match="not lighter"):
        add_entry(
            pot=pot,
            key=uuid.uuid4(),
            kind="powder",
            who=who,
            happened_at=NOON,
            jar=red.jar,
            jar_before_milligrams=25_000,
            jar_after_milligrams=25_100,
        )
    assert not LogEntry.objects.exists()


def test_the_log_is_only_ever_added_to(pot, red, who):
    (entry,) = keep(pot, "5 ml red", who)

    for statement in (
        "UPDATE lots_logentry SET microlitres = 6000 WHERE id = %s",
        "DELETE FROM lots_logentry WHERE id = %s",
    ):
        with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement, [entry.pk])
    entry.refresh_from_db()
    assert entry.microlitres == 5_000


EXAMPLES = Path(__file__).parents[1] / "dyeing" / "pot_lines.jsonl"


def test_every_example_line_is_kept_with_the_amounts_it_names(pot, who):
    for line in EXAMPLES.read_text(encoding="utf-8").splitlines():
        if not line.startswith("{") or "typed" not in line:
            continue
        example = json.loads(line)
        wanted = example["read"] if isinstance(example["read"], list) else [example["read"]]
        if wanted[0]["kind"] == "repeat":
            continue

        entries = keep(pot, example["typed"], who, now=NOON)

        assert [entry.kind for entry in entries] == [each["kind"] for each in wanted], example["typed"]
        for entry, each in zip(entries, wanted, strict=True):
            assert entry.microlitres == each.get("microlitres"), example["typed"]
            assert entry.milligrams == each.get("milligrams"), example["typed"]
            if "strength_percent" in each:
                assert entry.strength_mg_per_litre == int(Decimal(each["strength_percent"]) * 10_000)


def test_who_and_when_are_kept_on_each_entry(pot, red, who):
    before = timezone.now()
    (entry,) = keep(pot, "heat on low", who)

    assert entry.who == who
    assert entry.recorded_at >= before
    assert (entry.heat_on, entry.heat_level) == (True, "low")
