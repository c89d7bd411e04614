"""What stands on the bench: the dyes, open bottles, open jars and auxiliaries that an entry can mean."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any

from django.db.models import OuterRef, Q, Subquery

from dyehouse.ledger.models import Balance, Lot
from recipes.dyeing.potline.naming import Found, bench_of
from recipes.dyeing.potline.reading import Known, KnownKind
from recipes.dyeing.units import format_number
from recipes.dyeing.working import exact
from recipes.lots.models import LogEntry
from recipes.models import Auxiliary, Dye, Jar, Mix, StockBottle

#: So many characters of a mix's code are enough to say which one it is.
BEGINNING = 3

DYE_KINDS: tuple[KnownKind, ...] = ("bottle", "jar", "dye")


@dataclass(frozen=True, slots=True)
class Bench:
    """Everything in the store that a line can name; bottles and jars by dye, last used first."""

    dyes: dict[int, Dye]
    auxiliaries: dict[int, Auxiliary]
    bottles: dict[int, list[StockBottle]] = field(default_factory=dict)
    jars: dict[int, list[Jar]] = field(default_factory=dict)
    mixes: dict[int, Mix] = field(default_factory=dict)

    def strengths(self, dye: Dye) -> list[int]:
        """The strengths that open bottles of a dye have, weakest first, in milligrams a litre."""
        return sorted({bottle.strength_mg_per_litre for bottle in self.bottles.get(dye.pk, [])})

    def bottle(self, dye: Dye, strength_mg_per_litre: int | None) -> StockBottle | None:
        """The open bottle of that strength; of several alike the one used last."""
        for bottle in self.bottles.get(dye.pk, []):
            if bottle.strength_mg_per_litre == strength_mg_per_litre:
                return bottle
        return None

    def known(self) -> list[Known]:
        """The same for the reader of the pot line.

        It only finds the dye: as a bottle, so that a stock is one whatever its strength, and as a jar. Which bottle or jar
        is meant, and whether that is certain, is settled in resolving.py.
        """
        return [
            *known_dyes(self.dyes.values()),
            *known_auxiliaries(self.auxiliaries.values()),
            *self.known_mixes(),
        ]

    def known_mixes(self) -> list[Known]:
        """The open mixes for the reader."""
        return known_mixes(self.mixes.values())

    def mixes_called(self, name: str) -> Found:
        """The open mixes that a typed name may mean."""
        return bench_of(tuple(self.known_mixes())).find(name)

    def called(self, name: str, *, auxiliary: bool) -> Found:
        """The dyes or auxiliaries that a typed name may mean, and whether it is theirs or only nearly so."""
        return called(name, among=self.known(), auxiliary=auxiliary)


def called(name: str, *, among: Iterable[Known], auxiliary: bool | None = None) -> Found:
    """The things that a typed name may mean: dyes, auxiliaries, or (None) both."""
    kinds: tuple[KnownKind, ...] = ("dye", "auxiliary") if auxiliary is None else ("dye",)
    return bench_of(tuple(among)).find(name, ("auxiliary",) if auxiliary else kinds)


def known_dyes(dyes: Iterable[Dye]) -> list[Known]:
    """Dyes by name for the reader, as what they are poured and weighed from; the id is the dye's."""
    return [Known(kind=kind, id=dye.pk, name=dye.name) for dye in dyes for kind in DYE_KINDS]


def known_auxiliaries(auxiliaries: Iterable[Auxiliary]) -> list[Known]:
    """Auxiliaries by name for the reader."""
    return [
        Known(kind="auxiliary", id=each.pk, name=each.name, form="liquid" if each.is_liquid else "powder")
        for each in auxiliaries
    ]


def known_mixes(mixes: Iterable[Mix]) -> list[Known]:
    """Mixes for the reader: jug or mix with the name, the code, or the first three of the code where no other begins so."""
    listed = list(mixes)
    begun = Counter(mix.code[:BEGINNING] for mix in listed)
    return [_known_mix(mix, alone=begun[mix.code[:BEGINNING]] == 1) for mix in listed]


def _known_mix(mix: Mix, *, alone: bool) -> Known:
    codes = [mix.code, *([mix.code[:BEGINNING]] if alone else [])]
    # A code that begins with a figure could be read as an amount, so it is only known with its holder before it.
    names = [f"{holder} {said}" for said in [mix.name, *codes] if said for holder in ("mix", "jug")]
    if mix.name:
        names.append(mix.name)
    return Known(kind="jug", id=mix.pk, name=f"mix {mix}", other_names=tuple(names))


