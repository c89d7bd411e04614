"""Owned, free, shown: three counts of any colourway on any put-up, and of the undyed yarn, that are never mixed.

*Owned* is all that lies here of it. *Free* is what is good, dry, not held and not promised. *Shown* is what somebody offers
of it outside the house; it is told by `inventory.shown`. In a fixed number of queries, however many rows there are, beside
those of the rooms that tell their promises.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from fractions import Fraction

from django.db.models import BooleanField, ExpressionWrapper, Q, QuerySet, Sum
from django.utils import timezone

from dyehouse.ledger.models import Balance, Item, Place
from dyehouse.studio.models import User
from inventory.buying.queries import on_order
from inventory.queries import DRY
from inventory.reach import THE_BOOK, Coming, Reach, ToDye, pieces_words, reach, still_to_dye
from inventory.spoken_for import SpokenFor, spoken_for
from recipes.dyeing.working import Figure, Working
from recipes.lots.models import JudgedPieces, PotLoad
from recipes.models import Colourway, DyedYarn, PutUp
from recipes.words import one_line

ROWS_A_PAGE = 40
YIELD_DAYS = 365
Grade = DyedYarn.Grade
#: Where pieces that may go to somebody lie.
FREE_KINDS = (Place.Kind.STAGE, Place.Kind.SHELF)


@dataclass(frozen=True, slots=True)
class Yield:
    """How many of the pieces judged in the last year came out good; with none judged, all are counted on."""

    good: int
    judged: int

    def of(self, pieces: int) -> Figure[int]:
        """So many good ones to expect of pieces in work, rounded down."""
        share = Fraction(self.good, self.judged) if self.judged else Fraction(1)
        expected = int(pieces * share)
        nothing = "nothing was judged in the last year, so all of it"
        return Figure(
            expected,
            Working(
                title="good ones to expect",
                formula="pieces in work × good ones of those judged in the last year, rounded down",
                substitution=f"{pieces} × {self.good} ÷ {self.judged}" if self.judged else nothing,
                result=pieces_words(expected),
                source=THE_BOOK,
            ),
        )


@dataclass(slots=True)
class DyedCounts:
    """Pieces of a colourway on a put-up by where and as what they are. Filled row by row."""

    by_grade: dict[str, int] = field(default_factory=dict)
    good_free_place: int = 0
    held: int = 0
    good_held: int = 0
    one_offs: int = 0
    elsewhere: int = 0
    planned: int = 0
    in_pots: int = 0
    to_overdye: int = 0

    def add(self, *, grade: str, kind: str, order: int, own_name: str, here: int, held: int) -> None:
        """Count what lies somewhere, so many of it held; a one-off is counted by itself, since it is promised by its name."""
        self.held += held
        if own_name:
            self.one_offs += here
            return
        self.by_grade[grade] = self.by_grade.get(grade, 0) + here
        if kind not in FREE_KINDS:
            self.elsewhere += here
        elif grade == Grade.GOOD and order >= DRY:
            self.good_free_place += here
            self.good_held += held

    @property
    def owned(self) -> int:
        return sum(self.by_grade.values()) + self.one_offs

    @property
    def unjudged(self) -> int:
        return self.by_grade.get(Grade.UNJUDGED, 0)

    @property
    def in_work(self) -> int:
        return self.planned + self.in_pots + self.unjudged

    @property
    def free_here(self) -> int:
        """Good, dry, not held, not set down for another dye bath; promises not yet taken off."""
        return self.good_free_place - self.good_held - self.to_overdye


@dataclass(frozen=True, slots=True)
class DyedStanding:
    """How one colourway stands on one put-up."""

    colourway: Colourway
    put_up: PutUp
    name: str
    counts: DyedCounts
    expected: Figure[int]
    reach: Reach
    to_dye: list[ToDye]

    @property
    def free(self) -> Figure[int]:
        counts = self.counts
        return self.reach.free_figure(
            here=counts.good_free_place,
            taken=counts.good_held + counts.to_overdye,
            taken_words="held or to be overdyed",
        )

    @property
    def seconds(self) -> int:
        return self.counts.by_grade.get(Grade.SECOND, 0)


def stand(
    *,
    colourway: Colourway,
    put_up: PutUp,
    counts: DyedCounts,
    promises: Sequence[SpokenFor],
    expected: Figure[int],
    user: User,
) -> DyedStanding:
    """How a colourway stands on a put-up by its counts, its promises in their order, and what its pots should give."""
    return DyedStanding(
        colourway=colourway,
        put_up=put_up,
        name=colourway.shown_name(user),
        counts=counts,
        expected=expected,
        reach=reach(start=counts.free_here, promises=promises, in_work=expected.value),
        to_dye=still_to_dye(there=counts.free_here + expected.value, promises=promises),
    )


@dataclass(slots=True)
class YarnCounts:
    """Undyed pieces of a put-up: in the store or soaking, in the pots, and set down for planned pots."""

    here: int = 0
    in_pots: int = 0
    planned: int = 0


@dataclass(frozen=True, slots=True)
class YarnStanding:
    """How the undyed yarn of one put-up stands; its promises are those that must still be dyed."""

    put_up: PutUp
    counts: YarnCounts
    reach: Reach
    to_dye: list[ToDye]

    @property
    def free(self) -> Figure[int]:
        return self.reach.free_figure(
            here=self.counts.here, taken=self.counts.planned, taken_words="for planned pots"
        )

    @property
    def on_order(self) -> int:
        return self.reach.coming

    @property
    def pots_want_more(self) -> int:
        """So many the planned pots want beyond what there is."""
        return max(0, self.counts.planned - self.counts.here)


@dataclass(frozen=True, slots=True)
class StandingPage:
    """A page of dyed yarn, and the undyed yarn that it is dyed on."""

    dyed: list[DyedStanding]
    yarn: list[YarnStanding]
    bases: list[tuple[int, str]]
    search: str = ""
    base: int | None = None
    only_short: bool = False
    page: int = 1
    more: bool = False


@dataclass(frozen=True, slots=True)
class Key:
    """A colourway on a put-up, by their ids."""

    colourway: int
    put_up: int


def standing_page(
    *, user: User, search: str = "", base: int | None = None, only_short: bool = False, page: int = 1
) -> StandingPage:
    """All that stands, narrowed by words of a colourway or a yarn, by a base, or to what does not reach its promises."""
    house = House.now(user=user)
    words = one_line(search).casefold()
    dyed = [
        each
        for each in house.dyed()
        if (base is None or each.put_up.base_id == base)
        and (words in each.name.casefold() or words in str(each.put_up).casefold() or words == each.colourway.code.casefold())
        and (not only_short or each.reach.is_short)
    ]  # fmt: skip
    yarn = [
        each
        for each in house.yarn()
        if (base is None or each.put_up.base_id == base) and (not only_short or each.reach.is_short)
    ]
    bases = {each.base_id: each.base.name for each in house.put_ups.values()}
    start = (page - 1) * ROWS_A_PAGE
    return StandingPage(
        dyed=dyed[start : start + ROWS_A_PAGE],
        yarn=yarn,
        bases=sorted(bases.items(), key=lambda one: one[1].casefold()),
        search=one_line(search),
        base=base,
        only_short=only_short,
        page=page,
        more=len(dyed) > start + ROWS_A_PAGE,
    )


@dataclass(slots=True)
class House:
    """Every count that the standing of anything is reckoned from, read once."""

    user: User
    counts: dict[Key, DyedCounts]
    yarn_counts: dict[int, YarnCounts]
    promises: list[SpokenFor]
    coming: dict[int, list[Coming]]
    good: Yield
    colourways: dict[int, Colourway]
    put_ups: dict[int, PutUp]

    @classmethod
    def now(cls, *, user: User, of: PutUp | None = None) -> House:
        """Of everything, or of one put-up alone."""
        put_up = of.pk if of is not None else None
        counts: dict[Key, DyedCounts] = {}
        yarn: dict[int, YarnCounts] = {}
        _count_dyed(counts, put_up)
        _count_yarn(yarn, put_up)
        _count_pots(counts, yarn, put_up)
        promises = [each for each in spoken_for() if put_up is None or each.put_up_id == put_up]
        for each in promises:
            if each.colourway_id is not None and each.to_find:
                counts.setdefault(Key(each.colourway_id, each.put_up_id), DyedCounts())
        coming = what_comes(of)
        wanted = {key.put_up for key in counts} | set(yarn) | set(coming)
        wanted |= {each.put_up_id for each in promises}
        put_ups = [of] if of is not None else PutUp.objects.filter(pk__in=wanted).select_related("base")
        return cls(
            user=user,
            counts=counts,
            yarn_counts=yarn,
            promises=promises,
            coming=coming,
            good=recent_yield(),
            colourways=Colourway.objects.in_bulk({key.colourway for key in counts}),
            put_ups={each.pk: each for each in put_ups},
        )

    def dyed(self) -> list[DyedStanding]:
        """By colourway's shown name, then by put-up."""
        by_key: dict[Key, list[SpokenFor]] = {}
        for each in self.promises:
            if each.colourway_id is not None:
                by_key.setdefault(Key(each.colourway_id, each.put_up_id), []).append(each)
        rows = [self._dyed(key, counts, by_key.get(key, [])) for key, counts in self.counts.items()]
        return sorted(
            rows,
            key=lambda row: (
                row.name.casefold(),
                row.colourway.pk,
                str(row.put_up).casefold(),
                row.put_up.pk,
            ),
        )

    def _dyed(self, key: Key, counts: DyedCounts, promises: Sequence[SpokenFor]) -> DyedStanding:
        return stand(
            colourway=self.colourways[key.colourway],
            put_up=self.put_ups[key.put_up],
            counts=counts,
            promises=promises,
            expected=self.good.of(counts.in_work),
            user=self.user,
        )

    def yarn(self) -> list[YarnStanding]:
        """By base and put-up; what must still be dyed is what its promises take."""
        to_dye: dict[int, list[ToDye]] = {}
        for row in self.dyed():
            to_dye.setdefault(row.put_up.pk, []).extend(row.to_dye)
        for each in self.promises:
            # Whatever colour is chosen in the end, it is dyed on this yarn.
            if each.colourway_id is None and each.to_find:
                to_dye.setdefault(each.put_up_id, []).append(ToDye(each, each.to_find))
        wanted = set(self.yarn_counts) | set(to_dye) | set(self.coming)
        rows = [
            self._yarn(self.put_ups[pk], self.yarn_counts.get(pk, YarnCounts()), to_dye.get(pk, []))
            for pk in wanted
        ]
        return sorted(rows, key=lambda row: (str(row.put_up).casefold(), row.put_up.pk))

    def _yarn(self, put_up: PutUp, counts: YarnCounts, to_dye: list[ToDye]) -> YarnStanding:
        promises = [
            SpokenFor(
                each.promise.due, put_up.pk, each.promise.colourway_id, each.pieces, 0, each.promise.what,
                each.promise.address,
            )
            for each in to_dye
        ]  # fmt: skip
        return YarnStanding(
            put_up,
            counts,
            reach(
                start=counts.here - counts.planned, promises=promises, coming=self.coming.get(put_up.pk, [])
            ),
            to_dye,
        )


