"""What differs today from the lot that is to be repeated, and the temperatures that its log shows."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from django.db.models import QuerySet
from django.utils import timezone

from dyehouse.studio.models import Studio
from recipes.dyeing.differences import differences
from recipes.dyeing.heat import hob_of, hob_words
from recipes.dyeing.pot_facts import Difference, DyeFacts, PotFacts, Water
from recipes.dyeing.programme import Logged, Programme, RiseOnHob, hob_minutes, programme_to_follow
from recipes.dyeing.temperatures import default_programme, temperature_cap
from recipes.lots import mixed
from recipes.lots.baths import beside_of
from recipes.lots.contents import PotContents, add_up, counts
from recipes.lots.in_store import Fibres, InStore, fibres_of, in_store_today
from recipes.lots.load_words import OF_A_LOAD, before_words
from recipes.lots.models import DyeLot, LogEntry, Pot, PotLoad, ReferenceChoice, WayOrigin
from recipes.lots.redye import PlannedPot, RedyeAsk
from recipes.lots.redye_amounts import StepPlan
from recipes.lots.water import water_as_kept, water_of
from recipes.models import Dye, Rule, WayOfDyeing

Kind = LogEntry.Kind


@dataclass(frozen=True, slots=True)
class Reference:
    """The lot to repeat, with the pot of it that is compared and what its log says; all its pots and their mill lots."""

    lot: DyeLot
    pot: Pot
    loads: list[PotLoad]
    entries: list[LogEntry]
    contents: PotContents
    pots: tuple[Pot, ...] = ()
    mill_lots: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Today:
    """What a redye is seen against: the lot to repeat, what stands in the store, and the fibres of both bases."""

    reference: Reference | None
    store: InStore
    fibres: dict[int, Fibres]
    water: Water


def today_for(ask: RedyeAsk, *, store: InStore | None = None, studio: Studio | None = None) -> Today:
    """Everything that the differences, the temperatures and what to have ready are worked out from.

    Four queries, and one for the studio where it is not given.
    """
    reference = reference_of(ask)
    bases = [
        ask.put_up.base_id,
        *(load.put_up.base_id for load in (reference.loads if reference is not None else [])),
    ]
    return Today(
        reference,
        store if store is not None else in_store_today(),
        fibres_of(bases),
        water_as_kept(water_of(studio or Studio.current())),
    )


def reference_of(ask: RedyeAsk) -> Reference | None:
    """The reference lot of the colourway on the way's base, else the pot that the way was learned from."""
    newest = ReferenceChoice.objects.filter(colourway=ask.way.colourway_id, base=ask.way.base_id).order_by(
        "-id"
    )
    loads = _loads(pot__dye_lot__in=newest.values("dye_lot")[:1]) or _loads(
        pot__in=pot_learned_from(ask.way), pot__dye_lot__isnull=False
    )
    if not loads:
        return None
    pots = {load.pot_id: load.pot for load in loads}
    pot = _most_alike(ask, loads)
    lot = pot.dye_lot
    if lot is None:
        return None
    of_lot = frozenset(number for load in loads if (number := _lot_number(load)) is not None)
    loads = [load for load in loads if load.pot_id == pot.pk]
    entries = [
        entry
        for entry in LogEntry.objects.filter(pot=pot)
        .select_related("dye", "jar", "bottle__jar", "mix", "auxiliary", "struck_by")
        .prefetch_related(mixed.PARTS)
        .order_by("happened_at", "id")
        if counts(entry)
    ]
    contents = add_up(loads=loads, entries=entries, beside=beside_of(pot))
    return Reference(lot, pot, loads, entries, contents, tuple(pots.values()), of_lot)


def _most_alike(ask: RedyeAsk, loads: Sequence[PotLoad]) -> Pot:
    """Of the pots of a lot the one on this base, and of those the one whose yarn weighed most nearly as much; else the first."""
    wanted = ask.pieces * ask.piece_dry_milligrams

    def unlike(load: PotLoad) -> tuple[bool, int, int]:
        mine = [each for each in loads if each.pot_id == load.pot_id]
        on_base = any(each.put_up.base_id == ask.put_up.base_id for each in mine)
        return not on_base, abs(sum(each.dry_milligrams for each in mine) - wanted), load.pot_id

    return min(loads, key=unlike).pot


def pot_learned_from(way: WayOfDyeing) -> QuerySet[WayOrigin, int]:
    """The pot that a way was learned from; of a correction, which has none, that of the way before it."""
    before = WayOrigin.objects.filter(
        way__colourway=way.colourway_id, way__base=way.base_id, way__number__lte=way.number
    )
    return before.order_by("-way__number").values_list("pot", flat=True)[:1]


