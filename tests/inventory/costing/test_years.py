"""Closing a year: it stays as it was, later entries count in the next one, and opening and changes always sum to the closing."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.utils import timezone
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from dyehouse.ledger.models import Balance, Place
from dyehouse.ledger.operations import Bucket, Step, post
from dyehouse.ledger.places import fixed_place
from inventory.costing import years
from inventory.costing.models import ClosedRow, ClosedYear
from inventory.costing.worth import CATEGORIES
from inventory.costing.years import CannotClose, close_year, closed_sums, year_until
from tests import factories
from tests.inventory.costing import factories as costs

DAYS = 40


def at(days_ago: int) -> dt.datetime:
    day = timezone.localdate() - dt.timedelta(days=days_ago)
    return timezone.make_aware(dt.datetime.combine(day, dt.time(12)))


def day(days_ago: int) -> dt.date:
    return at(days_ago).date()


def adds_up(sums: years.Sums) -> None:
    for name in CATEGORIES:
        changes = sum(sums[row][name] for row in years.CHANGES)
        assert sums["opening"][name] + changes == sums["closing"][name]
    assert sum(sums["moved"].values()) == 0


def close(days_ago: int, *, who) -> ClosedYear:
    return close_year(key=uuid.uuid4(), ends_on=day(days_ago), who=who)


@pytest.mark.django_db
def test_a_late_entry_and_a_price_put_right_are_told_in_the_new_year_and_the_closed_one_stays():
    factories.studio(currency="EUR")
    owner = factories.OwnerFactory()
    put_up = factories.put_up()
    lot = costs.mill_lot(put_up)
    line = costs.bought(put_up, 10, each=400, mill_lot=lot, at=at(30), who=owner)
    closed = close(20, who=owner)
    sums = closed_sums(closed)
    assert (sums["bought"]["undyed"], sums["closing"]["undyed"]) == (4000, 4000)

    # Two more of the same lot came before the closing and were entered after it; then the invoice of the first is put right.
    late = costs.bought(put_up, 2, mill_lot=lot, at=at(25), who=owner)
    costs.invoice(late, 800, who=owner)
    costs.invoice(line, 4500, who=owner)
    # Twelve for 53.00 are 4.41 2/3 each: two came late, and the ten of the opening cost 4.1667 more.
    year = year_until(day(0))
    assert year.total("opening") == 4000
    assert year.total("late") == 883
    assert year.total("put_right") == 417
    assert year.total("closing") == 5300
    assert [(each.line.pk, each.minor) for each in year.late] == [(late.pk, 883)]
    assert year.unexplained == dict.fromkeys(CATEGORIES, 0)
    adds_up(year.sums)

    again = close(1, who=owner)
    assert closed_sums(closed) == sums
    assert again.before == closed
    assert closed_sums(again)["opening"] == sums["closing"]
    assert sum(row.value_minor for row in ClosedRow.objects.filter(year=again)) == 5300
    assert close_year(key=again.key, ends_on=day(3), who=owner) == again
    for days_ago, words in ((0, "once its last day is over"), (1, "is closed"), (25, "is closed")):
        with pytest.raises(CannotClose, match=words):
            close(days_ago, who=owner)


def what_may_happen(who, put_up, lots, jar):
    """Deeds by name, each of which does something at some moment if it can."""

    def buys(when, number):
        costs.bought(
            put_up,
            3 + number,
            each=300 + 37 * number,
            freight=number,
            mill_lot=lots[number % 3],
            at=when,
            who=who,
        )

    def buys_unpriced(when, number):
        costs.bought(put_up, 2, mill_lot=lots[number % 3], at=when, who=who)

    def dyes(when, number):
        pot = costs.pot_loaded(put_up, 3, lot=lots[number % 3], who=who, at=when)
        costs.kept(pot, f"{1 + number} g red", who=who, now=when)
        if number % 4:
            outcomes = {"good": 1, "second": 1, "bin": 1} if number % 2 else {"good": 2}
            costs.out_and_judged(pot, who=who, at=when + dt.timedelta(days=number), **outcomes)

    def leaves(when, number):
        row = Balance.objects.filter(on_hand__gt=0, item__unit="piece").exclude(place__kind=Place.Kind.POT)
        row = row.order_by("id")[number % max(1, row.count()) :].first()
        if row is not None:
            target = fixed_place(("customer", "written_off", "given_away", "count_difference")[number % 4])
            step = Step(row.item, row.lot, 1, Bucket(row.place), Bucket(target))
            post(key=uuid.uuid4(), who=who, steps=[step], happened_at=when)

    def prices(when, number):
        costs.invoice(costs.arrival(jar.dye.item, jar.lot), 1000 + 100 * number, who=who)

    def closes(when, number):
        closed = years.last_closed()
        if when.date() < timezone.localdate() and (closed is None or when.date() > closed.ends_on):
            close_year(key=uuid.uuid4(), ends_on=when.date(), who=who)

    return {each.__name__: each for each in (buys, buys_unpriced, dyes, leaves, prices, closes)}


class TestAlways(TestCase):
    @settings(max_examples=12, deadline=None)
    @given(
        deeds=st.lists(
            st.tuples(
                st.sampled_from(
                    ("buys", "buys_unpriced", "dyes", "dyes", "leaves", "prices", "closes", "closes")
                ),
                st.integers(1, DAYS),
                st.integers(0, 7),
            ),
            min_size=4,
            max_size=9,
        )
    )
    def test_opening_and_changes_sum_to_the_closing_whatever_is_entered_when(self, deeds):
        factories.studio(currency="EUR")
        who = factories.OwnerFactory()
        put_up = factories.put_up()
        costs.usual_costs(who=who, second_percent=20)
        costs.retail(put_up, 1900, who=who, from_day=dt.date(2024, 1, 1))
        lots = [None, costs.mill_lot(put_up, "M-1"), costs.mill_lot(put_up, "M-2")]
        may = what_may_happen(who, put_up, lots, costs.priced_jar(who=who))
        for name, days_ago, number in deeds:
            may[name](at(days_ago), number)

        year = year_until(timezone.localdate())

        assert year.unexplained == dict.fromkeys(CATEGORIES, 0)
        adds_up(year.sums)
        assert sum(each.minor for each in year.late) == year.total("late")
        assert year.closing.total == year.total("closing")
        closed = years.last_closed()
        while closed is not None:
            sums = closed_sums(closed)
            adds_up(sums)
            rows = ClosedRow.objects.filter(year=closed)
            for name in CATEGORIES:
                assert sum(row.value_minor for row in rows if row.category == name) == sums["closing"][name]
            if closed.before is not None:
                assert closed_sums(closed.before)["closing"] == sums["opening"]
            else:
                assert not any(sums["opening"].values())
            closed = closed.before
