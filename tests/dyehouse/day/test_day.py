"""The day's page at its edges: who sees what of it, and that it takes no longer to read a full house."""

from __future__ import annotations

import datetime as dt
import uuid
from pathlib import Path

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from dyehouse.day import queries
from dyehouse.day.queries import COPY_IS_OLD_AFTER, FOUND_SHOWN, FOUND_SINCE, LOOK_AFTER, LOTS_SHOWN, day_page
from dyehouse.paper.models import PrintRun
from dyehouse.paper.runs import record_run
from dyehouse.running.copies import GoodCopy
from dyehouse.studio.models import User
from recipes.colourways import keep_secret
from recipes.counting import count_in_store
from recipes.lots.log import keep_line
from recipes.lots.models import DyeLot, Photo, Pot
from recipes.lots.photos import add_photo
from tests import factories

pytestmark = pytest.mark.django_db

MOST_QUERIES = 12


@pytest.fixture(autouse=True)
def studio():
    return factories.studio()


@pytest.fixture
def marit():
    return factories.OwnerFactory()


@pytest.fixture
def jonas():
    return factories.HelperFactory()


def page_for(person: User) -> str:
    """The day's page as this person reads it, its white space made single."""
    client = Client()
    client.force_login(person)
    answer = client.get(reverse("day"))
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def say_at(pot: Pot, typed: str, who: User) -> None:
    keep_line(pot=pot, key=uuid.uuid4(), typed=typed, who=who)


def lot_of_age(age: dt.timedelta, who: User, **load) -> DyeLot:
    lot = factories.lot_out(who=who, **load)
    DyeLot.objects.filter(pk=lot.pk).update(made_at=timezone.now() - age)
    return lot


def one_of_everything(who: User) -> None:
    """A pot in work with something found short, a plan, and a lot at each stage to the shelf, one with a photo."""
    pot = factories.loaded_pot(who=who)
    say_at(pot, "heat on low", who)
    dye = factories.dye()
    factories.bottle(jar=factories.jar(dye=dye, who=who), who=who, millilitres=50)
    say_at(pot, f"80 ml {dye.name} 1%", who)
    factories.planned_pot(who=who)
    drying = factories.lot_out(who=who)
    add_photo(
        key=uuid.uuid4(), upload=factories.photo_file(), kind=Photo.Kind.DAYLIGHT, dye_lot=drying, who=who
    )
    lot_of_age(2 * LOOK_AFTER, who)
    factories.judged_lot(who=who)
    factories.shelved_lot(who=who, good=5, second=0)


def copy_made(at: dt.datetime) -> GoodCopy:
    return GoodCopy(made_at=at, folder=Path("2026-11-20"), database_bytes=4096, photos=0)


def test_nobody_reads_the_day_without_signing_in():
    answer = Client().get(reverse("day"))

    assert answer.status_code == 302
    assert answer["Location"].startswith(reverse("sign-in"))


def test_a_helper_in_an_empty_house_is_offered_a_pot_but_no_store_work(jonas):
    page = page_for(jonas)

    assert "The house is ready." in page
    assert reverse("pot-new") in page
    assert reverse("base-new") not in page
    assert reverse("dye-new") not in page


def test_one_base_is_enough_for_the_house_to_be_no_longer_empty(marit):
    assert day_page(user=marit).empty

    factories.base()

    assert not day_page(user=marit).empty
    page = page_for(marit)
    for line in (
        "No pot is in work.",
        "Nothing came out within a day.",
        "Nothing has dried for a day or longer.",
        "All that is judged has its place.",
        "Every good piece has its label.",
    ):
        assert line in page


def test_heat_that_was_put_off_is_said_so_and_no_heat_at_all_too(marit):
    warm = factories.loaded_pot(who=marit)
    say_at(warm, "heat on", marit)
    assert day_page(user=marit).heat_recorded_on == 1

    say_at(warm, "heat off", marit)
    assert day_page(user=marit).heat_recorded_on == 0
    page = page_for(marit)
    assert "heat last recorded off" in page
    assert "heat last recorded on" not in page

    factories.lot_out(pot=warm, who=marit)
    factories.loaded_pot(who=marit)
    assert "no heat recorded" in page_for(marit)


def test_a_planned_pot_is_listed_apart_from_those_in_work(marit):
    planned = factories.planned_pot(who=marit)
    loaded = factories.loaded_pot(who=marit)

    day = day_page(user=marit)

    assert [line.pot for line in day.planned] == [planned]
    assert [line.pot for line in day.in_work] == [loaded]


@pytest.mark.parametrize(
    ("age", "stage"),
    [
        (LOOK_AFTER - dt.timedelta(seconds=1), "drying"),
        (LOOK_AFTER, "to_judge"),
        (LOOK_AFTER + dt.timedelta(seconds=1), "to_judge"),
    ],
)
def test_a_lot_is_to_be_judged_from_the_very_end_of_its_day(marit, age, stage):
    lot = factories.lot_out(who=marit)
    day = day_page(user=marit, now=lot.made_at + age)

    lines = {name: [line.lot for line in getattr(day, name)] for name in ("drying", "to_judge")}
    assert lines == {"drying": [], "to_judge": [], stage: [lot]}


def test_the_lot_that_has_waited_longest_is_judged_first(marit):
    young = lot_of_age(2 * LOOK_AFTER, marit)
    old = lot_of_age(5 * LOOK_AFTER, marit)

    assert [line.lot for line in day_page(user=marit).to_judge] == [old, young]


