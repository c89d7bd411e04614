"""The places that every house has: the store, the stages from pot to shelf, and the world outside."""

from __future__ import annotations

from dataclasses import dataclass

from dyehouse.ledger.models import Place


@dataclass(frozen=True, slots=True)
class FixedPlace:
    """What a fixed place is made as."""

    kind: Place.Kind
    name: str
    order: int


FIXED_PLACES: dict[str, FixedPlace] = {
    "store": FixedPlace(Place.Kind.STORE, "The store", 10),
    "soaking": FixedPlace(Place.Kind.POT, "Soaking", 15),
    "in_pots": FixedPlace(Place.Kind.POT, "In the pots", 20),
    "cooling": FixedPlace(Place.Kind.STAGE, "Cooling", 25),
    "rinsed": FixedPlace(Place.Kind.STAGE, "Rinsed", 28),
    "drying": FixedPlace(Place.Kind.STAGE, "Drying", 30),
    "dry": FixedPlace(Place.Kind.STAGE, "Dry", 40),
    "twisted": FixedPlace(Place.Kind.STAGE, "Twisted", 50),
    "labelled": FixedPlace(Place.Kind.STAGE, "Labelled", 60),
    "photographed": FixedPlace(Place.Kind.STAGE, "Photographed", 70),
    "supplier": FixedPlace(Place.Kind.BOUNDARY, "Supplier", 900),
    "customer": FixedPlace(Place.Kind.BOUNDARY, "Customer", 910),
    "sold_or_missing": FixedPlace(Place.Kind.BOUNDARY, "Sold or missing at a show", 915),
    "consumed": FixedPlace(Place.Kind.BOUNDARY, "Used up", 920),
    "made": FixedPlace(Place.Kind.BOUNDARY, "Made here", 930),
    "given_away": FixedPlace(Place.Kind.BOUNDARY, "Given away", 935),
    "written_off": FixedPlace(Place.Kind.BOUNDARY, "Written off", 940),
    "count_difference": FixedPlace(Place.Kind.BOUNDARY, "Count difference", 950),
    "before_the_house": FixedPlace(Place.Kind.BOUNDARY, "From before the house", 960),
}


def fixed_place(code: str) -> Place:
    """One of the fixed places by its code, made when it is not there yet. One query. KeyError for any other code.

    Nothing is remembered between calls: a place made in a transaction that is rolled back would be remembered wrongly.
    """
    fixed = FIXED_PLACES[code]
    place, _ = Place.objects.get_or_create(
        code=code, defaults={"kind": fixed.kind, "name": fixed.name, "order": fixed.order}
    )
    return place


def make_fixed_places(*, using: str) -> None:
    """Make those fixed places that are missing in a database."""
    there = set(Place.objects.using(using).filter(code__in=FIXED_PLACES).values_list("code", flat=True))
    Place.objects.using(using).bulk_create(
        Place(code=code, kind=fixed.kind, name=fixed.name, order=fixed.order)
        for code, fixed in FIXED_PLACES.items()
        if code not in there
    )
