"""What is in a pot: everything that its log says went in, and what is struck counts for nothing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime
from fractions import Fraction

from django.utils import timezone

from recipes.dyeing import bath, depth, sources
from recipes.dyeing.reuse import said_to_be_left
from recipes.dyeing.units import format_grams, format_millilitres, format_number, format_percent
from recipes.dyeing.working import Figure, Working
from recipes.lots import mixed
from recipes.lots.beside import NOTHING_BESIDE, BathBefore, Beside
from recipes.lots.models import LeftInBath, LogEntry, Pot, PotLoad
from recipes.models import Auxiliary, Dye

ACIDS = (Auxiliary.Role.ACID, Auxiliary.Role.ACID_DONOR)


@dataclass(frozen=True, slots=True)
class DyeSoFar:
    """One dye in the pot: exact milligrams from powder and stock together, and the stock it came in."""

    dye: Dye
    milligrams: Fraction
    stock_microlitres: int
    depth_percent: Fraction | None
    working: Working | None
    about: bool = False
    told: LeftInBath | None = None


@dataclass(frozen=True, slots=True)
class AuxiliarySoFar:
    """One auxiliary in the pot, in its own measure."""

    auxiliary: Auxiliary
    milligrams: int
    microlitres: int
    share: Figure[Fraction] | None
    about: bool = False


@dataclass(frozen=True, slots=True)
class Seen:
    """The last reading of something, and when."""

    value: int
    at: datetime


@dataclass(frozen=True, slots=True)
class HeatSeen:
    """What was last recorded of the heat; never that it is on now."""

    on: bool
    level: str
    at: datetime


@dataclass(frozen=True, slots=True)
class PotContents:
    """What a pot's log adds up to. Weights are milligrams, volumes microlitres, None where nobody has said."""

    dry_milligrams: int
    pieces: int
    water_microlitres: int
    bath_microlitres: int | None
    liquor_ratio: Figure[Fraction] | None
    dyes: list[DyeSoFar]
    auxiliaries: list[AuxiliarySoFar]
    unweighed: list[LogEntry] = field(default_factory=list)
    unlinked: list[LogEntry] = field(default_factory=list)
    last_ph: Seen | None = None
    last_temperature: Seen | None = None
    heat_last: HeatSeen | None = None
    cleared_at: datetime | None = None
    since: datetime | None = None
    strip_milligrams: int = 0
    bath_before: BathBefore | None = None

    @property
    def acids(self) -> list[AuxiliarySoFar]:
        """The acids and acid donors among the auxiliaries."""
        return [each for each in self.auxiliaries if each.auxiliary.role in ACIDS]

    @property
    def others(self) -> list[AuxiliarySoFar]:
        """The auxiliaries that are no acid."""
        return [each for each in self.auxiliaries if each.auxiliary.role not in ACIDS]

    @property
    def is_empty(self) -> bool:
        """Whether nothing but yarn and water is in."""
        before = self.bath_before is not None and self.bath_before.holds_something
        return not (before or self.dyes or self.auxiliaries or self.unweighed or self.unlinked)

    @property
    def at_least(self) -> bool:
        """Whether the bath held dye from before of which nobody has said how much, so that every sum is a least."""
        return self.bath_before is not None and self.bath_before.leaves_unknown

    @property
    def total_depth(self) -> Fraction | None:
        """All dyes together in percent of dry fibre."""
        depths = [each.depth_percent for each in self.dyes if each.depth_percent is not None]
        return sum(depths, Fraction(0)) if depths else None


def what_is_in(pot: Pot, *, beside: Beside = NOTHING_BESIDE) -> PotContents:
    """What a pot holds by its log, from the database; `beside` as `add_up` takes it."""
    entries = (
        LogEntry.objects.filter(pot=pot)
        .select_related("dye", "auxiliary", "mix", "struck_by")
        .prefetch_related(mixed.PARTS)
        .order_by("happened_at", "id")
    )
    return add_up(loads=list(PotLoad.objects.filter(pot=pot)), entries=list(entries), beside=beside)


def counts(entry: LogEntry) -> bool:
    """Whether an entry counts: it is no strike and was not struck."""
    return entry.kind != LogEntry.Kind.STRIKE and getattr(entry, "struck_by", None) is None


def dye_in(entry: LogEntry) -> Fraction | None:
    """Exact milligrams of dye that an entry put in; None where its strength or weight is not known.

    A pour of a mix holds several dyes: ask its portions (mixed.by_dye).
    """
    if entry.kind == LogEntry.Kind.POWDER and entry.milligrams:
        return Fraction(entry.milligrams)
    if entry.kind == LogEntry.Kind.STOCK and entry.microlitres and entry.strength_mg_per_litre:
        return Fraction(entry.microlitres * entry.strength_mg_per_litre, 1_000_000)
    poured = mixed.dye_in_portion(entry)
    return poured.value if poured is not None else None


