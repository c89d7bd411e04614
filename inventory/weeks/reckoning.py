"""What must be dyed today: read from promises, shelves and pots, and put into pot loads."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from django.db.models import Q, Sum
from django.utils import timezone

from dyehouse.ledger.models import Balance, Item, Place
from dyehouse.ledger.places import FIXED_PLACES
from dyehouse.studio.models import User, Vessel
from inventory.allocation.dye_list import DyeList, ToDye, make_dye_list, share_of_good
from inventory.allocation.pot_loads import Pot as Takes
from inventory.allocation.wanted import SPARES, Kind, PartOfKit, There, Want, explode
from inventory.allocation.wanted import Spares as SparesRule
from inventory.models import KitPart
from inventory.spoken_for import spoken_for
from inventory.weeks.models import Wanted, WeekHabits
from recipes.dyeing.loads import NoLoadFits, pieces_a_pot
from recipes.dyeing.working import Figure, Source, Standing, Working
from recipes.lots.models import JudgedPieces, Pot, PotLoad
from recipes.lots.nearest import WayOnBase, way_for
from recipes.lots.redye_forms import USUAL_RATIO_TENTHS, usual_ratio_tenths
from recipes.models import Colourway, DyedYarn, PutUp, WayOfDyeing

SHARE_OVER_DAYS = 365
TOLD = Source("as you said", Standing.TOLD)
OPEN_COLOURWAY = 0
FINISHED_FROM = FIXED_PLACES["labelled"].order


@dataclass(frozen=True, slots=True)
class Lies:
    """Dyed pieces of a lot at one place that are good, or not judged yet."""

    kind: Kind
    code: str
    free: int
    on_hand: int
    judged: bool
    on_shelf: bool
    order: int
    out_at: dt.datetime


@dataclass(frozen=True, slots=True)
class PotInHand:
    """A pot that is planned or in work, with one put-up of what lies in it."""

    pot: Pot
    kind: Kind
    pieces: int
    due: dt.date | None
    pinned: dt.date | None

    @property
    def started(self) -> bool:
        return self.pot.loaded_at is not None


@dataclass(frozen=True, slots=True)
class DyeRow:
    """One row of the dye list with its names: the colourway, the yarn, the vessel and the way it is dyed by."""

    to_dye: ToDye
    colourway: Colourway | None
    name: str
    put_up: PutUp
    by: WayOnBase | None
    vessel: Vessel | None
    ratio_tenths: int
    fits: bool

    @property
    def key(self) -> str:
        return f"{self.to_dye.kind.colourway}-{self.to_dye.kind.put_up}"

    @property
    def pot_words(self) -> str:
        """3 pots: 2 of 18 and 1 of 17."""
        counts: dict[int, int] = {}
        for load in self.to_dye.loads:
            counts[load.pieces] = counts.get(load.pieces, 0) + 1
        if len(counts) == 1:
            pieces, pots = next(iter(counts.items()))
            return f"1 pot of {pieces}" if pots == 1 else f"{pots} pots of {pieces}"
        parts = [f"{pots} of {pieces}" for pieces, pots in sorted(counts.items(), reverse=True)]
        return f"{len(self.to_dye.loads)} pots: {', '.join(parts[:-1])} and {parts[-1]}"

    @property
    def sets(self) -> list[int]:
        """The sets that stay whole, each in one pot."""
        return [size for load in self.to_dye.loads for size in load.sets]

    @property
    def wants(self) -> list[Want]:
        """What the loads are for, each promise once; spares only where nothing else is to come."""
        all_of_them = {want.what: want for load in self.to_dye.loads for want in load.wants}
        promised = [want for want in all_of_them.values() if not want.is_spares]
        return promised or list(all_of_them.values())

    @property
    def next_pot(self) -> str:
        """The piece that starts another pot, in words."""
        nth = self.to_dye.wanted + self.to_dye.spares + self.to_dye.more_good + 1
        return f"the {ordinal(nth)}"

    @property
    def can_be_planned(self) -> bool:
        return self.by is not None and self.vessel is not None and self.fits


@dataclass(frozen=True, slots=True)
class OneMoreLine:
    """Where one more of each starts another pot, with its yarn named."""

    put_up: PutUp
    nth: int
    more: int
    loads: int

    @property
    def words(self) -> str:
        """The 54th of Heron Sock 20 g in each of 24 colourways: 24 more loads."""
        return f"The {ordinal(self.nth)} of {self.put_up} in each of {self.loads} colourways: {self.loads} more loads."


def ordinal(number: int) -> str:
    """1st, 2nd, 3rd, 11th, 54th."""
    teens = 10 < number % 100 < 20
    return f"{number}{'th' if teens else {1: 'st', 2: 'nd', 3: 'rd'}.get(number % 10, 'th')}"


@dataclass(slots=True)
class Reckoned:
    """Everything the pages of the dye list and the weeks read."""

    today: dt.date
    habits: WeekHabits
    user: User
    wanted: list[Wanted]
    pots: list[PotInHand]
    lying: list[Lies]
    listed: DyeList
    rows: list[DyeRow]
    colourways: Mapping[int, Colourway]
    put_ups: Mapping[int, PutUp]
    vessels: Sequence[Vessel]
    named: dict[int, str] = field(default_factory=dict)

    def name_of(self, kind: Kind) -> str:
        """The colourway's name as the reader may know it."""
        return name_of(self.colourways.get(kind.colourway), self.user)

    @property
    def loads(self) -> int:
        return len(self.listed.loads)

    @property
    def by_hand(self) -> list[tuple[Wanted, str]]:
        """What is wanted by hand, with its name as the reader may know it."""
        return [
            (each, str(each.kit) if each.kit_id else f"{name_of(each.colourway, self.user)} on {each.put_up}")
            for each in self.wanted
        ]

    @property
    def one_more(self) -> list[OneMoreLine]:
        """The cases where several loads hang on one piece more of each; a row of its own says so of itself."""
        return [
            OneMoreLine(self.put_ups[each.put_up], each.nth, each.more, each.loads)
            for each in self.listed.one_more
            if each.loads > 1
        ]