def _loads(**wanted: object) -> list[PotLoad]:
    """The loads of the pots that are wanted, with what is compared of them."""
    return list(
        PotLoad.objects.filter(**wanted)
        .select_related(*OF_A_LOAD, "pot__vessel", "pot__dye_lot")
        .order_by("pot_id", "id")
    )


def what_differs(
    ask: RedyeAsk,
    planned: PlannedPot,
    today: Today,
    *,
    mixed_new: Collection[tuple[Dye, int]] = (),
) -> list[Difference]:
    """Only what differs between the reference pot and this one as it would be dyed today, worst first.

    `mixed_new` are stocks, by dye and strength, that are mixed for this redye because the bottles do not suffice.
    """
    if today.reference is None:
        return []
    now = _facts_now(ask, planned, today.reference, today, mixed_new)
    then = _facts_then(today.reference, today.fibres, ask.way.base_id)
    # A lot of several pots may be of several mill lots; any of them is no other one.
    if now.mill_lot in today.reference.mill_lots:
        then = replace(then, mill_lot=now.mill_lot)
    return differences(then, now)


def _facts_then(reference: Reference, fibres: dict[int, Fibres], base_id: int) -> PotFacts:
    """What the pot of then was like, on this base where it held several; of put-ups that differ no piece is weighed."""
    on_base = [load for load in reference.loads if load.put_up.base_id == base_id] or reference.loads
    load = on_base[0]
    base, pot, contents = load.put_up.base, reference.pot, reference.contents
    one_put_up = len({each.put_up_id for each in reference.loads}) == 1
    return PotFacts(
        base=base.name,
        fibres=fibres.get(base.pk, ()),
        superwash=base.superwash,
        mill_lot=_lot_numbers(on_base),
        dyes=tuple(_dyes_then(reference.entries)),
        dry_milligrams=contents.dry_milligrams or None,
        pieces=(contents.pieces or None) if one_put_up and not contents.strip_milligrams else None,
        liquor_ratio=contents.liquor_ratio.value if contents.liquor_ratio is not None else None,
        bath_microlitres=contents.bath_microlitres,
        vessel=pot.vessel.name if pot.vessel is not None else None,
        hob_watts=pot.vessel.hob_watts if pot.vessel is not None else None,
        water=water_as_kept(pot.water),
        presoak_minutes=pot.presoak_minutes,
        lay=pot.lay,
        bath_before=contents.bath_before.words if contents.bath_before is not None else "",
        dyed_before=", ".join(dict.fromkeys(before_words(load) for load in on_base if load.overdyes_id)),
    )


def _lot_numbers(loads: Sequence[PotLoad]) -> str | None:
    """The mill lots of a base in one pot: 4411, or 4411 and 4502; None where one of them is not known."""
    numbers = [_lot_number(load) for load in loads]
    known = list(dict.fromkeys(number for number in numbers if number is not None))
    return " and ".join(known) if known and None not in numbers else None


def _lot_number(load: PotLoad) -> str | None:
    return None if load.mill_lot.unknown else load.mill_lot.number


def _dyes_then(entries: Sequence[LogEntry]) -> Iterable[DyeFacts]:
    """Each dye once, by its last addition."""
    last = {entry.dye_id: entry for entry in mixed.by_dye(entries) if entry.dye is not None}
    for entry in last.values():
        assert entry.dye is not None
        jar = entry.jar or (entry.bottle.jar if entry.bottle is not None else None)
        age = (entry.happened_at - entry.bottle.made_at).days if entry.bottle is not None else None
        yield DyeFacts(
            name=entry.dye.name,
            dye_class=entry.dye.dye_class,
            jar=jar.label if jar is not None else None,
            # An older log does not say; then nothing is known to have changed.
            strength_of_type_percent=entry.strength_of_type_percent or entry.dye.strength_of_type_percent,
            bottle_age_days=age,
            bottle_strength_mg_per_litre=entry.strength_mg_per_litre,
        )