def add_up(
    *, loads: Iterable[PotLoad], entries: Iterable[LogEntry], beside: Beside = NOTHING_BESIDE
) -> PotContents:
    """The sums of a log whose entries come in the order they happened, struck ones and strikes among them.

    `beside` is the strip, which counts as fibre, and the bath before, of which what was told counts as dye.
    """
    loads = list(loads)
    dry = sum(load.dry_milligrams for load in loads) + beside.strip_milligrams
    kept = [entry for entry in entries if counts(entry)]
    water = sum(entry.microlitres or 0 for entry in kept if entry.kind == LogEntry.Kind.WATER)
    solutions = sum(
        entry.microlitres or 0
        for entry in kept
        if entry.kind in (LogEntry.Kind.STOCK, LogEntry.Kind.MIX, LogEntry.Kind.AUXILIARY)
    )
    # Without a word on the water the solutions alone are no bath.
    litres = water + solutions if water else None
    return PotContents(
        dry_milligrams=dry,
        pieces=sum(load.pieces for load in loads),
        water_microlitres=water,
        bath_microlitres=litres,
        liquor_ratio=bath.liquor_ratio(bath_microlitres=litres, dry_milligrams=dry)
        if litres and dry
        else None,
        dyes=_with_told(_dyes(kept, dry), beside.bath, dry),
        auxiliaries=_auxiliaries(kept, dry),
        unweighed=[entry for entry in kept if _is_unweighed(entry)],
        unlinked=[entry for entry in kept if _is_unlinked(entry)],
        last_ph=_last(kept, LogEntry.Kind.PH, "ph_hundredths"),
        last_temperature=_last(kept, LogEntry.Kind.TEMPERATURE, "centi_celsius"),
        heat_last=_heat(kept),
        cleared_at=next(
            (entry.happened_at for entry in reversed(kept) if entry.kind == LogEntry.Kind.EXHAUSTED), None
        ),
        since=max((entry.happened_at for entry in kept), default=None),
        strip_milligrams=beside.strip_milligrams,
        bath_before=beside.bath,
    )


def _is_unlinked(entry: LogEntry) -> bool:
    """An addition that names nothing in the store."""
    if entry.kind in (LogEntry.Kind.STOCK, LogEntry.Kind.POWDER):
        return entry.dye_id is None
    return entry.kind == LogEntry.Kind.AUXILIARY and entry.auxiliary_id is None


def _is_unweighed(entry: LogEntry) -> bool:
    """An addition of something known whose amount cannot be reckoned with: a pinch, or a stock of unknown strength."""
    if entry.kind in (LogEntry.Kind.STOCK, LogEntry.Kind.POWDER):
        return entry.dye_id is not None and dye_in(entry) is None
    if entry.kind == LogEntry.Kind.AUXILIARY:
        return entry.auxiliary_id is not None and not (entry.milligrams or entry.microlitres)
    return entry.kind == LogEntry.Kind.MIX and not entry.microlitres


def _dyes(kept: Iterable[LogEntry], dry_milligrams: int) -> list[DyeSoFar]:
    parts: dict[int, list[LogEntry]] = {}
    for entry in mixed.by_dye(kept):
        if entry.dye_id is not None and dye_in(entry) is not None:
            parts.setdefault(entry.dye_id, []).append(entry)
    return [_one_dye(entries, dry_milligrams) for entries in parts.values()]


def _one_dye(entries: list[LogEntry], dry_milligrams: int) -> DyeSoFar:
    dye = entries[0].dye
    assert dye is not None
    milligrams = sum((dye_in(entry) or Fraction(0) for entry in entries), Fraction(0))
    working = None
    percent = None
    if dry_milligrams:
        figure = depth.depth_percent(dye_milligrams=milligrams, dry_milligrams=dry_milligrams)
        percent = figure.value
        working = Working(
            title=f"Depth of {dye.name}",
            formula=figure.working.formula,
            substitution=figure.working.substitution,
            result=figure.working.result,
            source=figure.working.source,
            steps=(*_sources_of(entries), _sum(dye, entries, milligrams)),
        )
    return DyeSoFar(
        dye=dye,
        milligrams=milligrams,
        stock_microlitres=sum(
            entry.microlitres or 0 for entry in entries if entry.kind == LogEntry.Kind.STOCK
        ),
        depth_percent=percent,
        working=working,
        about=any(entry.about for entry in entries),
    )


def _with_told(dyes: list[DyeSoFar], before: BathBefore | None, dry_milligrams: int) -> list[DyeSoFar]:
    """The dyes of a log with what was told of the bath before, each with the telling in its working."""
    if before is None:
        return dyes
    summed = {each.dye.pk: each for each in dyes}
    for left in before.told:
        if not left.micrograms:
            continue
        said = said_to_be_left(
            name=left.dye.name,
            micrograms=left.micrograms,
            by=str(left.by),
            at=f"{timezone.localtime(left.said_at):%H:%M}",
        )
        added = summed.get(left.dye_id) or DyeSoFar(left.dye, Fraction(0), 0, None, None)
        milligrams = added.milligrams + said.value
        percent, working = None, None
        if dry_milligrams:
            figure = depth.depth_percent(dye_milligrams=milligrams, dry_milligrams=dry_milligrams)
            percent = figure.value
            steps = added.working.steps if added.working is not None else ()
            working = replace(figure.working, title=f"Depth of {left.dye.name}", steps=(*steps, said.working))
        summed[left.dye_id] = replace(
            added, milligrams=milligrams, depth_percent=percent, working=working, told=left
        )
    return list(summed.values())


