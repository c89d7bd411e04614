"""What the pages of kits read."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Exists, OuterRef, QuerySet, Subquery

from dyehouse.ledger.models import Balance, Movement, Place
from dyehouse.studio.models import User
from inventory.kit_forms import KitChoices
from inventory.kits import CanMake, can_make
from inventory.models import BuiltKit, Kit
from recipes.models import Colourway, PutUp

BUILT_SHOWN = 60


@dataclass(frozen=True, slots=True)
class KitLine:
    """A kit in the list: how many could be built now, and how many stand built."""

    kit: Kit
    can: CanMake
    built: int


@dataclass(frozen=True, slots=True)
class BuiltLine:
    """A built kit and where it stands; None once it was broken up or has left the house."""

    built: BuiltKit
    place: Place | None
    broken_up: bool


def kit_lines() -> list[KitLine]:
    """The kits in use by name, one-of-a-kind ones that still stand after them. Four queries."""
    standing = Balance.objects.filter(item=OuterRef("item"), on_hand__gt=0)
    kits = list(
        Kit.objects.filter(retired_at__isnull=True)
        .annotate(stands=Exists(standing))
        .order_by("one_of_a_kind", "name", "id")
    )
    kits = [kit for kit in kits if not kit.one_of_a_kind or getattr(kit, "stands", False)]
    on_hand: dict[int, int] = {}
    for item, pieces in Balance.objects.filter(item__in=[kit.item_id for kit in kits]).values_list(
        "item", "on_hand"
    ):
        on_hand[item] = on_hand.get(item, 0) + pieces
    can = can_make(kits)
    return [KitLine(kit, can[kit.pk], on_hand.get(kit.item_id, 0)) for kit in kits]


def built_lines(built: QuerySet[BuiltKit]) -> list[BuiltLine]:
    """Built kits, the newest first, with where they stand. Two queries."""
    there = Balance.objects.filter(lot=OuterRef("lot"), on_hand__gt=0)
    rows = list(
        built.select_related("by", "kit", "movement", "lot")
        .annotate(
            stands_in=Subquery(there.values("place")[:1]),
            taken_back=Exists(Movement.objects.filter(reverses=OuterRef("movement"))),
        )
        .order_by("-id")[:BUILT_SHOWN]
    )
    places = Place.objects.in_bulk({row.stands_in for row in rows if row.stands_in})
    return [BuiltLine(row, places.get(row.stands_in), row.taken_back) for row in rows]


def kit_choices(*, user: User) -> KitChoices:
    """The colourways and yarns that a part may be of, by name. Two queries."""
    colourways = [(each, each.shown_name(user)) for each in Colourway.objects.filter(retired_at__isnull=True)]
    named = [one for one in colourways if one[0].name]
    put_ups = PutUp.objects.filter(retired_at__isnull=True).select_related("base")
    return KitChoices(
        sorted(named, key=lambda one: (one[1].casefold(), one[0].pk)),
        list(put_ups.order_by("base__name", "-nominal_milligrams")),
    )
