"""The year behind the invented studio: three sessions a week, and what went into each pot."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from dyehouse.demo import invented
from dyehouse.demo.book import Book, Taken, demo_key, write_rows
from dyehouse.demo.invented import InventedColourway
from dyehouse.demo.stocking import Store, quarter_of, sum_demand
from dyehouse.demo.telling import PlannedPot, Told
from dyehouse.ledger.models import Lot
from dyehouse.studio.codes import take_code
from dyehouse.studio.models import User, Vessel
from recipes.lots.models import (
    DyeLot,
    LogEntry,
    Pot,
    PotLoad,
)
from recipes.models import Colourway, PutUp

Kind = LogEntry.Kind
LIQUOR_RATIO = 25


@dataclass(slots=True)
class Year:
    """Tells the year into a book."""

    book: Book
    store: Store
    chance: random.Random
    owner: User
    helper: User
    vessels: list[Vessel]
    now: datetime
    colourways: dict[str, Colourway] = field(default_factory=dict)

    def tell(self, last_session: datetime) -> list[Told]:
        """All sessions up to the last one, each pot with its log, out of the pot the morning after."""
        plans = list(self._plan(last_session))
        self._buy_yarn(plans)
        pots = self._write_pots(plans)
        for session in _by_session(pots):
            self._dye(session)
        write_rows([entry for pot in pots for entry in pot.entries])
        self._take_out(pots)
        return pots

    def _plan(self, last_session: datetime) -> Iterator[PlannedPot]:
        combinations = self._combinations()
        waiting = list(combinations)
        self.chance.shuffle(waiting)
        pots = [vessel for vessel in self.vessels if vessel.kind == Vessel.Kind.POT]
        begin = last_session - timedelta(days=364)
        for week in range(53):
            for day in (0, 2, 4):
                start = begin + timedelta(weeks=week, days=day)
                if start > last_session:
                    return
                for number, vessel in enumerate(pots[: self.chance.choice((4, 4, 4, 3))]):
                    for turn in range(self.chance.choice((1, 1, 1, 2))):
                        first = bool(waiting) and self.chance.random() < 0.45
                        pick = waiting.pop() if first else self.chance.choice(combinations)
                        colourway, base = pick
                        if not first and pick in waiting:
                            waiting.remove(pick)
                            first = True
                        put_up, pieces = self._load_for(base, vessel, first=first)
                        at = start + timedelta(hours=2 * turn, minutes=11 * number + self.chance.randrange(6))
                        yield PlannedPot(colourway, put_up, pieces, at, vessel, first)

    def _combinations(self) -> list[tuple[InventedColourway, str]]:
        weights = [base.weight for base in invented.BASES]
        chosen: list[tuple[InventedColourway, str]] = []
        for colourway in invented.COLOURWAYS:
            wanted = self.chance.choice((2, 3, 3, 3, 4))
            names: set[str] = set()
            while len(names) < wanted:
                names.add(self.chance.choices(invented.BASES, weights=weights)[0].name)
            chosen.extend((colourway, name) for name in sorted(names))
        return chosen

    def _load_for(self, base_name: str, vessel: Vessel, *, first: bool) -> tuple[PutUp, int]:
        put_ups = [
            put_up
            for (name, _), put_up in sorted(self.store.put_ups.items(), key=lambda kv: kv[0])
            if name == base_name
        ]
        weights = [6 if put_up.nominal_milligrams >= 100_000 else 2 for put_up in put_ups]
        put_up = self.chance.choices(put_ups, weights=weights)[0]
        room = vessel.working_millilitres * 1000 // (LIQUOR_RATIO * put_up.nominal_milligrams)
        if put_up.nominal_milligrams <= 20_000:
            return put_up, min(room, self.chance.choice((10, 12, 15)))
        return put_up, max(
            1, min(room, self.chance.choice((2, 3)) if first else self.chance.choice((3, 4, 5, 5)))
        )

    def _buy_yarn(self, plans: list[PlannedPot]) -> None:
        quarters: dict[str, list[PlannedPot]] = {}
        for plan in plans:
            quarters.setdefault(quarter_of(plan.start), []).append(plan)
        newest = list(quarters)[-1]
        for quarter, planned in quarters.items():
            at = min(plan.start for plan in planned) - timedelta(days=3)
            demand = sum_demand((plan.put_up, plan.pieces) for plan in planned)
            if quarter == newest:
                demand = {put_up: demand.get(put_up, 0) for put_up in self.store.put_ups.values()}
            self.store.yarn_arrives(demand, at, quarter, spare=24 if quarter == newest else 2)

    def _colourway(self, one: InventedColourway, at: datetime) -> Colourway:
        if one.name not in self.colourways:
            self.colourways[one.name] = Colourway.objects.create(
                code=take_code(self.chance.choice), name=one.name, chips=list(one.chips), made_at=at
            )
        return self.colourways[one.name]

    def _write_pots(self, plans: list[PlannedPot]) -> list[Told]:
        pots = [self._told(plan) for plan in plans]
        lots = Lot.objects.bulk_create([pot.lot.lot for pot in pots])
        for pot, lot in zip(pots, lots, strict=True):
            pot.lot.lot = lot
        write_rows([pot.lot for pot in pots])
        write_rows([pot.row for pot in pots])
        write_rows([pot.load for pot in pots])
        for pot in pots:
            self.book.post(
                at=pot.plan.start,
                key=demo_key("load", pot.row.code),
                why=f"Into pot {pot.row.code}",
                source=f"pot:{pot.row.code}",
                who=pot.row.started_by,
                taken=[Taken(pot.put_up.item, pot.load.mill_lot.lot, pot.pieces, "store", "in_pots")],
            )
        return pots

    def _told(self, plan: PlannedPot) -> Told:
        code = take_code(self.chance.choice)
        colourway = self._colourway(plan.colourway, plan.start)
        row = Pot(
            code=code,
            colourway=colourway,
            vessel=plan.vessel,
            made_at=plan.start,
            started_by=self._who(),
            loaded_at=plan.start,
            presoak_minutes=self.chance.choice((30, 45, 60, None)),
            lay=self.chance.choice(("", "Loose, all together", "Two layers, turned once")),
            cooling=self.chance.choice(("", "In the pot overnight")),
        )
        weighed = self.chance.random() < 0.6
        dry = plan.pieces * plan.put_up.nominal_milligrams
        if weighed:
            dry += self.chance.randrange(-15, 26) * dry // 1000
        load = PotLoad(
            pot=row,
            put_up=plan.put_up,
            mill_lot=self.store.take_yarn(plan.put_up, plan.pieces),
            pieces=plan.pieces,
            dry_milligrams=dry,
            weighed=weighed,
        )
        lot = DyeLot(
            code=code,
            colourway=colourway,
            made_at=plan.start + timedelta(hours=14),
            lot=Lot(kind=Lot.Kind.DYE_LOT, name=code),
        )
        return Told(plan, row, load, lot)

    def _who(self) -> User:
        return self.helper if self.chance.random() < 0.22 else self.owner

    def _dye(self, session: list[Told]) -> None:
        """All entries of a session in the order of the clock, so that a bottle made up late was not used early."""
        planned = [(at, pot, kind, fields) for pot in session for at, kind, fields in self._log_of(pot)]
        planned.sort(key=lambda row: row[0])
        for at, pot, kind, fields in planned:
            self._keep(pot, kind, at, fields)

    def _log_of(self, pot: Told) -> Iterator[tuple[datetime, str, dict[str, object]]]:
        start, dry = pot.plan.start, pot.load.dry_milligrams
        bath = -(-dry * LIQUOR_RATIO // 500_000) * 500_000
        acid_late = self.chance.random() < 0.06
        yield start + timedelta(minutes=2), Kind.WATER, {"microlitres": bath}
        yield start + timedelta(minutes=4), Kind.HEAT, {"heat_on": True}
        minute = 8
        for dye_name, depth_hundredths in pot.plan.colourway.dyes:
            milligrams = dry * depth_hundredths // 10_000
            if pot.plan.first:
                milligrams = milligrams * self.chance.choice((95, 100, 100, 104)) // 100
            yield start + timedelta(minutes=minute), *self._dose(dye_name, max(milligrams, 5))
            minute += 2
        yield start + timedelta(minutes=14), Kind.TEMPERATURE, {"centi_celsius": 4000}
        if acid_late:
            yield (
                start + timedelta(minutes=22),
                Kind.NOTE,
                {"text": "acid forgot till now", "typed": "acid forgot till now"},
            )
        citric = -(-dry * 15 // 1000 // 100) * 100
        yield (
            start + timedelta(minutes=23 if acid_late else 17),
            Kind.AUXILIARY,
            {"auxiliary": self.store.auxiliaries["Citric acid"], "milligrams": citric},
        )
        hot = 8200 if pot.put_up.base.superwash else self.chance.choice((8500, 9000))
        yield start + timedelta(minutes=45), Kind.TEMPERATURE, {"centi_celsius": hot}
        if self.chance.random() < 0.5:
            yield (
                start + timedelta(minutes=47),
                Kind.PH,
                {"ph_hundredths": self.chance.choice((430, 450, 460))},
            )
        if self.chance.random() < 0.3:
            yield (
                start + timedelta(minutes=55),
                Kind.NOTE,
                {"text": "turned skeins", "typed": "turned skeins"},
            )
        if self.chance.random() < 0.85:
            yield start + timedelta(minutes=75), Kind.EXHAUSTED, {}
        yield start + timedelta(minutes=80), Kind.HEAT, {"heat_on": False}

    def _dose(self, dye_name: str, milligrams: int) -> tuple[str, dict[str, object]]:
        if milligrams >= 6_000:
            return Kind.POWDER, {"dye_name": dye_name, "milligrams": milligrams // 10 * 10}
        strength = 10_000 if milligrams >= 200 else 1_000
        microlitres = max(500, milligrams * 1_000_000 // strength // 500 * 500)
        return Kind.STOCK, {"dye_name": dye_name, "strength": strength, "microlitres": microlitres}

    def _keep(self, pot: Told, kind: str, at: datetime, fields: dict[str, object]) -> None:
        who = pot.row.started_by
        key = demo_key("entry", pot.row.code, len(pot.entries))
        entry = LogEntry(pot=pot.row, key=key, kind=kind, happened_at=at, recorded_at=at, who=who)
        taken: Taken | None = None
        if kind == Kind.STOCK:
            name, strength, microlitres = (
                str(fields["dye_name"]),
                _whole(fields["strength"]),
                _whole(fields["microlitres"]),
            )
            entry.dye = self.store.dyes[name]
            entry.bottle = self.store.take_stock(name, strength, microlitres, at)
            entry.strength_mg_per_litre, entry.microlitres, entry.name = strength, microlitres, name
            entry.typed = f"{microlitres / 1000:g} ml {name.lower()} {strength / 10000:g}%"
            taken = Taken(entry.dye.stock_item, entry.bottle.lot, microlitres, "store", "consumed")
        elif kind == Kind.POWDER:
            name, milligrams = str(fields["dye_name"]), _whole(fields["milligrams"])
            entry.dye = self.store.dyes[name]
            entry.jar, before = self.store.take_powder(name, milligrams, at)
            entry.milligrams, entry.name = milligrams, name
            entry.jar_before_milligrams, entry.jar_after_milligrams = before, before - milligrams
            entry.typed = f"jar {before / 1000:g} {(before - milligrams) / 1000:g} {name.lower()}"
            taken = Taken(entry.dye.item, entry.jar.lot, milligrams, "store", "consumed")
        else:
            for name, value in fields.items():
                setattr(entry, name, value)
            if entry.auxiliary is not None and entry.milligrams:
                entry.name = entry.auxiliary.name
                entry.typed = f"{entry.milligrams / 1000:g} g {entry.auxiliary.name.lower()}"
                taken = Taken(
                    entry.auxiliary.item, entry.auxiliary.lot, entry.milligrams, "store", "consumed"
                )
        pot.entries.append(entry)
        if taken is not None:
            self.book.post(
                at=at,
                key=demo_key("use", key),
                why=f"Into pot {pot.row.code}",
                source=f"entry:{key}",
                who=who,
                taken=[taken],
            )

    def _take_out(self, pots: list[Told]) -> None:
        for pot in pots:
            pot.row.out_at, pot.row.dye_lot = pot.lot.made_at, pot.lot
            clear = any(entry.kind == Kind.EXHAUSTED for entry in pot.entries)
            pot.row.bath_at_end = Pot.Bath.CLEAR if clear else Pot.Bath.TINTED
            unjudged = self.book.dyed(pot.row.colourway, pot.put_up, "unjudged")
            self.book.post(
                at=pot.lot.made_at,
                key=demo_key("out", pot.row.code),
                why=f"Out of pot {pot.row.code}",
                source=f"pot:{pot.row.code}",
                who=pot.row.started_by,
                taken=[
                    Taken(pot.put_up.item, pot.load.mill_lot.lot, pot.pieces, "in_pots", "consumed"),
                    Taken(unjudged.item, pot.lot.lot, pot.pieces, "made", "drying"),
                ],
            )


def _by_session(pots: list[Told]) -> Iterator[list[Told]]:
    day: list[Told] = []
    for pot in sorted(pots, key=lambda one: one.plan.start):
        if day and pot.plan.start.date() != day[0].plan.start.date():
            yield day
            day = []
        day.append(pot)
    if day:
        yield day


def _whole(value: object) -> int:
    assert isinstance(value, int)
    return value
