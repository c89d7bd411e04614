"""What the house's one find box finds of promises: people, orders, boxes and parcels."""

from __future__ import annotations

from django.db.models import F, Q, Value
from django.urls import reverse

from dyehouse.studio.models import User
from dyehouse.studio.templatetags.house import address_of
from inventory.finding import EACH_SHOWN, Hit
from inventory.promises.models import Box, Order, Parcel, Person

WORDS = {"parcel": "Parcel", "box": "Box", "order": "Order"}


def find_promises(words: str, code: str, user: User) -> list[Hit]:
    """People by name, e-mail or code, orders by number, boxes and parcels by code. Two queries.

    A helper finds parcels alone.
    """
    hits = []
    for kind, title, pk, of_round, of_order in _by_code(words, code, user):
        address = _address(kind, title, pk, of_round, of_order)
        if address:
            hits.append(Hit(WORDS[kind], title, "", address, is_code=True))
    if user.is_owner:
        hits.extend(_people(words, code))
    return hits


def _by_code(words: str, code: str, user: User) -> list[tuple[str, str, int, int | None, int | None]]:
    """Kind, code, id, and for a box the round or the order that it is of."""
    columns = ("found_as", "title", "pk", "of_round", "of_order")
    parcels = Parcel.objects.filter(code=code).annotate(
        found_as=Value("parcel"), title=F("code"), of_round=F("batch"), of_order=F("batch")
    )
    rows = parcels.values_list(*columns)
    if user.is_owner:
        boxes = Box.objects.filter(code=code).annotate(
            found_as=Value("box"), title=F("code"), of_round=F("round"), of_order=F("order_line__order")
        )
        orders = Order.objects.filter(number__iexact=words).annotate(
            found_as=Value("order"), title=F("number"), of_round=F("pk"), of_order=F("pk")
        )
        rows = rows.union(boxes.values_list(*columns), orders.values_list(*columns))
    return list(rows)


def _address(kind: str, title: str, pk: int, of_round: int | None, of_order: int | None) -> str:
    if kind == "parcel":
        return address_of("parcel", code=title)
    if kind == "order":
        return reverse("order", args=[pk])
    if of_round is not None:
        return reverse("round", args=[of_round])
    return reverse("order", args=[of_order]) if of_order is not None else ""


def _people(words: str, code: str) -> list[Hit]:
    found = Person.objects.filter(
        Q(name__icontains=words) | Q(email__icontains=words) | Q(code=code), erased_at=None, merged_into=None
    )
    return [
        Hit(
            "Yarn shop" if each.kind == Person.Kind.SHOP else "Person",
            str(each),
            each.code,
            reverse("promises-person", args=[each.code]),
        )
        for each in found.order_by("name", "pk")[:EACH_SHOWN]
    ]
