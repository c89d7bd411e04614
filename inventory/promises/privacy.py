"""What is kept of a person: given out on request, and erased on request, with what stays and why."""

from __future__ import annotations

import datetime as dt
import io
import json
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any
from uuid import uuid5

from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone

from dyehouse.studio.cells import list_of
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.promises import memberships
from inventory.promises.boxes import OF_BOXES, standing_boxes
from inventory.promises.erased import mark
from inventory.promises.freezing import take_out
from inventory.promises.models import (
    Box,
    BoxPart,
    Membership,
    Order,
    OrderLine,
    Parcel,
    Payment,
    Person,
    PrivacyRequest,
)
from inventory.promises.people import PERSONAL_FIELDS

ABOUT = """This is what is kept of you here, as you asked (Article 15 and 20 of the GDPR).

What for: to send you what you ordered or signed up for, and to keep the books.
Where from: from you, from the shop that you ordered at, or from whoever gave it to you as a gift.
Who gets it: whoever carries the parcels gets your name and address; nobody else.
How long: until you ask for it to be erased. Orders, their totals and days stay under a number alone for as long as
tax law asks for them.
You may have it put right, restricted or erased, object to its use, and complain to your data protection authority.

data.json has all of it; the .csv files have the same as tables. All are UTF-8.
"""


class StillPromised(Refused):
    """Something is still promised to the person and not sent."""


class ErasedBefore(Refused):
    """The person was erased before."""


@dataclass(frozen=True, slots=True)
class Owed:
    """What is still promised to a person: boxes not sent, and memberships that go on."""

    of_rounds: list[Box] = field(default_factory=list)
    of_orders: list[Box] = field(default_factory=list)
    memberships: list[Membership] = field(default_factory=list)

    def __bool__(self) -> bool:
        return bool(self.of_rounds or self.of_orders or self.memberships)


def owed_to(person: Person) -> Owed:
    """What is still promised to a person. Two queries."""
    boxes = list(
        standing_boxes()
        .filter(receiver=person)
        .select_related("round__club", "order_line__order", "membership")
    )
    going_on = person.memberships.exclude(state=Membership.State.ENDED).select_related("club", "level")
    return Owed(
        of_rounds=[box for box in boxes if box.round_id is not None],
        of_orders=[box for box in boxes if box.round_id is None],
        memberships=list(going_on),
    )


def requests_log(limit: int = 20) -> list[PrivacyRequest]:
    """The newest requests to give out or to erase, and that they were done. One query."""
    return list(PrivacyRequest.objects.select_related("person", "by").order_by("-id")[:limit])


@transaction.atomic
def give_out(*, person: Person, who: User) -> bytes:
    """A ZIP of all that is kept of a person, as JSON and as tables, and the request written down. Colourways that are still secret go by their code."""
    tables = _tables(person)
    PrivacyRequest.objects.create(
        person=person, kind=PrivacyRequest.Kind.EXPORT, done_at=timezone.now(), by=who
    )
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("about.txt", ABOUT)
        archive.writestr("data.json", json.dumps(tables, ensure_ascii=False, indent=2))
        for name, rows in tables.items():
            archive.writestr(f"{name}.csv", _as_csv(rows))
    return file.getvalue()


def _as_csv(rows: Sequence[dict[str, Any]]) -> str:
    return list_of([list(rows[0]), *(list(row.values()) for row in rows)]) if rows else ""


