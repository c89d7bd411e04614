"""What the invented studio wants for its next update and a fair, and how its weeks go."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.utils import timezone

from dyehouse.demo.book import demo_key
from dyehouse.studio.models import User, Vessel
from inventory.models import Kit
from inventory.weeks.keeping import keep_habits, want_by_hand
from inventory.weeks.models import usual_drying_days, usual_weekdays
from recipes.models import WayOfDyeing

# (pieces, days from now, what for, in sets from one pot of)
WANTED = (
    (16, 10, "winter update", None),
    (12, 10, "winter update", None),
    (21, 17, "winter update", 3),
    (24, 31, "the fair", None),
    (18, 31, "the fair", None),
    (10, None, "the shelf by the door", None),
)
KITS, KIT_DAYS = 6, 31
# What the loads are reckoned in, whichever pot a colourway was learned in.
ALL_IN = "Old steel"


def look_ahead(*, now: datetime, owner: User) -> None:
    """Six colourways and a fade are wanted by a day; racks for 60 pieces, 60 finished in a session, soaked overnight."""
    today = timezone.localdate(now)
    newest: dict[int, WayOfDyeing] = {}
    ways = WayOfDyeing.objects.filter(colourway__secret_until__isnull=True, from_notes=False)
    for way in ways.exclude(colourway__name="").select_related("colourway", "base").order_by("pk"):
        newest.setdefault(way.colourway_id, way)
    for way, (pieces, days, what_for, set_of) in zip(newest.values(), WANTED, strict=False):
        want_by_hand(
            key=demo_key("wanted", way.colourway.code),
            colourway=way.colourway,
            put_up=way.base.put_ups.order_by("-nominal_milligrams").first(),
            count=pieces,
            due=None if days is None else today + timedelta(days=days),
            set_of=set_of,
            what_for=what_for,
            who=owner,
            now=now,
        )
    kit = Kit.objects.filter(one_of_a_kind=False).order_by("pk").first()
    if kit is not None:
        want_by_hand(
            key=demo_key("wanted", kit.name),
            kit=kit,
            count=KITS,
            due=today + timedelta(days=KIT_DAYS),
            what_for="the fair",
            who=owner,
            now=now,
        )
    keep_habits(
        weekdays=usual_weekdays(),
        own_days={},
        drying_days=usual_drying_days(),
        holds={},
        loads_a_session=None,
        soaks_overnight=True,
        rack_pieces=60,
        finishing_pieces=60,
        spares_percent=5,
        spares_pieces=0,
        vessel=Vessel.objects.get(name=ALL_IN),
    )