@dataclass(frozen=True, slots=True)
class StandsOpen:
    """What is not finished, each kind last used first; with `left`, and what it was last used for: last_at, last_<amount>."""

    bottles: list[StockBottle] = field(default_factory=list)
    jars: list[Jar] = field(default_factory=list)
    mixes: list[Mix] = field(default_factory=list)
    auxiliaries: list[Auxiliary] = field(default_factory=list)


#: What each of these has a ledger lot of its own for.
_KINDS = ("bottle", "jar", "mix", "auxiliary")
_FOUND = ("left", "last_at", "last_microlitres", "last_milligrams")


def stands_open() -> StandsOpen:
    """Bottles, jars, mixes and auxiliaries that can go into a pot. One query, since each has a lot of its own."""
    of_dye = Q(bottle__finished_at=None, bottle__dye__retired_at=None, bottle__isnull=False)
    of_jar = Q(jar__finished_at=None, jar__dye__retired_at=None, jar__isnull=False)
    lots = (
        Lot.objects.filter(
            of_dye
            | of_jar
            | Q(mix__finished_at=None, mix__isnull=False)
            | Q(auxiliary__retired_at=None, auxiliary__isnull=False),
            kind__in=[Lot.Kind.BOTTLE, Lot.Kind.JAR, Lot.Kind.MIX, Lot.Kind.AUXILIARY],
        )
        .select_related(
            "bottle__dye__item",
            "bottle__dye__stock_item",
            "jar__dye__item",
            "jar__dye__stock_item",
            "mix__item",
            "auxiliary__item",
        )
        .annotate(
            left=Subquery(
                Balance.objects.filter(lot=OuterRef("pk"), place__code="store").values("on_hand")[:1]
            ),
            **_last_used("microlitres", "milligrams"),
        )
    )
    found: dict[str, list[Any]] = {kind: [] for kind in _KINDS}
    for lot in lots:
        for kind in _KINDS:
            thing = getattr(lot, kind, None)
            if thing is not None:
                for name in _FOUND:
                    setattr(thing, name, getattr(lot, name))
                found[kind].append(thing)
    return StandsOpen(
        bottles=_last_first(found["bottle"], lambda one: (one.dye.name, -one.made_at.timestamp(), -one.pk)),
        jars=_last_first(found["jar"], lambda one: (one.dye.name, -one.pk)),
        mixes=_last_first(found["mix"], lambda one: (-one.made_at.timestamp(), -one.pk)),
        auxiliaries=_last_first(found["auxiliary"], lambda one: (one.name,)),
    )


def _last_used(*values: str) -> dict[str, Any]:
    """Annotations of a lot that tell when its thing was last put into a pot, and how much of it."""
    of_it = Q()
    for kind in _KINDS:
        of_it |= Q(**{kind: OuterRef(f"{kind}__pk")})
    uses = LogEntry.objects.filter(
        of_it,
        kind__in=[
            LogEntry.Kind.STOCK,
            LogEntry.Kind.POWDER,
            LogEntry.Kind.MIX,
            LogEntry.Kind.AUXILIARY,
        ],
        struck_by__isnull=True,
    ).order_by("-id")
    columns = {"last_at": Subquery(uses.values("happened_at")[:1])}
    for value in values:
        columns[f"last_{value}"] = Subquery(uses.filter(**{f"{value}__isnull": False}).values(value)[:1])
    return columns


def _last_first(things: list[Any], then: Callable[[Any], tuple[Any, ...]]) -> list[Any]:
    """What was used last in front; what was never used behind, and alike ones as `then` has them."""
    in_order = sorted(things, key=then)
    never = [one for one in in_order if one.last_at is None]
    used = [one for one in in_order if one.last_at is not None]
    return [*sorted(used, key=lambda one: one.last_at, reverse=True), *never]


def set_bench() -> Bench:
    """The bench as it stands, in two queries whatever its size."""
    there = stands_open()
    bottles: dict[int, list[StockBottle]] = {}
    for bottle in there.bottles:
        bottles.setdefault(bottle.dye_id, []).append(bottle)
    jars: dict[int, list[Jar]] = {}
    for jar in there.jars:
        jars.setdefault(jar.dye_id, []).append(jar)
    dyes = Dye.objects.filter(retired_at__isnull=True).select_related("item", "stock_item").order_by("name")
    return Bench(
        dyes={dye.pk: dye for dye in dyes},
        auxiliaries={auxiliary.pk: auxiliary for auxiliary in there.auxiliaries},
        bottles=bottles,
        jars=jars,
        mixes={mix.pk: mix for mix in there.mixes},
    )


def strength_words(strength_mg_per_litre: int) -> str:
    """A stock's strength as it is said: 1 %."""
    return f"{format_number(exact(strength_mg_per_litre) / 10_000, 4)} %"
