"""Of whom the invented studio buys: a mill with closed weeks, a maker of dyes, and what is on order of them."""

from __future__ import annotations

from datetime import datetime, time, timedelta

from django.utils import timezone

from dyehouse.demo.book import demo_key
from dyehouse.demo.stocking import Store
from dyehouse.studio.models import User
from inventory.allocation.reorder import PriceFrom
from inventory.buying.arriving import Came, Charged, take_in, write_bill
from inventory.buying.models import Offer, Purchase, Supplier
from inventory.buying.needs import ItemNeed, needs
from inventory.buying.ordering import Wanted, draft_order, send_order
from inventory.buying.supplying import add_supplier, close_weeks, offer_packs

MILL, MAKER = "Fell Foot Mill", "Kettle Row Colours"
# (base, cents a hundred grams)
PRICES = {
    "Harrow Sock": 640,
    "Tall Merino Single": 590,
    "Ferry DK": 560,
    "Cold Byre Worsted": 480,
    "Millpond Lace": 1240,
    "Plainsong Silk Blend": 1380,
    "Halo Two": 2150,
    "Glint Sock": 690,
}
MINI_MILLIGRAMS = 20_000
DYES = ("Navy", "Grey", "Rose", "Teal", "Marigold")
YARN = ((("Harrow Sock", 100), 10), (("Ferry DK", 100), 4), (("Cold Byre Worsted", 100), 3))
# The mill's order went out some weeks ago, and half of it came last week.
YARN_DAYS_AGO, CAME_DAYS_AGO, DYES_DAYS_AGO = 24, 5, 33
ORDER_IN_DAYS, LONGEST_WAIT = 3, 60


def order_yarn(*, now: datetime, owner: User, helper: User, store: Store) -> None:
    """Two suppliers; dyes that came; an order to the mill of which half came; and one base that is to be ordered now."""
    mill, maker = _suppliers(now)
    sells = _offers(store, mill, maker)
    found = needs(today=timezone.localdate(now)).items
    late = [each for each in found if each.days_left is not None and each.days_left < ORDER_IN_DAYS]
    dyes = {sells[store.dyes[name].item_id].pk: Wanted(sells[store.dyes[name].item_id], 1) for name in DYES}
    dyes |= {
        each.offer.pk: Wanted(each.offer, each.packs) for each in late if each.offer.supplier_id == maker.pk
    }
    of_dyes = _sent(maker, list(dyes.values()), now=now, days_ago=DYES_DAYS_AGO, who=owner)
    _came(
        of_dyes, now=now, days_ago=DYES_DAYS_AGO - 8, who=owner, number="L-2207", freight=1150, rate=1_160_000
    )
    yarn = {
        sells[store.put_ups[what].item_id].pk: Wanted(sells[store.put_ups[what].item_id], packs)
        for what, packs in YARN
    }
    yarn |= {
        each.offer.pk: Wanted(each.offer, each.packs) for each in late if each.offer.supplier_id == mill.pk
    }
    _wait_for_one(mill, found, set(yarn))
    of_yarn = _sent(mill, list(yarn.values()), now=now, days_ago=YARN_DAYS_AGO, who=owner)
    _came(
        of_yarn,
        now=now,
        days_ago=CAME_DAYS_AGO,
        who=helper,
        number="FF-88",
        freight=6480,
        rate=None,
        half=True,
    )


def _wait_for_one(mill: Supplier, found: list[ItemNeed], ordered: set[int]) -> None:
    """The mill takes so long that the next base that was not ordered must be ordered in a few days."""
    following = next(
        (
            each
            for each in found
            if each.days_left is not None
            and each.offer.supplier_id == mill.pk
            and each.offer.pk not in ordered
        ),
        None,
    )
    if following is not None and following.days_left is not None:
        mill.lead_days += min(LONGEST_WAIT, max(0, following.days_left - ORDER_IN_DAYS))
        mill.save(update_fields=["lead_days"])


def _suppliers(now: datetime) -> tuple[Supplier, Supplier]:
    year = timezone.localdate(now).year
    mill = add_supplier(
        name=MILL, lead_days=28, currency="EUR", kind=Supplier.Kind.MILL, email="orders@fellfoot.example"
    )
    for first, last in (((8, 1), (8, 21)), ((12, 23), (12, 31))):
        close_weeks(
            supplier=mill,
            first_day=datetime(year, *first).date(),  # noqa: DTZ001
            last_day=datetime(year, *last).date(),  # noqa: DTZ001
            every_year=True,
        )
    maker = add_supplier(
        name=MAKER, lead_days=8, currency="GBP", kind=Supplier.Kind.DYES, email="post@kettlerow.example"
    )
    return mill, maker


def _offers(store: Store, mill: Supplier, maker: Supplier) -> dict[int, Offer]:
    found: dict[int, Offer] = {}
    for (base, _), put_up in store.put_ups.items():
        pack = 50 if put_up.nominal_milligrams <= MINI_MILLIGRAMS else 10
        price = PRICES[base] * pack * put_up.nominal_milligrams // 100_000
        found[put_up.item_id] = offer_packs(
            supplier=mill,
            item=put_up.item,
            pack_quantity=pack,
            price_minor=price,
            breaks=[PriceFrom(10, price * 94 // 100), PriceFrom(25, price * 89 // 100)],
            their_number=f"{base.split()[0].upper()[:3]}-{put_up.nominal_milligrams // 1000}",
        )
    for number, dye in enumerate(store.dyes.values(), start=1):
        found[dye.item_id] = offer_packs(
            supplier=maker,
            item=dye.item,
            pack_quantity=100_000,
            price_minor=820,
            their_number=f"K{number:02}",
        )
    citric = store.auxiliaries["Citric acid"]
    found[citric.item_id] = offer_packs(
        supplier=maker, item=citric.item, pack_quantity=1_000_000, price_minor=540
    )
    return found


def _sent(supplier: Supplier, wanted: list[Wanted], *, now: datetime, days_ago: int, who: User) -> Purchase:
    at = now - timedelta(days=days_ago)
    made = draft_order(
        key=demo_key("order", supplier.name), supplier=supplier, wanted=wanted, who=who, now=at
    )
    return send_order(purchase=made, ordered_on=timezone.localdate(at), who=who, now=at)


def _came(
    purchase: Purchase,
    *,
    now: datetime,
    days_ago: int,
    who: User,
    number: str,
    freight: int,
    rate: int | None,
    half: bool = False,
) -> None:
    """All of an order, or every second line of it, in one lot; and what was charged."""
    day = timezone.localdate(now) - timedelta(days=days_ago)
    lines = list(purchase.lines.select_related("item").order_by("number"))
    delivery = take_in(
        key=demo_key("delivery", purchase.supplier.name),
        purchase=purchase,
        came=[Came(line, packs=line.packs, number=number) for line in (lines[::2] if half else lines)],
        arrived_on=day,
        who=who,
        now=timezone.make_aware(datetime.combine(day, time(12))),
    )
    charged = Charged({}, freight_minor=freight, rate_millionths=rate)
    write_bill(delivery=delivery, charged=charged, who=who, now=delivery.made_at + timedelta(days=1))
