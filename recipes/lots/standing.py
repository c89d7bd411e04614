"""How a pot stands: what is planned next and when, or what a trial still lacks, a hold that runs, and whose pot it is."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db.models import OuterRef, Subquery
from django.utils import timezone

from recipes.dyeing.units import format_minutes
from recipes.lots.contents import PotContents
from recipes.lots.fibre_kinds import kinds_of
from recipes.lots.missing import lacks_acid
from recipes.lots.models import LogEntry, PlannedStep, Pot, PotLoad
from recipes.lots.planned import IN_TIME_MINUTES, PlannedBesideDone
from recipes.lots.wording import step_words

Kind = LogEntry.Kind
#: The techniques whose time is counted down.
TIMED = ("hold", "steam")


@dataclass(frozen=True, slots=True)
class NextStep:
    """The planned step that comes next, in words, and the clock time that the plan gives it.

    `due_at` is None where the plan has no minute for it, or nothing was done yet that its clock could begin with.
    """

    step: PlannedStep
    words: str
    due_at: datetime | None
    timing: str

    @property
    def number(self) -> int:
        return self.step.number


@dataclass(frozen=True, slots=True)
class Hold:
    """A hold or a steaming by the log: which of them, when it began, and for how long it was meant."""

    technique: str
    began_at: datetime
    seconds: int

    @property
    def ends_at(self) -> datetime:
        return self.began_at + timedelta(seconds=self.seconds)


@dataclass(frozen=True, slots=True)
class Share:
    """Somebody who wrote in a pot's log, and how many of its entries are theirs."""

    name: str
    entries: int


@dataclass(frozen=True, slots=True)
class Standing:
    """How a pot stands at a moment."""

    next: NextStep | None
    steps: int
    lacks: list[str]
    hold: Hold | None
    over: bool
    began_at: datetime | None
    shares: list[Share]

    @property
    def all_done(self) -> bool:
        """Whether everything that was planned is done."""
        return bool(self.steps) and self.next is None


def how_it_stands(
    *,
    loads: Sequence[PotLoad],
    kept: Sequence[LogEntry],
    contents: PotContents,
    planned: Sequence[PlannedBesideDone],
    now: datetime,
    us: bool = False,
) -> Standing:
    """How a pot stands, from what its page has read: `kept` are the entries that count, in the order they happened.

    Where steps are planned the next of them is told, with its clock time; in a trial nothing is invented, and only what
    its log still lacks is.
    """
    began_at = kept[0].happened_at if kept else None
    hold = running_hold(kept)
    return Standing(
        next=_next_step(planned, began_at, now=now, us=us),
        steps=len(planned),
        lacks=[] if planned else what_lacks(loads=loads, contents=contents),
        hold=hold,
        over=hold is not None and hold.ends_at <= now,
        began_at=began_at,
        shares=shares_of(kept),
    )


def _next_step(
    planned: Sequence[PlannedBesideDone], began_at: datetime | None, *, now: datetime, us: bool
) -> NextStep | None:
    following = next((line.step for line in planned if line.is_next), None)
    if following is None:
        return None
    due_at = due(following, began_at)
    return NextStep(following, step_words(following, us=us), due_at, timing_words(due_at, now=now))


def due(step: PlannedStep, began_at: datetime | None) -> datetime | None:
    """When a planned step is due by the clock that began with the first entry."""
    if began_at is None or step.minute is None:
        return None
    return began_at + timedelta(minutes=step.minute)


