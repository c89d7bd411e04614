"""What the invented studio sells together and puts aside: two fades, and skeins held for people who asked."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db.models import F, Sum
from django.utils import timezone

from dyehouse.demo.book import demo_key
from dyehouse.ledger.models import Balance, Place
from dyehouse.studio.models import User
from inventory.holding import hold_by_hand
from inventory.kits import PartWanted, build, make_kit
from inventory.putups import Dyed, change_put_up
from recipes.models import DyedYarn, PutUp

FADES = (("Weir to sea", "fade", 5), ("Small tide", "minis", 6))
# (for whom, days from today until it is asked about)
ASKED = (("Ada Reed", 0), ("Wren Holloway", 5), ("Market stall", 12))


def sell_together(*, now: datetime, owner: User, helper: User) -> None:
    """Two kits of what there is most of, two of the first built; three holds, one of them due today."""
    most = list(
        DyedYarn.objects.filter(
            grade=DyedYarn.Grade.GOOD,
            item__balances__place__kind=Place.Kind.SHELF,
            colourway__secret_until__isnull=True,
        )
        .exclude(colourway__name="")
        .annotate(there=Sum("item__balances__on_hand"))
        .select_related("colourway", "put_up")
        .order_by("-there", "pk")[: sum(parts for *_, parts in FADES)]
    )
    shelf = Place.objects.filter(kind=Place.Kind.SHELF, closed_at__isnull=True).order_by("pk").last()
    assert shelf is not None
    first = 0
    for name, kind, parts in FADES:
        wanted = [PartWanted(each.colourway, each.put_up) for each in most[first : first + parts]]
        kit = make_kit(name=name, kind=kind, parts=wanted)
        if not first:
            build(key=demo_key("built", name), kit=kit, count=2, place=shelf, who=helper, now=now)
        first += parts
    _wind_off(now=now, owner=owner)
    free = (
        Balance.objects.filter(
            place__kind=Place.Kind.SHELF, item__dyed__grade=DyedYarn.Grade.GOOD, on_hand__gt=F("held") + 1
        )
        .select_related("place", "item__dyed", "lot__dye_lot")
        .order_by("-on_hand", "pk")
    )
    for (whom, days), row in zip(ASKED, free, strict=False):
        hold_by_hand(
            key=demo_key("aside", whom),
            dyed=row.item.dyed,
            dye_lot=row.lot.dye_lot,
            place=row.place,
            pieces=2,
            for_whom=whom,
            until=timezone.localdate(now) + timedelta(days=days),
            who=owner,
            note="asked at the door" if not days else "",
            now=now,
        )


def _wind_off(*, now: datetime, owner: User) -> None:
    """A skein of the largest lot that could be became minis an hour ago, with its ends lost."""
    lying = Balance.objects.filter(
        place__kind=Place.Kind.SHELF,
        item__dyed__grade=DyedYarn.Grade.GOOD,
        item__dyed__put_up__nominal_milligrams=100_000,
        item__dyed__put_up__base__put_ups__nominal_milligrams=20_000,
        on_hand__gt=F("held") + 2,
    )
    row = (
        lying.select_related(
            "place", "item__dyed__put_up__base", "item__dyed__colourway", "lot__dye_lot__lot"
        )
        .order_by("-on_hand", "pk")
        .first()
    )
    if row is None:
        return
    dyed = row.item.dyed
    minis = PutUp.objects.get(base=dyed.put_up.base_id, nominal_milligrams=20_000)
    change_put_up(
        key=demo_key("wound off"),
        of=Dyed(dyed, row.lot.dye_lot, row.place),
        pieces=1,
        made={minis: 4},
        who=owner,
        why="ties, ends and a knot",
        happened_at=now - timedelta(hours=1),
    )
