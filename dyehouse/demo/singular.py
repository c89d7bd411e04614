"""What is single in the invented studio: three one-offs out of one lot, and yarn that soaks for a planned pot."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db.models import F

from dyehouse.demo.book import demo_key
from dyehouse.ledger.models import Balance, Place
from dyehouse.studio.models import User
from dyehouse.studio.swatches import skein_photo
from inventory.one_offs import Named, take_one_offs
from recipes.lots.models import Pot
from recipes.lots.soaking import soak
from recipes.models import DyedYarn

# (name, words, chips of its picture)
NAMED = (
    ("Two herons at dusk", "speckled at both ends", ("#5b6f86", "#c98f7a", "#2f3a4a")),
    ("Old rope", "", ("#b99a5a", "#8a6f3f")),
    ("The last plum", "darker than its sisters", ("#5a2447", "#8c4a6b", "#2e1424")),
)
SOAKING_MINUTES = 40


def make_one_offs(*, now: datetime, owner: User) -> None:
    """Three pieces of the fullest lot on a shelf that nobody holds go by names of their own."""
    fullest = (
        Balance.objects.filter(
            place__kind=Place.Kind.SHELF,
            item__dyed__grade=DyedYarn.Grade.GOOD,
            item__dyed__colourway__secret_until__isnull=True,
            on_hand__gte=F("held") + len(NAMED),
        )
        .select_related("place", "item__dyed__item", "lot__dye_lot__lot", "lot__dye_lot__colourway")
        .order_by("-on_hand", "pk")
        .first()
    )
    if fullest is None:
        return
    named = [
        Named(name, 1, words, skein_photo(chips, kind="speckled", seed=name, width=720, height=540))
        for name, words, chips in NAMED
    ]
    take_one_offs(
        key=demo_key("one-offs"),
        dye_lot=fullest.lot.dye_lot,
        dyed=fullest.item.dyed,
        place=fullest.place,
        named=named,
        who=owner,
        now=now,
    )


def put_to_soak(*, now: datetime, helper: User) -> None:
    """The yarn of the next planned pot was put to soak a while ago."""
    planned = Pot.objects.filter(
        loaded_at=None, dropped_at=None, out_at=None, loads__isnull=False, sample=False
    )
    pots = list(planned.order_by("pk").distinct()[:1])
    if pots:
        soak(
            key=demo_key("soak"),
            pots=pots,
            who=helper,
            happened_at=now - timedelta(minutes=SOAKING_MINUTES),
        )
