"""Hanks that enter a bath, or leave it, one after the other: how many at each step, and what each of them saw.

Times are whole seconds from any one moment. A hank is called by its number; hanks that nobody numbered take the next free ones,
and leave in the order they came.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from recipes.dyeing import sources
from recipes.dyeing.rounding import round_to_step
from recipes.dyeing.units import format_number
from recipes.dyeing.working import Figure, Working, above_zero


def spread_hanks(counts: Sequence[int], *, of_pieces: int, pieces: int) -> list[Figure[int]]:
    """So many hanks at each step for a load of another size, rounded so that they add up to their share of it.

    Each step is the rounded sum up to it less the rounded sum before it: what entered whole enters whole. A step may come
    to none. Source: proportion.
    """
    above_zero(of_pieces, "The pieces of the first pot must be known to scale its hanks.")
    found: list[Figure[int]] = []
    before = Fraction(0)
    for count in counts:
        upto = before + Fraction(count * pieces, of_pieces)
        here = round_to_step(upto, 1) - round_to_step(before, 1)
        exactly = Fraction(count * pieces, of_pieces)
        found.append(
            Figure(
                here,
                Working(
                    title="Hanks at this step",
                    formula="hanks then × pieces now ÷ pieces then, whole hanks that add up over the steps",
                    substitution=f"{count} × {pieces} ÷ {of_pieces} = {_plain(exactly)}",
                    result=f"{here} {'hank' if here == 1 else 'hanks'}",
                    source=sources.DEFINITION,
                ),
            )
        )
        before = upto
    return found


def _plain(number: Fraction) -> str:
    about = "about " if (number * 100).denominator != 1 else ""
    return f"{about}{format_number(number, 2)}"


@dataclass(frozen=True, slots=True)
class Moved:
    """Hanks that entered the bath (`into`) or left it at a time: these by number, or so many; None is all that are left."""

    at: int
    into: bool
    count: int | None = None
    numbers: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Addition:
    """Something that went in at a time, in words."""

    at: int
    words: str


@dataclass(frozen=True, slots=True)
class HankInBath:
    """One hank: when it entered and left, how long it was in all, and which additions it saw go in or found there."""

    number: int
    entered_at: int | None
    left_at: int | None
    seconds: int
    found: tuple[Addition, ...] = ()
    saw: tuple[Addition, ...] = ()

    @property
    def minutes(self) -> Fraction:
        return Fraction(self.seconds, 60)


@dataclass(slots=True)
class _Stay:
    spells: list[tuple[int, int]] = field(default_factory=list)
    since: int | None = None
    first: int | None = None
    last: int | None = None


def hanks_in_bath(
    *, pieces: int, moves: Sequence[Moved], additions: Sequence[Addition], start: int, end: int
) -> list[HankInBath]:
    """What each of so many hanks saw between start and end, by the moves in their order.

    Without a move into the bath all hanks were in from the start. A move of more hanks than there are moves those there are.
    """
    stays = {number: _Stay() for number in range(1, pieces + 1)}
    moves = sorted(moves, key=lambda move: move.at)
    if not any(move.into for move in moves):
        for stay in stays.values():
            stay.since = stay.first = start
    for move in moves:
        for number in _which(move, stays):
            _move(stays[number], move)
    for stay in stays.values():
        if stay.since is not None:
            stay.spells.append((stay.since, max(end, stay.since)))
    return [_hank(number, stay, additions, end) for number, stay in stays.items()]


def _which(move: Moved, stays: dict[int, _Stay]) -> list[int]:
    if move.into:
        waiting = [number for number, stay in stays.items() if stay.since is None]
        # Who never was in goes before who was lifted out.
        waiting.sort(key=lambda number: (stays[number].first is not None, number))
    else:
        waiting = [number for number, stay in stays.items() if stay.since is not None]
        waiting.sort(key=lambda number: (stays[number].first or 0, number))
    if move.numbers:
        return [number for number in move.numbers if number in waiting]
    return waiting if move.count is None else waiting[: move.count]


def _move(stay: _Stay, move: Moved) -> None:
    if move.into:
        stay.since = move.at
        stay.first = move.at if stay.first is None else stay.first
        stay.last = None
    elif stay.since is not None:
        stay.spells.append((stay.since, move.at))
        stay.since, stay.last = None, move.at


def _hank(number: int, stay: _Stay, additions: Sequence[Addition], end: int) -> HankInBath:
    def was_in(at: int) -> bool:
        return any(entered <= at <= left for entered, left in stay.spells)

    found = tuple(each for each in additions if stay.first is not None and each.at < stay.first)
    return HankInBath(
        number=number,
        entered_at=stay.first,
        left_at=stay.last,
        seconds=sum(min(left, end) - entered for entered, left in stay.spells if entered <= end),
        found=found,
        saw=tuple(each for each in additions if was_in(each.at) and each not in found),
    )
