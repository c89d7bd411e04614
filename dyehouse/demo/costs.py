"""What the invented studio paid and asks, what its work usually takes, and the stock of last year's end."""

from __future__ import annotations

import datetime as dt
from datetime import datetime, timedelta

from django.utils import timezone

from dyehouse.demo.book import demo_key
from dyehouse.ledger.models import Balance, Item, Line
from dyehouse.ledger.operations import Bucket, Step, post
from dyehouse.ledger.places import fixed_place
from dyehouse.studio.models import User
from inventory.costing.paid import arrivals_of, say_paid
from inventory.costing.prices import retail_prices, say_price
from inventory.costing.usual import say_usual
from inventory.costing.years import close_year, last_closed
from inventory.models import Kit
from recipes.models import PutUp

# Cents for 100 g of undyed yarn, and for 100 g of it dyed, by base.
YARN: dict[str, tuple[int, int]] = {
    "Harrow Sock": (560, 2600),
    "Tall Merino Single": (620, 2700),
    "Ferry DK": (540, 2500),
    "Cold Byre Worsted": (510, 2400),
    "Millpond Lace": (1150, 3800),
    "Plainsong Silk Blend": (980, 3400),
    "Halo Two": (1480, 4600),
    "Glint Sock": (640, 2800),
}
OTHER = (600, 2600)
FREIGHT_A_PIECE = 22
JAR_OF_100_GRAMS, OTHER_STUFF_A_KILO = 1650, 740
SKEINING_OFF = 150
USUAL = {
    "load_seconds": 6 * 60,
    "dye_seconds": 24 * 60,
    "rinse_seconds": 9 * 60,
    "twist_seconds": 75,
    "label_seconds": 40,
    "photograph_seconds": 30,
    "wage_minor": 1600,
    "energy_minor": 85,
    "label_minor": 6,
    "kit_minor": 55,
    "kit_seconds": 8 * 60,
    "second_percent": 60,
}


def keep_costs(*, now: datetime, owner: User) -> None:
    """Invoices of all that came before this quarter, usual minutes, prices, last year closed, and one entry that came late."""
    began = timezone.localdate(now) - timedelta(days=380)
    say_usual(key=demo_key("usual costs"), from_day=began, figures=USUAL, who=owner)
    # What came last has no invoice yet, so that the last known price stands in and says so.
    known = arrivals_of().filter(movement__happened_at__lt=now - timedelta(days=40))
    for line in known.select_related("item__put_up__base").order_by("id"):
        goods, freight = _paid(line)
        say_paid(
            key=demo_key("paid", line.pk), line=line, goods_minor=goods, freight_minor=freight, who=owner
        )
    for put_up in PutUp.objects.select_related("base").order_by("pk"):
        _, dyed = YARN.get(put_up.base.name, OTHER)
        minor = round(dyed * put_up.nominal_milligrams / 100_000 / 50) * 50 + SKEINING_OFF
        say_price(key=demo_key("price", put_up.pk), put_up=put_up, minor=minor, who=owner, from_day=began)
    prices = retail_prices(began)
    for kit in Kit.objects.filter(one_of_a_kind=False).order_by("pk"):
        singly = [(prices.of(put_up_id=part.put_up_id) or 0) * part.pieces for part in kit.parts.all()]
        minor = round(sum(singly) * 19 / 20 / 50) * 50
        say_price(key=demo_key("price of kit", kit.pk), kit=kit, minor=minor, who=owner, from_day=began)
    year = timezone.localdate(now).year
    last_day = dt.date(year - 1, 12, 31)
    if last_day > began and last_closed() is None:
        close_year(
            key=demo_key("year", year - 1), ends_on=last_day, who=owner, note="counted on 30 and 31 December"
        )
        _one_came_late(last_day, owner)


def _paid(line: Line) -> tuple[int, int]:
    """Goods and freight of an arrival."""
    if line.item.kind == Item.Kind.UNDYED:
        put_up: PutUp = line.item.put_up
        hundred, _ = YARN.get(put_up.base.name, OTHER)
        each = round(hundred * put_up.nominal_milligrams / 100_000) + 25
        return each * line.quantity, FREIGHT_A_PIECE * line.quantity
    if line.item.kind == Item.Kind.DYE:
        return round(JAR_OF_100_GRAMS * line.quantity / 100_000), 0
    return round(OTHER_STUFF_A_KILO * line.quantity / 1_000_000), 0


def _one_came_late(last_day: dt.date, owner: User) -> None:
    """A skein that was given away in the last days of December and written down only afterwards."""
    row = (
        Balance.objects.filter(item__kind=Item.Kind.UNDYED, place__code="store", on_hand__gt=4, held=0)
        .select_related("item", "lot", "place")
        .order_by("lot_id", "item_id")
        .first()
    )
    if row is None:
        return
    post(
        key=demo_key("late", last_day),
        who=owner,
        steps=[Step(row.item, row.lot, 1, Bucket(row.place), Bucket(fixed_place("given_away")))],
        why="Given to the school, found in the notebook in January",
        source="store:given",
        happened_at=timezone.make_aware(dt.datetime.combine(last_day - timedelta(days=2), dt.time(15))),
    )
