"""A jug into several pots makes one lot: which pots were fed by the same jugs, and how alike.

A pot belongs with another when both are of one colourway and all dye of both is from the same mixes: no stock, no powder, no
earlier bath, nothing that was dyed before. How much each took for its yarn says whether they match: within a twentieth they
are taken for one lot unless somebody says otherwise, beyond it they are two lots unless somebody says otherwise.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.db.models import Count, OuterRef, Subquery
from django.utils import timezone

from dyehouse.studio.refusals import Refused
from recipes.dyeing import sources
from recipes.dyeing.units import format_grams, format_millilitres, format_number, format_percent
from recipes.dyeing.working import Figure, Working
from recipes.lots.contents import counts
from recipes.lots.mixed import mix_words
from recipes.lots.models import DyeLot, LogEntry, Pot, PotLoad
from recipes.models import Mix

Kind = LogEntry.Kind
#: A twentieth: about what two readings of a jug differ by; common practice, no source.
CLOSE = Fraction(1, 20)


class NotOfOneJug(Refused):
    """The lot that was named was not fed by the same jugs as this pot."""


def together_words(pots: int, *, from_before: bool = False) -> str:
    """What the pieces of a lot are to one another: of the same pot, or, of several pots fed by a jug, the same lot.

    Nothing is said of a lot from before the house, whose pots nobody wrote down.
    """
    if from_before or pots < 1:
        return ""
    return "same pot" if pots == 1 else "same lot"


def count_of_pots(lot: str = "pk") -> Subquery:
    """For a query: how many pots a dye lot has, `lot` being its path."""
    pots = Pot.objects.filter(dye_lot=OuterRef(lot)).order_by().values("dye_lot")
    return Subquery(pots.annotate(count=Count("pk")).values("count"))


@dataclass(frozen=True, slots=True)
class Fed:
    """A pot whose dye all came from mixes: microlitres of each, on so much dry fibre."""

    pot: Pot
    mixes: dict[Mix, int]
    dry_milligrams: int
    yarn: frozenset[tuple[int, int]]
    past_its_day: tuple[Mix, ...] = ()
    about: bool = False

    @property
    def jugs(self) -> frozenset[int]:
        return frozenset(mix.pk for mix in self.mixes)


@dataclass(frozen=True, slots=True)
class OneLot:
    """A lot that a pot may join, with its pots; `joins` is whether they are taken to match, `why_not` the sentences if not."""

    lot: DyeLot
    pots: list[Pot]
    mixes: list[Mix]
    off: Fraction
    why_not: tuple[str, ...]
    working: Working

    @property
    def joins(self) -> bool:
        return not self.why_not

    @property
    def jug_words(self) -> str:
        return " and ".join(mix_words(mix) for mix in self.mixes)

    @property
    def pot_words(self) -> str:
        codes = [pot.code for pot in self.pots]
        return f"pot {codes[0]}" if len(codes) == 1 else f"pots {', '.join(codes[:-1])} and {codes[-1]}"


def lots_from_its_jugs(pot: Pot) -> list[OneLot]:
    """The lots that a pot may join, the nearest first: of its colourway, from the very same jugs. Four queries at most."""
    mine = _fed([pot]).get(pot.pk)
    if mine is None:
        return []
    lots = DyeLot.objects.filter(
        colourway=pot.colourway_id,
        from_before=False,
        pots__entries__mix__in=mine.jugs,
        pots__entries__struck_by__isnull=True,
    ).distinct()
    by_lot: dict[int, list[Pot]] = {}
    for other in Pot.objects.filter(dye_lot__in=lots).select_related("dye_lot").order_by("id"):
        if other.dye_lot_id is not None:
            by_lot.setdefault(other.dye_lot_id, []).append(other)
    fed = _fed([other for pots in by_lot.values() for other in pots])
    found = []
    for pots in by_lot.values():
        theirs = [fed.get(other.pk) for other in pots]
        alike = [each for each in theirs if each is not None and each.jugs == mine.jugs]
        if len(alike) == len(pots):
            found.append(_one_lot(mine, alike))
    return sorted(found, key=lambda each: (not each.joins, each.off, -each.lot.pk))


def _fed(pots: Sequence[Pot]) -> dict[int, Fed]:
    """Those of the pots whose dye all came from mixes, by their ids. Two queries."""
    entries: dict[int, list[LogEntry]] = {}
    if not pots:
        return {}
    for entry in (
        LogEntry.objects.filter(pot__in=pots, kind__in=[Kind.STOCK, Kind.POWDER, Kind.MIX])
        .select_related("mix", "struck_by")
        .order_by("happened_at", "id")
    ):
        if counts(entry):
            entries.setdefault(entry.pot_id, []).append(entry)
    loads: dict[int, list[PotLoad]] = {}
    for load in PotLoad.objects.filter(pot__in=pots).select_related("put_up"):
        loads.setdefault(load.pot_id, []).append(load)
    found = {}
    for pot in pots:
        one = fed_by_jugs(pot, loads=loads.get(pot.pk, []), entries=entries.get(pot.pk, []))
        if one is not None:
            found[pot.pk] = one
    return found


def fed_by_jugs(pot: Pot, *, loads: Sequence[PotLoad], entries: Iterable[LogEntry]) -> Fed | None:
    """What a pot took of mixes; None where any dye of it is from elsewhere, or nobody knows how much it took.

    `entries` are those that count. A bath that was used before, and pieces dyed before, bring dye of their own.
    """
    if pot.bath_from_id is not None or not loads or any(load.overdyes_id is not None for load in loads):
        return None
    mixes: dict[Mix, int] = {}
    past: dict[Mix, None] = {}
    about = False
    for entry in entries:
        if entry.kind in (Kind.STOCK, Kind.POWDER):
            return None
        if entry.kind != Kind.MIX:
            continue
        if entry.mix is None or not entry.microlitres:
            return None
        mixes[entry.mix] = mixes.get(entry.mix, 0) + entry.microlitres
        about = about or entry.about
        day = entry.mix.best_before
        if day is not None and timezone.localdate(entry.happened_at) > day:
            past[entry.mix] = None
    if not mixes:
        return None
    dry = sum(load.dry_milligrams for load in loads) + (pot.strip_milligrams or 0)
    yarn = frozenset((load.put_up.base_id, load.mill_lot_id) for load in loads)
    return Fed(pot, mixes, dry, yarn, tuple(past), about)


def _one_lot(mine: Fed, theirs: Sequence[Fed]) -> OneLot:
    lot = theirs[0].pot.dye_lot
    assert lot is not None
    compared = [_how_far_off(mix, mine, theirs) for mix in mine.mixes]
    furthest = max(compared, key=lambda figure: abs(figure.value))
    off = abs(furthest.value)
    why_not = []
    if off > CLOSE:
        why_not.append(
            f"For its yarn this pot took {format_number(off * 100, 1)} % {'more' if furthest.value > 0 else 'less'} "
            "than that lot, so the depth may differ."
        )
    if any(each.yarn != mine.yarn for each in theirs):
        why_not.append("The yarn is not the same base and mill lot, which can take dye differently.")
    past = {mix for each in (mine, *theirs) for mix in each.past_its_day}
    if past:
        why_not.append("The jug was past its day by then, and an old mix changes its hue.")
    if mine.about or any(each.about for each in theirs):
        why_not.append("How much was poured is written down as “about”.")
    return OneLot(
        lot=lot,
        pots=[each.pot for each in theirs],
        mixes=list(mine.mixes),
        off=off,
        why_not=tuple(why_not),
        working=Working(
            title="How alike the pots are",
            formula="difference of ml a gram ÷ ml a gram of the lot, of the jug that differs most",
            substitution=furthest.working.substitution,
            result=f"{format_number(off * 100, 1)} % apart; within {format_percent(CLOSE * 100)} is one lot",
            source=sources.PRACTICE,
            steps=tuple(figure.working for figure in compared),
        ),
    )


def _how_far_off(mix: Mix, mine: Fed, theirs: Sequence[Fed]) -> Figure[Fraction]:
    """By what share of the lot's ml a gram this pot's is more, or below zero less, for one jug."""
    poured = sum(each.mixes[mix] for each in theirs)
    dry = sum(each.dry_milligrams for each in theirs)
    here = Fraction(mine.mixes[mix], mine.dry_milligrams)
    there = Fraction(poured, dry)
    return Figure(
        (here - there) / there,
        Working(
            title=f"Of {mix_words(mix)}",
            formula="ml ÷ dry fibre, here and in the lot",
            substitution=(
                f"{format_millilitres(mine.mixes[mix])} ÷ {format_grams(mine.dry_milligrams)} beside "
                f"{format_millilitres(poured)} ÷ {format_grams(dry)}"
            ),
            result=f"{format_number(here, 3)} and {format_number(there, 3)} ml a gram",
            source=sources.DEFINITION,
        ),
    )
