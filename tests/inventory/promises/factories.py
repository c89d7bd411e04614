"""Things of the promises' room for its tests, made as the dyer would make them."""

from __future__ import annotations

import datetime as dt
import itertools
import uuid
from typing import Any

from django.utils import timezone

from dyehouse.ledger.operations import hold, post
from dyehouse.ledger.queries import stock
from dyehouse.studio.codes import take_code
from dyehouse.studio.models import User
from inventory.kits import PartWanted as KitPartWanted
from inventory.kits import make_kit
from inventory.models import Kit
from inventory.promises.boxes import PartWanted, make_box
from inventory.promises.files.taking import choose_file
from inventory.promises.freezing import freeze
from inventory.promises.giving import work_out
from inventory.promises.models import (
    Box,
    Club,
    Level,
    LevelSlot,
    Membership,
    Offer,
    Order,
    OrderLine,
    Parcel,
    Payment,
    Person,
    Product,
    Round,
    RoundColourway,
    SlotPutUp,
    TakingIn,
    WorkedOut,
)
from inventory.promises.orders import LineWanted, place_order
from inventory.promises.parcels import make_batch, open_parcels, pack_whole, send_off
from recipes.lots.models import DyeLot
from recipes.models import Colourway, PutUp
from tests import factories

NUMBERS = itertools.count(1)


def person(name: str = "", **facts: Any) -> Person:
    number = next(NUMBERS)
    facts = {"email": f"person{number}@example.org", "country": "NL", **facts}
    return Person.objects.create(
        code=take_code(), name=name or f"Person {number}", made_at=timezone.now(), **facts
    )


def club(name: str = "", **facts: Any) -> Club:
    return Club.objects.create(name=name or f"Club {next(NUMBERS)}", made_at=timezone.now(), **facts)


def level(*, of: Club | None = None, put_up: PutUp | None = None, pieces: int = 1, **facts: Any) -> Level:
    """A level with one slot of pieces in the round's first colourway."""
    made = Level.objects.create(club=of or club(), name=f"Level {next(NUMBERS)}", **facts)
    slot = LevelSlot.objects.create(level=made, position=1, pieces=pieces, colourway_number=1)
    SlotPutUp.objects.create(slot=slot, put_up=put_up or factories.put_up())
    return made


def club_round(*, of: Club | None = None, **facts: Any) -> Round:
    number = next(NUMBERS)
    facts = {"called": f"Round {number}", "ships_on": dt.date(2026, 12, 10), **facts}
    return Round.objects.create(club=of or club(), number=number, **facts)


def membership(*, of: Level | None = None, receiver: Person | None = None, **facts: Any) -> Membership:
    at = of or level()
    whom = receiver or person()
    facts = {"payer": whom, "signed_up_at": timezone.now(), "from_round": 1, **facts}
    return Membership.objects.create(club=at.club, level=at, receiver=whom, **facts)


def product(*, kit: Kit | None = None, **facts: Any) -> Product:
    """A product with one choice: a kit, else one skein of a colourway."""
    made = Product.objects.create(name=f"Product {next(NUMBERS)}", made_at=timezone.now(), **facts)
    if kit is not None:
        Offer.objects.create(product=made, kit=kit)
    else:
        Offer.objects.create(product=made, colourway=factories.colourway(), put_up=factories.put_up())
    return made


def order_line(*, of: Product | None = None, buyer: Person | None = None, count: int = 1) -> OrderLine:
    whom = buyer or person()
    order = Order.objects.create(
        kind=Order.Kind.PREORDER,
        number=f"A{next(NUMBERS)}",
        buyer=whom,
        receiver=whom,
        placed_at=timezone.now(),
        currency="EUR",
    )
    offer = (of or product()).offers.get()
    return OrderLine.objects.create(order=order, position=1, offer=offer, count=count)


def box_of_round(
    *,
    of: Round | None = None,
    put_up: PutUp | None = None,
    colourway: Colourway | None = None,
    pieces: int = 1,
    receiver: Person | None = None,
) -> Box:
    round_ = of or club_round()
    member = membership(of=level(of=round_.club, put_up=put_up, pieces=pieces), receiver=receiver)
    return make_box(
        receiver=member.receiver,
        round=round_,
        membership=member,
        parts=[PartWanted(put_up or factories.put_up(), pieces, colourway)],
    )


