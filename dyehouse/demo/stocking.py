"""The invented studio's yarn, dyes and bottles as the year needs them: opened when the last one runs out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.utils import timezone

from dyehouse.demo import invented
from dyehouse.demo.book import Book, Taken, demo_key
from dyehouse.ledger.models import Lot
from dyehouse.studio.models import User
from recipes.dyestuff import add_auxiliary, add_dye
from recipes.models import Auxiliary, Base, Dye, Jar, MillLot, PutUp, StockBottle
from recipes.yarn import add_base, add_mill_lot, add_put_up

TYPICAL_JAR_MILLIGRAMS = 100_000
TARE_MILLIGRAMS = 61_400


@dataclass(slots=True)
class OnHand:
    """What is left of one lot while the year is told."""

    lot: Lot
    left: int


@dataclass(slots=True)
class Store:
    """Everything that is used up in the pots, by what it is of."""

    book: Book
    owner: User
    bases: dict[str, Base] = field(default_factory=dict)
    put_ups: dict[tuple[str, int], PutUp] = field(default_factory=dict)
    dyes: dict[str, Dye] = field(default_factory=dict)
    auxiliaries: dict[str, Auxiliary] = field(default_factory=dict)
    yarn: dict[int, list[tuple[MillLot, OnHand]]] = field(default_factory=dict)
    jars: dict[str, tuple[Jar, OnHand]] = field(default_factory=dict)
    bottles: dict[tuple[str, int], tuple[StockBottle, OnHand]] = field(default_factory=dict)
    jar_counts: dict[str, int] = field(default_factory=dict)

    def open(self, at: datetime) -> None:
        """Write down the bases, dyes and auxiliaries of the first day."""
        for invented_base in invented.BASES:
            base = add_base(
                name=invented_base.name,
                fibres=invented_base.fibres,
                metres_per_100g=invented_base.metres_per_100g,
                category=invented_base.category,
                superwash=invented_base.superwash,
                hank_circumference_millimetres=invented_base.hank_millimetres,
                spun_in=invented_base.spun_in,
            )
            self.bases[base.name] = base
            for grams, metres, name in invented_base.put_ups:
                self.put_ups[base.name, grams] = add_put_up(
                    base=base, nominal_milligrams=grams * 1000, metres=metres, name=name
                )
        for dye in invented.DYES:
            self.dyes[dye.name] = add_dye(
                name=dye.name, dye_class=dye.dye_class, ci_name=dye.ci_name, chip=dye.chip
            )
        for name, role, form, strength, amount in invented.AUXILIARIES:
            auxiliary = add_auxiliary(name=name, role=role, form=form, strength_hundredths_percent=strength)
            self.auxiliaries[name] = auxiliary
            self.book.post(
                at=at,
                key=demo_key("auxiliary", name),
                why=f"{name} in",
                source="",
                who=self.owner,
                taken=[
                    Taken(auxiliary.item, auxiliary.lot, amount * 4, "before_the_house", "store"),
                ],
            )

    def yarn_arrives(self, demand: dict[PutUp, int], at: datetime, quarter: str, spare: int) -> None:
        """Undyed yarn for a quarter's demand, in packs, by one mill lot a base."""
        by_base: dict[int, MillLot] = {}
        for put_up, pieces in demand.items():
            pack = 50 if put_up.nominal_milligrams <= 20_000 else 10
            ordered = -(-(pieces + spare) // pack) * pack
            base = put_up.base
            if base.pk not in by_base:
                number = f"{base.name[0]}{quarter}-{(base.pk * 37) % 90 + 10}"
                by_base[base.pk] = add_mill_lot(base=base, number=number, arrived_on=at.date())
            mill_lot = by_base[base.pk]
            self.book.post(
                at=at,
                key=demo_key("yarn", put_up.pk, quarter),
                why=f"{base.name} in, lot {mill_lot.number}",
                source="",
                who=self.owner,
                taken=[Taken(put_up.item, mill_lot.lot, ordered, "supplier", "store")],
            )
            self.yarn.setdefault(put_up.pk, []).append((mill_lot, OnHand(mill_lot.lot, ordered)))

    def take_yarn(self, put_up: PutUp, pieces: int) -> MillLot:
        """Pieces for one pot, all of one mill lot: the oldest that has enough."""
        for mill_lot, on_hand in self.yarn[put_up.pk]:
            if on_hand.left >= pieces:
                on_hand.left -= pieces
                return mill_lot
        raise LookupError(f"The year was planned with too little {put_up}.")

    def take_powder(self, dye_name: str, milligrams: int, at: datetime) -> tuple[Jar, int]:
        """Powder from the jar in use, a new one when it runs out; gives the jar and what it weighed before, with its tare."""
        known = self.jars.get(dye_name)
        if known is None or known[1].left < milligrams:
            if known is not None and known[1].left:
                self._scrape_out(dye_name, known, at)
            known = self._open_jar(dye_name, at, at_least=milligrams)
        jar, on_hand = known
        before = on_hand.left + TARE_MILLIGRAMS
        on_hand.left -= milligrams
        return jar, before

    def _scrape_out(self, dye_name: str, known: tuple[Jar, OnHand], at: datetime) -> None:
        jar, on_hand = known
        self.book.post(
            at=at - timedelta(minutes=3),
            key=demo_key("jar-end", jar.pk),
            why="Jar finished",
            source="",
            who=self.owner,
            taken=[Taken(self.dyes[dye_name].item, jar.lot, on_hand.left, "store", "written_off")],
        )
        jar.finished_at = at
        jar.save(update_fields=["finished_at"])

    def _open_jar(self, dye_name: str, at: datetime, *, at_least: int) -> tuple[Jar, OnHand]:
        dye = self.dyes[dye_name]
        count = self.jar_counts[dye_name] = self.jar_counts.get(dye_name, 0) + 1
        label = f"{dye_name[:2].upper()}{at:%y}{count:02d}"
        milligrams = max(
            TYPICAL_JAR_MILLIGRAMS, -(-at_least // TYPICAL_JAR_MILLIGRAMS) * TYPICAL_JAR_MILLIGRAMS
        )
        lot = Lot.objects.create(kind=Lot.Kind.JAR, name=f"{dye_name} {label}")
        jar = Jar.objects.create(
            dye=dye,
            label=label,
            gross_milligrams=milligrams + TARE_MILLIGRAMS,
            tare_milligrams=TARE_MILLIGRAMS,
            opened_on=at.date(),
            lot=lot,
        )
        self.book.post(
            at=at - timedelta(minutes=2),
            key=demo_key("jar", jar.pk),
            why=f"{dye_name} in, jar {label}",
            source="",
            who=self.owner,
            taken=[Taken(dye.item, lot, milligrams, "supplier", "store")],
        )
        self.jars[dye_name] = (jar, OnHand(lot, milligrams))
        return self.jars[dye_name]

    def take_stock(self, dye_name: str, strength: int, microlitres: int, at: datetime) -> StockBottle:
        """Stock from the bottle in use, a new one made up from the jar when it runs out or is past three months."""
        known = self.bottles.get((dye_name, strength))
        too_old = known is not None and known[0].made_at < at - timedelta(days=100)
        if known is None or too_old or known[1].left < microlitres:
            if known is not None:
                self._pour_away(dye_name, known, at)
            known = self._make_up(dye_name, strength, microlitres, at)
        bottle, on_hand = known
        on_hand.left -= microlitres
        return bottle

    def _pour_away(self, dye_name: str, known: tuple[StockBottle, OnHand], at: datetime) -> None:
        bottle, on_hand = known
        if on_hand.left:
            self.book.post(
                at=at - timedelta(seconds=50),
                key=demo_key("bottle-end", bottle.pk),
                why="Bottle finished",
                source="",
                who=self.owner,
                taken=[
                    Taken(self.dyes[dye_name].stock_item, bottle.lot, on_hand.left, "store", "written_off")
                ],
            )
        bottle.finished_at = at
        bottle.save(update_fields=["finished_at"])

    def _make_up(
        self, dye_name: str, strength: int, at_least: int, at: datetime
    ) -> tuple[StockBottle, OnHand]:
        dye = self.dyes[dye_name]
        microlitres = max(1_000_000 if strength >= 10_000 else 500_000, -(-at_least // 250_000) * 250_000)
        milligrams = microlitres * strength // 1_000_000
        jar, _ = self.take_powder(dye_name, milligrams, at - timedelta(seconds=45))
        lot = Lot.objects.create(kind=Lot.Kind.BOTTLE, name=f"{dye_name} {strength / 10000:g} %")
        bottle = StockBottle.objects.create(
            dye=dye,
            jar=jar,
            strength_mg_per_litre=strength,
            made_at=at,
            made_microlitres=microlitres,
            lot=lot,
        )
        self.book.post(
            at=at - timedelta(seconds=40),
            key=demo_key("bottle", bottle.pk),
            why=f"{dye_name} stock made up",
            source="",
            who=self.owner,
            taken=[
                Taken(dye.item, jar.lot, milligrams, "store", "consumed"),
                Taken(dye.stock_item, lot, microlitres, "made", "store"),
            ],
        )
        self.bottles[dye_name, strength] = (bottle, OnHand(lot, microlitres))
        return self.bottles[dye_name, strength]


def quarter_of(at: datetime) -> str:
    """The quarter that a mill lot is named after: 26Q2."""
    local = timezone.localtime(at)
    return f"{local:%y}Q{(local.month + 2) // 3}"


def sum_demand(loads: Iterable[tuple[PutUp, int]]) -> dict[PutUp, int]:
    """Pieces a put-up over many loads."""
    demand: dict[PutUp, int] = {}
    for put_up, pieces in loads:
        demand[put_up] = demand.get(put_up, 0) + pieces
    return demand