def name_of(colourway: Colourway | None, user: User | None) -> str:
    """A colourway's name, or that none is chosen yet."""
    return colourway.shown_name(user) if colourway is not None else "colourway still open"


def reckon(*, user: User, today: dt.date | None = None) -> Reckoned:
    """The dye list as it stands now. Ten queries of its own, and what the rooms that promise need."""
    day = today or timezone.localdate()
    habits = WeekHabits.current()
    wanted = list(
        Wanted.objects.filter(ended_at__isnull=True)
        .select_related("kit", "colourway", "put_up__base")
        .order_by("due", "pk")
    )
    wants = [*_promised(), *_wanted_by_hand(wanted, habits)]
    pots, lying = pots_in_hand(), _lying()
    kinds = {want.kind for want in wants}
    put_ups = {
        each.pk: each
        for each in PutUp.objects.filter(
            pk__in={kind.put_up for kind in kinds} | {pot.kind.put_up for pot in pots}
        ).select_related("base", "item")
    }
    ways = _ways({kind.colourway for kind in kinds})
    colourways = {each[0].colourway_id: each[0].colourway for each in ways.values()}
    colourways |= {each.pot.colourway_id: each.pot.colourway for each in pots}
    missing = {kind.colourway for kind in kinds} - colourways.keys() - {OPEN_COLOURWAY}
    if missing:
        colourways |= Colourway.objects.in_bulk(missing)
    vessels = vessels_that_dye()
    dyed_by = {kind: _dyed_by(kind, ways, put_ups, vessels, habits) for kind in kinds}
    listed = make_dye_list(
        wants=wants,
        shelf=[There(each.kind, each.free, each.code) for each in lying if each.judged and each.free],
        in_work=[
            *(There(each.kind, each.on_hand, each.code) for each in lying if not each.judged),
            *(There(each.kind, each.pieces, each.pot.code) for each in pots),
        ],
        pots={kind: by.takes for kind, by in dyed_by.items()},
        share=good_by_record(day),
        spares=SparesRule(),
    )
    rows = []
    for row in listed.rows:
        by, colourway = dyed_by[row.kind], colourways.get(row.kind.colourway)
        rows.append(
            DyeRow(
                row,
                colourway,
                name_of(colourway, user),
                put_ups[row.kind.put_up],
                by.way,
                by.vessel,
                by.ratio_tenths,
                by.fits,
            )
        )
    return Reckoned(day, habits, user, wanted, pots, lying, listed, rows, colourways, put_ups, vessels)


