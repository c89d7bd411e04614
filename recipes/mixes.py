"""Mixes and jugs: several dyes made up together to one volume, for some pots or to be kept."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from uuid import UUID

from django.db import transaction
from django.db.models import Prefetch
from django.utils import timezone

from dyehouse.ledger.models import Item, Lot, Movement
from dyehouse.ledger.operations import Bucket, Step, post
from dyehouse.ledger.places import fixed_place
from dyehouse.studio.codes import take_code
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from recipes.dyeing.dissolving import beyond_dissolved
from recipes.dyeing.mixing import dye_from_mix, strength_in_mix
from recipes.dyeing.stock_life import best_before, stock_life
from recipes.dyeing.units import format_millilitres, whole
from recipes.dyeing.working import Figure
from recipes.dyestuff import write_off_rest
from recipes.models import Auxiliary, Dye, Jar, Mix, MixPart, StockBottle
from recipes.words import one_line


class NothingInMix(Refused):
    """A mix of no dye, of no volume, or with a part of nothing."""


class MoreThanItsVolume(Refused):
    """The stocks that are poured together are more than the finished mix."""


class MixNameTaken(Refused):
    """An open mix, a dye or an auxiliary has this name, so that a line at the pot could mean either."""


class NameLikeAnAmount(Refused):
    """A name that begins with a figure could be read as an amount at the pot."""


#: What a mix holds, for a query over things that lead to mixes.
PARTS = MixPart.objects.select_related("dye", "jar__dye", "bottle__jar", "bottle__dye").order_by("number")


def parts_through(path: str) -> Prefetch[str]:
    """The parts of the mixes at the end of a path, read in one query and only where there are any."""
    return Prefetch(f"{path}__parts" if path else "parts", queryset=PARTS)


@dataclass(frozen=True, slots=True)
class Part:
    """What goes into a mix: milligrams weighed from a jar, or microlitres poured from a bottle of stock."""

    jar: Jar | None = None
    milligrams: int = 0
    bottle: StockBottle | None = None
    microlitres: int = 0

    @property
    def dye(self) -> Dye:
        of = self.jar or self.bottle
        assert of is not None
        return of.dye

    @property
    def dye_milligrams(self) -> Fraction:
        """Exact milligrams of dye."""
        if self.bottle is not None:
            return Fraction(self.microlitres * self.bottle.strength_mg_per_litre, 1_000_000)
        return Fraction(self.milligrams)


@dataclass(frozen=True, slots=True)
class DyeOfMix:
    """One dye of a mix, all its parts together: exact milligrams, and milligrams a litre with the working."""

    dye: Dye
    milligrams: Fraction
    strength: Figure[Fraction]

    @property
    def beyond_dissolved(self) -> str:
        """A sentence where it is stronger than what the dyer knows to stay dissolved."""
        return beyond_dissolved(
            dye=self.dye.name,
            strength_mg_per_litre=self.strength.value,
            strongest_mg_per_litre=self.dye.strongest_stock_mg_per_litre,
        )


def part_milligrams(part: MixPart) -> Fraction:
    """Exact milligrams of dye in a part; of stock that was poured by its volume and strength."""
    if part.bottle is not None and part.poured_microlitres is not None:
        return Fraction(part.poured_microlitres * part.bottle.strength_mg_per_litre, 1_000_000)
    return Fraction(part.micrograms, 1000)


def dyes_of(mix: Mix) -> list[DyeOfMix]:
    """What a mix holds, dye by dye in the order they went in; reads its parts unless they came along."""
    return reckon([(part.dye, part_milligrams(part)) for part in parts_of(mix)], mix.made_microlitres)


def parts_of(mix: Mix) -> list[MixPart]:
    """The parts of a mix with their dyes, jars and bottles."""
    if "parts" in getattr(mix, "_prefetched_objects_cache", {}):
        return list(mix.parts.all())
    return list(PARTS.filter(mix=mix))


def reckon(amounts: Iterable[tuple[Dye, Fraction]], made_microlitres: int) -> list[DyeOfMix]:
    """Each dye once, with what there is of it and its strength in a mix of so much."""
    dyes: dict[int, Dye] = {}
    milligrams: dict[int, Fraction] = {}
    for dye, amount in amounts:
        dyes.setdefault(dye.pk, dye)
        milligrams[dye.pk] = milligrams.get(dye.pk, Fraction(0)) + amount
    return [
        DyeOfMix(
            dye=dye,
            milligrams=milligrams[pk],
            strength=strength_in_mix(
                dye=dye.name, dye_milligrams=milligrams[pk], made_microlitres=made_microlitres
            ),
        )
        for pk, dye in dyes.items()
    ]


@dataclass(frozen=True, slots=True)
class DyeLeft:
    """One dye of a mix with what of it is still in what is left, and its parts."""

    of: DyeOfMix
    left: Figure[Fraction]
    parts: list[MixPart]


def what_is_left(mix: Mix, left_microlitres: int) -> list[DyeLeft]:
    """The dyes of a mix, and how much of each what is left still holds."""
    return [
        DyeLeft(
            of=each,
            left=dye_from_mix(
                dye=each.dye.name,
                poured_microlitres=left_microlitres,
                dye_milligrams=each.milligrams,
                made_microlitres=mix.made_microlitres,
            ),
            parts=[part for part in parts_of(mix) if part.dye_id == each.dye.pk],
        )
        for each in dyes_of(mix)
    ]


def mix_best_before(parts: Sequence[Part], made_on: dt.date) -> dt.date | None:
    """The shortest published life of its dyes, and no later than that of a bottle poured into it; None where nobody knows."""
    days = [best_before(part.dye.dye_class, made_on) for part in parts]
    days += [part.bottle.best_before for part in parts if part.bottle is not None]
    return min((day for day in days if day is not None), default=None)


def without_a_life(parts: Sequence[Part]) -> list[Dye]:
    """The dyes of a mix for whose class nobody has published how long a solution keeps, each once."""
    return list(dict.fromkeys(part.dye for part in parts if stock_life(part.dye.dye_class) is None))


@transaction.atomic
def make_mix(
    *,
    key: UUID,
    parts: Sequence[Part],
    microlitres: int,
    made_at: dt.datetime,
    who: User,
    name: str = "",
    best_before: dt.date | None = None,
) -> Mix:
    """Make several dyes up together to a volume: powder and stock leave the store, the mix is in it.

    What the book lacks of a jar or a bottle is found, as at the pot. Its short code is made here; a name is optional and
    is what a line at the pot may call it. The same key again returns the mix that the first call made.
    Raises NothingInMix, MoreThanItsVolume, MixNameTaken, NameLikeAnAmount.
    """
    first = Movement.objects.filter(key=key).first()
    if first is not None:
        return Mix.objects.get(lot__lines__movement=first)
    name = one_line(name)
    _refuse_what_is_no_mix(parts, microlitres)
    _refuse_taken_name(name)
    code = take_code()
    called = f"Mix {name or code}"
    mix = Mix.objects.create(
        code=code,
        name=name,
        made_at=made_at,
        made_by=who,
        made_microlitres=microlitres,
        best_before=best_before,
        item=Item.objects.create(kind=Item.Kind.MIX, unit=Item.Unit.MICROLITRE, name=called),
        lot=Lot.objects.create(kind=Lot.Kind.MIX, name=code),
    )
    MixPart.objects.bulk_create(_row(mix, number, part) for number, part in enumerate(parts, 1))
    store = Bucket(fixed_place("store"))
    post(
        key=key,
        who=who,
        steps=[
            *(_taken(part) for part in parts),
            Step(mix.item, mix.lot, microlitres, Bucket(fixed_place("made")), store),
        ],
        why=f"{called} made" if name else f"Mix {code} made",
        source=f"mix:{code}",
        happened_at=made_at,
        find_missing=True,
    )
    return mix


def _refuse_what_is_no_mix(parts: Sequence[Part], microlitres: int) -> None:
    if microlitres < 1:
        raise NothingInMix("Write how many millilitres the finished mix has.")
    if not parts:
        raise NothingInMix("Write at least one dye: weighed from a jar, or poured from a bottle.")
    for part in parts:
        if (part.jar is None) == (part.bottle is None):
            raise NothingInMix("Each part comes from a jar or from a bottle.")
        if (part.milligrams if part.jar is not None else part.microlitres) < 1:
            raise NothingInMix(f"Write how much {part.dye.name} went in: more than nothing.")
    poured = sum(part.microlitres for part in parts)
    if poured > microlitres:
        raise MoreThanItsVolume(
            f"The stocks alone are {format_millilitres(poured)}, more than the finished "
            f"{format_millilitres(microlitres)}. Write the volume that the jug really holds."
        )


def _refuse_taken_name(name: str) -> None:
    if not name:
        return
    if not name[0].isalpha():
        raise NameLikeAnAmount(
            "Begin the name with a letter, so that the pot line does not take it for an amount."
        )
    if Mix.objects.filter(name__iexact=name, finished_at=None).exists():
        raise MixNameTaken(f"A mix called {name} is still open. Finish that one, or choose another name.")
    for model, what in ((Dye, "dye"), (Auxiliary, "auxiliary")):
        if model._default_manager.filter(name__iexact=name).exists():
            raise MixNameTaken(
                f"{name} is the name of {'a' if what == 'dye' else 'an'} {what}. Call the mix something else."
            )


def _row(mix: Mix, number: int, part: Part) -> MixPart:
    return MixPart(
        mix=mix,
        number=number,
        dye=part.dye,
        jar=part.jar,
        bottle=part.bottle,
        # What is poured is reckoned by volume and strength; the micrograms are there to be looked through.
        micrograms=max(1, whole(part.dye_milligrams * 1000)),
        poured_microlitres=part.microlitres if part.bottle is not None else None,
    )


def _taken(part: Part) -> Step:
    store, consumed = Bucket(fixed_place("store")), Bucket(fixed_place("consumed"))
    if part.bottle is not None:
        return Step(part.dye.stock_item, part.bottle.lot, part.microlitres, store, consumed)
    assert part.jar is not None
    return Step(part.dye.item, part.jar.lot, part.milligrams, store, consumed)


@transaction.atomic
def finish_mix(*, key: UUID, mix: Mix, who: User, why: str, happened_at: dt.datetime | None = None) -> Mix:
    """Put a mix away for good: used up, or what is left thrown away with the reason.

    Finishing it again changes nothing. Raises ReasonMissing.
    """
    mix = Mix.objects.select_for_update().select_related("item", "lot").get(pk=mix.pk)
    if mix.finished_at is None:
        at = happened_at or timezone.now()
        write_off_rest(key=key, item=mix.item, lot=mix.lot, who=who, why=why, happened_at=at)
        mix.finished_at = at
        mix.save(update_fields=["finished_at"])
    return mix
