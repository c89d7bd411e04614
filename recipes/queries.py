"""What the pages of the store read, each in a fixed number of queries."""

from __future__ import annotations

from dataclasses import dataclass, field

from django.db.models import F, IntegerField, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce
from django.utils import timezone

from dyehouse.ledger import queries as ledger
from dyehouse.ledger.models import Balance, Item, Lot
from dyehouse.ledger.queries import HistoryRow
from dyehouse.studio.regions import country_name
from recipes.mixes import DyeOfMix, dyes_of, parts_through
from recipes.models import Auxiliary, Base, Dye, Jar, MillLot, Mix, PutUp, StockBottle

# A pot load is two to five skeins: common practice, no source.
LOW_PIECES = 5
# As much powder as a litre of 1 % stock takes.
LOW_DYE_MILLIGRAMS = 10_000
HISTORY_PAGE = 40


@dataclass(frozen=True, slots=True)
class YarnLot:
    """Pieces of one put-up from one mill lot in the store."""

    put_up: PutUp
    mill_lot: MillLot
    pieces: int


@dataclass(slots=True)
class PutUpInStore:
    put_up: PutUp
    lots: list[YarnLot] = field(default_factory=list)

    @property
    def pieces(self) -> int:
        return sum(lot.pieces for lot in self.lots)

    @property
    def state(self) -> str:
        """ "out", "low" (fewer than a full pot load) or empty."""
        return "out" if self.pieces == 0 else "low" if self.pieces < LOW_PIECES else ""


@dataclass(slots=True)
class BaseInStore:
    base: Base
    put_ups: list[PutUpInStore] = field(default_factory=list)

    @property
    def pieces(self) -> int:
        return sum(put_up.pieces for put_up in self.put_ups)


@dataclass(frozen=True, slots=True)
class JarInStore:
    jar: Jar
    milligrams: int


@dataclass(slots=True)
class DyeInStore:
    dye: Dye
    jars: list[JarInStore] = field(default_factory=list)

    @property
    def milligrams(self) -> int:
        return sum(jar.milligrams for jar in self.jars)

    @property
    def state(self) -> str:
        """ "out", "low" (less than a litre of 1 % stock takes) or empty."""
        return "out" if self.milligrams == 0 else "low" if self.milligrams < LOW_DYE_MILLIGRAMS else ""


@dataclass(frozen=True, slots=True)
class BottleInStore:
    bottle: StockBottle
    microlitres: int
    age_days: int

    @property
    def state(self) -> str:
        """ "out", "low" (a tenth of what was made, or less) or empty."""
        if self.microlitres == 0:
            return "out"
        return "low" if self.microlitres * 10 <= self.bottle.made_microlitres else ""

    @property
    def too_old(self) -> bool:
        best_before = self.bottle.best_before
        return best_before is not None and best_before < timezone.localdate()


@dataclass(frozen=True, slots=True)
class MixInStore:
    """A mix, what is left of it, and the dyes in it."""

    mix: Mix
    microlitres: int
    dyes: list[DyeOfMix]
    age_days: int

    @property
    def state(self) -> str:
        """ "out", "low" (a tenth of what was made, or less) or empty."""
        if self.microlitres == 0:
            return "out"
        return "low" if self.microlitres * 10 <= self.mix.made_microlitres else ""

    @property
    def too_old(self) -> bool:
        best_before = self.mix.best_before
        return best_before is not None and best_before < timezone.localdate()


@dataclass(frozen=True, slots=True)
class AuxiliaryInStore:
    auxiliary: Auxiliary
    amount: int

    @property
    def state(self) -> str:
        return "out" if self.amount == 0 else ""


@dataclass(frozen=True, slots=True)
class Store:
    """Everything in the store, by kind."""

    bases: list[BaseInStore]
    dyes: list[DyeInStore]
    bottles: list[BottleInStore]
    mixes: list[MixInStore]
    auxiliaries: list[AuxiliaryInStore]


def the_store() -> Store:
    """What is in the store: yarn by base, put-up and mill lot; powder by jar; stock by bottle; auxiliaries."""
    return Store(
        bases=yarn_in_store(),
        dyes=dyes_in_store(),
        bottles=bottles_in_store(),
        mixes=mixes_in_store(),
        auxiliaries=auxiliaries_in_store(),
    )


def yarn_in_store(base: Base | None = None) -> list[BaseInStore]:
    """Undyed yarn by base, put-up and mill lot; also put-ups of which nothing is left."""
    bases = Base.objects.filter(retired_at=None).order_by("name")
    put_ups = PutUp.objects.filter(retired_at=None).order_by("-nominal_milligrams", "pk")
    balances = Balance.objects.filter(place__code="store", item__kind=Item.Kind.UNDYED, on_hand__gt=0)
    if base is not None:
        bases, put_ups = Base.objects.filter(pk=base.pk), put_ups.filter(base=base)
        balances = balances.filter(item__put_up__base=base)
    shown = {one.pk: BaseInStore(one) for one in bases}
    by_item: dict[int, PutUpInStore] = {}
    for put_up in put_ups:
        if put_up.base_id in shown:
            put_up.base = shown[put_up.base_id].base
            by_item[put_up.item_id] = PutUpInStore(put_up)
            shown[put_up.base_id].put_ups.append(by_item[put_up.item_id])
    for balance in balances.select_related("lot__mill_lot").order_by("pk"):
        if balance.item_id in by_item:
            there = by_item[balance.item_id]
            there.lots.append(YarnLot(there.put_up, balance.lot.mill_lot, balance.on_hand))
    return list(shown.values())