def _promised() -> list[Want]:
    """What is promised and still to be found. Promises tell their own spares, so none are put on top."""
    return [
        Want(
            Kind(each.colourway_id or OPEN_COLOURWAY, each.put_up_id),
            each.to_find,
            each.due,
            sets=_sets_left(each.sets, each.to_find),
            what=each.what,
            address=each.address,
        )
        for each in spoken_for()
        if each.to_find
    ]


def _sets_left(sets: Iterable[int], pieces: int) -> tuple[int, ...]:
    """The sets that fit into the pieces that are still to be found, the large ones first."""
    kept = []
    for size in sorted(sets, reverse=True):
        if size <= pieces and size > 1:
            kept.append(size)
            pieces -= size
    return tuple(kept)


def _wanted_by_hand(wanted: Sequence[Wanted], habits: WeekHabits) -> list[Want]:
    """What is wanted by hand with its spares, kits part by part. One query where there are kits."""
    kits = {each.kit_id for each in wanted if each.kit_id is not None}
    parts: dict[int, list[PartOfKit]] = {}
    if kits:
        for part in KitPart.objects.filter(kit__in=kits).order_by("kit_id", "position"):
            kind = Kind(part.colourway_id, part.put_up_id)
            parts.setdefault(part.kit_id, []).append(PartOfKit(kind, part.pieces))
    found: list[Want] = []
    for each in wanted:
        if each.kit_id is not None:
            told = explode(parts.get(each.kit_id, []), kits=each.count, due=each.due, what=each.what)
        elif each.colourway_id is not None and each.put_up_id is not None:
            sets = (each.set_of,) * (each.count // each.set_of) if each.set_of else ()
            told = [Want(Kind(each.colourway_id, each.put_up_id), each.count, each.due, sets, each.what)]
        else:
            continue
        for want in told:
            spares = habits.spares_pieces - (-want.pieces * habits.spares_percent // 100)
            found.append(want)
            if spares:
                found.append(Want(want.kind, spares, want.due, what=f"{SPARES} of {want.what}"))
    return found


def pots_in_hand() -> list[PotInHand]:
    """Pots that are planned or in work, the one planned first in front; samples are not for anybody. One query."""
    rows = (
        PotLoad.objects.filter(pot__out_at__isnull=True, pot__dropped_at__isnull=True, pot__sample=False)
        .select_related("pot__colourway", "pot__vessel", "pot__way", "pot__plan__due", "pot__on_day")
        .order_by("pot_id", "id")
    )
    found: dict[tuple[int, int], PotInHand] = {}
    for row in rows:
        pot = row.pot
        due = getattr(pot.plan, "due", None) if pot.plan is not None else None
        on_day = getattr(pot, "on_day", None)
        before = found.get((pot.pk, row.put_up_id))
        found[pot.pk, row.put_up_id] = PotInHand(
            pot,
            Kind(pot.colourway_id, row.put_up_id),
            row.pieces + (before.pieces if before is not None else 0),
            due.due if due is not None else None,
            on_day.day if on_day is not None else None,
        )
    return list(found.values())


def _lying() -> list[Lies]:
    """Dyed pieces by lot and place that are good or not judged, of lots dyed here and no one-offs. One query."""
    rows = (
        Balance.objects.filter(
            item__kind=Item.Kind.DYED,
            on_hand__gt=0,
            lot__dye_lot__own_name="",
            item__dyed__grade__in=(DyedYarn.Grade.GOOD, DyedYarn.Grade.UNJUDGED),
            place__kind__in=(Place.Kind.STAGE, Place.Kind.SHELF),
        )
        .select_related("place", "item__dyed", "lot__dye_lot")
        .order_by("lot_id", "item_id", "place__order")
    )
    return [
        Lies(
            kind=Kind(row.item.dyed.colourway_id, row.item.dyed.put_up_id),
            code=row.lot.dye_lot.code,
            free=row.free,
            on_hand=row.on_hand,
            judged=row.item.dyed.grade == DyedYarn.Grade.GOOD,
            on_shelf=row.place.kind == Place.Kind.SHELF,
            order=row.place.order,
            out_at=row.lot.dye_lot.made_at,
        )
        for row in rows
    ]


def good_by_record(today: dt.date) -> Figure[Fraction]:
    """The studio's own share of good, of all that was judged here within a year; samples aside. One query."""
    counts = JudgedPieces.objects.filter(
        Q(judgement__movement__isnull=True) | Q(judgement__movement__reversed_by__isnull=True),
        judgement__judged_at__date__gte=today - dt.timedelta(days=SHARE_OVER_DAYS),
    ).exclude(outcome=JudgedPieces.Outcome.SAMPLE)
    sums = counts.aggregate(
        good=Sum("pieces", filter=Q(outcome=JudgedPieces.Outcome.GOOD)), judged=Sum("pieces")
    )
    return share_of_good(good=sums["good"] or 0, judged=sums["judged"] or 0)


def _ways(colourway_ids: Iterable[int]) -> dict[int, list[WayOfDyeing]]:
    """The ways of colourways, the newest first, each with the vessel it was learned in. One query."""
    found: dict[int, list[WayOfDyeing]] = {}
    rows = WayOfDyeing.objects.filter(colourway__in=set(colourway_ids) - {OPEN_COLOURWAY})
    for way in rows.select_related("colourway", "base", "origin__pot").order_by("-pk"):
        found.setdefault(way.colourway_id, []).append(way)
    return found


def vessels_that_dye() -> list[Vessel]:
    """Pots and pans, the largest first, with what the dyer puts into each. One query."""
    vessels = Vessel.objects.filter(retired_at__isnull=True).exclude(kind=Vessel.Kind.STEAMER)
    return list(vessels.select_related("holds").order_by("-working_millilitres", "name"))


@dataclass(frozen=True, slots=True)
class _DyedBy:
    way: WayOnBase | None
    vessel: Vessel | None
    ratio_tenths: int
    takes: Takes
    fits: bool


def _dyed_by(
    kind: Kind,
    ways: Mapping[int, list[WayOfDyeing]],
    put_ups: Mapping[int, PutUp],
    vessels: Sequence[Vessel],
    habits: WeekHabits,
) -> _DyedBy:
    put_up = put_ups[kind.put_up]
    known = ways.get(kind.colourway)
    by = way_for(known, put_up.base) if known else None
    ratio = usual_ratio_tenths(by.way) if by is not None else USUAL_RATIO_TENTHS
    learned = getattr(by.way, "origin", None) if by is not None else None
    wish = habits.vessel_id or (learned.pot.vessel_id if learned is not None else None)
    vessel = next((each for each in vessels if each.pk == wish), vessels[0] if vessels else None)
    if vessel is None:
        return _DyedBy(by, None, ratio, Takes("", 1, _one_piece("No vessel is written down.")), False)
    takes = what_it_takes(vessel, put_up, ratio_tenths=ratio)
    if takes is None:
        return _DyedBy(
            by, vessel, ratio, Takes(vessel.name, 1, _one_piece("One piece is more than it holds.")), False
        )
    return _DyedBy(by, vessel, ratio, takes, True)


def _one_piece(words: str) -> Working:
    return Working("Pieces in one pot", "one at a time", words, "1 piece", TOLD)


def what_it_takes(vessel: Vessel, put_up: PutUp, *, ratio_tenths: int) -> Takes | None:
    """Pieces of a put-up that go into a vessel: as the dyer said, else by its litres; None where not one fits."""
    holds = getattr(vessel, "holds", None)
    said = []
    if holds is not None and holds.most_pieces:
        said.append((holds.most_pieces, f"{holds.most_pieces} pieces at most"))
    if holds is not None and holds.most_milligrams:
        grams = f"{holds.most_milligrams // 1000} g ÷ {put_up.nominal_milligrams // 1000} g"
        said.append((holds.most_milligrams // put_up.nominal_milligrams, grams))
    if said:
        most, words = min(said)
        if not most:
            return None
        working = Working(
            "Pieces in one pot",
            "what you put into it at once, whole pieces only",
            words,
            f"{most} pieces",
            TOLD,
        )
        return Takes(vessel.name, most, working)
    try:
        fit = pieces_a_pot(
            piece_dry_milligrams=put_up.nominal_milligrams,
            vessel_millilitres=vessel.working_millilitres,
            liquor_ratio=Fraction(ratio_tenths, 10),
        )
    except NoLoadFits:
        return None
    return Takes(vessel.name, fit.value, fit.working)
