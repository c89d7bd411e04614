"""From any code or lot of the house to the pots it went through, and to everything that shared them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from django.db.models import Q, QuerySet, Value
from django.urls import reverse

from dyehouse.studio.models import User
from inventory.queries import Lying, lot_lying
from recipes.lots.models import DyeLot, LogEntry, Pot, PotLoad
from recipes.models import Jar, MillLot, Mix, MixPart, StockBottle

POTS_SHOWN = 40
DYED = (LogEntry.Kind.STOCK, LogEntry.Kind.POWDER, LogEntry.Kind.MIX)


@dataclass(frozen=True, slots=True)
class Made:
    """What a pot was dyed from: mill lots, jars, bottles and mixes. `slug` and `key` say where each is traced."""

    slug: str
    key: str
    kind: str
    words: str
    came: str = ""
    on: date | None = None


@dataclass(frozen=True, slots=True)
class TracedPot:
    """One pot on the trace: what it is of, when, by whom, and what it became."""

    pot: Pot
    name: str
    at: datetime

    @property
    def lot_code(self) -> str:
        return self.pot.dye_lot.code if self.pot.dye_lot is not None else ""


@dataclass(frozen=True, slots=True)
class Became:
    """What some pieces of a lot became: a one-off under a code of its own, or another lot by another dye bath."""

    code: str
    name: str
    pieces: int
    words: str
    address: str


@dataclass(frozen=True, slots=True)
class Shared:
    """One mill lot, jar, bottle or mix, and the other pots that it went into."""

    made: Made
    pots: list[TracedPot] = field(default_factory=list)
    more: int = 0


@dataclass(frozen=True, slots=True)
class Trace:
    """The whole way of something: the pots it went through, what went into them, where it is, and what shared it."""

    pots: list[TracedPot]
    loads: dict[int, list[PotLoad]]
    shared: list[Shared]
    lying: list[Lying]
    more: int = 0
    became: list[Became] = field(default_factory=list)

    @property
    def pot_rows(self) -> list[tuple[TracedPot, list[PotLoad]]]:
        return [(each, self.loads.get(each.pot.pk, [])) for each in self.pots]

    @property
    def alone(self) -> list[Shared]:
        """What went into these pots and no other."""
        return [each for each in self.shared if not each.pots]

    @property
    def together(self) -> list[Shared]:
        """What went into other pots as well."""
        return [each for each in self.shared if each.pots]


def trace_pots(
    pots: QuerySet[Pot],
    *,
    user: User,
    lot: DyeLot | None = None,
    taken: Sequence[DyeLot] = (),
    with_shared: bool = True,
) -> Trace:
    """The trace of some pots: all that went into them, and every other pot that had some of the same.

    `lot` adds where its pieces lie now and what became of others; `taken` are its one-offs, as `lot_with_taken` finds them. Without `with_shared` only the pots themselves are told. A fixed number of queries, however many pots shared something.
    """
    found = list(_whole(pots)[: POTS_SHOWN + 1])
    own, more = found[:POTS_SHOWN], _more(pots, found)
    ids = [pot.pk for pot in own]
    loads: dict[int, list[PotLoad]] = {}
    later = Q(overdyes=lot, pot__loaded_at__isnull=False) if lot is not None else Q(pk=None)
    lines = PotLoad.objects.filter(Q(pot__in=ids) | later).select_related(
        "put_up__base", "mill_lot__base", "overdyes", "was", "pot__colourway", "pot__dye_lot"
    )
    overdyed: list[PotLoad] = []
    for load in lines.order_by("id"):
        if load.pot_id in ids:
            loads.setdefault(load.pot_id, []).append(load)
        if lot is not None and load.overdyes_id == lot.pk:
            overdyed.append(load)
    shared: list[Shared] = []
    if with_shared:
        used = _Used.of(own_entries(ids), [load for lines in loads.values() for load in lines])
        shared = used.shared(ids, user)
    return Trace(
        pots=[_traced(pot, user) for pot in own],
        loads=loads,
        shared=shared,
        lying=lot_lying(lot, user=user) if lot is not None else [],
        more=more,
        became=[*_one_offs(taken, user), *(_overdyed(load, user) for load in overdyed)],
    )


def _one_offs(taken: Iterable[DyeLot], user: User) -> list[Became]:
    """Those that did not come back."""
    return [
        Became(
            each.code,
            each.shown_name(user),
            pieces,
            "a one-off under its own code",
            reverse("trace", args=[each.code]),
        )
        for each in taken
        if (pieces := getattr(each, "became", None) or 0)
    ]


def _overdyed(load: PotLoad, user: User) -> Became:
    was = str(load.was.get_grade_display()) if load.was is not None else ""
    into = load.pot.dye_lot
    code = into.code if into is not None else load.pot.code
    words = f"overdyed in pot {load.pot.code}, {was} before"
    name = load.pot.colourway.shown_name(user)
    return Became(code, name, load.pieces, words, reverse("trace", args=[code]))


def _more(pots: QuerySet[Pot], found: Sequence[Pot]) -> int:
    return pots.count() - POTS_SHOWN if len(found) > POTS_SHOWN else 0


def pots_of_mill_lot(mill_lot: MillLot) -> QuerySet[Pot]:
    """The pots that were loaded from a mill lot."""
    return Pot.objects.filter(loads__mill_lot=mill_lot, loaded_at__isnull=False)


def pots_of_jar(jar: Jar) -> QuerySet[Pot]:
    """The pots that had dye of a jar: as powder, from a bottle made of it, or in a mix."""
    return _pots_with(
        Q(jar=jar)
        | Q(bottle__jar=jar)
        | Q(mix__in=MixPart.objects.filter(Q(jar=jar) | Q(bottle__jar=jar)).values("mix"))
    )


def pots_of_bottle(bottle: StockBottle) -> QuerySet[Pot]:
    """The pots that had stock of a bottle, poured or in a mix."""
    return _pots_with(Q(bottle=bottle) | Q(mix__in=MixPart.objects.filter(bottle=bottle).values("mix")))


def pots_of_mix(mix: Mix) -> QuerySet[Pot]:
    """The pots that had some of a mix."""
    return _pots_with(Q(mix=mix))


def _pots_with(used: Q) -> QuerySet[Pot]:
    entries = LogEntry.objects.filter(used, kind__in=DYED, struck_by__isnull=True)
    return Pot.objects.filter(pk__in=entries.values("pot"))


def _whole(pots: QuerySet[Pot]) -> QuerySet[Pot]:
    return (
        pots.filter(loaded_at__isnull=False)
        .select_related("colourway", "dye_lot", "way", "vessel", "started_by")
        .distinct()
        .order_by("-loaded_at", "-id")
    )


def own_entries(pot_ids: Iterable[int]) -> list[LogEntry]:
    """What went into some pots as dye and counts, with where it came from."""
    return list(
        LogEntry.objects.filter(pot__in=list(pot_ids), kind__in=DYED, struck_by__isnull=True)
        .select_related("dye", "jar__dye", "bottle__dye", "bottle__jar__dye", "mix")
        .order_by("happened_at", "id")
    )


@dataclass(slots=True)
class _Used:
    """What some pots were dyed from, each once, in the order it was met."""

    mill_lots: dict[int, MillLot] = field(default_factory=dict)
    jars: dict[int, Jar] = field(default_factory=dict)
    bottles: dict[int, StockBottle] = field(default_factory=dict)
    mixes: dict[int, Mix] = field(default_factory=dict)

    @classmethod
    def of(cls, entries: Iterable[LogEntry], loads: Iterable[PotLoad]) -> _Used:
        used = cls()
        for load in loads:
            if not load.mill_lot.unknown:
                used.mill_lots.setdefault(load.mill_lot_id, load.mill_lot)
        for entry in entries:
            used._add(entry.jar, entry.bottle)
            if entry.mix is not None:
                used.mixes.setdefault(entry.mix.pk, entry.mix)
        if used.mixes:
            parts = MixPart.objects.filter(mix__in=used.mixes)
            for part in parts.select_related("jar__dye", "bottle__dye", "bottle__jar__dye").order_by("id"):
                used._add(part.jar, part.bottle)
        return used

    def _add(self, jar: Jar | None, bottle: StockBottle | None) -> None:
        if bottle is not None:
            self.bottles.setdefault(bottle.pk, bottle)
            jar = jar or bottle.jar
        if jar is not None:
            self.jars.setdefault(jar.pk, jar)

    def shared(self, own: Sequence[int], user: User) -> list[Shared]:
        """Each with the other pots it went into, those through a mix among them; three queries."""
        others = self._others(own)
        pots = _whole(Pot.objects.filter(pk__in={pot for found in others.values() for pot in found}))
        traced = {pot.pk: _traced(pot, user) for pot in pots}
        shared = []
        for number, made in self._all():
            with_it = [each for pk, each in traced.items() if pk in others.get((made.slug, number), ())]
            shared.append(Shared(made, with_it[:POTS_SHOWN], max(0, len(with_it) - POTS_SHOWN)))
        return shared

    def _others(self, own: Sequence[int]) -> dict[tuple[str, int], set[int]]:
        # A mix holds what its parts came from, so whoever had the mix shared its jars and bottles.
        of_mix: dict[int, set[tuple[str, int]]] = {pk: {("mix", pk)} for pk in self.mixes}
        parts = MixPart.objects.filter(
            Q(jar__in=self.jars) | Q(bottle__in=self.bottles) | Q(bottle__jar__in=self.jars)
        )
        for mix, *came_from in parts.values_list("mix", "jar", "bottle", "bottle__jar"):
            held = zip(("jar", "bottle", "jar"), came_from, strict=True)
            of_mix.setdefault(mix, set()).update((slug, pk) for slug, pk in held if pk is not None)
        others: dict[tuple[str, int], set[int]] = {}
        for slug, pk, pot in self._rows(own, of_mix):
            for made in of_mix.get(pk, ()) if slug == "mix" else ((slug, pk),):
                others.setdefault(made, set()).add(pot)
        return others

    def _rows(self, own: Sequence[int], mixes: Iterable[int]) -> QuerySet[PotLoad, tuple[str, int, int]]:
        """What went into other pots, as kind, its id and the pot's id; one query."""
        entries = LogEntry.objects.filter(kind__in=DYED, struck_by__isnull=True).exclude(pot__in=own)
        loads = PotLoad.objects.filter(mill_lot__in=self.mill_lots, pot__loaded_at__isnull=False)
        return (
            loads.exclude(pot__in=own)
            .values_list(Value("mill-lot"), "mill_lot", "pot")
            .union(
                entries.filter(jar__in=self.jars).values_list(Value("jar"), "jar", "pot"),
                entries.filter(bottle__jar__in=self.jars).values_list(Value("jar"), "bottle__jar", "pot"),
                entries.filter(bottle__in=self.bottles).values_list(Value("bottle"), "bottle", "pot"),
                entries.filter(mix__in=list(mixes)).values_list(Value("mix"), "mix", "pot"),
            )
        )

    def _all(self) -> list[tuple[int, Made]]:
        return [
            *((pk, made_mill_lot(each)) for pk, each in self.mill_lots.items()),
            *((pk, made_mix(each)) for pk, each in self.mixes.items()),
            *((pk, made_bottle(each)) for pk, each in self.bottles.items()),
            *((pk, made_jar(each)) for pk, each in self.jars.items()),
        ]


def made_mill_lot(mill_lot: MillLot) -> Made:
    """A mill lot as the trace names it."""
    return Made(
        "mill-lot",
        str(mill_lot.pk),
        "Mill lot",
        f"{mill_lot.number} of {mill_lot.base}",
        "came",
        mill_lot.arrived_on,
    )


def made_jar(jar: Jar) -> Made:
    """A jar as the trace names it."""
    return Made("jar", str(jar.pk), "Jar", str(jar), "opened", jar.opened_on)


def made_bottle(bottle: StockBottle) -> Made:
    """A bottle of stock as the trace names it."""
    return Made("bottle", str(bottle.pk), "Bottle", str(bottle), "made", bottle.made_at)


def made_mix(mix: Mix) -> Made:
    """A mix as the trace names it."""
    return Made("mix", mix.code, "Mix", str(mix), "made", mix.made_at)


def _traced(pot: Pot, user: User) -> TracedPot:
    return TracedPot(pot, pot.colourway.shown_name(user), pot.out_at or pot.loaded_at or pot.made_at)
