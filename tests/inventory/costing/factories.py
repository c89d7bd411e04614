"""What tests of costs begin with: invoices, usual costs, prices, and one whole pot from the store to the shelf."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from django.utils import timezone

from dyehouse.ledger.models import Item, Line, Lot
from dyehouse.studio.models import User
from inventory.costing import paid, prices, usual
from inventory.costing.models import ClosedYear, Paid, RetailPrice, UsualCosts
from inventory.costing.years import close_year
from recipes import yarn
from recipes.lots import finishing, log, pots
from recipes.lots.models import DyeLot, Pot
from recipes.models import Jar, MillLot, PutUp
from tests import factories

#: Figures that are easy to reckon with by hand: 18.00 an hour is 30 cents a minute.
USUAL = {
    "load_seconds": 300,
    "dye_seconds": 1200,
    "rinse_seconds": 300,
    "twist_seconds": 60,
    "label_seconds": 60,
    "photograph_seconds": 60,
    "wage_minor": 1800,
    "energy_minor": 60,
    "label_minor": 5,
    "kit_minor": 40,
    "kit_seconds": 600,
}


def arrival(item: Item, lot: Lot) -> Line:
    """The newest line by which something came in."""
    return paid.arrivals_of().filter(item=item, lot=lot).order_by("-id")[0]


def invoice(line: Line, goods: int, freight: int = 0, *, who: User | None = None, **more: Any) -> Paid:
    """What was paid for an arrival, in cents."""
    return paid.say_paid(
        key=uuid.uuid4(),
        line=line,
        goods_minor=goods,
        freight_minor=freight,
        who=who or factories.OwnerFactory(),
        **more,
    )


def bought(
    put_up: PutUp,
    pieces: int,
    *,
    each: int | None = None,
    freight: int = 0,
    mill_lot: MillLot | None = None,
    at: dt.datetime | None = None,
    who: User | None = None,
) -> Line:
    """Pieces that came from the mill, in a known lot or in the unknown one, with their invoice where `each` is said."""
    owner = who or factories.OwnerFactory()
    lot = mill_lot or yarn.unknown_mill_lot(put_up.base)
    yarn.receive_yarn(key=uuid.uuid4(), put_up=put_up, mill_lot=lot, pieces=pieces, who=owner, happened_at=at)
    line = arrival(put_up.item, lot.lot)
    if each is not None:
        invoice(line, each * pieces, freight, who=owner)
    return line


def mill_lot(put_up: PutUp, number: str = "M-1") -> MillLot:
    return yarn.add_mill_lot(base=put_up.base, number=number)


def usual_costs(
    *, who: User | None = None, from_day: dt.date = dt.date(2024, 1, 1), **figures: Any
) -> UsualCosts:
    return usual.say_usual(
        key=uuid.uuid4(), from_day=from_day, figures={**USUAL, **figures}, who=who or factories.OwnerFactory()
    )


def retail(put_up: PutUp, minor: int | None, *, who: User | None = None, **more: Any) -> RetailPrice:
    return prices.say_price(
        key=uuid.uuid4(), put_up=put_up, minor=minor, who=who or factories.OwnerFactory(), **more
    )


def priced_jar(*, grams: int = 100, goods: int = 2000, who: User | None = None, name: str = "Red") -> Jar:
    """A jar of dye with its invoice: 100 g for 20.00."""
    jar = factories.jar(dye=factories.dye(name), grams=grams, who=who)
    invoice(arrival(jar.dye.item, jar.lot), goods, who=who)
    return jar


def pot_loaded(
    put_up: PutUp, pieces: int, *, who: User, lot: MillLot | None = None, at: dt.datetime | None = None
) -> Pot:
    return pots.start_trial(
        key=uuid.uuid4(),
        put_up=put_up,
        mill_lot=lot,
        pieces=pieces,
        dry_milligrams=None,
        vessel=None,
        colourway=None,
        who=who,
        happened_at=at,
    )


def kept(pot: Pot, typed: str, *, who: User, now: dt.datetime | None = None) -> None:
    log.keep_line(pot=pot, key=uuid.uuid4(), typed=typed, who=who, now=now)


def closed_year(*, days_ago: int = 1, who: User | None = None) -> ClosedYear:
    """A year that ended some days ago."""
    ends_on = timezone.localdate() - dt.timedelta(days=days_ago)
    return close_year(key=uuid.uuid4(), ends_on=ends_on, who=who or factories.OwnerFactory())


def out_and_judged(
    pot: Pot, *, who: User, at: dt.datetime | None = None, judged: bool = True, **counts: int
) -> DyeLot:
    """Out of the pot and judged: `good=3, second=1, bin=1`."""
    lot = finishing.out_of_pot(key=uuid.uuid4(), pot=pot, bath="clear", who=who, happened_at=at)
    if judged:
        put_up = pot.loads.get().put_up
        by_outcome = {(put_up.pk, outcome): pieces for outcome, pieces in counts.items()}
        finishing.judge(key=uuid.uuid4(), dye_lot=lot, counts=by_outcome, who=who, judged_at=at)
    return lot
