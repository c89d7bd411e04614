"""Out of the pot, judged dry, and which lot is the one to repeat."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from dyehouse.ledger.models import Balance, Lot, Movement
from dyehouse.ledger.operations import Bucket, Step, post, reverse
from dyehouse.ledger.places import fixed_place
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from recipes.colourways import dyed_yarn
from recipes.lots.jugs import NotOfOneJug, lots_from_its_jugs
from recipes.lots.load_lines import steps_used_up
from recipes.lots.load_words import mill_lot_words
from recipes.lots.models import DyeLot, JudgedPieces, Judgement, Pot, PotLoad, ReferenceChoice
from recipes.lots.to_judge import (
    Waiting,
    left_of_lines,
    lines_that_differ,
    unjudged_rows,
    waiting_to_be_judged,
    with_what_came_out,
)
from recipes.models import Base, Colourway, DyedYarn, PutUp


class NotInWork(Refused):
    """The pot is not loaded, or its pieces are out already."""


class DoesNotAddUp(Refused):
    """More pieces judged than wait for judging, or none at all."""


class NotOfThisLot(Refused):
    """The lot has no pieces of that base or put-up."""


@transaction.atomic
def out_of_pot(
    *,
    key: UUID,
    pot: Pot,
    bath: str,
    who: User,
    pieces_out: Mapping[int, int] | None = None,
    join: DyeLot | None = None,
    happened_at: datetime | None = None,
) -> DyeLot:
    """Take the pieces out of a pot: the undyed yarn is used up, as many dyed pieces go to drying, not yet judged.

    `pieces_out` gives, by load, how many really came out; what it leaves out came out whole. A count that differs from
    what went in is posted as a count difference in the same movement, so that the stages always sum to what came out.
    Pieces that were dyed before are used up as those of their own lot. A pot that held a strip alone gives a lot without
    pieces. `bath` is clear, tinted or coloured. `join` is a lot from the very same jugs, which the pieces then belong to;
    the pot keeps its code. The same key again returns the lot that the first call made. Raises NotInWork, NotOfOneJug.
    """
    pot = Pot.objects.select_for_update().select_related("colourway").get(pk=pot.pk)
    # A strip alone moved nothing, so that its key stands nowhere.
    if pot.dye_lot is not None and (
        Movement.objects.filter(key=key).exists() or not PotLoad.objects.filter(pot=pot).exists()
    ):
        return pot.dye_lot
    if pot.state != "in work":
        raise NotInWork(f"Pot {pot.code} is {pot.state}; only a pot in work can be emptied.")
    if bath not in Pot.Bath.values:
        raise NotInWork("Say whether the bath is clear, tinted or coloured.")
    at = happened_at or timezone.now()
    loads = list(
        PotLoad.objects.filter(pot=pot)
        .select_related("put_up__item", "put_up__base", "mill_lot__lot", "was__item", "overdyes__lot")
        .order_by("id")
    )
    lot = _lot_of(pot, at) if join is None else _joined(pot, join)
    steps = _steps_out(loads, pieces_out or {}, lot)
    if steps:
        post(
            key=key,
            who=who,
            steps=steps,
            why=f"Out of pot {pot.code}",
            source=f"pot:{pot.code}",
            happened_at=at,
        )
    pot.out_at = at
    pot.bath_at_end = bath
    pot.dye_lot = lot
    pot.save(update_fields=["out_at", "bath_at_end", "dye_lot"])
    return lot


def _lot_of(pot: Pot, at: datetime) -> DyeLot:
    """A lot of its own, under the pot's code."""
    ledger_lot = Lot.objects.create(kind=Lot.Kind.DYE_LOT, name=pot.code)
    return DyeLot.objects.create(code=pot.code, colourway=pot.colourway, made_at=at, lot=ledger_lot)


def _joined(pot: Pot, join: DyeLot) -> DyeLot:
    """The lot that a pot joins, if all dye of both is from the same jugs."""
    if join.pk not in {each.lot.pk for each in lots_from_its_jugs(pot)}:
        raise NotOfOneJug(
            f"Not all dye of pot {pot.code} and of lot {join.code} came from the same jugs. Take it out as a lot of its own."
        )
    return DyeLot.objects.select_for_update().select_related("colourway", "lot").get(pk=join.pk)


def _steps_out(loads: Sequence[PotLoad], pieces_out: Mapping[int, int], lot: DyeLot) -> list[Step]:
    drying, made = Bucket(fixed_place("drying")), Bucket(fixed_place("made"))
    steps = steps_used_up(loads, pieces_out)
    came_out: dict[PutUp, int] = {}
    for load in loads:
        came_out[load.put_up] = came_out.get(load.put_up, 0) + pieces_out.get(load.pk, load.pieces)
    if loads and not any(came_out.values()):
        raise NotInWork("No piece came out. Count what came out, or drop the pot if nothing was dyed.")
    for put_up, out in came_out.items():
        if out:
            unjudged = dyed_yarn(colourway=lot.colourway, put_up=put_up, grade=DyedYarn.Grade.UNJUDGED)
            steps.append(Step(unjudged.item, lot.lot, out, made, drying))
    return steps


