"""Lead time, closed weeks, reorder-by dates and packs. The worked examples are counted by hand on a calendar: common practice, no source."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.allocation.reorder import (
    AlwaysClosed,
    Closed,
    Coming,
    Due,
    Gap,
    Habits,
    PriceFrom,
    Supply,
    arrives_on,
    cheaper_above,
    order_by,
    price_of_pack,
    reorder,
)

AUGUST = Closed(dt.date(2025, 8, 1), dt.date(2025, 8, 21), every_year=True)
NEW_YEAR = Closed(dt.date(2025, 12, 24), dt.date(2026, 1, 2), every_year=True)


def test_a_mill_closed_for_three_weeks_in_august_counted_by_hand():
    # Ordered 14 July 2027, 42 days: 17 days to 31 July, closed 1-21 August, the other 25 days from 22 August to 15 September.
    comes = arrives_on(ordered=dt.date(2027, 7, 14), lead_days=42, closed=[AUGUST])
    assert comes.value == dt.date(2027, 9, 15)
    assert comes.working.substitution == "14 July 2027 + 42 days + 21 days closed"
    # Needed on 15 September: the way back ends on 14 July.
    assert order_by(needed=dt.date(2027, 9, 15), lead_days=42, closed=[AUGUST]).value == dt.date(2027, 7, 14)
    # Needed in the middle of the closed weeks: it must come on 31 July, 42 days after 19 June.
    assert order_by(needed=dt.date(2027, 8, 10), lead_days=42, closed=[AUGUST]).value == dt.date(2027, 6, 19)
    # Without closed weeks 14 July and 42 days are 25 August.
    assert arrives_on(ordered=dt.date(2027, 7, 14), lead_days=42).value == dt.date(2027, 8, 25)


def test_closed_weeks_over_the_turn_of_the_year_repeat():
    # Ordered 20 December 2027, 7 days: 21 to 23 December are three, closed to 2 January, then 3 to 6 January.
    assert arrives_on(ordered=dt.date(2027, 12, 20), lead_days=7, closed=[NEW_YEAR]).value == dt.date(
        2028, 1, 6
    )
    # At the door the same day, and that day is closed: the first day after.
    assert arrives_on(ordered=dt.date(2027, 12, 30), lead_days=0, closed=[NEW_YEAR]).value == dt.date(
        2028, 1, 3
    )
    leap = Closed(dt.date(2024, 2, 29), dt.date(2024, 3, 2), every_year=True)
    assert [leap.covers(dt.date(2027, 2, 28)), leap.covers(dt.date(2027, 3, 3))] == [True, False]
    with pytest.raises(AlwaysClosed):
        arrives_on(
            ordered=dt.date(2027, 1, 1),
            lead_days=1,
            closed=[Closed(dt.date(2026, 1, 1), dt.date(2040, 1, 1))],
        )


def test_a_base_that_runs_out_worked_by_hand():
    """30 on hand, 10 used a week, 20 promised for day 7: 30 − 20 − 10 = 0 is left at the end of day 7.

    With no reserve the first day below zero is day 8 (30 − 20 − 80/7 is below zero). Lead time 5 days: order by day 3.
    An order on day 3 comes on day 8 and is to last two weeks, to day 22: 20 + 220/7 − 30 lacks 21 and three sevenths,
    so 22 pieces, three packs of ten.
    """
    today = dt.date(2027, 3, 1)
    said = reorder(
        today=today,
        on_hand=30,
        coming=[],
        due=[Due(dt.date(2027, 3, 8), 20)],
        habits=Habits(used=130, look_back_weeks=13, cover_weeks=2),
        supply=Supply(lead_days=5, pack_quantity=10),
    )
    assert said.use_a_week.value == 10
    assert said.runs_out.value == dt.date(2027, 3, 9)
    assert said.order_by.value == dt.date(2027, 3, 4)
    assert said.arrives.value == dt.date(2027, 3, 9)
    assert (said.needed.value, said.packs.value) == (22, 3)
    assert said.packs.working.result == "3 packs, 30 pieces"
    assert said.days_left(today) == 3
    # Dyed out of the usual use, the 20 count only while they are more than it: 30 last 21 days, day 22 is the first short.
    out_of_it = reorder(
        today=today,
        on_hand=30,
        coming=[],
        due=[Due(dt.date(2027, 3, 8), 20)],
        habits=Habits(used=130, look_back_weeks=13, cover_weeks=2, promised_on_top=False),
        supply=Supply(lead_days=5, pack_quantity=10),
    )
    assert out_of_it.runs_out.value == dt.date(2027, 3, 23)


def test_what_is_on_order_fills_a_gap_that_no_new_order_could():
    today = dt.date(2027, 3, 1)
    said = reorder(
        today=today,
        on_hand=0,
        coming=[Coming(dt.date(2027, 3, 10), 50)],
        due=[Due(dt.date(2027, 3, 5), 20)],
        habits=Habits(used=0, look_back_weeks=13),
        supply=Supply(lead_days=30, pack_quantity=10),
    )
    assert (said.runs_out, said.packs) == (None, None)
    assert said.gap == Gap(dt.date(2027, 3, 5), dt.date(2027, 3, 10))


def test_price_breaks_are_named_and_reached():
    # 680 a pack, 640 from 10, 600 from 20: eighteen cost 18 × 640 = 11,520, twenty cost 12,000.
    breaks = [PriceFrom(10, 640), PriceFrom(20, 600)]
    assert [price_of_pack(packs, 680, breaks) for packs in (9, 10, 25)] == [680, 640, 600]
    above = cheaper_above(18, 680, breaks)
    assert [(each.more_packs, each.total_minor, each.costs_less) for each in above] == [(2, 12_000, False)]
    assert cheaper_above(19, 680, breaks)[0].costs_less  # 19 × 640 = 12,160
    assert cheaper_above(5, None, []) == []


days = st.integers(-20, 300).map(lambda ahead: dt.date(2027, 3, 1) + dt.timedelta(days=ahead))
closings = st.lists(
    st.builds(
        lambda first, length, yearly: Closed(first, first + dt.timedelta(days=length), yearly),
        days,
        st.integers(0, 40),
        st.booleans(),
    ),
    max_size=2,
)


@given(days, st.integers(0, 150), closings)
@settings(max_examples=100, deadline=None)
def test_an_order_by_its_last_day_comes_in_time_and_one_a_day_later_does_not(needed, lead, closed):
    last = order_by(needed=needed, lead_days=lead, closed=closed).value
    assert last <= needed - dt.timedelta(days=lead)
    assert arrives_on(ordered=last, lead_days=lead, closed=closed).value <= needed
    after = arrives_on(ordered=last + dt.timedelta(days=1), lead_days=lead, closed=closed).value
    assert after > needed


def by_hand(said_on, *, on_hand, coming, due, habits, today):
    """What is left on a day, summed afresh with fractions."""
    came = sum(each.quantity for each in coming if each.day <= said_on)
    promised = sum(each.quantity for each in due if each.day is None or each.day <= said_on)
    used = Fraction(habits.used * (said_on - today).days, 7 * habits.look_back_weeks)
    wanted = promised + used if habits.promised_on_top else max(Fraction(promised), used)
    return on_hand + came - wanted


@given(
    st.integers(0, 200),
    st.lists(st.builds(Coming, days, st.integers(1, 80)), max_size=3),
    st.lists(st.builds(Due, st.none() | days, st.integers(1, 80)), max_size=4),
    st.builds(
        Habits, st.integers(0, 300), st.integers(1, 26), st.integers(0, 4), st.integers(1, 8), st.booleans()
    ),
    st.builds(Supply, st.integers(0, 150), st.integers(1, 50), closings.map(tuple)),
)
@settings(max_examples=80, deadline=None)
def test_the_amount_lasts_and_is_less_than_a_pack_too_much(on_hand, coming, due, habits, supply):
    today = dt.date(2027, 3, 1)
    book = {"on_hand": on_hand, "coming": coming, "due": due, "habits": habits, "today": today}
    said = reorder(**{**book, "supply": supply})
    reserve = Fraction(habits.used * habits.safety_weeks, habits.look_back_weeks)
    if said.order_by is None:
        soonest = arrives_on(ordered=today, lead_days=supply.lead_days, closed=supply.closed).value
        assert by_hand(soonest, **book) >= reserve
        return
    assert said.order_by.value <= said.runs_out.value - dt.timedelta(days=supply.lead_days)
    assert by_hand(said.runs_out.value, **book) < reserve
    packs, pack = said.packs.value, supply.pack_quantity
    assert (packs - 1) * pack < said.needed.value <= packs * pack
    last = max(said.arrives.value, said.runs_out.value) + dt.timedelta(weeks=habits.cover_weeks)
    day = said.arrives.value
    while day <= last:
        assert by_hand(day, **book) + packs * pack >= reserve
        day += dt.timedelta(days=7)
