"""The temperature programme that a log shows, and what may fill its gaps."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recipes.dyeing.programme import (
    NO_COOLING,
    NO_HOLD,
    NO_RISE,
    NO_TEMPERATURES,
    Logged,
    hob_minutes,
    programme_from_log,
    programme_to_follow,
)
from recipes.dyeing.temperatures import StepKind, default_programme, temperature_cap

SUPERWASH = temperature_cap(["wool"], True)
LEVELLING = default_programme("levelling", "wool", True)


def outline(programme):
    """Kind, end temperature in °C and minutes of each step."""
    return [
        (
            step.kind.value,
            None if step.to_centi_celsius is None else step.to_centi_celsius / 100,
            None if step.minutes is None else float(step.minutes),
        )
        for step in programme.steps
    ]


def test_a_full_log_gives_start_rise_hold_and_cooling():
    programme = programme_from_log(
        [
            Logged(0, 2000),
            Logged(0, heat_on=True),
            Logged(20, 5000),
            Logged(45, 8500),
            Logged(60, 8600),
            Logged(75, 8400),
            Logged(80, heat_on=False),
            Logged(200, 4000),
        ]
    )

    assert outline(programme)[1:] == [("rise", 85, 45), ("hold", 85, 35), ("cool", 40, 120)]
    assert programme.gaps == ()
    assert programme.hold.minutes == 35


def test_readings_every_two_minutes_are_one_rise_and_one_hold():
    rise = [Logged(2 * index, 2000 + 200 * index) for index in range(33)]
    hold = [Logged(64 + 5 * index, 8400 + 100 * (index % 2)) for index in range(1, 7)]

    programme = programme_from_log(rise + hold)

    assert [kind for kind, _, _ in outline(programme)] == ["start", "rise", "hold"]
    assert programme.rises[0].centi_celsius_per_minute == 100


def test_a_bath_that_stood_before_the_heat_is_a_start_with_minutes():
    programme = programme_from_log([Logged(0, 4000), Logged(20, heat_on=True), Logged(60, 8500)])

    assert outline(programme) == [("start", 40, 20), ("rise", 85, 40)]


def test_turning_up_a_hob_that_was_on_is_no_second_start():
    programme = programme_from_log(
        [Logged(0, 2000), Logged(0, heat_on=True), Logged(20, heat_on=True), Logged(40, 8000)]
    )

    assert outline(programme) == [("start", 20, None), ("rise", 80, 40)]


def test_two_holds_stay_two():
    programme = programme_from_log(
        [Logged(0, 2000), Logged(20, 6000), Logged(40, 6000), Logged(60, 9000), Logged(90, 9000)]
    )

    assert outline(programme)[1:] == [("rise", 60, 20), ("hold", 60, 20), ("rise", 90, 20), ("hold", 90, 30)]
    assert programme.hold.to_centi_celsius == 9000


def test_heat_off_at_the_top_ends_the_hold():
    programme = programme_from_log([Logged(0, 2000), Logged(40, 9000), Logged(70, heat_on=False)])

    assert outline(programme)[-1] == ("hold", 90, 30)


def test_of_two_readings_in_one_minute_the_later_counts():
    programme = programme_from_log([Logged(0, 2000), Logged(30, 5800), Logged(30, 8500)])

    assert outline(programme)[-1] == ("rise", 85, 30)


@pytest.mark.parametrize(
    ("entries", "gaps"),
    [
        ([], (NO_TEMPERATURES,)),
        ([Logged(0, heat_on=True)], (NO_TEMPERATURES,)),
        ([Logged(30, 8500)], (NO_RISE, NO_HOLD, NO_COOLING)),
        ([Logged(0, 2000), Logged(45, 8500)], (NO_HOLD, NO_COOLING)),
        ([Logged(0, 2000), Logged(45, 8500), Logged(75, 8500)], (NO_COOLING,)),
    ],
)
def test_what_a_log_does_not_tell_is_named(entries, gaps):
    assert programme_from_log(entries).gaps == gaps


def test_only_gaps_are_filled_from_the_table_and_that_is_said():
    followed = programme_to_follow([Logged(0, 2000), Logged(45, 8500)], default=LEVELLING, cap=SUPERWASH)

    assert [step.from_table for step in followed.steps] == [False, False, True, True]
    assert outline(followed)[:3] == [("start", 20, None), ("rise", 85, 45), ("hold", 85, 20)]
    assert "published table" in followed.notes[0]


def test_a_full_log_is_followed_without_a_table():
    entries = [Logged(0, 2000), Logged(45, 8500), Logged(80, 8500), Logged(200, 4000)]
    followed = programme_to_follow(entries, default=LEVELLING, cap=SUPERWASH)

    assert followed.steps == programme_from_log(entries).steps
    assert followed.notes == ()


def test_a_filled_step_is_capped_by_the_fibre_and_a_hotter_log_is_remarked_on():
    followed = programme_to_follow([Logged(0, 2000), Logged(45, 9700)], default=LEVELLING, cap=SUPERWASH)

    assert outline(followed)[1] == ("rise", 97, 45)
    assert followed.hold.to_centi_celsius == 9000
    assert followed.notes[0].startswith("The log went to 97 °C, above 90 °C.")


def test_without_any_temperature_the_table_stands_alone():
    followed = programme_to_follow([], default=LEVELLING, cap=SUPERWASH)

    assert followed.steps == LEVELLING.steps
    assert followed.notes == LEVELLING.notes


def test_without_a_table_the_gaps_stay_open():
    followed = programme_to_follow([Logged(0, 2000), Logged(45, 8500)])

    assert followed.gaps == (NO_HOLD, NO_COOLING)
    assert len(followed.steps) == 2


def test_a_log_that_never_gets_hot_is_finished_by_the_table():
    followed = programme_to_follow([Logged(0, 2000)], default=LEVELLING, cap=SUPERWASH)

    assert [kind for kind, _, _ in outline(followed)] == ["start", "rise", "hold", "cool"]
    assert followed.hold.to_centi_celsius == 9000


def test_a_hob_too_weak_for_the_reference_rise_is_named():
    # 40 L from 20 to 95 °C on 3.0 kW at 84 % take 83 min; source: heat balance, US DOE cooktop tests as quoted.
    programme = programme_from_log([Logged(0, 2000), Logged(45, 9500), Logged(75, 9500)])

    (rise,) = hob_minutes(programme, bath_microlitres=40_000_000, hob_watts=3000, efficiency_percent=84)

    assert rise.too_slow
    assert round(rise.needed.value) == 83
    assert rise.sentence == (
        "From 20 °C to 95 °C this hob needs 1 h 23 min, and the programme rises in 45 min: it will be slower than that."
    )


def test_a_hob_with_power_to_spare_is_turned_down():
    (rise,) = hob_minutes(LEVELLING, bath_microlitres=5_000_000, hob_watts=3000)

    assert not rise.too_slow
    assert "turn it down" in rise.sentence


entries = st.lists(
    st.builds(
        Logged,
        minute=st.integers(min_value=0, max_value=600),
        centi_celsius=st.none() | st.integers(min_value=-500, max_value=10_500),
        heat_on=st.none() | st.booleans(),
    ),
    max_size=25,
)


@given(entries)
def test_any_log_gives_a_programme_that_hangs_together(log):
    programme = programme_to_follow(log, default=LEVELLING, cap=SUPERWASH)

    hottest = max((entry.centi_celsius for entry in log if entry.centi_celsius is not None), default=0)
    for step in programme.steps:
        assert step.minutes is None or step.minutes > 0
        if step.from_table and step.to_centi_celsius is not None:
            assert step.to_centi_celsius <= max(SUPERWASH.centi_celsius, hottest)
        if step.kind is StepKind.RISE:
            assert step.from_centi_celsius <= step.to_centi_celsius


@given(entries)
def test_the_steps_of_a_log_take_no_longer_than_the_log(log):
    programme = programme_from_log(log)
    minutes = sum((step.minutes for step in programme.steps if step.minutes is not None), Fraction(0))

    assert minutes <= max((entry.minute for entry in log), default=0)


def test_a_very_long_log_is_read():
    log = [Logged(minute, 2000 if minute % 2 else 9000) for minute in range(600)]

    assert len(programme_from_log(log).steps) == 600