def _tables(person: Person) -> dict[str, list[dict[str, Any]]]:
    """Everything by table. Somebody else in a gift is not named: their data are theirs."""
    everybody = [person, *person.merged.all()]
    boxes = Box.objects.filter(receiver=person).select_related("round__club", "order_line__order")
    orders = Order.objects.filter(Q(buyer=person) | Q(receiver=person))
    return {
        "person": [_of_person(each) for each in everybody],
        "memberships": [
            {
                "club": each.club.name,
                "level": each.level.name,
                "base": each.base.name if each.base else "",
                "boxes_a_round": each.count,
                "you_pay": each.payer_id == person.pk,
                "you_receive": each.receiver_id == person.pk,
                "gift_note": each.gift_note,
                "state": each.get_state_display(),
                "signed_up": _iso(each.signed_up_at),
                "prepaid_rounds": each.prepaid_rounds,
                "reference": each.reference,
            }
            for each in Membership.objects.filter(Q(payer=person) | Q(receiver=person)).select_related(
                "club", "level", "base"
            )
        ],
        "orders": [
            {
                "number": each.number,
                "kind": each.get_kind_display(),
                "placed": _iso(each.placed_at),
                "you_bought": each.buyer_id == person.pk,
                "you_receive": each.receiver_id == person.pk,
                "gift_note": each.gift_note,
                "note": each.note,
                "currency": each.currency,
            }
            for each in orders
        ],
        "order_lines": [
            {
                "order": each.order.number,
                "position": each.position,
                "of": str(each.offer or each.put_up or ""),
                "count": each.count,
                "each_minor": each.each_minor,
                "currency": each.order.currency,
                "words": each.words,
            }
            for each in OrderLine.objects.filter(order__in=orders).select_related(
                "order", "offer__product", "put_up__base"
            )
        ],
        "boxes": [
            {
                "box": box.code,
                "of": str(box.round)
                if box.round
                else box.order_line.order.number
                if box.order_line
                else "replacement",
                "promised": _iso(box.made_at),
                "withdrawn": _iso(box.withdrawn_at),
            }
            for box in boxes
        ],
        "contents": [
            {
                "box": part.box.code,
                "position": part.position,
                "yarn": str(part.put_up),
                "colourway": part.colourway.shown_name(None) if part.colourway else "",
                "pieces": part.pieces,
            }
            for part in _parts(boxes)
        ],
        "payments": [
            {
                "of": each.box.code if each.box else each.order.number if each.order else "",
                "kind": each.get_kind_display(),
                "amount_minor": each.amount_minor,
                "at": _iso(each.at),
            }
            for each in Payment.objects.filter(
                Q(box__membership__payer=person) | Q(order__buyer=person)
            ).select_related("box", "order")
        ],
        "parcels": [
            {
                "parcel": each.code,
                "state": each.get_state_display(),
                "sent": _iso(each.gone_at),
                "carrier": each.carrier,
                "tracking": each.tracking,
            }
            for each in Parcel.objects.filter(receiver=person)
        ],
        "requests": [
            {"kind": each.get_kind_display(), "done": _iso(each.done_at)}
            for each in PrivacyRequest.objects.filter(person__in=everybody)
        ],
    }


def _parts(boxes: QuerySet[Box]) -> QuerySet[BoxPart]:
    return (
        BoxPart.objects.filter(box__in=boxes)
        .select_related("box", "put_up__base", "colourway")
        .order_by("box", "position")
    )


def _of_person(person: Person) -> dict[str, Any]:
    return {
        "number": person.code,
        **{name: getattr(person, name) for name in PERSONAL_FIELDS},
        "likes": ", ".join(person.likes_families),
        "avoids": ", ".join([*person.avoids_families, *person.avoids_fibres]),
        "doubles": person.get_doubles_display() if person.doubles else "",
        "parcels_apart": person.ships_apart,
        "written_down": _iso(person.made_at),
    }


def _iso(at: dt.datetime | None) -> str:
    return timezone.localtime(at).isoformat(timespec="minutes") if at is not None else ""


