"""What differs today from the lot that is to be repeated, and the temperatures that its log shows."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.utils import timezone

from recipes.dyeing.differences import differences
from recipes.dyeing.pot_facts import Difference, DyeFacts, PotFacts
from recipes.dyeing.programme import Logged, Programme, RiseOnHob, hob_minutes, programme_to_follow
from recipes.dyeing.temperatures import default_programme, temperature_cap
from recipes.lots.contents import PotContents, add_up, counts
from recipes.lots.finishing import reference_for
from recipes.lots.models import DyeLot, LogEntry, Pot, PotLoad
from recipes.lots.redye import PlannedPot, RedyeAsk
from recipes.models import Base, BaseFibre, Dye, Jar, StockBottle

Kind = LogEntry.Kind


@dataclass(frozen=True, slots=True)
class Reference:
    """The lot to repeat, with the pot that it came from and what its log says."""

    lot: DyeLot
    pot: Pot
    loads: list[PotLoad]
    entries: list[LogEntry]
    contents: PotContents


def reference_of(ask: RedyeAsk) -> Reference | None:
    """The reference lot of the colourway on the way's base, else the pot that the way was learned from."""
    choice = reference_for(colourway=ask.way.colourway, base=ask.way.base)
    pots = Pot.objects.select_related("vessel", "dye_lot")
    pot = pots.filter(dye_lot=choice.dye_lot).order_by("id").first() if choice is not None else None
    if pot is None:
        pot = pots.filter(ways_learned__way=ask.way, dye_lot__isnull=False).first()
    if pot is None or pot.dye_lot is None:
        return None
    loads = list(PotLoad.objects.filter(pot=pot).select_related("put_up__base", "mill_lot").order_by("id"))
    entries = [
        entry
        for entry in LogEntry.objects.filter(pot=pot)
        .select_related("dye", "jar", "bottle__jar", "auxiliary", "struck_by")
        .order_by("happened_at", "id")
        if counts(entry)
    ]
    return Reference(pot.dye_lot, pot, loads, entries, add_up(loads=loads, entries=entries))


def what_differs(ask: RedyeAsk, planned: PlannedPot, reference: Reference | None) -> list[Difference]:
    """Only what differs between the reference pot and this one as it would be dyed today, worst first."""
    if reference is None:
        return []
    return differences(_facts_then(reference), _facts_now(ask, planned, reference))


def _fibres(base: Base) -> tuple[tuple[str, int], ...]:
    rows = BaseFibre.objects.filter(base=base).order_by("-per_mille", "fibre")
    return tuple(rows.values_list("fibre", "per_mille"))


def _facts_then(reference: Reference) -> PotFacts:
    load = reference.loads[0]
    base, pot, contents = load.put_up.base, reference.pot, reference.contents
    return PotFacts(
        base=base.name,
        fibres=_fibres(base),
        superwash=base.superwash,
        mill_lot=_lot_number(load),
        dyes=tuple(_dyes_then(reference.entries)),
        dry_milligrams=contents.dry_milligrams or None,
        pieces=contents.pieces or None,
        liquor_ratio=contents.liquor_ratio.value if contents.liquor_ratio is not None else None,
        bath_microlitres=contents.bath_microlitres,
        vessel=pot.vessel.name if pot.vessel is not None else None,
        hob_watts=pot.vessel.hob_watts if pot.vessel is not None else None,
        presoak_minutes=pot.presoak_minutes,
        lay=pot.lay,
    )


def _lot_number(load: PotLoad) -> str | None:
    return None if load.mill_lot.unknown else load.mill_lot.number


def _dyes_then(entries: Sequence[LogEntry]) -> Iterable[DyeFacts]:
    """Each dye once, by its last addition."""
    last = {entry.dye_id: entry for entry in entries if entry.dye is not None}
    for entry in last.values():
        assert entry.dye is not None
        jar = entry.jar or (entry.bottle.jar if entry.bottle is not None else None)
        age = (entry.happened_at - entry.bottle.made_at).days if entry.bottle is not None else None
        yield DyeFacts(
            name=entry.dye.name,
            dye_class=entry.dye.dye_class,
            jar=jar.label if jar is not None else None,
            strength_of_type_percent=entry.dye.strength_of_type_percent,
            bottle_age_days=age,
            bottle_strength_mg_per_litre=entry.strength_mg_per_litre,
        )