def _sources_of(entries: list[LogEntry]) -> list[Working]:
    """How much dye each strength of stock brought: one step a strength, however many times it was poured."""
    poured: dict[int, int] = {}
    for entry in entries:
        if entry.kind == LogEntry.Kind.STOCK and entry.microlitres and entry.strength_mg_per_litre:
            poured[entry.strength_mg_per_litre] = (
                poured.get(entry.strength_mg_per_litre, 0) + entry.microlitres
            )
    from_mixes = (mixed.dye_in_portion(entry) for entry in entries if entry.kind == LogEntry.Kind.MIX)
    return [
        *(
            depth.dye_in_stock(stock_microlitres=microlitres, strength_mg_per_litre=strength).working
            for strength, microlitres in poured.items()
        ),
        *(figure.working for figure in from_mixes if figure is not None),
    ]


def _sum(dye: Dye, entries: list[LogEntry], milligrams: Fraction) -> Working:
    stock = sum(entry.microlitres or 0 for entry in entries if entry.kind == LogEntry.Kind.STOCK)
    powder = sum(entry.milligrams or 0 for entry in entries if entry.kind == LogEntry.Kind.POWDER)
    mix = sum(entry.microlitres or 0 for entry in entries if entry.kind == LogEntry.Kind.MIX)
    parts = [
        words
        for words in (
            f"dye in {format_millilitres(stock)} of stock" if stock else "",
            f"dye in {format_millilitres(mix)} of mixes" if mix else "",
            f"{format_grams(powder)} of powder" if powder else "",
        )
        if words
    ]
    return Working(
        title=f"All {dye.name}",
        formula="dye from stock + mixes + powder" if mix else "dye from stock + powder",
        substitution=" + ".join(parts),
        result=format_grams(milligrams),
        source=sources.DEFINITION,
    )


def _auxiliaries(kept: Iterable[LogEntry], dry_milligrams: int) -> list[AuxiliarySoFar]:
    parts: dict[int, list[LogEntry]] = {}
    for entry in kept:
        if entry.auxiliary_id is not None and (entry.milligrams or entry.microlitres):
            parts.setdefault(entry.auxiliary_id, []).append(entry)
    return [_one_auxiliary(entries, dry_milligrams) for entries in parts.values()]


def _one_auxiliary(entries: list[LogEntry], dry_milligrams: int) -> AuxiliarySoFar:
    auxiliary = entries[0].auxiliary
    assert auxiliary is not None
    milligrams = sum(entry.milligrams or 0 for entry in entries)
    microlitres = sum(entry.microlitres or 0 for entry in entries)
    return AuxiliarySoFar(
        auxiliary=auxiliary,
        milligrams=milligrams,
        microlitres=microlitres,
        share=_share(auxiliary, milligrams, microlitres, dry_milligrams),
        about=any(entry.about for entry in entries),
    )


def _share(
    auxiliary: Auxiliary, milligrams: int, microlitres: int, dry_milligrams: int
) -> Figure[Fraction] | None:
    """An auxiliary in percent of dry fibre: by weight, or by what is dissolved in it where its strength is known."""
    if not dry_milligrams or (milligrams and microlitres):
        return None
    if milligrams:
        pure, shown, formula = Fraction(milligrams), format_grams(milligrams), "weight ÷ dry fibre × 100"
    elif auxiliary.strength_hundredths_percent:
        percent = Fraction(auxiliary.strength_hundredths_percent, 100)
        pure = microlitres * percent / 100
        shown = f"{format_millilitres(microlitres)} × {format_percent(percent)}"
        formula = "ml × strength, taken as g in 100 ml, ÷ dry fibre × 100"
    else:
        return None
    share = pure / dry_milligrams * 100
    return Figure(
        share,
        Working(
            title=f"{auxiliary.name} on the fibre",
            formula=formula,
            substitution=f"{shown} ÷ {format_number(Fraction(dry_milligrams, 1000))} g × 100 %",
            result=format_percent(share),
            source=sources.DEFINITION,
        ),
    )


def _last(kept: list[LogEntry], kind: str, attribute: str) -> Seen | None:
    for entry in reversed(kept):
        value = getattr(entry, attribute)
        if entry.kind == kind and value is not None:
            return Seen(value, entry.happened_at)
    return None


def _heat(kept: list[LogEntry]) -> HeatSeen | None:
    for entry in reversed(kept):
        if entry.kind == LogEntry.Kind.HEAT and entry.heat_on is not None:
            return HeatSeen(entry.heat_on, entry.heat_level, entry.happened_at)
    return None
