"""What the pages of colourways show: the lot to repeat on each base, its way in numbers, and what went before."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import Count, F, Max, OuterRef, Q, QuerySet, Subquery

from dyehouse.ledger.models import Balance
from dyehouse.studio.codes import tidy
from dyehouse.studio.models import User
from recipes.dyeing.families import BY_SLUG, family_names
from recipes.dyeing.lay import Lay
from recipes.dyeing.scaling import BasisNeeds
from recipes.dyeing.working import Working
from recipes.lots import mixed
from recipes.lots.beside import strip_beside
from recipes.lots.contents import add_up, counts
from recipes.lots.fibre_kinds import with_kinds
from recipes.lots.load_words import OF_A_LOAD
from recipes.lots.missing import Missing, what_is_missing
from recipes.lots.models import DyeLot, Judgement, LogEntry, Photo, Pot, PotLoad, ReferenceChoice
from recipes.lots.nearest import WayOnBase, bases_in_use, ways_elsewhere
from recipes.lots.notebook.lacking import Lack, lacking
from recipes.lots.untried import untried
from recipes.models import Base, Colourway, Rule, WayOfDyeing
from recipes.way_words import (
    amount_words,
    coloured_lay,
    departures_of,
    rule_amount_words,
    rule_name,
    rule_place_words,
    rule_words,
    strength_words,
)
from recipes.ways import PotSize, RuleDraft, WayFacts, amount_in

COLOURWAYS_A_PAGE = 60
LOTS_SHOWN = 8
HUNDRED_GRAMS = 100_000


@dataclass(frozen=True, slots=True)
class ColourwayLine:
    """A colourway in the list."""

    colourway: Colourway
    name: str
    photo: Photo | None
    bases: list[str]
    lots: int
    last_dyed: datetime | None
    has_reference: bool
    has_way: bool
    families: list[str]
    only_from_notes: bool = False


@dataclass(frozen=True, slots=True)
class ColourwayList:
    """One page of the list."""

    lines: list[ColourwayLine]
    search: str
    page: int
    more: bool
    family: str = ""

    @property
    def asked(self) -> str:
        """What was asked for, in words."""
        names = family_names([self.family])
        return " in ".join(part for part in (f"“{self.search}”" if self.search else "", *names) if part)


@dataclass(frozen=True, slots=True)
class RuleLine:
    """One rule of a way: what, by what it goes, and how much that is for 100 g of dry fibre."""

    rule: Rule | RuleDraft
    name: str
    by_rule: str
    for_100_g: str
    working: Working | None


@dataclass(frozen=True, slots=True)
class WayLines:
    """A way of dyeing in words."""

    way: WayOfDyeing
    rules: list[RuleLine]
    departs: list[str]
    pot_code: str
    lacks: list[Lack] = field(default_factory=list)

    @property
    def lay(self) -> Lay | None:
        """Its sections along the hank, coloured by the dyes that go on each."""
        return coloured_lay(self.way.lay_plan, [line.rule for line in self.rules])


@dataclass(frozen=True, slots=True)
class LotLine:
    """One lot of a colourway on a base, its photo and how it was judged last."""

    lot: DyeLot
    photo: Photo | None
    judgement: Judgement | None
    is_reference: bool


@dataclass(frozen=True, slots=True)
class OnBase:
    """What is known of a colourway on one base: the lot to repeat, the newest way, the lots and older ways.

    `missing` is what the lot to repeat leaves open, None where it came from no pot. `teaches` is the pot that can be
    made repeatable where there is no way yet. `lots` are the latest, `earlier_lots` those before them.
    """

    base: Base
    reference: DyeLot | None
    photo: Photo | None
    load: PotLoad | None
    judgement: Judgement | None
    way: WayLines | None
    older: list[WayLines] = field(default_factory=list)
    lots: list[LotLine] = field(default_factory=list)
    reference_pot: Pot | None = None
    reference_way: WayOfDyeing | None = None
    missing: list[Missing] | None = None
    teaches: Pot | None = None
    earlier_lots: list[LotLine] = field(default_factory=list)
    near: WayOnBase | None = None

    @property
    def other_way(self) -> bool:
        """Whether the lot to repeat was dyed by another way than the newest."""
        return (
            self.way is not None
            and self.reference_way is not None
            and self.reference_way.pk != self.way.way.pk
        )


@dataclass(frozen=True, slots=True)
class ColourwayPage:
    """The page of one colourway."""

    colourway: Colourway
    name: str
    may_see: bool
    bases: list[OnBase]
    in_work: list[Pot]
    elsewhere: list[WayOnBase]


def colourway_list(*, user: User, search: str = "", family: str = "", page: int = 1) -> ColourwayList:
    """A page of the list, the one dyed last first, in a fixed number of queries.

    `search` is part of a name, or how the code of a colourway or of one of its lots begins; `family` a colour family's
    slug, any other word is none.
    """
    first = (page - 1) * COLOURWAYS_A_PAGE
    family = family if family in BY_SLUG else ""
    found = list(_found(user, search, family)[first : first + COLOURWAYS_A_PAGE + 1])
    lines = _lines(found[:COLOURWAYS_A_PAGE], user)
    return ColourwayList(lines, search, page, more=len(found) > COLOURWAYS_A_PAGE, family=family)


def _lines(colourways: Sequence[Colourway], user: User) -> list[ColourwayLine]:
    ids = [each.pk for each in colourways]
    references = set(ReferenceChoice.objects.filter(colourway__in=ids).values_list("colourway", flat=True))
    bases: dict[int, dict[str, None]] = {}
    pairs = (
        PotLoad.objects.filter(pot__colourway__in=ids)
        .values_list("pot__colourway", "put_up__base__name")
        .distinct()
        .order_by("put_up__base__name")
    )
    for colourway_id, base in pairs:
        bases.setdefault(colourway_id, {})[base] = None
    ways: dict[int, bool] = {}
    noted = WayOfDyeing.objects.filter(colourway__in=ids).annotate(untried=untried())
    for colourway_id, only_noted in noted.values_list("colourway", "untried"):
        ways[colourway_id] = ways.get(colourway_id, True) and only_noted
    photos = _newest_photos(ids)
    return [
        ColourwayLine(
            colourway=each,
            name=each.shown_name(user),
            photo=photos.get(each.pk) if each.may_be_seen_by(user) else None,
            bases=list(bases.get(each.pk, {})),
            lots=getattr(each, "lot_count", 0),
            last_dyed=getattr(each, "last_dyed", None),
            has_reference=each.pk in references,
            has_way=each.pk in ways,
            families=family_names(each.families) if each.may_be_seen_by(user) else [],
            only_from_notes=ways.get(each.pk, False),
        )
        for each in colourways
    ]


def _found(user: User, search: str, family: str) -> QuerySet[Colourway]:
    found = Colourway.objects.filter(retired_at__isnull=True).annotate(
        lot_count=Count("lots", filter=Q(lots__taken_from__isnull=True), distinct=True),
        last_dyed=Max("lots__made_at"),
    )
    if family:
        # A list in a column is looked into here, since not every database can. A secret one is in no family for those
        # who may not see its colour.
        sorted_into = Colourway.objects.exclude(families=[]).only("families", "secret_until")
        found = found.filter(
            pk__in=[each.pk for each in sorted_into if family in each.families and each.may_be_seen_by(user)]
        )
    words = " ".join(search.split()).casefold()
    if words:
        # Compared here, since not every database folds the case of every letter. A secret name is found by nobody
        # who may not see it: a search must not tell which code it belongs to.
        names = Colourway.objects.only("name", "secret_until")
        named = [each.pk for each in names if words in each.name.casefold() and each.may_be_seen_by(user)]
        code = tidy(words)
        coded = Q(code__startswith=code) | Q(
            pk__in=DyeLot.objects.filter(code__startswith=code).values("colourway")
        )
        found = found.filter(Q(pk__in=named) | coded if code else Q(pk__in=named))
    return found.order_by(F("last_dyed").desc(nulls_last=True), "-made_at", "-pk")


def _newest_photos(colourway_ids: Sequence[int]) -> dict[int, Photo]:
    newest = (
        Photo.objects.filter(dye_lot__colourway__in=colourway_ids)
        .values("dye_lot__colourway")
        .annotate(newest=Max("pk"))
        .values_list("newest", flat=True)
    )
    photos = Photo.objects.filter(pk__in=list(newest)).select_related("dye_lot")
    return {photo.dye_lot.colourway_id: photo for photo in photos if photo.dye_lot is not None}


def colourway_page(colourway: Colourway, *, user: User, us: bool = False) -> ColourwayPage:
    """The page of one colourway, in a fixed number of queries however many lots and ways it has."""
    loads = list(
        with_kinds(PotLoad.objects.filter(pot__colourway=colourway))
        .select_related(*OF_A_LOAD, "pot__vessel", "pot__dye_lot")
        .order_by("-pot__made_at", "id")
    )
    bases = {load.put_up.base_id: load.put_up.base for load in loads}
    ways = list(
        WayOfDyeing.objects.filter(colourway=colourway)
        .annotate(untried=untried())
        .select_related("base", "departs_from__base", "made_by", "origin__pot")
        .order_by("-number", "-pk")
    )
    bases |= {way.base_id: way.base for way in ways}
    rules: dict[int, list[Rule]] = {}
    for rule in Rule.objects.filter(way__in=ways).select_related("dye", "auxiliary").order_by("number"):
        rules.setdefault(rule.way_id, []).append(rule)
    before = _from_before(colourway)
    bases |= {base.pk: base for base, _ in before}
    chosen = ReferenceChoice.objects.filter(colourway=colourway, base=OuterRef("pk")).order_by("-pk")
    in_use, fibres = bases_in_use(bases, reference=Subquery(chosen.values("dye_lot")[:1]))
    lots = {
        lot.pk: lot for lot in (*(load.pot.dye_lot for load in loads), *(lot for _, lot in before)) if lot
    }
    chosen_lots = {pk: getattr(base, "reference", None) for pk, base in in_use.items() if pk in bases}
    references = {pk: lots[lot] for pk, lot in chosen_lots.items() if lot in lots}
    judged = list(
        Judgement.objects.filter(dye_lot__colourway=colourway, movement__reversed_by__isnull=True).order_by(
            "pk"
        )
    )
    judgements = {each.dye_lot_id: each for each in judged}
    last_on: dict[int, int] = {}
    for place, load in enumerate(loads):
        last_on.setdefault(load.put_up.base_id, place)
    may_see = colourway.may_be_seen_by(user)
    repeated = {lot.pk for lot in references.values()}
    pots = {load.pot_id: load.pot for load in loads if load.pot.dye_lot_id in repeated}
    taken = list(Photo.objects.filter(Q(dye_lot__colourway=colourway) | Q(pot__in=pots)).order_by("pk"))
    photos = {photo.dye_lot_id: photo for photo in taken if photo.dye_lot_id is not None} if may_see else {}
    missing = _missing(pots.values(), loads, taken, judged)
    lines = {way.pk: _way_lines(way, rules, us) for way in ways}
    near = ways_elsewhere(ways, in_use.values(), fibres)
    return ColourwayPage(
        colourway=colourway,
        name=colourway.shown_name(user),
        may_see=may_see,
        bases=[
            _on_base(
                base,
                references.get(pk),
                loads,
                [lines[way.pk] for way in ways if way.base_id == pk],
                photos,
                judgements,
                [lot for on, lot in before if on.pk == pk],
                missing,
                near.get(pk),
            )
            # The base that was dyed last stands first.
            for pk, base in sorted(
                bases.items(), key=lambda pair: (last_on.get(pair[0], len(loads)), pair[1].name)
            )
        ],
        in_work=[
            pot for pot in dict.fromkeys(load.pot for load in loads) if pot.state in ("in work", "planned")
        ],
        elsewhere=[on for pk, on in near.items() if pk not in bases],
    )


def _on_base(
    base: Base,
    reference: DyeLot | None,
    loads: Iterable[PotLoad],
    ways: Sequence[WayLines],
    photos: dict[int, Photo],
    judgements: dict[int, Judgement],
    from_before: Sequence[DyeLot],
    missing: dict[int, list[Missing]],
    near: WayOnBase | None,
) -> OnBase:
    mine = [load for load in loads if load.put_up.base_id == base.pk]
    dyed = [load.pot.dye_lot for load in mine if load.pot.dye_lot is not None]
    lines = [
        LotLine(lot, photos.get(lot.pk), judgements.get(lot.pk), lot == reference)
        for lot in dict.fromkeys([*dyed, *from_before])
    ]
    load = next(
        (each for each in mine if reference is not None and each.pot.dye_lot_id == reference.pk), None
    )
    teacher = load or next((each for each in mine if each.pot.state != "planned"), None)
    return OnBase(
        base=base,
        reference=reference,
        photo=photos.get(reference.pk) if reference is not None else None,
        load=load,
        judgement=judgements.get(reference.pk) if reference is not None else None,
        way=ways[0] if ways else None,
        older=list(ways[1:]),
        lots=lines[:LOTS_SHOWN],
        reference_pot=load.pot if load is not None else None,
        reference_way=_way_of(load.pot, ways) if load is not None else None,
        missing=missing.get(load.pot_id) if load is not None else None,
        teaches=teacher.pot if teacher is not None and not ways else None,
        earlier_lots=lines[LOTS_SHOWN:],
        near=near,
    )


def _missing(
    pots: Iterable[Pot], loads: Sequence[PotLoad], photos: Sequence[Photo], judged: Iterable[Judgement]
) -> dict[int, list[Missing]]:
    """What is missing to dye each of these pots again, by the pot. One query."""
    entries: dict[int, list[LogEntry]] = {}
    for entry in (
        LogEntry.objects.filter(pot__in=[pot.pk for pot in pots])
        .select_related("dye", "auxiliary", "mix", "struck_by")
        .prefetch_related(mixed.PARTS)
        .order_by("happened_at", "id")
    ):
        entries.setdefault(entry.pot_id, []).append(entry)
    seen = {photo.pot_id for photo in photos}, {photo.dye_lot_id for photo in photos}
    with_verdict = {each.dye_lot_id for each in judged if each.verdict}
    found = {}
    for pot in pots:
        held = [load for load in loads if load.pot_id == pot.pk]
        log = entries.get(pot.pk, [])
        found[pot.pk] = what_is_missing(
            pot,
            loads=held,
            entries=[entry for entry in log if counts(entry)],
            contents=add_up(loads=held, entries=log, beside=strip_beside(pot)),
            has_photo=pot.pk in seen[0] or pot.dye_lot_id in seen[1],
            has_verdict=pot.dye_lot_id in with_verdict,
        )
    return found


def _way_of(pot: Pot, ways: Sequence[WayLines]) -> WayOfDyeing | None:
    """The way that a pot taught, else the one that it was dyed by."""
    taught = (lines.way for lines in ways if lines.pot_code == pot.code)
    by = (lines.way for lines in ways if lines.way.pk == pot.way_id)
    return next(taught, None) or next(by, None)


def _from_before(colourway: Colourway) -> list[tuple[Base, DyeLot]]:
    """Lots from before the house, which no pot tells of, by the base of what is or was there of them."""
    rows = (
        Balance.objects.filter(lot__dye_lot__colourway=colourway, lot__dye_lot__from_before=True)
        .select_related("lot__dye_lot", "item__dyed__put_up__base")
        .order_by("-lot_id", "item_id")
    )
    pairs = {(row.item.dyed.put_up.base, row.lot.dye_lot): None for row in rows}
    return list(pairs)


def way_lines(way: WayOfDyeing, *, us: bool = False) -> WayLines:
    """One way in words, with its own queries."""
    wanted = [way.pk, *([way.departs_from_id] if way.departs_from_id else [])]
    rules: dict[int, list[Rule]] = {}
    for rule in Rule.objects.filter(way__in=wanted).select_related("dye", "auxiliary").order_by("number"):
        rules.setdefault(rule.way_id, []).append(rule)
    return _way_lines(way, rules, us)


def _way_lines(way: WayOfDyeing, rules: dict[int, list[Rule]], us: bool) -> WayLines:
    mine = rules.get(way.pk, [])
    before = rules.get(way.departs_from_id, []) if way.departs_from_id is not None else []
    origin = getattr(way, "origin", None)
    facts = WayFacts.of(way)
    return WayLines(
        way=way,
        rules=rule_lines(mine, facts, us=us),
        departs=departures_of(way, before, mine, us=us) if way.departs_from_id is not None else [],
        pot_code=origin.pot.code if origin is not None else "",
        lacks=lacking(mine, facts) if getattr(way, "untried", False) else [],
    )


def rule_lines(rules: Iterable[Rule | RuleDraft], facts: WayFacts, *, us: bool = False) -> list[RuleLine]:
    """Rules in words, with what each is for 100 g of the yarn of a way with these facts."""
    size = facts.size.weighing(HUNDRED_GRAMS)
    return [_rule_line(rule, size, us) for rule in rules]


def _rule_line(rule: Rule | RuleDraft, size: PotSize, us: bool) -> RuleLine:
    if rule.kind not in (Rule.Kind.DYE, Rule.Kind.AUXILIARY, Rule.Kind.WATER):
        return RuleLine(rule, rule_words(rule, us=us), "", "", None)
    try:
        figure = amount_in(rule, size)
    except BasisNeeds:
        # By the litre or the piece, and the notes do not say how many 100 g have of them.
        return RuleLine(rule, rule_name(rule), rule_amount_words(rule), "", None)
    amount = (
        amount_words(rule.unit, figure.value, us=us, litres=rule.kind == Rule.Kind.WATER)
        if figure is not None
        else rule.as_typed
    )
    name = "Water" if rule.kind == Rule.Kind.WATER else rule_name(rule)
    if rule.strength_mg_per_litre:
        name = f"{name}, dosed from {strength_words(rule.strength_mg_per_litre)} stock"
    if place := rule_place_words(rule):
        name = f"{name}, {place}"
    return RuleLine(
        rule, name, rule_amount_words(rule), amount, figure.working if figure is not None else None
    )
