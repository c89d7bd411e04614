"""By which way a colourway is dyed on a base: the base's own, else that of the nearest base, and that is said."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Exists, F, OuterRef, Q

from recipes.dyeing.nearness import Near, Yarn, nearest
from recipes.dyeing.working import Figure
from recipes.lots.in_store import Fibres, fibres_of
from recipes.models import Base, PutUp, WayOfDyeing


@dataclass(frozen=True, slots=True)
class WayOnBase:
    """The way that a base is dyed by; `near` says why it is another base's, None where it is its own."""

    base: Base
    way: WayOfDyeing
    near: Figure[Near] | None = None


def way_for(ways: Sequence[WayOfDyeing], base: Base) -> WayOnBase:
    """The newest way on a base; where there is none on it, that of the nearest base.

    `ways` are those of one colourway, the newest first, at least one, with their bases; of two that are equally near the
    one in front is taken. One query, none where the base has its own.
    """
    own = next((way for way in ways if way.base_id == base.pk), None)
    if own is not None:
        return WayOnBase(base, own)
    return _borrowed(ways, base, fibres_of([base.pk, *(way.base_id for way in ways)]))


def bases_in_use(also: Iterable[int] = (), **annotations: Any) -> tuple[dict[int, Base], dict[int, Fibres]]:
    """Every base in use and each of `also`, by name, and the fibres of those where they are known. One query."""
    in_use = Exists(PutUp.objects.filter(base=OuterRef("pk"), retired_at__isnull=True))
    bases: dict[int, Base] = {}
    fibres: dict[int, list[tuple[str, int]]] = {}
    # A row for each fibre, and one for a base whose fibres are not known.
    for row in (
        Base.objects.filter(Q(in_use, retired_at__isnull=True) | Q(pk__in=set(also)))
        .annotate(fibre=F("fibres__fibre"), share=F("fibres__per_mille"), **annotations)
        .order_by("name", "-share", "fibre")
    ):
        bases.setdefault(row.pk, row)
        if row.fibre is not None:
            fibres.setdefault(row.pk, []).append((row.fibre, row.share))
    return bases, {pk: tuple(each) for pk, each in fibres.items()}


def ways_elsewhere(
    ways: Sequence[WayOfDyeing], bases: Iterable[Base], fibres: Mapping[int, Fibres]
) -> dict[int, WayOnBase]:
    """By which way each of these bases is dyed that has none of its own."""
    own = {way.base_id for way in ways}
    return {base.pk: _borrowed(ways, base, fibres) for base in bases if ways and base.pk not in own}


def _borrowed(ways: Sequence[WayOfDyeing], base: Base, fibres: Mapping[int, Fibres]) -> WayOnBase:
    # Of each base the way in front is the one it is dyed by.
    first = list({way.base_id: way for way in reversed(ways)}.values())
    first.sort(key=ways.index)
    near = nearest(_yarn(base, fibres), [_yarn(way.base, fibres) for way in first])
    return WayOnBase(base, first[near.value.place], near)


def _yarn(base: Base, fibres: Mapping[int, Fibres]) -> Yarn:
    return Yarn(base.name, fibres.get(base.pk, ()), base.superwash, base.metres_per_100g)
