"""Two pots of the invented studio's yesterday: two bases with a strip in one, and in its bath pieces that were overdyed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from django.utils import timezone

from dyehouse.demo.book import demo_key
from dyehouse.demo.stocking import Store
from dyehouse.studio.models import User, Vessel
from recipes.dyeing.reuse import share_of_taken_micrograms
from recipes.lots.baths import UsedBath, bath_before, say_what_is_left
from recipes.lots.finishing import out_of_pot
from recipes.lots.load_lines import LoadLine
from recipes.lots.log import keep_line
from recipes.lots.models import Pot
from recipes.lots.pots import load_pot
from recipes.lots.yarn_choices import Lying, to_redye

VESSEL = "Jam pot"
# (base, grams, pieces)
BASES: tuple[tuple[str, int, int], ...] = (("Harrow Sock", 100, 2), ("Ferry DK", 100, 1))
STRIP_MILLIGRAMS = 10_000
TWO_BASES_HOURS_AGO, OVERDYED_HOURS_AGO = 23, 20
IN_BOTH = ((4, "8 l water"), (6, "heat on"), (11, "26 ml teal 1%"), (13, "9 ml olive 1%"), (20, "4.5 g citric acid"))  # fmt: skip
OVER = ((5, "heat on"), (12, "14 ml plum 1%"), (18, "3 g citric acid"), (50, "84 C"), (80, "clear!"), (84, "heat off"))  # fmt: skip
LITRES_KEPT_MICROLITRES = 7_000_000
# What went wrong of three lots is rescued in one pot.
LOTS_OVERDYED, FULL_MILLIGRAMS = 3, 100_000
# What the owner guessed by eye to be left of the first dye; of the other nobody said anything.
LEFT_PERCENT = 12


def load_by_the_line(*, now: datetime, owner: User, helper: User, store: Store) -> None:
    """A pot of two bases that came out tinted, and its bath used again to overdye what had waited longest for it."""
    vessel = Vessel.objects.get(name=VESSEL)
    loaded = now - timedelta(hours=TWO_BASES_HOURS_AGO)
    lines = []
    for base, grams, pieces in BASES:
        put_up = store.put_ups[base, grams]
        lines.append(LoadLine(put_up, store.yarn[put_up.pk][-1][0], pieces))
    first = load_pot(
        key=demo_key("load", "two bases"),
        lines=lines,
        vessel=vessel,
        colourway=None,
        who=owner,
        strip_milligrams=STRIP_MILLIGRAMS,
        happened_at=loaded,
    )
    _write(first, loaded, [*IN_BOTH, (45, "80 C"), (95, "heat off")], owner)
    out_of_pot(
        key=demo_key("out", "two bases"),
        pot=first,
        bath=Pot.Bath.TINTED,
        who=owner,
        happened_at=loaded + timedelta(hours=2),
    )
    waiting = [each for each in to_redye() if each.before.was.put_up.nominal_milligrams == FULL_MILLIGRAMS]
    if waiting:
        _overdye(Pot.objects.get(pk=first.pk), waiting[:LOTS_OVERDYED], now=now, owner=owner, helper=helper)


def _overdye(first: Pot, lying: Sequence[Lying], *, now: datetime, owner: User, helper: User) -> None:
    loaded = now - timedelta(hours=OVERDYED_HOURS_AGO)
    pot = load_pot(
        key=demo_key("load", "overdyed"),
        lines=[
            LoadLine(each.before.was.put_up, None, each.pieces, dyed_before=each.before) for each in lying
        ],
        vessel=first.vessel,
        colourway=None,
        who=helper,
        bath=UsedBath(first, LITRES_KEPT_MICROLITRES),
        happened_at=loaded,
    )
    dye, took = next(iter(bath_before(pot, first).took.items()))
    left = share_of_taken_micrograms(taken_milligrams=took, percent=LEFT_PERCENT)
    say_what_is_left(pot=pot, left=[(dye, left)], who=owner, said_at=loaded + timedelta(minutes=2))
    _write(pot, loaded, OVER, helper)
    out_of_pot(
        key=demo_key("out", "overdyed"),
        pot=pot,
        bath=Pot.Bath.CLEAR,
        who=helper,
        happened_at=loaded + timedelta(hours=2),
    )


def _write(pot: Pot, loaded: datetime, lines: Sequence[tuple[int, str]], who: User) -> None:
    for minute, typed in lines:
        at = loaded + timedelta(minutes=minute)
        keep_line(
            pot=pot,
            key=demo_key("by the line", loaded.isoformat(), minute),
            typed=typed,
            who=who,
            clock=at,
            now=max(at, timezone.now()),
        )
