"""All pots at work on one page: since when nothing was written down, what is in, what is next, what was last recorded."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from dyehouse.studio.models import User
from recipes.lots import mixed
from recipes.lots.beside import BathBefore, Beside
from recipes.lots.closing import is_evening, last_closing, stays_overnight
from recipes.lots.contents import PotContents, add_up, counts
from recipes.lots.load_words import load_words
from recipes.lots.models import DayClosed, LeftInBath, LogEntry, PlannedStep, Pot
from recipes.lots.planned import beside_done
from recipes.lots.queries import PotLine, pots_page
from recipes.lots.standing import Standing, how_it_stands, since_words
from recipes.lots.twice import written_twice


@dataclass(frozen=True, slots=True)
class BoardPot:
    """A pot at work as it is read at arm's length. Of the heat only what was last recorded is told, never that it is on."""

    pot: Pot
    name: str
    lies: str
    contents: PotContents
    standing: Standing
    touched_at: datetime | None
    touched_by: str
    untouched_for: str
    asks: int
    twice: int
    stays: LogEntry | None

    @property
    def heat_on(self) -> bool:
        """Whether the heat was last recorded on."""
        return self.contents.heat_last is not None and self.contents.heat_last.on


@dataclass(frozen=True, slots=True)
class Board:
    """The pots at work, those planned and those lately out."""

    at_work: list[BoardPot]
    planned: list[PotLine]
    out: list[PotLine]
    only_mine: bool
    closed: DayClosed | None
    evening: bool

    @property
    def heat_on(self) -> int:
        """How many pots have their heat last recorded on."""
        return sum(1 for each in self.at_work if each.heat_on)

    @property
    def wants_closing(self) -> bool:
        """Whether the day is to be closed: in the evening, or while any heat was last recorded on."""
        return bool(self.at_work) and (self.evening or self.heat_on > 0)


def board(*, user: User, only_mine: bool = False, us: bool = False, now: datetime | None = None) -> Board:
    """The board, in a fixed number of queries however many pots there are."""
    at = now or timezone.now()
    pots = pots_page(user=user, only_of=user if only_mine else None)
    return Board(
        at_work=pots_on_board(pots.in_work, now=at, us=us),
        planned=pots.planned,
        out=pots.out,
        only_mine=only_mine,
        closed=last_closing(),
        evening=is_evening(at),
    )


def pots_on_board(lines: Sequence[PotLine], *, now: datetime, us: bool = False) -> list[BoardPot]:
    """Pots at work in the order they were loaded, so that each keeps its place. Three queries at most."""
    pots = [line.pot for line in lines]
    entries, steps, told = _entries(pots), _steps(pots), _told(pots)
    shown = [
        _on_board(
            line,
            entries.get(line.pot.pk, []),
            steps.get(line.pot.pk, []),
            told.get(line.pot.pk, ()),
            now=now,
            us=us,
        )
        for line in lines
    ]
    return sorted(shown, key=lambda each: (each.pot.loaded_at or now, each.pot.pk))


def _entries(pots: Iterable[Pot]) -> dict[int, list[LogEntry]]:
    found: dict[int, list[LogEntry]] = {}
    entries = LogEntry.objects.filter(pot__in=pots).select_related(
        "who", "dye", "auxiliary", "bottle__jar", "jar", "mix", "planned", "struck_by"
    )
    for entry in entries.prefetch_related(mixed.PARTS).order_by("happened_at", "id"):
        found.setdefault(entry.pot_id, []).append(entry)
    return found


def _steps(pots: Iterable[Pot]) -> dict[int, list[PlannedStep]]:
    found: dict[int, list[PlannedStep]] = {}
    steps = PlannedStep.objects.filter(pot__in=pots).select_related("rule__dye", "rule__auxiliary")
    for step in steps.order_by("number", "id"):
        found.setdefault(step.pot_id, []).append(step)
    return found


def _told(pots: Iterable[Pot]) -> dict[int, tuple[LeftInBath, ...]]:
    """The newest telling of each dye that a reused bath still held, by the pot that took the bath."""
    reused = [pot.pk for pot in pots if pot.bath_from_id is not None]
    if not reused:
        return {}
    newest: dict[int, dict[int, LeftInBath]] = {}
    for left in LeftInBath.objects.filter(pot__in=reused).select_related("dye", "by").order_by("id"):
        newest.setdefault(left.pot_id, {})[left.dye_id] = left
    return {pot: tuple(by_dye.values()) for pot, by_dye in newest.items()}


def _on_board(
    line: PotLine,
    entries: list[LogEntry],
    steps: list[PlannedStep],
    told: tuple[LeftInBath, ...],
    *,
    now: datetime,
    us: bool,
) -> BoardPot:
    pot = line.pot
    kept = [entry for entry in entries if counts(entry)]
    earlier = pot.bath_from
    beside = Beside(
        pot.strip_milligrams or 0, BathBefore(earlier, told=told) if earlier is not None else None
    )
    contents = add_up(loads=line.loads, entries=entries, beside=beside)
    planned, _ = beside_done(steps, kept) if steps else ([], [])
    last = kept[-1] if kept else None
    touched_at = last.happened_at if last is not None else pot.loaded_at
    return BoardPot(
        pot=pot,
        name=line.name,
        lies=load_words(line.loads, strip_milligrams=pot.strip_milligrams, us=us),
        contents=contents,
        standing=how_it_stands(
            loads=line.loads, kept=kept, contents=contents, planned=planned, now=now, us=us
        ),
        touched_at=touched_at,
        touched_by=str(last.who) if last is not None else "",
        untouched_for=since_words(touched_at, now=now),
        asks=sum(1 for entry in kept if entry.question),
        twice=len(written_twice(entries)),
        stays=stays_overnight(kept, now=now),
    )
