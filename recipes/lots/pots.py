"""A pot is loaded, or put back again while nothing is in its bath."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from dyehouse.ledger.models import Movement
from dyehouse.ledger.operations import Bucket, Step, post, reverse
from dyehouse.ledger.places import fixed_place
from dyehouse.studio.codes import take_code
from dyehouse.studio.models import User, Vessel
from dyehouse.studio.refusals import Refused
from recipes.colourways import new_colourway
from recipes.lots.models import LogEntry, Pot, PotLoad
from recipes.lots.redye import reckon_again
from recipes.models import Colourway, MillLot, PutUp
from recipes.yarn import unknown_mill_lot


class NotALoad(Refused):
    """The pieces or their dry weight cannot be what lies in a pot."""


class AlreadyLoaded(Refused):
    """The pot was loaded, emptied or dropped before."""


class SomethingIsIn(Refused):
    """The pot holds more than yarn and water, so it cannot be as if it had not been loaded."""


def pot_source(pot: Pot) -> str:
    """How the ledger names a pot as the cause of a movement."""
    return f"pot:{pot.code}"


@transaction.atomic
def start_trial(
    *,
    key: UUID,
    put_up: PutUp,
    mill_lot: MillLot | None,
    pieces: int,
    dry_milligrams: int | None,
    vessel: Vessel | None,
    colourway: Colourway | None,
    who: User,
    happened_at: datetime | None = None,
) -> Pot:
    """Load a pot to try a colour: it gets its short code, and the yarn goes from the store into the pots.

    `mill_lot` None is a lot that nobody knows; `dry_milligrams` None takes the put-up's nominal weight, a number is a
    weighing of all the pieces together. Without a colourway a new one is made with the pot's code. Yarn that the store
    does not have is found in the same movement. The same key again returns the pot of the first call.
    Raises NotALoad.
    """
    first = _loaded_by(key)
    if first is not None:
        return first
    if pieces < 1:
        raise NotALoad("Say how many pieces go in: at least 1.")
    if dry_milligrams is not None and dry_milligrams < 1:
        raise NotALoad(
            "The dry weight is more than nothing. Leave it as proposed if you have not weighed it."
        )
    lot = mill_lot or unknown_mill_lot(put_up.base)
    if lot.base_id != put_up.base_id:
        raise NotALoad(f"Mill lot {lot.number} is of {lot.base.name}. Choose a lot of {put_up.base.name}.")
    at = happened_at or timezone.now()
    code = take_code()
    pot = Pot.objects.create(
        code=code,
        colourway=colourway or new_colourway(code=code),
        vessel=vessel,
        made_at=at,
        started_by=who,
        loaded_at=at,
    )
    load = PotLoad.objects.create(
        pot=pot,
        put_up=put_up,
        mill_lot=lot,
        pieces=pieces,
        dry_milligrams=dry_milligrams or pieces * put_up.nominal_milligrams,
        weighed=dry_milligrams is not None,
    )
    _move_in(key=key, pot=pot, loads=[load], who=who, at=at)
    return pot


@transaction.atomic
def load_planned(
    *,
    key: UUID,
    pot: Pot,
    mill_lot: MillLot | None,
    dry_milligrams: int | None,
    who: User,
    happened_at: datetime | None = None,
) -> Pot:
    """Load a planned pot: its yarn goes from the store into the pots, from the mill lot that is really at hand.

    None keeps what was planned; a weight is a weighing of all its pieces together, and the planned amounts follow it. The
    same key again changes nothing.
    Raises AlreadyLoaded and NotALoad.
    """
    if _loaded_by(key) is not None:
        return Pot.objects.get(pk=pot.pk)
    locked = Pot.objects.select_for_update().get(pk=pot.pk)
    if locked.state != "planned":
        raise AlreadyLoaded(f"Pot {locked.code} is {locked.state}; only a planned pot can be loaded.")
    loads = list(
        PotLoad.objects.filter(pot=locked).select_related("put_up__item", "put_up__base", "mill_lot__lot")
    )
    if not loads:
        raise NotALoad(f"Pot {locked.code} has no pieces planned. Drop it and plan it again.")
    if mill_lot is not None:
        _change_lot(loads, mill_lot)
    if dry_milligrams is not None:
        _weigh(loads, dry_milligrams)
    PotLoad.objects.bulk_update(loads, ["mill_lot", "dry_milligrams", "weighed"])
    if dry_milligrams is not None:
        reckon_again(pot=locked)
    at = happened_at or timezone.now()
    locked.loaded_at = at
    locked.save(update_fields=["loaded_at"])
    _move_in(key=key, pot=locked, loads=loads, who=who, at=at)
    return locked


@transaction.atomic
def weigh_load(*, pot: Pot, dry_milligrams: int) -> None:
    """Put the weighed dry weight of all pieces in a pot in place of what was taken from the put-up.

    What is planned and not yet done follows the weight. Raises NotALoad.
    """
    loads = list(PotLoad.objects.select_for_update().filter(pot=pot))
    _weigh(loads, dry_milligrams)
    PotLoad.objects.bulk_update(loads, ["dry_milligrams", "weighed"])
    reckon_again(pot=pot)


@transaction.atomic
def unload_untouched(*, key: UUID, pot: Pot, who: User) -> Pot:
    """Put the yarn of a pot back into the store when nothing has gone into its bath but water.

    Raises SomethingIsIn when it holds dye or an auxiliary, AlreadyLoaded when it is not in work.
    """
    locked = Pot.objects.select_for_update().get(pk=pot.pk)
    if locked.dropped_at is not None:
        return locked
    if locked.state != "in work":
        raise AlreadyLoaded(f"Pot {locked.code} is {locked.state}; only a pot in work can be put back.")
    additions = [LogEntry.Kind.STOCK, LogEntry.Kind.POWDER, LogEntry.Kind.AUXILIARY]
    if LogEntry.objects.filter(pot=locked, kind__in=additions, struck_by__isnull=True).exists():
        raise SomethingIsIn(
            f"Pot {locked.code} holds more than yarn and water. Strike what did not go in, or take the pieces out."
        )
    into = Movement.objects.filter(source=pot_source(locked), reverses__isnull=True).order_by("id").first()
    if into is not None:
        reverse(movement=into, key=key, who=who, why=f"Pot {locked.code} was not dyed")
    locked.loaded_at = None
    locked.dropped_at = timezone.now()
    locked.save(update_fields=["loaded_at", "dropped_at"])
    return locked


def _loaded_by(key: UUID) -> Pot | None:
    source = Movement.objects.filter(key=key).values_list("source", flat=True).first()
    if source is None:
        return None
    return Pot.objects.filter(code=source.removeprefix("pot:")).first()


def _change_lot(loads: Iterable[PotLoad], mill_lot: MillLot) -> None:
    fitting = [load for load in loads if load.put_up.base_id == mill_lot.base_id]
    if not fitting:
        raise NotALoad(
            f"Mill lot {mill_lot.number} is of another base. Choose a lot of the base in this pot."
        )
    for load in fitting:
        load.mill_lot = mill_lot


def _weigh(loads: list[PotLoad], dry_milligrams: int) -> None:
    """Share one weighing among the loads by what they weighed before; the last takes what rounding leaves."""
    if dry_milligrams < len(loads) or not loads:
        raise NotALoad("The dry weight is more than nothing. Write the grams that the scale shows.")
    before = sum(load.dry_milligrams for load in loads)
    left = dry_milligrams
    for load in loads[:-1]:
        load.dry_milligrams = max(1, load.dry_milligrams * dry_milligrams // before)
        load.weighed = True
        left -= load.dry_milligrams
    loads[-1].dry_milligrams = left
    loads[-1].weighed = True


def _move_in(*, key: UUID, pot: Pot, loads: Iterable[PotLoad], who: User, at: datetime) -> None:
    store, in_pots = Bucket(fixed_place("store")), Bucket(fixed_place("in_pots"))
    post(
        key=key,
        who=who,
        steps=[Step(load.put_up.item, load.mill_lot.lot, load.pieces, store, in_pots) for load in loads],
        why=f"Into pot {pot.code}",
        source=pot_source(pot),
        happened_at=at,
        find_missing=True,
    )