def timing_words(due_at: datetime | None, *, now: datetime) -> str:
    """How far off a moment is: "in 12 min", "now", "12 min ago". Within the time that counts as in time it is now."""
    if due_at is None:
        return ""
    minutes = int((due_at - now).total_seconds() // 60)
    if abs(minutes) <= IN_TIME_MINUTES:
        return "now"
    return f"in {format_minutes(minutes)}" if minutes > 0 else f"{format_minutes(-minutes)} ago"


def what_lacks(*, loads: Sequence[PotLoad], contents: PotContents) -> list[str]:
    """What a trial's log does not say yet of what every dyeing has, in the order that it is wanted."""
    lacks = []
    if not all(load.weighed for load in loads):
        lacks.append("a dry weighing")
    if not contents.water_microlitres:
        lacks.append("the water")
    if not (contents.dyes or contents.unweighed or contents.unlinked):
        lacks.append("dye")
    if lacks_acid(contents, kinds_of(loads)):
        lacks.append("acid")
    if contents.heat_last is None:
        lacks.append("heat")
    if contents.last_temperature is None:
        lacks.append("a temperature")
    return lacks


def running_hold(kept: Sequence[LogEntry]) -> Hold | None:
    """The newest hold or steaming with a time, until something is written down after its end."""
    holds = [
        entry for entry in kept if entry.kind == Kind.TECHNIQUE and entry.technique in TIMED and entry.seconds
    ]
    if not holds:
        return None
    last = max(holds, key=lambda entry: (entry.happened_at, entry.pk))
    hold = Hold(last.technique, last.happened_at, last.seconds or 0)
    return None if any(entry.happened_at >= hold.ends_at for entry in kept) else hold


def shares_of(kept: Iterable[LogEntry]) -> list[Share]:
    """Who wrote how many of a pot's entries, who wrote most first."""
    counts: dict[str, int] = {}
    for entry in kept:
        counts[str(entry.who)] = counts.get(str(entry.who), 0) + 1
    return [
        Share(name, count) for name, count in sorted(counts.items(), key=lambda each: (-each[1], each[0]))
    ]


@dataclass(frozen=True, slots=True)
class AtWork:
    """A pot among those at work, with the hold that runs in it."""

    pot: Pot
    hold: Hold | None
    over: bool


def pots_at_work(*, now: datetime) -> list[AtWork]:
    """The pots that are loaded and not yet out, in the order they were loaded, in one query."""
    kept = LogEntry.objects.filter(pot=OuterRef("pk"), struck_by__isnull=True).exclude(kind=Kind.STRIKE)
    newest = kept.order_by("-happened_at", "-id")
    holds = newest.filter(kind=Kind.TECHNIQUE, technique__in=TIMED, seconds__gt=0)
    columns: dict[str, Any] = {
        "touched_at": Subquery(newest.values("happened_at")[:1]),
        "hold_at": Subquery(holds.values("happened_at")[:1]),
        "hold_seconds": Subquery(holds.values("seconds")[:1]),
        "hold_technique": Subquery(holds.values("technique")[:1]),
    }
    pots = Pot.objects.filter(out_at__isnull=True, loaded_at__isnull=False)
    return [
        _at_work(pot, now=now)
        for pot in pots.select_related("colourway", "vessel").annotate(**columns).order_by("loaded_at", "id")
    ]


def _at_work(pot: Pot, *, now: datetime) -> AtWork:
    began_at, seconds = getattr(pot, "hold_at", None), getattr(pot, "hold_seconds", None)
    if began_at is None or not seconds:
        return AtWork(pot, None, over=False)
    hold = Hold(getattr(pot, "hold_technique", ""), began_at, seconds)
    touched_at: datetime = getattr(pot, "touched_at", None) or began_at
    return AtWork(pot, None if touched_at >= hold.ends_at else hold, over=hold.ends_at <= now)


def since_words(at: datetime | None, *, now: datetime | None = None) -> str:
    """For how long nothing was written down: "12 min", "3 h 10 min", "2 days"; empty for less than a minute."""
    if at is None:
        return ""
    minutes = int(((now or timezone.now()) - at).total_seconds() // 60)
    if minutes < 1:
        return ""
    if minutes < 24 * 60:
        return format_minutes(minutes)
    days = minutes // (24 * 60)
    return f"{days} {'day' if days == 1 else 'days'}"
