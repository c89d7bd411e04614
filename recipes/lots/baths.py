"""The bath of an earlier pot is used again: which one, how much of it, and what somebody says is left in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction
from uuid import UUID, uuid5

from django.db import transaction
from django.db.models import F, Q, Sum
from django.utils import timezone

from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from recipes.dyeing.bath import refill_milligrams
from recipes.dyeing.units import format_grams, format_litres
from recipes.dyeing.working import Figure
from recipes.lots import mixed
from recipes.lots.beside import EARLIER_BATH, BathBefore, Beside
from recipes.lots.contents import add_up
from recipes.lots.log import add_entry, strike
from recipes.lots.models import LeftInBath, LogEntry, PlannedStep, Pot
from recipes.models import Dye

Kind = LogEntry.Kind
KEPT_DAYS = 14
BATHS_SHOWN = 12


class NotABath(Refused):
    """That pot has no bath that could be used again here."""


class NotLeft(Refused):
    """What is said to be left cannot be."""


@dataclass(frozen=True, slots=True)
class UsedBath:
    """The bath of a pot and how much of it is used; None where nobody knows how much."""

    pot: Pot
    microlitres: int | None = None

    @property
    def words(self) -> str:
        """K7Q2M in Big blue, left tinted, 12 litres."""
        left = f"left {self.pot.get_bath_at_end_display()}" if self.pot.bath_at_end else "still in work"
        litres = f", {format_litres(self.microlitres)}" if self.microlitres else ""
        vessel = f" in {self.pot.vessel.name}" if self.pot.vessel is not None else ""
        return f"{self.pot.code}{vessel}, {left}{litres}"


def baths_at_hand(*, besides: Pot | None = None) -> list[UsedBath]:
    """The baths that may still stand there: of pots in work and lately out, the newest first. One query."""
    in_bath = Q(entries__kind__in=[Kind.WATER, Kind.STOCK, Kind.MIX, Kind.AUXILIARY])
    kept = in_bath & Q(entries__struck_by__isnull=True)
    lately = timezone.now() - timedelta(days=KEPT_DAYS)
    pots = (
        Pot.objects.filter(Q(out_at__isnull=True) | Q(out_at__gte=lately), loaded_at__isnull=False)
        .select_related("vessel")
        .annotate(
            bath_in_all=Sum("entries__microlitres", filter=kept),
            bath_water=Sum("entries__microlitres", filter=kept & Q(entries__kind=Kind.WATER)),
        )
        .order_by(F("out_at").desc(nulls_first=True), "-loaded_at", "-id")
    )
    if besides is not None:
        pots = pots.exclude(pk=besides.pk)
    return [UsedBath(pot, pot.bath_in_all if pot.bath_water else None) for pot in pots[:BATHS_SHOWN]]


def bath_now(pot: Pot) -> UsedBath | None:
    """Whose bath a pot was filled with, and how much of it by its log; None for a fresh one. No query for that, else one."""
    if pot.bath_from is None:
        return None
    water = LogEntry.objects.filter(
        pot=pot, name=EARLIER_BATH, kind=Kind.WATER, struck_by__isnull=True
    ).values_list("microlitres", flat=True)
    return UsedBath(pot.bath_from, water.first())


def beside_of(pot: Pot) -> Beside:
    """What a pot holds that its log does not put in. No query for a fresh bath, else three."""
    strip = pot.strip_milligrams or 0
    if pot.bath_from_id is None or pot.bath_from is None:
        return Beside(strip)
    return Beside(strip, bath_before(pot, pot.bath_from))


def bath_before(pot: Pot, earlier: Pot) -> BathBefore:
    """What the bath of an earlier pot was like, and what was told of it for this one. Two queries."""
    entries = list(
        LogEntry.objects.filter(pot=earlier)
        .select_related("dye", "auxiliary", "mix", "struck_by")
        .prefetch_related(mixed.PARTS)
        .order_by("happened_at", "id")
    )
    told: dict[int, dict[int, LeftInBath]] = {earlier.pk: {}, pot.pk: {}}
    for left in (
        LeftInBath.objects.filter(pot__in=[earlier.pk, pot.pk]).select_related("dye", "by").order_by("id")
    ):
        told[left.pot_id][left.dye_id] = left
    contents = add_up(loads=[], entries=entries)
    took = {each.dye: each.milligrams for each in contents.dyes}
    if earlier.bath_from_id is not None:
        for left in told[earlier.pk].values():
            took[left.dye] = took.get(left.dye, Fraction(0)) + Fraction(left.micrograms, 1000)
    return BathBefore(earlier, took, tuple(told[pot.pk].values()), contents.bath_microlitres)


def holds_something(pot: Pot) -> bool:
    """Whether the bath of a pot held dye before, as far as is known."""
    before = beside_of(pot).bath
    return before is not None and before.holds_something


@dataclass(frozen=True, slots=True)
class Refill:
    """A dye of the plan in a bath that is used again: how much more of it the plan wants, where what is left was told."""

    dye: Dye
    add: Figure[Fraction] | None


def refills(pot: Pot, before: BathBefore) -> list[Refill]:
    """What the plan of a pot still wants of the dyes that its bath held before. One query, none without a plan.

    It is worked out for each dye by itself and never put into the plan; of a dye of which nobody told, nothing is said.
    """
    if pot.plan_id is None and pot.way_id is None:
        return []
    wanted: dict[Dye, Fraction] = {}
    for step in PlannedStep.objects.filter(pot=pot, rule__dye__isnull=False).select_related("rule__dye"):
        if step.rule is None or step.rule.dye is None:
            continue
        from_stock = Fraction((step.microlitres or 0) * (step.strength_mg_per_litre or 0), 1_000_000)
        amount = Fraction(step.milligrams) if step.milligrams else from_stock
        wanted[step.rule.dye] = wanted.get(step.rule.dye, Fraction(0)) + amount
    told = {left.dye_id: Fraction(left.micrograms, 1000) for left in before.told}
    return [
        Refill(
            dye,
            refill_milligrams(target_milligrams=target, left_milligrams=told[dye.pk])
            if dye.pk in told
            else None,
        )
        for dye, target in wanted.items()
        if dye in before.took
    ]


@transaction.atomic
def fill_from(*, pot: Pot, bath: UsedBath, key: UUID, who: User, at: datetime | None = None) -> None:
    """Use the bath of an earlier pot again: the log says so, and how much of it there is counts as its water.

    Raises NotABath when it is this pot's own, or that pot was never loaded.
    """
    _refuse_what_is_no_bath(pot, bath.pot)
    happened = at or timezone.now()
    pot.bath_from = bath.pot
    pot.save(update_fields=["bath_from"])
    before = BathBefore(bath.pot)
    add_entry(
        pot=pot,
        key=uuid5(key, "said"),
        kind=Kind.NOTE,
        who=who,
        happened_at=happened,
        name=EARLIER_BATH,
        text=f"Started in {before.words}",
    )
    if bath.microlitres:
        add_entry(
            pot=pot,
            key=uuid5(key, "water"),
            kind=Kind.WATER,
            who=who,
            happened_at=happened,
            name=EARLIER_BATH,
            microlitres=bath.microlitres,
        )


def _refuse_what_is_no_bath(pot: Pot, earlier: Pot) -> None:
    if earlier.loaded_at is None:
        raise NotABath(f"Pot {earlier.code} was not dyed, so it left no bath.")
    seen: Pot | None = earlier
    for _ in range(50):
        if seen is None:
            return
        if seen.pk == pot.pk:
            raise NotABath("A pot cannot be filled from its own bath.")
        seen = seen.bath_from


@transaction.atomic
def change_bath(*, pot: Pot, bath: UsedBath | None, key: UUID, who: User) -> None:
    """Say of a pot in work that its bath was another one, or a fresh one; what the log said of it is struck.

    Saying the same again changes nothing. Raises NotABath.
    """
    locked = Pot.objects.select_for_update().get(pk=pot.pk)
    said = list(LogEntry.objects.filter(pot=locked, name=EARLIER_BATH, struck_by__isnull=True))
    was = next((entry.microlitres for entry in said if entry.kind == Kind.WATER), None)
    if (
        locked.bath_from_id == (bath.pot.pk if bath is not None else None)
        and (bath.microlitres if bath is not None else None) == was
    ):
        return
    for entry in said:
        strike(entry=entry, key=uuid5(key, f"strike {entry.pk}"), who=who)
    if bath is not None:
        fill_from(pot=locked, bath=bath, key=key, who=who, at=locked.loaded_at)
    else:
        locked.bath_from = None
        locked.save(update_fields=["bath_from"])


@transaction.atomic
def say_what_is_left(
    *, pot: Pot, left: Sequence[tuple[Dye, int]], who: User, said_at: datetime | None = None
) -> list[LeftInBath]:
    """Say how many micrograms of each dye the bath still held; the newest telling of a dye holds, and 0 is none.

    What was told before and is told alike is not told again. Raises NotLeft when the pot has a fresh bath, or when more is
    left than the pot before took by its log.
    """
    locked = Pot.objects.select_for_update().get(pk=pot.pk)
    before = beside_of(locked).bath
    if before is None:
        raise NotLeft(f"Pot {locked.code} has a fresh bath, so nothing was left in it.")
    told = {each.dye_id: each.micrograms for each in before.told}
    rows = []
    for dye, micrograms in left:
        most = before.took.get(dye)
        if most is not None and before.pot.bath_from_id is None and Fraction(micrograms, 1000) > most:
            raise NotLeft(
                f"Pot {before.pot.code} took {format_grams(most)} of {dye.name}, so no more than that can be left."
            )
        if told.get(dye.pk) != micrograms:
            rows.append(
                LeftInBath(
                    pot=locked, dye=dye, micrograms=micrograms, said_at=said_at or timezone.now(), by=who
                )
            )
    return LeftInBath.objects.bulk_create(rows)
