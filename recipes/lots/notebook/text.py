"""The notes' own words, line by line as at the pot, turned into rows that can be put right before anything is kept."""

from __future__ import annotations

from dataclasses import replace

from recipes.dyeing.noted import AmountNotClear, grams_words, millilitres_words, read_noted_amount
from recipes.dyeing.potline import Reading, describe, read_line
from recipes.lots.log import tidy_line
from recipes.lots.notebook.reading import LONGEST_STEP, NotedRow
from recipes.lots.notebook.things import WATER, Things

MOST_ROWS = 60
ADDED = ("stock", "powder", "auxiliary", "water")


def rows_from_text(text: str, *, things: Things, fahrenheit: bool = False) -> list[tuple[NotedRow, str]]:
    """A row for each thing that the lines say, with what is asked about it where the reader was in doubt."""
    rows: list[tuple[NotedRow, str]] = []
    start: int | None = None
    for line in text.splitlines():
        words = tidy_line(line)
        if not words:
            continue
        named = _named(words, things)
        if named is not None:
            rows.append((named, ""))
            continue
        for row, question, clock in _read(words, things, fahrenheit):
            if clock is not None:
                start = clock if start is None else start
                # A clock that stands before the first one is of the next day.
                row = replace(row, minute=str((clock - start) % (24 * 60)))
            rows.append((row, question))
    return [(replace(row, row=at), question) for at, (row, question) in enumerate(rows[:MOST_ROWS], 1)]


def _named(words: str, things: Things) -> NotedRow | None:
    """A name of the store with an amount before or behind it and nothing else: “Red 0.5 %”, “1 g/l of salt”."""
    said = words.casefold()
    names = {WATER: WATER} | {key: each.name for key, each in things.dyes.items()}
    names |= {key: each.name for key, each in things.auxiliaries.items()}
    for key in sorted(names, key=len, reverse=True):
        for amount in (_before(said, key, words), _behind(said, key, words)):
            if not amount:
                continue
            try:
                read_noted_amount(amount)
            except AmountNotClear:
                continue
            return NotedRow(0, what=names[key], amount=amount)
    return None


def _before(said: str, key: str, words: str) -> str:
    if not said.endswith(f" {key}"):
        return ""
    amount = words[: -len(key)].strip()
    return amount[:-3].strip() if amount.casefold().endswith(" of") else amount


def _behind(said: str, key: str, words: str) -> str:
    if not said.startswith((f"{key} ", f"{key}:")):
        return ""
    return words[len(key) :].lstrip(": ").strip()


def _read(words: str, things: Things, fahrenheit: bool) -> list[tuple[NotedRow, str, int | None]]:
    readings = read_line(words, known=things.bench.known(), fahrenheit=fahrenheit)
    if not any(reading.kind in ADDED for reading in readings):
        question = next((reading.question for reading in readings if reading.question), "")
        clock = next((_clock(reading) for reading in readings if reading.clock), None)
        return [(NotedRow(0, step=words[:LONGEST_STEP]), question, clock)]
    return [(_row(reading), reading.question, _clock(reading)) for reading in readings]


def _clock(reading: Reading) -> int | None:
    if not reading.clock:
        return None
    hour, minute = reading.clock.split(":")
    return int(hour) * 60 + int(minute)


def _row(reading: Reading) -> NotedRow:
    if reading.kind not in ADDED:
        return NotedRow(0, step=(reading.text or describe(reading))[:LONGEST_STEP])
    what = WATER if reading.kind == "water" else reading.matched_name or reading.name
    amount = reading.as_typed
    if reading.milligrams:
        amount = grams_words(reading.milligrams)
    elif reading.microlitres:
        amount = millilitres_words(reading.microlitres)
    amount = f"about {amount}" if reading.about and amount else amount
    return NotedRow(0, what=what, amount=amount, strength=reading.strength_percent)