def what_comes(of: PutUp | None = None) -> dict[int, list[Coming]]:
    """Undyed yarn on order, by put-up, the soonest first. Two queries."""
    coming: dict[int, list[Coming]] = {}
    for each in on_order(items=None if of is None else [of.item_id]):
        if each.put_up_id is not None:
            line = Coming(each.expected_on, each.quantity, each.what, each.address)
            coming.setdefault(each.put_up_id, []).append(line)
    return coming


def recent_yield() -> Yield:
    """Of the pieces judged in the last year, those that came out good; judgements taken back do not count. One query."""
    since = timezone.now() - timedelta(days=YIELD_DAYS)
    sums = JudgedPieces.objects.filter(
        judgement__judged_at__gte=since, judgement__movement__reversed_by__isnull=True
    ).aggregate(all=Sum("pieces"), good=Sum("pieces", filter=Q(outcome=JudgedPieces.Outcome.GOOD)))
    return Yield(sums["good"] or 0, sums["all"] or 0)


def _balances(put_up: int | None, kind: str) -> QuerySet[Balance]:
    rows = Balance.objects.filter(item__kind=kind, on_hand__gt=0)
    if put_up is None:
        return rows
    return rows.filter(**{"item__dyed__put_up" if kind == Item.Kind.DYED else "item__put_up": put_up})