@transaction.atomic
def judge(
    *,
    key: UUID,
    dye_lot: DyeLot,
    counts: Mapping[tuple[int, str], int],
    who: User,
    verdict: str = "",
    words: str = "",
    judged_at: datetime | None = None,
    by_line: Mapping[tuple[int, str], int] | None = None,
) -> Judgement:
    """Judge pieces of a lot when dry: all that wait, or part of them.

    `counts` gives pieces by (put-up, outcome): good, second, redye, sample, bin; `by_line` gives them by (line of a pot,
    outcome) where lines of one put-up came out differently. Good to sample move from drying to dry under their own name; the
    binned are written off. A lot without pieces, of a strip alone, is judged in words. The same key again returns the first
    judgement. Raises DoesNotAddUp when more are judged than wait, of a put-up or of a line, or none.
    """
    first = Judgement.objects.filter(key=key).first()
    if first is not None:
        return first
    # The lot's row serialises two people judging the same rack.
    lot = DyeLot.objects.select_for_update().select_related("colourway", "lot").get(pk=dye_lot.pk)
    loads = list(
        with_what_came_out(PotLoad.objects.filter(pot__dye_lot=lot))
        .select_related("pot", "put_up__item", "mill_lot__lot")
        .order_by("id")
    )
    waiting = {line.put_up.pk: line for line in waiting_to_be_judged(lot)}
    apart = {pair: pieces for pair, pieces in (by_line or {}).items() if pieces}
    _refuse_more_than_of_a_line(apart, loads)
    rows = _judged_rows(counts, apart, loads)
    judged: dict[tuple[int, str], int] = {}
    for row in rows:
        pair = (row.put_up_id, row.outcome)
        judged[pair] = judged.get(pair, 0) + row.pieces
    at = judged_at or timezone.now()
    movement = None
    strip_alone = not loads and lot.pots.exists()
    if strip_alone and not words.strip():
        raise DoesNotAddUp("Say in a few words how the strip came out.")
    if not strip_alone:
        _refuse_what_does_not_add_up(judged, waiting)
        movement = post(
            key=key,
            who=who,
            steps=_steps_judged(judged, waiting, lot),
            why=f"Lot {lot.code} judged",
            source=f"lot:{lot.code}",
            happened_at=at,
        )
    base_ids = {waiting[put_up_id].put_up.base_id for put_up_id, _ in judged}
    reference = _newest_reference(lot.colourway_id, base_ids)
    judgement = Judgement.objects.create(
        key=key,
        dye_lot=lot,
        judged_at=at,
        by=who,
        verdict=verdict,
        against=reference.dye_lot if reference is not None and reference.dye_lot_id != lot.pk else None,
        words=words,
        movement=movement,
    )
    for row in rows:
        row.judgement = judgement
    JudgedPieces.objects.bulk_create(rows)
    return judgement


def _judged_rows(
    counts: Mapping[tuple[int, str], int], apart: Mapping[tuple[int, str], int], loads: Sequence[PotLoad]
) -> list[JudgedPieces]:
    """The counts as rows, each with its line where that was told or where there is only one."""
    lines = lines_that_differ(loads)
    put_ups = {load.pk: load.put_up_id for load in loads}
    rows: dict[tuple[int, int | None, str], int] = {}
    for (put_up_id, outcome), pieces in counts.items():
        only = lines.get(put_up_id, [])
        key = (put_up_id, only[0].pk if len(only) == 1 else None, outcome)
        rows[key] = rows.get(key, 0) + pieces
    for (load_id, outcome), pieces in apart.items():
        key = (put_ups[load_id], load_id, outcome)
        rows[key] = rows.get(key, 0) + pieces
    return [
        JudgedPieces(put_up_id=put_up_id, load_id=load_id, outcome=outcome, pieces=pieces)
        for (put_up_id, load_id, outcome), pieces in sorted(rows.items(), key=str)
        if pieces
    ]


