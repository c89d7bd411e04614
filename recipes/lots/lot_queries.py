"""What the page of a lot shows: where its pieces are, what was judged, its photos, and what comes next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Q, Subquery, Sum

from dyehouse.ledger.models import Balance, Line, Movement, Place
from dyehouse.ledger.queries import HistoryRow, history
from dyehouse.studio.models import User
from recipes.lots import mixed
from recipes.lots.contents import add_up, counts
from recipes.lots.deeds import Deed, deeds_of, learned_from
from recipes.lots.jugs import together_words
from recipes.lots.load_lines import MAY_BE_OVERDYED
from recipes.lots.load_words import mill_lot_words
from recipes.lots.models import (
    DyeLot,
    JudgedPieces,
    Judgement,
    LogEntry,
    Photo,
    Pot,
    PotLoad,
    ReferenceChoice,
)
from recipes.lots.put_on import PutOn, what_was_put_on
from recipes.lots.queries import EntryRow, log_rows
from recipes.lots.to_judge import Waiting, by_line, lines_that_differ, waiting_in, with_what_came_out
from recipes.lots.untried import untried
from recipes.models import Base, DyedYarn

MOVES_SHOWN = 60
#: How the ledger names pieces that got a lot of their own, by the code of that lot: one:K7Q2M.
INTO_ONE_OFFS = "one:"


@dataclass(frozen=True, slots=True)
class StageCount:
    """Pieces of one put-up and grade at one place."""

    place: str
    put_up: str
    grade: str
    pieces: int
    dyed_id: int = 0
    place_id: int = 0
    may_be_overdyed: bool = False
    in_pots: bool = False
    put_up_id: int = 0


@dataclass(frozen=True, slots=True)
class JudgementLine:
    """One judgement with its counts, and whether it was taken back."""

    judgement: Judgement
    counts: list[JudgedPieces]
    taken_back: bool

    apart: frozenset[int] = frozenset()

    @property
    def words(self) -> str:
        """3 good, 1 second; with the mill lot where lines of one put-up were judged apart."""
        return ", ".join(self._words(each) for each in self.counts) or "A strip, in words"

    def _words(self, each: JudgedPieces) -> str:
        words = f"{each.pieces} {each.get_outcome_display()}"
        apart = each.load is not None and each.load_id in self.apart
        return f"{words} of {mill_lot_words(each.load)}" if apart and each.load is not None else words


@dataclass(frozen=True, slots=True)
class OnBase:
    """A base that the lot has pieces on, and which lot of it is the one to repeat now."""

    base: Base
    reference: DyeLot | None
    is_reference: bool


@dataclass(frozen=True, slots=True)
class LotPage:
    """The whole page."""

    lot: DyeLot
    name: str
    may_see: bool
    pots: list[Pot]
    loads: list[PotLoad]
    stages: list[StageCount]
    went_out: int
    waiting: list[Waiting]
    judgements: list[JudgementLine]
    photos: list[Photo]
    bases: list[OnBase]
    moves: list[HistoryRow]
    log: list[EntryRow]
    deeds: list[Deed]
    put_on: list[tuple[Pot, PutOn]]
    overdyed_in: list[PotLoad]
    untried: frozenset[int]
    taken: list[DyeLot]

    @property
    def together(self) -> str:
        """What its pieces are to one another: same pot, or same lot."""
        return together_words(len(self.pots), from_before=self.lot.from_before)

    @property
    def may_be_one_offs(self) -> bool:
        """Whether something of it is judged, so that pieces may get a name of their own."""
        return any(stage.grade in ("good", "second") for stage in self.stages)

    @property
    def pot_codes(self) -> str:
        """Its pots as they are read: K7Q2B and M4T9C."""
        codes = [pot.code for pot in self.pots]
        return " and ".join(part for part in (", ".join(codes[:-1]), codes[-1]) if part) if codes else ""

    @property
    def here(self) -> int:
        """Pieces that are still in the house."""
        return sum(stage.pieces for stage in self.stages)

    @property
    def waiting_pieces(self) -> int:
        return sum(stage.pieces for stage in self.stages if not stage.in_pots and not stage.grade)

    @property
    def dry_pieces(self) -> int:
        return sum(stage.pieces for stage in self.stages if stage.place == "Dry")

    @property
    def gone(self) -> int:
        """What came out of the pot and is no longer here: sold, binned, given away."""
        return max(0, self.went_out - self.here - self.overdyed_pieces - self.taken_pieces)

    @property
    def taken_pieces(self) -> int:
        """What became one-offs with lots of their own and did not come back."""
        return sum(getattr(lot, "became", None) or 0 for lot in self.taken)

    @property
    def overdyed_pieces(self) -> int:
        """What came out of a later pot as another lot."""
        return sum(load.pieces for load in self.overdyed_in if load.pot.out_at is not None)

    @property
    def overdyed(self) -> list[PotLoad]:
        """Its lines that were of an earlier lot."""
        return [load for load in self.loads if load.overdyes is not None]

    @property
    def is_sample(self) -> bool:
        """Whether it was dyed to see the colour before the pots of a plan."""
        return bool(self.pots) and all(pot.sample for pot in self.pots)

    @property
    def strip_waits(self) -> bool:
        """Whether it is a strip alone of which nobody has said how it came out."""
        return bool(self.pots) and not self.loads and not self.judgements


def lot_page(lot: DyeLot, *, user: User, us: bool = False, taken: Sequence[DyeLot] | None = None) -> LotPage:
    """The page of a lot; `lot` comes with its colourway and the lot it was taken from. A fixed number of queries.

    `taken` are its one-offs where they were read with it (`lot_with_taken`); else they are read here.
    What was taken from a lot was dyed as that lot: the pots and what was done in them are those of both.
    """
    dyed_as = lot.taken_from or lot
    both: list[PotLoad] = list(
        with_what_came_out(
            PotLoad.objects.filter(Q(pot__dye_lot=dyed_as) | Q(overdyes=lot, pot__loaded_at__isnull=False))
        )
        .select_related(
            "put_up__base",
            "put_up__item",
            "mill_lot__lot",
            "pot__vessel",
            "pot__way__base",
            "pot__started_by",
            "pot__dye_lot",
            "overdyes__colourway",
            "overdyes__lot",
            "was__item",
        )
        .annotate(came_out=_came_out("pot__dye_lot__lot"), **learned_from("pot"), untried=untried("pot__way"))
        .order_by("id")
    )
    loads = [load for load in both if load.pot.dye_lot_id == dyed_as.pk]
    pots = list({load.pot_id: load.pot for load in loads}.values())
    if not pots and not dyed_as.from_before:
        pots = list(dyed_as.pots.select_related("vessel", "way__base", "started_by").order_by("id"))
    balances = list(
        Balance.objects.filter(lot=lot.lot_id, on_hand__gt=0)
        .select_related("place", "item__dyed__put_up__base")
        .order_by("place__order", "place__name", "item_id")
    )
    moves = history(lot=lot.lot, limit=MOVES_SHOWN)
    entries = entries_of_lot(dyed_as)
    may_see = lot.colourway.may_be_seen_by(user)
    return LotPage(
        lot=lot,
        name=lot.shown_name(user),
        may_see=may_see,
        pots=pots,
        loads=loads,
        stages=[
            StageCount(
                row.place.name,
                str(row.item.dyed.put_up),
                "" if row.item.dyed.grade == DyedYarn.Grade.UNJUDGED else row.item.dyed.get_grade_display(),
                row.on_hand,
                row.item.dyed.pk,
                row.place_id,
                row.place.kind in (Place.Kind.STAGE, Place.Kind.SHELF)
                and row.on_hand > row.held
                and row.item.dyed.grade in MAY_BE_OVERDYED,
                row.place.kind == Place.Kind.POT,
                row.item.dyed.put_up_id,
            )
            for row in balances
        ],
        went_out=_pieces_of(lot, loads),
        waiting=by_line(waiting_in(balances), loads),
        judgements=_judgements(lot, loads) if loads or lot.from_before else _in_words(lot),
        photos=list(Photo.objects.filter(dye_lot=lot).order_by("-taken_at", "-id")) if may_see else [],
        bases=_bases(lot, loads, balances) if lot.taken_from is None else [],
        moves=moves,
        log=[row for row in reversed(log_rows(entries, us=us)) if not row.struck],
        untried=frozenset(load.pot_id for load in loads if getattr(load, "untried", False)),
        deeds=deeds_of(loads=loads, entries=entries, us=us),
        put_on=_put_on(pots, loads, entries, us),
        overdyed_in=[load for load in both if load.overdyes_id == lot.pk],
        taken=[] if lot.taken_from is not None else list(taken_from(lot) if taken is None else taken),
    )


def taken_from(lot: DyeLot) -> list[DyeLot]:
    """The one-offs that were taken out of a lot, each with the pieces that it `became`: none where they came back."""
    return list(lot.taken.annotate(became=_became_one_offs("lot")).select_related("colourway").order_by("id"))


def lot_with_taken(code: str) -> tuple[DyeLot | None, list[DyeLot]]:
    """The lot of a code, and the one-offs that were taken out of it as `taken_from` has them. One query."""
    found = DyeLot.objects.filter(Q(code=code) | Q(taken_from__code=code)).annotate(
        became=_became_one_offs("lot")
    )
    lots = list(found.select_related("colourway", "lot", "taken_from").order_by("id"))
    return next((lot for lot in lots if lot.code == code), None), [lot for lot in lots if lot.code != code]


def _became_one_offs(lot: str) -> Subquery:
    """Pieces that came to a lot of their own and did not go back."""
    lines = Line.objects.filter(
        lot=OuterRef(lot),
        from_place__code="made",
        movement__source__startswith=INTO_ONE_OFFS,
        movement__reverses__isnull=True,
        movement__reversed_by__isnull=True,
    )
    return Subquery(lines.order_by().values("lot").annotate(pieces=Sum("quantity")).values("pieces"))


def _pieces_of(lot: DyeLot, loads: Sequence[PotLoad]) -> int:
    """How many pieces a lot ever had: what came out of its pots, or what was taken out of another lot for it."""
    if lot.taken_from_id is not None:
        return DyeLot.objects.filter(pk=lot.pk).values_list(_became_one_offs("lot"), flat=True).get() or 0
    return getattr(loads[0], "came_out", 0) or 0 if loads else _went_out(lot)


def _put_on(
    pots: Sequence[Pot], loads: Sequence[PotLoad], entries: Sequence[LogEntry], us: bool
) -> list[tuple[Pot, PutOn]]:
    """What was put on the yarn in each pot of the lot, and how it lay there; pots of which nothing is said are left out."""
    found = []
    for pot in pots:
        logged = [entry for entry in entries if entry.pot_id == pot.pk]
        contents = add_up(loads=[load for load in loads if load.pot_id == pot.pk], entries=logged)
        kept = [entry for entry in logged if counts(entry)]
        put_on = what_was_put_on(pot, kept=kept, contents=contents, us=us)
        if put_on.lay is not None or put_on.says_something:
            found.append((pot, put_on))
    return found


def entries_of_lot(lot: DyeLot) -> list[LogEntry]:
    """What was done in the pots of a lot, in the order it happened, strikes included."""
    return list(
        LogEntry.objects.filter(pot__dye_lot=lot)
        .select_related(
            "who", "dye", "auxiliary", "jar", "bottle__jar", "mix", "photo", "pot", "struck_by__who"
        )
        .prefetch_related(mixed.PARTS)
        .order_by("happened_at", "id")
    )


def _came_out(lot: str) -> Subquery:
    """Pieces that came out of the pot under the lot of a row, or were there from before the house."""
    out = Q(from_place__code="made", item__dyed__grade=DyedYarn.Grade.UNJUDGED) | Q(
        from_place__code="before_the_house"
    )
    lines = Line.objects.filter(
        out, lot=OuterRef(lot), movement__reverses__isnull=True, movement__reversed_by__isnull=True
    )
    return Subquery(lines.order_by().values("lot").annotate(pieces=Sum("quantity")).values("pieces"))


def _went_out(lot: DyeLot) -> int:
    """The same of a lot that no pot tells of."""
    return DyeLot.objects.filter(pk=lot.pk).values_list(_came_out("lot"), flat=True).get() or 0


def _in_words(lot: DyeLot) -> list[JudgementLine]:
    """The judgements of a strip alone, which have no counts, the newest first."""
    said = Judgement.objects.filter(dye_lot=lot).select_related("by", "against").order_by("-judged_at", "-id")
    return [JudgementLine(judgement, [], False) for judgement in said]


def _judgements(lot: DyeLot, loads: Sequence[PotLoad]) -> list[JudgementLine]:
    """The newest first. Every judgement has a count, so that its counts bring it along."""
    apart = frozenset(
        load.pk for lines in lines_that_differ(loads).values() if len(lines) > 1 for load in lines
    )
    taken_back = Movement.objects.filter(reverses=OuterRef("judgement__movement"))
    counted = (
        JudgedPieces.objects.filter(judgement__dye_lot=lot)
        .select_related("judgement__by", "judgement__against", "load__mill_lot")
        .annotate(taken_back=Exists(taken_back))
        .order_by("-judgement__judged_at", "-judgement_id", "id")
    )
    lines: dict[int, JudgementLine] = {}
    for row in counted:
        back = bool(getattr(row, "taken_back", False))
        lines.setdefault(row.judgement_id, JudgementLine(row.judgement, [], back, apart)).counts.append(row)
    return list(lines.values())


def _bases(lot: DyeLot, loads: Sequence[PotLoad], balances: Sequence[Balance]) -> list[OnBase]:
    bases = {load.put_up.base_id: load.put_up.base for load in loads}
    bases |= {row.item.dyed.put_up.base_id: row.item.dyed.put_up.base for row in balances}
    newest: dict[int, DyeLot] = {}
    for choice in (
        ReferenceChoice.objects.filter(colourway=lot.colourway_id, base__in=bases)
        .select_related("dye_lot")
        .order_by("id")
    ):
        newest[choice.base_id] = choice.dye_lot
    return [
        OnBase(base, newest.get(pk), pk in newest and newest[pk].pk == lot.pk) for pk, base in bases.items()
    ]