def _left_in_store() -> Coalesce:
    """For things with a ledger lot of their own: how much of it the store has."""
    there = Balance.objects.filter(lot=OuterRef("lot"), place__code="store").values("on_hand")[:1]
    return Coalesce(Subquery(there, output_field=IntegerField()), 0)


def dyes_in_store(dye: Dye | None = None) -> list[DyeInStore]:
    """Powder by dye and jar; also dyes of which no jar is left."""
    dyes = Dye.objects.filter(retired_at=None).order_by("name")
    jars = Jar.objects.filter(finished_at=None).order_by("pk")
    if dye is not None:
        dyes, jars = Dye.objects.filter(pk=dye.pk), jars.filter(dye=dye)
    shown = {one.pk: DyeInStore(one) for one in dyes}
    for jar in jars.annotate(left=_left_in_store()):
        if jar.dye_id in shown:
            jar.dye = shown[jar.dye_id].dye
            shown[jar.dye_id].jars.append(JarInStore(jar, jar.left))
    return list(shown.values())


def bottles_in_store(dye: Dye | None = None) -> list[BottleInStore]:
    """Bottles of stock by dye and strength, the youngest first."""
    bottles = StockBottle.objects.filter(finished_at=None).select_related("dye", "jar")
    if dye is not None:
        bottles = bottles.filter(dye=dye)
    return [
        BottleInStore(bottle, bottle.left, age_days(bottle))
        for bottle in bottles.annotate(left=_left_in_store()).order_by(
            "dye__name", "strength_mg_per_litre", F("made_at").desc(), "pk"
        )
    ]


def mixes_in_store() -> list[MixInStore]:
    """The mixes that are not finished, the youngest first, with their dyes. Two queries."""
    return _mixes(Mix.objects.filter(finished_at=None).order_by("-made_at", "-pk"))


def finished_mixes(*, page: int) -> list[MixInStore]:
    """A page of the mixes that are used up or thrown away, the last finished first, and one more if there is an older one."""
    start = (page - 1) * HISTORY_PAGE
    finished = Mix.objects.filter(finished_at__isnull=False).order_by("-finished_at", "-pk")
    return _mixes(finished[start : start + HISTORY_PAGE + 1])


def _mixes(mixes: QuerySet[Mix]) -> list[MixInStore]:
    with_parts = mixes.annotate(left=_left_in_store()).prefetch_related(parts_through(""))
    return [MixInStore(mix, mix.left, dyes_of(mix), age_days(mix)) for mix in with_parts]


def age_days(made: StockBottle | Mix) -> int:
    """Whole days since a bottle or a mix was made, by the studio's calendar."""
    return (timezone.localdate() - timezone.localtime(made.made_at).date()).days


def auxiliaries_in_store() -> list[AuxiliaryInStore]:
    """Auxiliaries with what is there, in µl or mg."""
    auxiliaries = Auxiliary.objects.filter(retired_at=None).annotate(left=_left_in_store()).order_by("name")
    return [AuxiliaryInStore(auxiliary, auxiliary.left) for auxiliary in auxiliaries]


def left_of(lot: Lot, item: Item) -> int:
    """How much of one lot of one item the store has."""
    row = Balance.objects.filter(lot=lot, item=item, place__code="store").first()
    return 0 if row is None else row.on_hand


@dataclass(frozen=True, slots=True)
class Moved:
    """One line of what moved: `change` is what the store gained or, below zero, gave; None when it moved elsewhere."""

    row: HistoryRow
    change: int | None

    @property
    def pot_code(self) -> str:
        """The pot that caused it, where one did."""
        kind, _, code = self.row.movement.source.partition(":")
        return code if kind == "pot" else ""


@dataclass(frozen=True, slots=True)
class History:
    """What moved of a lot, the latest first."""

    lines: list[Moved]
    page: int
    older: bool


def history(*, lot: Lot, item: Item | None = None, page: int = 1) -> History:
    """A page of what moved of a lot (of one item of it, when named), the latest first. One query."""
    rows = ledger.history(lot=lot, item=item, limit=page * HISTORY_PAGE + 1)[(page - 1) * HISTORY_PAGE :]
    return History(
        lines=[Moved(row, _change(row)) for row in rows[:HISTORY_PAGE]],
        page=page,
        older=len(rows) > HISTORY_PAGE,
    )


def _change(row: HistoryRow) -> int | None:
    if row.to_place.code == "store":
        return row.quantity
    return -row.quantity if row.from_place.code == "store" else None


@dataclass(frozen=True, slots=True)
class BaseFacts:
    """What is known of a base, in words, and what is not."""

    fibres: str
    country: str
    missing: list[str]


def base_facts(base: Base) -> BaseFacts:
    """What a base's page says of it; read with its fibres. `missing` names what a label will want."""
    fibres = sorted(base.fibres.all(), key=lambda fibre: (-fibre.per_mille, fibre.pk))
    missing = []
    if not fibres:
        missing.append("its fibres")
    if base.metres_per_100g is None:
        missing.append("metres in 100 g")
    if base.superwash is None:
        missing.append("whether it is superwash")
    return BaseFacts(
        fibres=", ".join(str(fibre) for fibre in fibres),
        country=country_name(base.spun_in) if base.spun_in else "",
        missing=missing,
    )
