"""What the printing room shows: what waits to be printed and what was, in a fixed number of queries."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Count, Q

from dyehouse.paper.labelling import waiting_for_labels
from dyehouse.paper.long_printing import GOING
from dyehouse.paper.models import PrintJob, PrintRun
from dyehouse.paper.printouts import can_print_again
from dyehouse.studio.models import User
from recipes.lots.models import Pot, RedyePlan

RUNS_A_PAGE = 20
SHOWN = 8


@dataclass(frozen=True, slots=True)
class PlanToPrint:
    """A plan with pots still to be dyed, as its cards are called."""

    plan: RedyePlan
    name: str
    pots: int


@dataclass(frozen=True, slots=True)
class RunRow:
    """One printing: may this person print it again?"""

    run: PrintRun
    again: bool


@dataclass(frozen=True, slots=True)
class PrintingRoom:
    """The page. `kind` is the kind of paper whose printings are shown; empty is all."""

    labels_waiting: int
    lots_waiting: int
    pots: list[tuple[Pot, str]]
    more_pots: int
    plans: list[PlanToPrint]
    jobs: list[PrintJob]
    runs: list[RunRow]
    kind: str
    kinds: list[tuple[str, str]]
    page: int
    more: bool


def printing_room(*, user: User, kind: str = "", page: int = 1) -> PrintingRoom:
    """The room as it is now, with a page of what was printed, the newest first."""
    waiting = waiting_for_labels(user=user)
    pots = list(
        Pot.objects.filter(loaded_at__isnull=False, out_at=None, dropped_at=None)
        .select_related("colourway")
        .order_by("-loaded_at")
    )
    plans = (
        RedyePlan.objects.annotate(
            planned=Count("pots", filter=Q(pots__loaded_at=None, pots__dropped_at=None))
        )
        .filter(planned__gt=0)
        .select_related("way__colourway")
        .order_by("-id")[:SHOWN]
    )
    kinds = [(str(value), str(words)) for value, words in PrintRun.Kind.choices]
    runs = PrintRun.objects.select_related("printed_by").order_by("-printed_at", "-id")
    if kind in dict(kinds):
        runs = runs.filter(kind=kind)
    first = (page - 1) * RUNS_A_PAGE
    shown = list(runs[first : first + RUNS_A_PAGE + 1])
    return PrintingRoom(
        labels_waiting=sum(line.lacking for line in waiting),
        lots_waiting=len(waiting),
        pots=[(pot, pot.colourway.shown_name(user)) for pot in pots[:SHOWN]],
        more_pots=max(0, len(pots) - SHOWN),
        plans=[PlanToPrint(plan, plan.way.colourway.shown_name(user), plan.planned) for plan in plans],
        jobs=list(PrintJob.objects.filter(state__in=GOING).order_by("-id")),
        runs=[
            RunRow(run, can_print_again(run) and (user.is_owner or not run.names_opened))
            for run in shown[:RUNS_A_PAGE]
        ],
        kind=kind if kind in dict(kinds) else "",
        kinds=kinds,
        page=page,
        more=len(shown) > RUNS_A_PAGE,
    )