@transaction.atomic
def erase(*, person: Person, who: User, withdraw: bool = False) -> PrivacyRequest:
    """Erase a person: everything personal goes, the number stays so that what was sold adds up, and a mark of each e-mail address keeps them from coming back.

    With `withdraw`, memberships are ended and boxes of rounds withdrawn first. Raises StillPromised while something is
    promised to them and not sent, ErasedBefore, and BoxPacked when a box lies packed.
    """
    locked = Person.objects.select_for_update().get(pk=person.pk)
    if locked.erased_at is not None:
        raise ErasedBefore("This person was erased before.")
    if locked.merged_into_id is not None:
        raise ErasedBefore("This person was put together with another. Open that page and erase there.")
    owed = owed_to(locked)
    if owed and not withdraw:
        raise StillPromised(_what_is_owed(owed))
    if owed.of_orders:
        raise StillPromised(f"{_orders(owed)} still to be sent. Send or cancel it first, then erase.")
    for membership in owed.memberships:
        memberships.end(membership=membership, who=who, why="erased on request")
    for box in owed.of_rounds:
        take_out(box=box, key=uuid5(OF_BOXES, f"{box.code} erased"), who=who, why="erased on request")
    kept = _what_is_kept(locked)
    _forget(locked)
    return PrivacyRequest.objects.create(
        person=locked, kind=PrivacyRequest.Kind.ERASE, done_at=timezone.now(), by=who, kept=kept
    )


def _orders(owed: Owed) -> str:
    numbers = sorted({str(box.order_line.order) for box in owed.of_orders if box.order_line is not None})
    if not numbers:
        return "A replacement is"
    return f"Order {numbers[0]} is" if len(numbers) == 1 else f"Orders {', '.join(numbers)} are"


def _what_is_owed(owed: Owed) -> str:
    said = (
        [f"{_boxes(len(owed.of_rounds))} of {', '.join(sorted({str(box.round) for box in owed.of_rounds}))}"]
        if (owed.of_rounds)
        else []
    )
    said += [f"{_boxes(len(owed.of_orders))} ordered"] if owed.of_orders else []
    said += (
        [f"the membership in {', '.join(sorted({str(each.club) for each in owed.memberships}))}"]
        if (owed.memberships)
        else []
    )
    return (
        f"Still promised and not sent: {' and '.join(said)}. "
        "Send it first, or say that memberships are ended and boxes withdrawn."
    )


def _boxes(count: int) -> str:
    return "1 box" if count == 1 else f"{count} boxes"


def _what_is_kept(person: Person) -> list[dict[str, str]]:
    """What stays under the number alone, and the rule that asks for it."""
    kept = []
    tax = "Tax law asks for what was sold, when and for how much (GDPR Article 17(3)(b))."
    orders = Order.objects.filter(Q(buyer=person) | Q(receiver=person)).count()
    if orders:
        kept.append(
            {"what": f"{orders} {'order' if orders == 1 else 'orders'} with days and totals", "why": tax}
        )
    boxes = Box.objects.filter(receiver=person).count()
    if boxes:
        kept.append(
            {
                "what": f"{_boxes(boxes)}: which yarn it was, of which dye lot, and whether it was paid",
                "why": f"{tax} The yarn has to add up as well.",
            }
        )
    kept.append(
        {
            "what": "a digest of the e-mail address, and that and when it was asked",
            "why": "So that the person does not come back by a file, and that it can be shown to be done.",
        }
    )
    kept.append(
        {
            "what": "daily copies of the house made before today",
            "why": "Seven are kept, a day each, then they are gone. After going back to one, the house asks to erase again.",
        }
    )
    return kept


def _forget(person: Person) -> None:
    now = timezone.now()
    Membership.objects.filter(Q(receiver=person) | Q(payer=person)).update(gift_note="")
    orders = Order.objects.filter(Q(buyer=person) | Q(receiver=person))
    OrderLine.objects.filter(order__in=orders).update(words="")
    orders.update(gift_note="", note="")
    Parcel.objects.filter(receiver=person).update(tracking="")
    everybody = [person, *person.merged.all()]
    mark(each.email for each in everybody)
    for each in everybody:
        for name in PERSONAL_FIELDS:
            setattr(each, name, "")
        each.likes_families, each.avoids_families, each.avoids_fibres = [], [], []
        each.doubles, each.ships_apart = "", False
        each.erased_at = now
        each.save()
    person.refresh_from_db()
