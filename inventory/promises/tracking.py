"""Tracking numbers of many parcels at once, from a list: a parcel's code or an order's number, and the number."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from uuid import UUID, uuid5

from django.db import transaction

from dyehouse.studio.codes import tidy
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.promises.models import Parcel
from inventory.promises.parcels import say_tracking

MOST_LINES = 2_000
MOST_SHOWN = 5


class NotAList(Refused):
    """A list of which some line cannot be taken. Nothing of it was kept."""


def read_list(text: str) -> list[tuple[int, str, str]]:
    """Line number, code or order number, and tracking number; parted by a tab, semicolon or comma. Empty lines are left out.

    Raises NotAList for a line without two parts.
    """
    rows, faults = [], []
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            continue
        between = next((each for each in "\t;," if each in line), ",")
        cells = [cell.strip() for cell in next(csv.reader([line], delimiter=between))]
        if len(cells) < 2 or not cells[0] or not cells[1]:
            faults.append(
                f"Line {number} says “{line.strip()[:40]}”: write the code, a comma, and the number."
            )
        else:
            rows.append((number, cells[0], cells[1]))
    if faults:
        raise NotAList(_together(faults))
    if not rows:
        raise NotAList(
            "Nothing is in the list. Write a line for each parcel: its code, a comma, and the number."
        )
    if len(rows) > MOST_LINES:
        raise NotAList(f"A list takes up to {MOST_LINES} lines.")
    return rows


@transaction.atomic
def take_tracking(*, text: str, carrier: str, key: UUID, who: User) -> int:
    """Keep the tracking numbers of a list, all of them or none. How many parcels have one now by it.

    Raises NotAList where a line is not understood, or no parcel, or more than one, is meant by it.
    """
    rows = read_list(text)
    parcels = _parcels([said for _, said, _ in rows])
    faults, chosen = [], []
    for number, said, tracking in rows:
        found = parcels.get(said.lower()) or parcels.get(tidy(said).lower()) or []
        if len(found) == 1:
            chosen.append((found[0], tracking))
        elif found:
            codes = ", ".join(parcel.code for parcel in found)
            faults.append(f"Line {number}: order {said} is in parcels {codes}. Write the parcel’s code.")
        else:
            faults.append(
                f"Line {number}: no packed or sent parcel has the code or order number “{said[:40]}”."
            )
    twice = {parcel.pk for parcel, _ in chosen}
    if not faults and len(twice) < len(chosen):
        faults.append("A parcel stands in more than one line. Leave one number for each.")
    if faults:
        raise NotAList(_together(faults))
    for parcel, tracking in chosen:
        say_tracking(
            parcel=parcel,
            carrier=carrier or parcel.carrier,
            tracking=tracking,
            key=uuid5(key, parcel.code),
            who=who,
        )
    return len(chosen)


def _parcels(said: Sequence[str]) -> dict[str, list[Parcel]]:
    """Packed and sent parcels by their code and by the number of each order in them, in lower case."""
    there = Parcel.objects.filter(state__in=(Parcel.State.PACKED, Parcel.State.GONE))
    found: dict[str, list[Parcel]] = {}
    for parcel in there.filter(code__in={tidy(each) for each in said}):
        found[parcel.code.lower()] = [parcel]
    of_orders = there.filter(
        boxes__taken_out_at=None, boxes__box__order_line__order__number__in=set(said)
    ).values_list("pk", "boxes__box__order_line__order__number")
    pairs = set(of_orders)
    rows = there.in_bulk({pk for pk, _ in pairs})
    for pk, number in sorted(pairs):
        if number in said and number.lower() not in found:
            found[number.lower()] = []
        if number in said and rows[pk] not in found[number.lower()]:
            found[number.lower()].append(rows[pk])
    return found


def _together(faults: Sequence[str]) -> str:
    more = len(faults) - MOST_SHOWN
    return " ".join(faults[:MOST_SHOWN]) + (f" And {more} more." if more > 0 else "")