def _count_dyed(counts: dict[Key, DyedCounts], put_up: int | None) -> None:
    rows = _balances(put_up, Item.Kind.DYED).values_list(
        "item__dyed__colourway",
        "item__dyed__put_up",
        "item__dyed__grade",
        "place__kind",
        "place__order",
        "lot__dye_lot__own_name",
    )
    for colourway, of, grade, kind, order, own_name, here, held in rows.annotate(Sum("on_hand"), Sum("held")):
        into = counts.setdefault(Key(colourway, of), DyedCounts())
        into.add(grade=grade, kind=kind, order=order, own_name=own_name, here=here, held=held)


def _count_yarn(yarn: dict[int, YarnCounts], put_up: int | None) -> None:
    rows = _balances(put_up, Item.Kind.UNDYED).values_list("item__put_up", "place__code")
    for of, place, here in rows.annotate(Sum("on_hand")):
        into = yarn.setdefault(of, YarnCounts())
        if place == "in_pots":
            into.in_pots += here
        else:
            into.here += here


def _count_pots(counts: dict[Key, DyedCounts], yarn: dict[int, YarnCounts], put_up: int | None) -> None:
    loads = PotLoad.objects.filter(pot__out_at__isnull=True, pot__dropped_at__isnull=True)
    if put_up is not None:
        loads = loads.filter(put_up=put_up)
    planned = ExpressionWrapper(Q(pot__loaded_at__isnull=True), output_field=BooleanField())
    rows = (
        loads.annotate(only_planned=planned)
        .values_list("pot__colourway", "put_up", "only_planned", "was__colourway", "was__grade")
        .annotate(Sum("pieces"))
    )
    for colourway, of, only_planned, was, grade, pieces in rows:
        into = counts.setdefault(Key(colourway, of), DyedCounts())
        if not only_planned:
            into.in_pots += pieces
            continue
        into.planned += pieces
        if was is None:
            yarn.setdefault(of, YarnCounts()).planned += pieces
        elif grade == Grade.GOOD:
            counts.setdefault(Key(was, of), DyedCounts()).to_overdye += pieces
