"""Times of day in a line: 14:20, 2.10pm, "at 2:20", 1420h."""

from __future__ import annotations

import re

from recipes.dyeing.potline.tokens import Token
from recipes.dyeing.potline.vocabulary import MEASURES

#: What makes the figures before it an amount, a strength or degrees.
_NOT_AFTER_CLOCKS = MEASURES.keys() | {"percent", "per", "c", "f", "degrees", "degree", "fl", "point"}
#: After these words figures with a colon are a ratio or a length of time.
_NOT_BEFORE_CLOCKS = ("for", "ratio", "liquor", "lr", "about")
_HALVES = {"am": 0, "pm": 12}


def join_clocks(tokens: list[Token], *, now: str = "") -> list[Token]:
    """The tokens with each time of day as one token: kind clock, or no_clock when there is no such time.

    A time below 12 without am or pm is the last such time before `now` ("HH:MM"); without `now` it is taken as it
    stands and marked as open to either half of the day.
    """
    joined: list[Token] = []
    index = 0
    while index < len(tokens):
        clock, following = _clock_at(tokens, index, now=now)
        joined.append(clock or tokens[index])
        index = following
    return joined


def _clock_at(tokens: list[Token], index: int, *, now: str) -> tuple[Token | None, int]:
    hours, minutes, following = _figures_at(tokens, index)
    half, after = _half_at(tokens, following) if hours is not None else (None, following)
    if hours is None:
        return None, index + 1
    if half is not None:
        clear = 1 <= hours <= 12 and (minutes or 0) <= 59
        return _token(tokens, index, after, (hours % 12 + half, minutes or 0) if clear else None), after
    if minutes is None or not _certain(tokens, index, following):
        return None, index + 1
    if hours > 23 or minutes > 59:
        return _token(tokens, index, following, None), following
    open_half = 1 <= hours < 12 and not tokens[index].text.startswith("0")
    if open_half and re.fullmatch(r"([01]\d|2[0-3]):[0-5]\d", now):
        hours, open_half = _before(now, hours, minutes), False
    return _token(tokens, index, following, (hours, minutes), half_day_open=open_half), following


def _figures_at(tokens: list[Token], index: int) -> tuple[int | None, int | None, int]:
    """Hours and minutes in figures, and what follows them. Minutes are None for a bare number of hours."""
    token = tokens[index]
    if token.kind != "number" or (token.glued and index and tokens[index - 1].kind == "word"):
        return None, None, index
    plain = re.fullmatch(r"(\d{1,2})\.(\d\d)", token.text)
    if plain:
        return int(plain[1]), int(plain[2]), index + 1
    if re.fullmatch(r"\d{4}", token.text):
        hours_said = index + 1 < len(tokens) and tokens[index + 1].is_word("h", "hrs", "hours")
        return int(token.text[:2]), int(token.text[2:]), index + 2 if hours_said else index + 1
    if not re.fullmatch(r"\d{1,2}", token.text):
        return None, None, index
    if index + 2 < len(tokens):
        mark, minutes = tokens[index + 1 : index + 3]
        marked = (mark.is_sign(":") or mark.is_word("h")) and mark.glued and minutes.glued
        if marked and minutes.kind == "number" and re.fullmatch(r"\d\d", minutes.text):
            return int(token.text), int(minutes.text), index + 3
    return int(token.text), None, index + 1


def _half_at(tokens: list[Token], index: int) -> tuple[int | None, int]:
    """ "am", "p.m.", "a m" from here."""
    if index >= len(tokens) or tokens[index].kind != "word":
        return None, index
    word = tokens[index].text
    if word in _HALVES:
        return _HALVES[word], index + 1
    if word in ("a", "p") and index + 1 < len(tokens):
        following = index + 2 if tokens[index + 1].is_sign(".") else index + 1
        if following < len(tokens) and tokens[following].is_word("m"):
            after = following + 1
            if (
                following == index + 2
                and after < len(tokens)
                and tokens[after].is_sign(".")
                and tokens[after].glued
            ):
                after += 1
            return _HALVES[word + "m"], after
    return None, index


def _certain(tokens: list[Token], index: int, following: int) -> bool:
    """Whether figures are a time of day: with a colon they are, with an h at the start of a clause, others after "at"."""
    before = tokens[index - 1] if index else None
    if following - index > 1:
        if before is not None and before.is_word(*_NOT_BEFORE_CLOCKS):
            return False
        first_in_clause = before is None or before.kind == "sign" or before.is_word("at", "and", "then")
        return first_in_clause or not tokens[index + 1].is_word("h")
    if before is None or not before.is_word("at"):
        return False
    after = tokens[following] if following < len(tokens) else None
    return after is None or not (after.is_sign("%", "°", "/") or after.text in _NOT_AFTER_CLOCKS)


def _before(now: str, hours: int, minutes: int) -> int:
    """The hour, of the two that a clock face shows alike, that was last passed at `now` (five minutes of grace)."""
    now_minutes = int(now[:2]) * 60 + int(now[3:]) + 5
    return min((hours, hours + 12), key=lambda hour: (now_minutes - hour * 60 - minutes) % 1440)


def _token(
    tokens: list[Token],
    index: int,
    following: int,
    time: tuple[int, int] | None,
    *,
    half_day_open: bool = False,
) -> Token:
    first = tokens[index]
    text = f"{time[0]:02d}:{time[1]:02d}" if time else " ".join(t.text for t in tokens[index:following])
    return Token(
        "clock" if time else "no_clock",
        text,
        first.start,
        tokens[following - 1].end,
        first.glued,
        half_day_open=half_day_open,
    )