def held_box(
    *,
    lot: DyeLot | None = None,
    pieces: int = 1,
    who: User | None = None,
    of: Round | None = None,
    **facts: Any,
) -> Box:
    """A box whose pieces are held for it from a lot on the shelf."""
    owner = who or factories.OwnerFactory()
    from_lot = lot or factories.shelved_lot(who=owner)[0]
    row = next(row for row in stock(lots=[from_lot.lot]) if row.free >= pieces)
    dyed = row.item.dyed
    box = box_of_round(of=of, put_up=dyed.put_up, colourway=dyed.colourway, pieces=pieces, **facts)
    post(
        key=uuid.uuid4(),
        who=owner,
        steps=[hold(item=row.item, lot=row.lot, quantity=pieces, place=row.place, claim=box.claim)],
        why="Held for the round",
    )
    return box


def frozen_round(
    *, members: int = 1, who: User | None = None, of: Level | None = None, **facts: Any
) -> Round:
    """A round of one colourway that was frozen with so many members of one level."""
    at = of or level()
    for _ in range(members):
        membership(of=at)
    made = club_round(of=at.club, **facts)
    RoundColourway.objects.create(round=made, number=1, colourway=factories.colourway())
    return freeze(round=made, who=who or factories.OwnerFactory())


def file_looked_at(*, who: User | None = None) -> TakingIn:
    """A file with one sign-up for a level that there is, looked through and not taken in."""
    at = level()
    text = f"Order no,Email,Club,Level\nS1,wren@example.org,{at.club},{at}\n"
    return choose_file(
        key=uuid.uuid4(),
        kind="sign_ups",
        content=text.encode(),
        file_name="autumn.csv",
        who=who or factories.OwnerFactory(),
    )


def worked_out(*, who: User | None = None, boxes: int = 1) -> WorkedOut:
    """Who gets which, worked out for boxes that want a piece each of a lot on the shelf."""
    owner = who or factories.OwnerFactory()
    _, _, dyed = factories.shelved_lot(who=owner)
    round_ = club_round(spares_percent=0)
    for _ in range(boxes):
        box_of_round(of=round_, put_up=dyed.put_up, colourway=dyed.colourway)
    return work_out(of=round_, key=uuid.uuid4(), who=owner)


def box_of_days(*, days: int = 2, boxes: int = 1, who: User | None = None) -> Offer:
    """A choice of a product that is a box of days, and so many boxes of it ordered."""
    mini = factories.put_up(grams=20)
    kit = make_kit(
        name=f"Box of days {next(NUMBERS)}",
        kind=Kit.Kind.BOX,
        parts=[KitPartWanted(factories.colourway(), mini) for _ in range(days)],
    )
    offer = product(kit=kit, spares_percent=0).offers.get()
    if boxes:
        place_order(
            kind=Order.Kind.PREORDER,
            number=f"A{next(NUMBERS)}",
            buyer=person(),
            lines=[LineWanted(boxes, offer=offer)],
            placed_at=timezone.now(),
            currency="EUR",
            who=who or factories.OwnerFactory(),
        )
    return offer


def somewhere(name: str = "", **facts: Any) -> Person:
    """A person to whose address a parcel can be sent."""
    home = {"street": "Kade 3", "postcode": "1015 CJ", "city": "Amsterdam", "country": "NL"}
    return person(name, **{**home, **facts})


def parcel(*, who: User | None = None, gone: bool = False) -> Parcel:
    """A parcel of one paid box in a batch, to be packed; or on its way."""
    owner = who or factories.OwnerFactory()
    box = held_box(who=owner, receiver=somewhere())
    Payment.objects.create(box=box, kind=Payment.Kind.PAID, at=timezone.now(), by=owner)
    (made,) = open_parcels(boxes=[box], who=owner)
    make_batch(parcels=[made], who=owner)
    if gone:
        pack_whole(parcel=made, key=uuid.uuid4(), who=owner)
        send_off(parcels=[made], key=uuid.uuid4(), who=owner)
    made.refresh_from_db()
    return made