def test_a_lot_on_its_shelf_waits_for_its_labels_alone_and_then_for_nothing(marit):
    lot, _, _ = factories.shelved_lot(who=marit, good=4, second=0)
    day = day_page(user=marit)
    assert day.to_shelf == []
    assert (day.to_label_pieces, [line.lot for line in day.to_label]) == (4, [lot])

    label = {"kind": PrintRun.Kind.YARN_LABELS, "who": marit, "sheet": "a4-3x8", "payload": {"labels": []}}
    record_run(key=uuid.uuid4(), counts={lot.code: 3}, **label)
    assert [line.lot for line in day_page(user=marit).to_label] == [lot]

    record_run(key=uuid.uuid4(), counts={lot.code: 1}, **label)
    assert day_page(user=marit).to_label == []


def test_what_was_found_short_is_told_for_a_fortnight_and_not_as_a_list_without_end(marit, jonas):
    dye = factories.dye()
    factories.bottle(jar=factories.jar(dye=dye, who=marit), who=marit, millilitres=50)
    pot = factories.loaded_pot(who=marit)
    for _ in range(FOUND_SHOWN + 3):
        say_at(pot, f"60 ml {dye.name} 1%", marit)

    assert len(day_page(user=marit).found) == FOUND_SHOWN
    assert day_page(user=marit, now=timezone.now() + FOUND_SINCE + LOOK_AFTER).found == []
    assert "Count it" in page_for(marit)
    helpers = page_for(jonas)
    assert "Found short" in helpers
    assert "Count it" not in helpers


@pytest.mark.parametrize("counted", [0, 25_000], ids=["agrees", "differs"])
def test_a_count_settles_what_was_found_short_whether_it_agrees_or_not(marit, counted):
    dye = factories.dye()
    bottle = factories.bottle(jar=factories.jar(dye=dye, who=marit), who=marit, millilitres=50)
    say_at(factories.loaded_pot(who=marit), f"60 ml {dye.name} 1%", marit)
    assert len(day_page(user=marit).found) == 1

    count_in_store(
        key=uuid.uuid4(), item=dye.stock_item, lot=bottle.lot, counted=counted, who=marit, why="counted again"
    )

    assert day_page(user=marit).found == []


def test_a_secret_colourway_is_hidden_from_a_helper_wherever_it_is_by_name_photo_and_colours(marit, jonas):
    secret = factories.colourway("Quince Paste", chips=("#c65a27", "#a8421e"))
    factories.loaded_pot(who=marit, colourway=secret)
    lot = factories.lot_out(who=marit, colourway=secret)
    photo = add_photo(
        key=uuid.uuid4(), upload=factories.photo_file(), kind=Photo.Kind.DAYLIGHT, dye_lot=lot, who=marit
    )
    factories.judged_lot(who=marit, colourway=secret)
    keep_secret(colourway=secret, until=timezone.now() + dt.timedelta(days=3))
    signs = ("Quince Paste", "#c65a27", reverse("photo-small", args=[photo.key]))

    owners, helpers = page_for(marit), page_for(jonas)

    assert [sign for sign in signs if sign not in owners] == []
    assert [sign for sign in signs if sign in helpers] == []
    assert lot.code in helpers

    keep_secret(colourway=secret, until=timezone.now() - dt.timedelta(seconds=1))
    assert [sign for sign in signs if sign not in page_for(jonas)] == []


def test_the_notice_of_an_old_copy_goes_when_a_copy_is_fresh(marit, jonas, monkeypatch):
    factories.base()
    now = timezone.now()

    monkeypatch.setattr(queries, "last_good_copy", lambda: copy_made(now))
    assert "good copy of the house" not in page_for(marit)

    monkeypatch.setattr(queries, "last_good_copy", lambda: copy_made(now - COPY_IS_OLD_AFTER - LOOK_AFTER))
    assert "The last good copy of the house was made" in page_for(marit)
    assert "copy of the house" not in page_for(jonas)

    monkeypatch.setattr(queries, "last_good_copy", lambda: None)
    assert "No copy of the house has been made yet." in page_for(marit)
    assert "copy of the house" not in page_for(jonas)


def test_more_lots_than_the_page_lists_are_counted_below_it(marit):
    put_up = factories.put_up(pieces=LOTS_SHOWN + 2, who=marit)
    for _ in range(LOTS_SHOWN + 2):
        factories.lot_out(who=marit, put_up=put_up, pieces=1)

    page = page_for(marit)

    assert f"{LOTS_SHOWN + 2} pieces" in page
    assert "and 2 more lots." in page


@pytest.mark.parametrize("times", [1, 6])
@pytest.mark.parametrize(
    "role",
    [
        "jonas",
        "marit",
    ],
)
def test_the_page_takes_few_queries(role, times, marit, request, django_assert_max_num_queries):
    for _ in range(times):
        one_of_everything(marit)
    client = Client()
    client.force_login(request.getfixturevalue(role))

    with django_assert_max_num_queries(MOST_QUERIES):
        client.get(reverse("day"))


@pytest.mark.parametrize("role", ["jonas", "marit"])
def test_a_fuller_house_takes_no_more_queries(role, marit, request):
    client = Client()
    client.force_login(request.getfixturevalue(role))
    taken = []
    for times in (1, 5):
        for _ in range(times):
            one_of_everything(marit)
        with CaptureQueriesContext(connection) as queries_taken:
            assert client.get(reverse("day")).status_code == 200
        taken.append(len(queries_taken))

    day = day_page(user=request.getfixturevalue(role))
    assert [len(lines) for lines in (day.in_work, day.planned, day.drying, day.to_judge)] == [6] * 4
    assert [len(lines) for lines in (day.to_shelf, day.to_label, day.found)] == [6, 12, 6]
    assert taken[1] <= taken[0]