def _facts_now(ask: RedyeAsk, planned: PlannedPot, reference: Reference) -> PotFacts:
    base = ask.put_up.base
    dyes = [
        (step.rule.dye, step.strength_mg_per_litre)
        for step in planned.steps
        if step.rule is not None and step.rule.dye is not None
    ]
    then = reference.pot
    return PotFacts(
        base=base.name,
        fibres=_fibres(base),
        superwash=base.superwash,
        mill_lot=ask.mill_lot.number if ask.mill_lot is not None and not ask.mill_lot.unknown else None,
        dyes=tuple(_dyes_now(dyes)),
        dry_milligrams=planned.load.dry_milligrams,
        pieces=planned.load.pieces,
        liquor_ratio=ask.liquor_ratio,
        bath_microlitres=planned.bath_microlitres,
        vessel=ask.vessel.name,
        hob_watts=ask.vessel.hob_watts,
        # A plan means to repeat how the pot was handled.
        presoak_minutes=then.presoak_minutes,
        lay=then.lay,
    )


def _dyes_now(dyes: Sequence[tuple[Dye, int | None]]) -> Iterable[DyeFacts]:
    """Each dye from the bottle and jar that stand open today: the newest bottle of the strength, the jar opened last."""
    ids = [dye.pk for dye, _ in dyes]
    now = timezone.now()
    bottles = list(
        StockBottle.objects.filter(dye__in=ids, finished_at__isnull=True)
        .select_related("jar")
        .order_by("made_at", "id")
    )
    jars = list(Jar.objects.filter(dye__in=ids, finished_at__isnull=True).order_by("id"))
    for dye, strength in dict(dyes).items():
        bottle = next(
            (
                each
                for each in reversed(bottles)
                if each.dye_id == dye.pk and each.strength_mg_per_litre == strength
            ),
            None,
        )
        jar = bottle.jar if bottle is not None else None
        if jar is None:
            jar = next((each for each in reversed(jars) if each.dye_id == dye.pk), None)
        yield DyeFacts(
            name=dye.name,
            dye_class=dye.dye_class,
            jar=jar.label if jar is not None else None,
            strength_of_type_percent=dye.strength_of_type_percent,
            bottle_age_days=(now - bottle.made_at).days if bottle is not None else None,
            bottle_strength_mg_per_litre=strength,
        )


@dataclass(frozen=True, slots=True)
class Heating:
    """The temperatures to follow, and what each rise takes on this vessel's hob."""

    programme: Programme
    rises: list[RiseOnHob]


def heating_for(ask: RedyeAsk, planned: PlannedPot, reference: Reference | None) -> Heating:
    """The programme that the reference lot's log shows; a class table fills its gaps only, capped by the fibre."""
    fibres = [fibre for fibre, _ in _fibres(ask.put_up.base)]
    superwash = ask.put_up.base.superwash
    programme = programme_to_follow(
        _logged(reference),
        default=default_programme(_main_class(planned), fibres, superwash),
        cap=temperature_cap(fibres, superwash),
    )
    rises = (
        hob_minutes(
            programme,
            bath_microlitres=planned.bath_microlitres,
            hob_watts=ask.vessel.hob_watts,
            dry_milligrams=planned.load.dry_milligrams,
        )
        if ask.vessel.hob_watts
        else []
    )
    return Heating(programme, rises)


def _logged(reference: Reference | None) -> list[Logged]:
    if reference is None or not reference.entries:
        return []
    start = reference.entries[0].happened_at
    return [
        Logged(
            Fraction(int((entry.happened_at - start).total_seconds()), 60), entry.centi_celsius, entry.heat_on
        )
        for entry in reference.entries
        if entry.kind in (Kind.TEMPERATURE, Kind.HEAT)
    ]


def _main_class(planned: PlannedPot) -> str:
    """The class of the dye that most is taken of."""
    dyes = [step for step in planned.steps if step.rule is not None and step.rule.dye is not None]
    deepest = max(dyes, key=lambda step: step.depth_percent or Fraction(0), default=None)
    if deepest is None or deepest.rule is None or deepest.rule.dye is None:
        return Dye.Class.ACID_UNKNOWN.value
    return str(deepest.rule.dye.dye_class)
