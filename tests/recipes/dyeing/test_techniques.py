"""Techniques in words; the words are the trade's own (the project's list of trade words), the rest is arithmetic."""

from __future__ import annotations

import pytest

from recipes.dyeing.techniques import SLUGS, TECHNIQUES, format_seconds, on_section, technique_words


def test_every_technique_has_a_slug_that_the_log_can_keep() -> None:
    assert len(set(SLUGS)) == len(TECHNIQUES)
    assert all(len(slug) <= 16 for slug in SLUGS)


@pytest.mark.parametrize(
    ("slug", "details", "words"),
    [
        ("dip", {"millimetres": 200, "seconds": 30, "name": "red"}, "Dip 20 cm for 30 s in red"),
        ("dip", {"section": "half the hank", "seconds": 10}, "Dip half the hank for 10 s"),
        ("dip", {"section": "A", "seconds": 90}, "Dip on section A for 90 s"),
        ("steam", {"seconds": 1800}, "Steam 30 min"),
        ("hold", {"seconds": 1200, "centi_celsius": 8200}, "Hold 20 min at 82 °C"),
        ("enter", {"hanks": 2}, "Enter 2 hanks"),
        ("lift", {"hanks": 1}, "Lift out 1 hank"),
        ("enter", {}, "Enter hanks"),
        ("hand_paint", {"section": "A, C"}, "Hand-paint on sections A and C"),
        ("wrap", {"name": "film"}, "Wrap in film"),
        ("resist", {"name": "ties"}, "Resist with ties"),
        ("unheard", {}, "unheard"),
    ],
)
def test_a_step_says_only_what_was_said(slug: str, details: dict[str, object], words: str) -> None:
    assert technique_words(slug, **details) == words  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(5, "5 s"), (60, "1 min"), (90, "90 s"), (120, "2 min"), (150, "2 min 30 s"), (4500, "1 h 15 min")],
)
def test_a_time_is_said_as_at_the_pot(seconds: int, words: str) -> None:
    assert format_seconds(seconds) == words


@pytest.mark.parametrize(
    ("section", "words"),
    [
        ("", ""),
        ("A", "on section A"),
        ("A, C", "on sections A and C"),
        ("A, B, C", "on sections A, B and C"),
        ("left end", "on the left end"),
        ("skein 2", "on skein 2"),
        ("skein 1, skein 3", "on skein 1 and skein 3"),
        ("first third", "on the first third"),
    ],
)
def test_a_section_is_said_where_it_lies(section: str, words: str) -> None:
    assert on_section(section) == words
