"""Which load on which session, and what a lost day changes: worked examples, properties, and trying everything."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction
from itertools import product

from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.allocation.calendar import needed_against_there, plan_weeks
from inventory.allocation.lost_day import Lost, plan_with_losses, weeks_left, what_changes
from inventory.allocation.sessions import (
    NO_DAY,
    Hanging,
    House,
    Job,
    Session,
    Weeks,
    backlog_weeks,
    loads_a_session,
    sessions_between,
)

MONDAY = dt.date(2026, 3, 2)


def day(after: int) -> dt.date:
    return MONDAY + dt.timedelta(days=after)


def weeks(*loads_on: tuple[int, int], **limits) -> Weeks:
    hanging = limits.pop("hanging", ())
    return Weeks(MONDAY, tuple(Session(day(on), loads) for on, loads in loads_on), House(**limits), hanging)


def days_of(plan) -> dict[str, int]:
    return {key: (on - MONDAY).days for key, on in plan.standing.items()}


def test_loads_stand_on_the_last_session_that_still_dries_in_time():
    """Two days to dry: what ships on day 10 is dyed on day 8 at the latest, here on the session of day 7."""
    here = weeks((0, 2), (2, 2), (5, 2), (7, 2), (9, 2))
    loads = [
        Job("a", 5, day(10)),
        Job("b", 5, day(10)),
        Job("c", 5, day(10)),
        Job("d", 5, day(30)),
        Job("e", 5),
    ]

    plan = plan_weeks(weeks=here, loads=loads)

    # Three for day 10: two on day 7 and one on day 5; without a day the first place that is free.
    assert days_of(plan) == {"a": 5, "b": 7, "c": 7, "d": 9, "e": 0}
    assert plan.most_late == plan.least_late == 0
    assert [
        (each.due, each.loads_so_far, each.places, each.short)
        for each in needed_against_there(weeks=here, loads=loads)
    ] == [
        (day(10), 3, 8, 0),
        (day(30), 4, 10, 0),
    ]


def test_what_cannot_be_in_time_is_late_by_as_little_as_can_be_and_named():
    here = weeks((0, 1), (1, 1), (2, 1))

    plan = plan_weeks(weeks=here, loads=[Job("a", 5, day(2)), Job("b", 5, day(2)), Job("c", 5, day(3))])

    assert [(each.job.key, each.day, each.ready_on, each.late_days) for each in plan.late] == [
        ("b", day(1), day(3), 1),
        ("c", day(2), day(4), 1),
    ]
    assert plan.as_good_as_can_be

    no_room = plan_weeks(weeks=here, loads=[Job(key, 5, day(9)) for key in "abcd"])
    assert [(each.job.key, each.why) for each in no_room.not_placed] == [
        ("d", "No session that is planned has room for it.")
    ]


def test_racks_season_soaking_and_finishing_are_kept():
    """Ten pieces hang at once and dry in two days, so a second load of six waits until the first is dry."""
    here = weeks(*((on, 4) for on in range(8)), rack_pieces=10)
    plan = plan_weeks(weeks=here, loads=[Job("a", 6, day(2)), Job("b", 6, day(2)), Job("c", 11, day(2))])
    assert days_of(plan) == {"a": 0, "b": 2}
    assert plan.late[0].late_days == plan.least_late == 2
    assert plan.not_placed[0].why == "The racks take 10 pieces at once, and this load has 11."

    # Four days in winter, one in summer; a load hung on the last day of June dries a quarter there and the rest on 1 July.
    seasons = Weeks(dt.date(2026, 6, 1), (), House(drying_days=(4,) * 6 + (1,) * 6))
    assert seasons.dry_on(dt.date(2026, 6, 1)) == dt.date(2026, 6, 5)
    assert seasons.dry_on(dt.date(2026, 6, 30)) == dt.date(2026, 7, 2)
    assert seasons.dry_on(dt.date(2026, 7, 1)) == dt.date(2026, 7, 2)

    # What soaks overnight is not dyed today.
    soaked = plan_weeks(weeks=weeks((0, 1), (1, 1)), loads=[Job("a", 5, day(1), soak_days=1)])
    assert (days_of(soaked), soaked.placed[0].soak_on) == ({"a": 1}, day(0))

    # Eight pieces a session are finished: the five that are dry already first, then the ten of the load over two sessions.
    rate = weeks(
        *((on, 1) for on in range(6)), finishing_pieces=8, hanging=(Hanging("old", 5, day(0), day(1)),)
    )
    plan = plan_weeks(weeks=rate, loads=[Job("a", 10, day(3))])
    assert (plan.placed[0].day, plan.placed[0].ready_on, plan.hanging_late) == (day(0), day(3), {})


def test_a_lost_saturday_moves_no_more_than_it_must_and_taken_back_it_was_never_there():
    here = weeks((0, 2), (3, 2), (5, 2), (7, 2))
    loads = [
        Job("a", 5, day(7)),
        Job("b", 5, day(7)),
        Job("c", 5, day(9)),
        Job("d", 5, day(9), pinned=day(5)),
        Job("e", 5, day(9)),
    ]
    before = plan_with_losses(weeks=here, loads=loads, losses=[])
    assert days_of(before) == {"a": 3, "b": 5, "c": 7, "d": 5, "e": 7}

    now = plan_with_losses(weeks=here, loads=loads, losses=[Lost(day(5))])
    change = what_changes(before, now)

    # The pinned pot stays on its lost day and is named; the other goes where there is room in time.
    assert [(each.job.key, each.before, each.to) for each in change.moved] == [("b", day(5), day(3))]
    assert (change.late, [each.job.key for each in change.stays]) == ((), ["d"])
    assert plan_with_losses(weeks=here, loads=loads, losses=[]) == before

    # Two lost days leave too few places: what becomes late is named, and by how much.
    longer = weeks((0, 2), (3, 2), (5, 2), (7, 2), (9, 2))
    assert plan_with_losses(weeks=longer, loads=loads, losses=[]).standing == before.standing
    tight = plan_with_losses(weeks=longer, loads=loads, losses=[Lost(day(3)), Lost(day(0))])
    # Of a and b, which are due on one day, the one waits that has to move anyway.
    assert days_of(tight) == {"a": 7, "b": 5, "c": 7, "d": 5, "e": 9}
    assert [(each.key, each.days_before, each.days_now) for each in what_changes(before, tight).late] == [
        ("a", 0, 2),
        ("e", 0, 2),
    ]


def test_a_load_makes_room_for_one_that_is_more_urgent():
    """Only x is due soon and only the first session dries in time for it; y, which stands there, has time."""
    here = weeks((0, 1), (1, 1), (3, 1))
    loads = [Job("x", 5, day(3)), Job("y", 5, day(5)), Job("w", 5, day(2))]
    before = plan_with_losses(weeks=here, loads=loads, losses=[])
    assert days_of(before) == {"w": 0, "x": 1, "y": 3}

    now = plan_with_losses(weeks=here, loads=loads[:2], losses=[Lost(day(1))])
    assert days_of(now) == {"x": 0, "y": 3}


def test_what_really_came_out_sets_the_pace():
    assert loads_a_session([5, 4, 1, 5, 4, 6]).value == 4
    assert loads_a_session([]) is None
    backlog = backlog_weeks(loads=83, pots_out=60, weeks=8)
    assert backlog.value == Fraction(83 * 8, 60)
    assert backlog_weeks(loads=83, pots_out=0, weeks=8) is None
    sessions = sessions_between(
        first=MONDAY, last=day(6), weekdays=(1, 3, 5), loads=4, own={day(3): 2, day(6): 1}
    )
    assert [(each.day, each.loads) for each in sessions] == [
        (day(1), 4),
        (day(3), 2),
        (day(5), 4),
        (day(6), 1),
    ]


# --- Properties -------------------------------------------------------------------------------------------------------

jobs = st.lists(
    st.tuples(
        st.integers(1, 6), st.none() | st.integers(1, 12), st.integers(0, 1), st.none() | st.integers(0, 9)
    ),
    min_size=1,
    max_size=9,
).map(
    lambda rows: [
        Job(
            f"l{at}",
            pieces,
            None if due is None else day(due),
            soak,
            # One in three at most is pinned, so that plans stay plans.
            day(pinned) if pinned is not None and at % 3 == 0 else None,
        )
        for at, (pieces, due, soak, pinned) in enumerate(rows)
    ]
)
limits = st.fixed_dictionaries(
    {
        "drying_days": st.tuples(*[st.integers(1, 3)] * 12),
        "rack_pieces": st.none() | st.integers(4, 15),
        "finishing_pieces": st.none() | st.integers(2, 12),
    }
)
calendars = st.dictionaries(st.integers(0, 14), st.integers(0, 3), min_size=1, max_size=8)


def held(here: Weeks, plan, loads) -> None:
    """Every load once or named; no session, rack or soaking broken by what is not pinned."""
    assert sorted(
        [each.job.key for each in plan.placed] + [each.job.key for each in plan.not_placed]
    ) == sorted(job.key for job in loads)
    by_key = {job.key: job for job in loads}
    wet: dict[dt.date, int] = {}
    for each in plan.placed:
        on = each.day
        while on < each.dry_on:
            wet[on] = wet.get(on, 0) + each.job.pieces
            on += dt.timedelta(days=1)
    for each in plan.placed:
        if each.job.pinned:
            assert each.day == each.job.pinned
            continue
        assert len(plan.on(each.day)) <= here.loads_on(each.day) or each.day in plan.overfull
        assert each.soak_on >= here.today
        on = each.day
        while here.house.rack_pieces and on < each.dry_on:
            assert wet[on] <= here.house.rack_pieces
            on += dt.timedelta(days=1)
    assert plan.standing.keys() <= by_key.keys()


@settings(max_examples=80, deadline=None)
@given(calendars, jobs, limits, st.integers(0, 14), st.integers(0, 1))
def test_no_limit_is_ever_broken_and_nothing_could_stand_later(on, loads, limit, lost_on, left):
    here = weeks(*on.items(), **limit)
    plan = plan_weeks(weeks=here, loads=loads)
    held(here, plan, loads)
    assert plan == plan_weeks(weeks=here, loads=list(reversed(loads)))
    if not plan.not_placed and all(job.pinned is None for job in loads):
        assert plan.least_late <= plan.most_late

    lost = Lost(day(lost_on), left)
    smaller = weeks_left(here, [lost])
    now = plan_with_losses(weeks=here, loads=loads, losses=[lost])
    held(smaller, now, loads)
    # What no session is left for is named, not late.
    if not now.not_placed and all(each.ready_on for each in now.placed):
        assert now.least_late >= plan.least_late
    if smaller.sessions == here.sessions:
        assert now == plan
    # What moved alone could not have stayed.
    for moved in what_changes(plan, now).moved:
        if moved.before is not None and moved.to is not None and limit["rack_pieces"] is None:
            full = len(now.on(moved.before)) >= smaller.loads_on(moved.before)
            assert full or moved.job.due is None or limit["finishing_pieces"] is not None


@settings(max_examples=60, deadline=None)
@given(
    st.dictionaries(st.integers(0, 9), st.integers(1, 2), min_size=1, max_size=4),
    st.lists(st.tuples(st.integers(1, 4), st.integers(1, 10), st.integers(0, 1)), min_size=1, max_size=4),
    limits,
    st.booleans(),
    st.integers(0, 3),
)
def test_against_trying_everything(on, rows, limit, bare, lose):
    """Without racks and finishing nothing beats it; with them its bound is true, and where it says best it is."""
    if bare:
        limit = {**limit, "rack_pieces": None, "finishing_pieces": None}
    here = weeks(*on.items(), **limit)
    loads = [Job(f"l{at}", pieces, day(due), soak) for at, (pieces, due, soak) in enumerate(rows)]
    by_key = {job.key: job for job in loads}
    plan = plan_weeks(weeks=here, loads=loads)

    best = min(
        (
            most_late(here, by_key, standing)
            for standing in every_plan(here, loads)
            if most_late(here, by_key, standing) is not None
        ),
        default=None,
    )
    if best is not None:
        assert plan.least_late <= best
    if best is not None and not plan.not_placed and all(each.ready_on for each in plan.placed):
        assert plan.most_late >= best
        if bare or plan.as_good_as_can_be:
            assert plan.most_late == best
        if bare:
            # No single load could stand on a later session with everything else as it is.
            for each in plan.placed:
                for later in here.days:
                    if later > each.day and len(plan.on(later)) < here.loads_on(later):
                        assert here.dry_on(later) > max(each.job.due, each.ready_on)

    lost = Lost(sorted(here.days)[min(lose, len(here.days) - 1)])
    left = weeks_left(here, [lost])
    now = plan_with_losses(weeks=here, loads=loads, losses=[lost])
    if bare and not plan.not_placed and not now.not_placed:
        late = {each.job.key: max(each.ready_on, each.job.due) for each in now.placed}
        fewest = min(
            sum(1 for key, where in standing.items() if where != plan.standing[key])
            for standing in every_plan(left, loads)
            if all(left.dry_on(where) <= late[key] for key, where in standing.items())
        )
        assert len(what_changes(plan, now).moved) == fewest
        assert now.most_late == min(most_late(left, by_key, standing) for standing in every_plan(left, loads))


def every_plan(here: Weeks, loads):
    """Every way to put all loads on sessions within places, racks and soaking."""
    for where in product(here.days, repeat=len(loads)):
        standing = {job.key: on for job, on in zip(loads, where, strict=True)}
        if any(where.count(on) > here.loads_on(on) for on in set(where)):
            continue
        if any(on < here.first_day(job) for job, on in zip(loads, where, strict=True)):
            continue
        wet = here.wet(standing, {job.key: job for job in loads})
        if here.house.rack_pieces and any(pieces > here.house.rack_pieces for pieces in wet.values()):
            continue
        yield standing


def most_late(here: Weeks, by_key, standing) -> int | None:
    ready = here.ready(standing, by_key)
    if NO_DAY in ready.values():
        return None
    return max(max(0, (on - by_key[key].due).days) for key, on in ready.items())