def _facts_now(
    ask: RedyeAsk,
    planned: PlannedPot,
    reference: Reference,
    today: Today,
    mixed_new: Collection[tuple[Dye, int]],
) -> PotFacts:
    base = ask.put_up.base
    dyes = [
        (step.rule.dye, step.strength_mg_per_litre)
        for step in planned.steps
        if step.rule is not None and step.rule.dye is not None
    ]
    then = reference.pot
    return PotFacts(
        base=base.name,
        fibres=today.fibres.get(base.pk, ()),
        superwash=base.superwash,
        mill_lot=ask.mill_lot.number if ask.mill_lot is not None and not ask.mill_lot.unknown else None,
        dyes=tuple(_dyes_now(dyes, today.store, mixed_new)),
        dry_milligrams=planned.load.dry_milligrams,
        pieces=planned.load.pieces,
        liquor_ratio=ask.liquor_ratio,
        bath_microlitres=planned.bath_microlitres,
        vessel=ask.vessel.name,
        hob_watts=ask.vessel.hob_watts,
        water=today.water,
        # A plan means to repeat how the pot was handled.
        presoak_minutes=then.presoak_minutes,
        lay=then.lay,
    )


def _dyes_now(
    dyes: Sequence[tuple[Dye, int | None]], store: InStore, mixed_new: Collection[tuple[Dye, int]]
) -> Iterable[DyeFacts]:
    """Each dye from the bottle and jar that stand open today: the newest bottle of the strength, the jar opened last."""
    now = timezone.now()
    for dye, strength in dict(dyes).items():
        bottles, jars = store.bottles_of(dye.pk, strength), store.jars_of(dye.pk)
        bottle = bottles[-1] if bottles and (dye, strength) not in mixed_new else None
        jar = bottle.jar if bottle is not None else None
        if jar is None and jars:
            jar = jars[-1]
        yield DyeFacts(
            name=dye.name,
            dye_class=dye.dye_class,
            jar=jar.label if jar is not None else None,
            strength_of_type_percent=dye.strength_of_type_percent,
            bottle_age_days=(now - bottle.made_at).days if bottle is not None else None,
            bottle_in_fridge=bottle is not None and bottle.in_fridge,
            bottle_strength_mg_per_litre=strength,
        )


@dataclass(frozen=True, slots=True)
class Heating:
    """The temperatures to follow, and what each rise takes on this vessel's hob.

    `starts_at` is the minute of the pot's clock at which the programme begins, None where the log does not show it; `hob` says
    what share of the hob's power was reckoned with.
    """

    programme: Programme
    rises: list[RiseOnHob]
    starts_at: Fraction | None = None
    hob: str = ""


def heating_for(ask: RedyeAsk, planned: PlannedPot, today: Today, *, us: bool = False) -> Heating:
    """The programme that the reference lot's log shows, else the readings of the way itself, as one from notes has them;
    a class table fills the gaps only, capped by the fibre.
    """
    fibres = [fibre for fibre, _ in today.fibres.get(ask.put_up.base_id, ())]
    superwash = ask.put_up.base.superwash
    logged = _logged(today.reference) if today.reference is not None else _by_the_way(planned)
    programme = programme_to_follow(
        logged,
        default=default_programme(_main_class(planned), fibres, superwash),
        cap=temperature_cap(fibres, superwash),
    )
    rises = (
        hob_minutes(
            programme,
            bath_microlitres=planned.bath_microlitres,
            hob_watts=ask.vessel.hob_watts,
            efficiency_percent=hob_of(ask.vessel.hob_kind).efficiency_percent,
            dry_milligrams=planned.load.dry_milligrams,
            us=us,
        )
        if ask.vessel.hob_watts
        else []
    )
    from_log = bool(programme.steps) and not programme.steps[0].from_table
    # A way whose readings have no minutes does not tell when the heating begins.
    timed = today.reference is not None or all(step.minute is not None for step in _readings(planned))
    read_at = (Fraction(each.minute) for each in logged if each.centi_celsius is not None and timed)
    return Heating(
        programme,
        rises,
        next(read_at, None) if from_log else None,
        hob_words(ask.vessel.hob_kind) if rises else "",
    )


def _readings(planned: PlannedPot) -> list[StepPlan]:
    """The steps of a planned pot that are of its heat."""
    kinds = (Rule.Kind.TEMPERATURE, Rule.Kind.HEAT)
    return [step for step in planned.steps if step.rule is not None and step.rule.kind in kinds]


def _by_the_way(planned: PlannedPot) -> list[Logged]:
    """The readings of a way, each at its minute; one without a minute comes right after what stands before it."""
    found: list[Logged] = []
    minute = 0
    for step in _readings(planned):
        minute = step.minute if step.minute is not None else minute
        if step.rule is not None:
            found.append(Logged(Fraction(minute), step.rule.centi_celsius, step.rule.heat_on))
    return found


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
