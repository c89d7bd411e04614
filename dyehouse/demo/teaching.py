"""The way of dyeing that a pot of the invented year teaches."""

from __future__ import annotations

from datetime import datetime

from dyehouse.demo.telling import Told
from dyehouse.studio.models import User
from recipes.lots.models import LogEntry, WayOrigin
from recipes.models import Rule, WayOfDyeing

Kind = LogEntry.Kind


def write_way(told: Told, at: datetime, who: User) -> WayOfDyeing:
    """The way of dyeing that a pot of the invented year teaches: dye and acid by the fibre, the rest as it was."""
    row, load, entries = told.row, told.load, told.entries
    water = sum(entry.microlitres or 0 for entry in entries if entry.kind == Kind.WATER)
    way = WayOfDyeing.objects.create(
        colourway=row.colourway,
        base=told.put_up.base,
        number=1,
        made_at=at,
        made_by=who,
        dry_milligrams=load.dry_milligrams,
        bath_microlitres=water,
        pieces=load.pieces,
        vessel_name=row.vessel.name if row.vessel is not None else "",
        presoak_minutes=row.presoak_minutes,
        lay=row.lay,
        cleared="clear" if any(entry.kind == Kind.EXHAUSTED for entry in entries) else "tinted",
        cooling=row.cooling,
    )
    rules: list[Rule] = []
    for entry in entries:
        if entry.kind in (Kind.EXHAUSTED, Kind.PHOTO):
            continue
        rules.append(_rule(way, len(rules) + 1, entry, load.dry_milligrams, entries[0].happened_at))
    Rule.objects.bulk_create(rules)
    WayOrigin.objects.create(way=way, pot=row)
    return way


def _rule(way: WayOfDyeing, number: int, entry: LogEntry, dry_milligrams: int, start: datetime) -> Rule:
    rule = Rule(
        way=way,
        number=number,
        kind="dye" if entry.kind in (Kind.STOCK, Kind.POWDER) else entry.kind,
        dye=entry.dye,
        auxiliary=entry.auxiliary,
        strength_mg_per_litre=entry.strength_mg_per_litre,
        ph_hundredths=entry.ph_hundredths,
        centi_celsius=entry.centi_celsius,
        heat_on=entry.heat_on,
        text=entry.text,
        minute=int((entry.happened_at - start).total_seconds() // 60),
    )
    if entry.kind in (Kind.STOCK, Kind.POWDER):
        # Micrograms a kilogram of dry fibre: the milligrams of dye in the stock are microlitres × mg/l ÷ 1,000,000.
        micrograms = (
            (entry.microlitres or 0) * (entry.strength_mg_per_litre or 0) // 1000
            if entry.kind == Kind.STOCK
            else (entry.milligrams or 0) * 1000
        )
        rule.basis, rule.unit, rule.thousandths = "fibre", "mg", micrograms * 1_000_000 // dry_milligrams
    elif entry.kind == Kind.AUXILIARY:
        rule.basis, rule.unit = "fibre", "mg"
        rule.thousandths = (entry.milligrams or 0) * 1000 * 1_000_000 // dry_milligrams
    elif entry.kind == Kind.WATER:
        rule.basis, rule.unit = "fibre", "ul"
        rule.thousandths = (entry.microlitres or 0) * 1000 * 1_000_000 // dry_milligrams
    return rule