def _refuse_more_than_of_a_line(apart: Mapping[tuple[int, str], int], loads: Sequence[PotLoad]) -> None:
    if not apart:
        return
    left = left_of_lines(loads)
    sums: dict[int, int] = {}
    for (load_id, _), pieces in apart.items():
        sums[load_id] = sums.get(load_id, 0) + pieces
    by_id = {load.pk: load for load in loads}
    for load_id, pieces in sums.items():
        if load_id not in left:
            raise DoesNotAddUp("This lot has no such line. Open the page afresh and count again.")
        if pieces > left[load_id]:
            there = max(0, left[load_id])
            raise DoesNotAddUp(
                f"{pieces} pieces of {mill_lot_words(by_id[load_id])} are judged but only {there} of it wait. "
                f"Lower the counts so that they add up to {there} or less."
            )


def _refuse_what_does_not_add_up(
    judged: Mapping[tuple[int, str], int], waiting: Mapping[int, Waiting]
) -> None:
    if not judged:
        raise DoesNotAddUp(
            "Nothing is judged yet: count at least one piece as good, second, to redye, sample or bin."
        )
    sums: dict[int, int] = {}
    for (put_up_id, outcome), pieces in judged.items():
        if outcome not in JudgedPieces.Outcome.values or pieces < 0:
            raise DoesNotAddUp(
                "A piece is good, a second, to redye, a sample or binned, and counts are from 0 upwards."
            )
        sums[put_up_id] = sums.get(put_up_id, 0) + pieces
    for put_up_id, pieces in sums.items():
        there = waiting[put_up_id].pieces if put_up_id in waiting else 0
        if pieces > there:
            raise DoesNotAddUp(
                f"{pieces} pieces are judged but only {there} wait. Lower the counts so that they add up to {there} or less."
            )


def _steps_judged(
    judged: Mapping[tuple[int, str], int], waiting: Mapping[int, Waiting], lot: DyeLot
) -> list[Step]:
    """Judged where they lie, what is furthest on its way first; what is not yet said to be dry is dry from now on."""
    dry, written_off = fixed_place("dry"), Bucket(fixed_place("written_off"))
    consumed, made = Bucket(fixed_place("consumed")), Bucket(fixed_place("made"))
    rows = unjudged_rows(lot)
    left = {row.pk: row.on_hand for row in rows}
    steps: list[Step] = []
    for (put_up_id, outcome), pieces in sorted(judged.items()):
        graded = None
        if outcome != JudgedPieces.Outcome.BIN:
            graded = dyed_yarn(colourway=lot.colourway, put_up=waiting[put_up_id].put_up, grade=outcome)
        for row in (row for row in rows if row.item.dyed.put_up_id == put_up_id):
            took = min(pieces, left[row.pk])
            if not took:
                continue
            left[row.pk] -= took
            pieces -= took
            here = Bucket(row.place)
            steps.append(Step(row.item, lot.lot, took, here, written_off if graded is None else consumed))
            if graded is not None:
                there = here if row.place.order >= dry.order else Bucket(dry)
                steps.append(Step(graded.item, lot.lot, took, made, there))
    return steps


@transaction.atomic
def take_back_judgement(*, key: UUID, judgement: Judgement, who: User, why: str) -> Movement:
    """Undo a judgement with a reason: its pieces wait for judging again, and the record of it stays.

    Raises the ledger's own refusals when its pieces have moved on, or when it was taken back before.
    """
    if judgement.movement is None:
        raise DoesNotAddUp("This judgement moved no pieces, so there is nothing to take back.")
    return reverse(movement=judgement.movement, key=key, who=who, why=why)


def reference_for(*, colourway: Colourway, base: Base) -> ReferenceChoice | None:
    """The lot to repeat for a colourway on a base: the newest choice."""
    return _newest_reference(colourway.pk, {base.pk})


def _newest_reference(colourway_id: int, base_ids: set[int]) -> ReferenceChoice | None:
    return (
        ReferenceChoice.objects.filter(colourway=colourway_id, base__in=base_ids)
        .select_related("dye_lot", "base")
        .order_by("-id")
        .first()
    )


@transaction.atomic
def choose_reference(*, dye_lot: DyeLot, base: Base, who: User) -> ReferenceChoice:
    """Make a lot the one to repeat for its colourway on a base. Choosing the one that holds already changes nothing.

    Raises NotOfThisLot when the lot has no pieces on that base.
    """
    on_this_base = PotLoad.objects.filter(pot__dye_lot=dye_lot, put_up__base=base).exists()
    if (
        not on_this_base
        and not Balance.objects.filter(lot=dye_lot.lot_id, item__dyed__put_up__base=base).exists()
    ):
        raise NotOfThisLot(f"Lot {dye_lot.code} has no pieces on {base.name}.")
    holds = reference_for(colourway=dye_lot.colourway, base=base)
    if holds is not None and holds.dye_lot_id == dye_lot.pk:
        return holds
    return ReferenceChoice.objects.create(
        colourway=dye_lot.colourway, base=base, dye_lot=dye_lot, chosen_at=timezone.now(), by=who
    )
