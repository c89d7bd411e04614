"""What the day's page shows: what is where on its way from pot to shelf, and what each thing waits for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils import timezone

from dyehouse.ledger.models import Balance, Item, Place
from dyehouse.ledger.operations import say_quantity
from dyehouse.ledger.queries import FoundRow, found_at_the_pot
from dyehouse.paper.runs import printed_counts
from dyehouse.running.copies import last_good_copy
from dyehouse.studio.models import User
from inventory.holding import HoldLine, open_holds
from recipes.lots.closing import is_evening, last_closing
from recipes.lots.models import DayClosed, DyeLot, LogEntry, Photo, Pot
from recipes.lots.queries import PotLine, pots_page
from recipes.models import Base, DyedYarn

# Common practice, no source: yarn dries overnight to three days, so a day on the rack is when looking begins.
LOOK_AFTER = timedelta(days=1)
COPY_IS_OLD_AFTER = timedelta(days=2)
FOUND_SHOWN = 8
FOUND_SINCE = timedelta(days=14)
LOTS_SHOWN = 12
CLOSED_SHOWN_FOR = timedelta(hours=18)


@dataclass(frozen=True, slots=True)
class LotLine:
    """Pieces of one lot at one stage."""

    lot: DyeLot
    name: str
    base: str
    pieces: int
    since: datetime
    photo: Photo | None
    grades: str = ""


@dataclass(frozen=True, slots=True)
class Found:
    """Something used at a pot that the books did not have."""

    what: str
    amount: str
    at: datetime
    pot_code: str


@dataclass(frozen=True, slots=True)
class Day:
    """The whole page."""

    in_work: list[PotLine]
    planned: list[PotLine]
    drying: list[LotLine]
    to_judge: list[LotLine]
    to_shelf: list[LotLine]
    to_label: list[LotLine]
    found: list[Found]
    due: list[HoldLine]
    copy_at: datetime | None
    copy_is_old: bool
    empty: bool
    closed: DayClosed | None = None
    evening: bool = False

    @property
    def closed_today(self) -> bool:
        """Whether the day was closed and nobody has begun another since: the night belongs to the evening before."""
        return self.closed is not None and timezone.now() - self.closed.closed_at < CLOSED_SHOWN_FOR

    @property
    def wants_closing(self) -> bool:
        """Whether the day is to be closed: in the evening, or while any heat was last recorded on."""
        return bool(self.in_work) and (self.evening or self.heat_recorded_on > 0)

    @property
    def to_shelf_pieces(self) -> int:
        return sum(line.pieces for line in self.to_shelf)

    @property
    def drying_pieces(self) -> int:
        return sum(line.pieces for line in self.drying)

    @property
    def to_judge_pieces(self) -> int:
        return sum(line.pieces for line in self.to_judge)

    @property
    def to_label_pieces(self) -> int:
        return sum(line.pieces for line in self.to_label)

    @property
    def heat_recorded_on(self) -> int:
        return sum(1 for line in self.in_work if line.heat_on)


def day_page(*, user: User, now: datetime | None = None) -> Day:
    """Everything of the day, in a fixed number of queries."""
    at = now or timezone.now()
    pots = pots_page(user=user, with_out=False)
    balances = list(
        Balance.objects.filter(item__kind=Item.Kind.DYED, on_hand__gt=0, lot__dye_lot__isnull=False)
        .exclude(place__kind=Place.Kind.BOUNDARY)
        .select_related("place", "item__dyed__put_up__base", "lot__dye_lot__colourway")
        .order_by("lot__dye_lot__made_at", "lot_id", "item_id")
    )
    unjudged = [row for row in balances if row.item.dyed.grade == DyedYarn.Grade.UNJUDGED]
    waiting = [
        row
        for row in balances
        if row.place.kind == Place.Kind.STAGE and row.item.dyed.grade in ("good", "second")
    ]
    good = [row for row in balances if row.item.dyed.grade == DyedYarn.Grade.GOOD]
    unlabelled = _not_yet_labelled(good)
    photos = _photos_of({row.lot.dye_lot.pk for row in [*unjudged, *waiting, *unlabelled]})
    drying = [row for row in unjudged if row.lot.dye_lot.made_at > at - LOOK_AFTER]
    to_judge = [row for row in unjudged if row.lot.dye_lot.made_at <= at - LOOK_AFTER]
    copy = last_good_copy()
    copy_at = copy.made_at if copy is not None else None
    return Day(
        in_work=pots.in_work,
        planned=pots.planned,
        drying=_lines(drying, photos, user),
        to_judge=_lines(to_judge, photos, user),
        to_shelf=_lines(waiting, photos, user),
        to_label=_lines(unlabelled, photos, user),
        found=_found(at),
        due=open_holds(user=user, due_by=timezone.localdate(at)),
        copy_at=copy_at,
        copy_is_old=copy_at is None or copy_at < at - COPY_IS_OLD_AFTER,
        empty=not pots.in_work and not balances and not Base.objects.exists(),
        closed=last_closing(),
        evening=is_evening(at),
    )


def on_the_rack(*, user: User, now: datetime) -> tuple[list[LotLine], list[LotLine]]:
    """The lots that came out within a day and dry, and those that have dried for longer and wait to be judged."""
    rows = list(
        Balance.objects.filter(
            item__kind=Item.Kind.DYED, item__dyed__grade=DyedYarn.Grade.UNJUDGED, on_hand__gt=0
        )
        .exclude(place__kind=Place.Kind.BOUNDARY)
        .exclude(lot__dye_lot__isnull=True)
        .select_related("place", "item__dyed__put_up__base", "lot__dye_lot__colourway")
        .order_by("lot__dye_lot__made_at", "lot_id", "item_id")
    )
    drying = [row for row in rows if row.lot.dye_lot.made_at > now - LOOK_AFTER]
    to_judge = [row for row in rows if row.lot.dye_lot.made_at <= now - LOOK_AFTER]
    return _lines(drying, {}, user), _lines(to_judge, {}, user)


def _not_yet_labelled(good: list[Balance]) -> list[Balance]:
    """Good pieces of lots that have had fewer labels than they have good pieces here."""
    pieces: dict[str, int] = {}
    for row in good:
        pieces[row.lot.dye_lot.code] = pieces.get(row.lot.dye_lot.code, 0) + row.on_hand
    printed = printed_counts(pieces)
    lacking = {code for code, count in pieces.items() if printed.get(code, 0) < count}
    return [row for row in good if row.lot.dye_lot.code in lacking]


def _photos_of(lot_ids: Iterable[int]) -> dict[int, Photo]:
    """The newest photo of each lot."""
    photos = Photo.objects.filter(dye_lot__in=lot_ids).order_by("taken_at", "id")
    return {photo.dye_lot_id: photo for photo in photos if photo.dye_lot_id is not None}


def _lines(rows: Iterable[Balance], photos: dict[int, Photo], user: User) -> list[LotLine]:
    """A line a lot and base, its pieces added up over put-ups and grades."""
    grouped: dict[tuple[int, str], list[Balance]] = {}
    for row in rows:
        grouped.setdefault((row.lot.dye_lot.pk, row.item.dyed.put_up.base.name), []).append(row)
    lines = []
    for (_, base), group in grouped.items():
        lot = group[0].lot.dye_lot
        by_grade: dict[str, int] = {}
        for row in group:
            by_grade[row.item.dyed.get_grade_display()] = (
                by_grade.get(row.item.dyed.get_grade_display(), 0) + row.on_hand
            )
        lines.append(
            LotLine(
                lot=lot,
                name=lot.shown_name(user),
                base=base,
                pieces=sum(by_grade.values()),
                since=lot.made_at,
                photo=photos.get(lot.pk) if lot.colourway.may_be_seen_by(user) else None,
                grades=", ".join(f"{count} {grade}" for grade, count in by_grade.items()),
            )
        )
    return lines


def _found(now: datetime) -> list[Found]:
    rows = found_at_the_pot(since=now - FOUND_SINCE, limit=FOUND_SHOWN)
    keys = [row.source.removeprefix("entry:") for row in rows if row.source.startswith("entry:")]
    pot_of = {
        str(key): code for key, code in LogEntry.objects.filter(key__in=keys).values_list("key", "pot__code")
    }
    codes = {row.source.removeprefix("pot:") for row in rows if row.source.startswith("pot:")}
    known = set(Pot.objects.filter(code__in=codes).values_list("code", flat=True)) if codes else set()
    found = []
    for row in rows:
        kind, _, key = row.source.partition(":")
        code = pot_of.get(key, "") if kind == "entry" else key if key in known else ""
        found.append(
            Found(
                what=_what(row),
                amount=say_quantity(row.quantity, row.item),
                at=row.happened_at,
                pot_code=code,
            )
        )
    return found


def _what(row: FoundRow) -> str:
    """What was short, by its bottle or jar where it has one."""
    if row.item.kind in (Item.Kind.STOCK, Item.Kind.DYE):
        return str(row.lot)
    return f"{row.item}, lot {row.lot}" if row.item.kind == Item.Kind.UNDYED else str(row.item)
