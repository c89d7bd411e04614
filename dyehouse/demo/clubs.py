"""The invented studio's clubs: a monthly one of 90 with a round gone out and one frozen, a quarterly one of 40 that is signing up.

The sizes are those of a real studio (one in ten with two boxes, one in twenty a gift, some who skip, failed cards, late joiners);
the people are invented.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import NamedTuple

from django.utils import timezone

from dyehouse.demo.book import demo_key
from dyehouse.ledger.models import Item, Lot, Place
from dyehouse.ledger.operations import Bucket, Step, claim_for, hold, post
from dyehouse.ledger.places import fixed_place
from dyehouse.studio.codes import take_codes
from dyehouse.studio.models import User
from inventory.opening.dyed import SOURCE, WHY, lot_from_before
from inventory.promises import clubs, freezing, memberships, payments
from inventory.promises.clubs import ClubFacts, RoundFacts, SlotSaid
from inventory.promises.models import (
    Box,
    Level,
    Membership,
    MembershipChange,
    Parcel,
    ParcelBox,
    Person,
    Round,
    Spares,
)
from recipes.colourways import dyed_yarn
from recipes.models import Base, Colourway, DyedYarn, PutUp

GIVEN = [
    "Alder",
    "Anneke",
    "Bram",
    "Brigid",
    "Catrin",
    "Dagny",
    "Edda",
    "Eilidh",
    "Elke",
    "Fenna",
    "Griet",
    "Hanne",
    "Ines",
    "Jorun",
    "Kaisa",
    "Liesel",
    "Maren",
    "Nesta",
    "Oona",
    "Petra",
    "Ragna",
    "Saskia",
    "Tamsin",
    "Una",
    "Vibeke",
    "Wilma",
    "Ylva",
    "Zora",
]
FAMILY = [
    "Achterberg",
    "Brackwater",
    "Calder",
    "Dunlin",
    "Eskdale",
    "Fairweather",
    "Garrick",
    "Hollin",
    "Inchbald",
    "Jessop",
    "Kestrel",
    "Larkham",
    "Merrow",
    "Norrby",
    "Osterman",
    "Pilgrim",
    "Quill",
    "Rowntree",
    "Sandberg",
    "Thistlewood",
    "Ulvang",
    "Vane",
    "Wetherby",
    "Yarrow",
]
# (country, street, town, area, postcode), all made up but well formed.
PLACES = (
    ("IE", "{n} Weir Lane", "Athlone", "Co. Westmeath", "N37 X{n:02d}8"),
    ("GB", "{n} Sloe Lane", "Leeds", "", "LS1 4A{l}"),
    ("GB", "{n} Tin Row", "Bristol", "", "BS8 1T{l}"),
    ("DE", "Am Wehr {n}", "Berlin", "", "101{n:02d}"),
    ("NL", "Sluiskade {n}", "Delft", "", "2611 A{l}"),
    ("FR", "{n} rue du Lavoir", "Nantes", "", "440{n:02d}"),
    ("US", "{n} Mill Street", "Portland", "OR", "972{n:02d}"),
)


class Piece(NamedTuple):
    """One skein: of what, of which lot."""

    item: Item
    lot: Lot


SPARE_PIECES = 5
LOT_OF = 5


def run_clubs(*, now: datetime, chance: random.Random, owner: User) -> None:
    """Two clubs, their people, a round that went out, one that is frozen with what changed since, one that is open."""
    today = timezone.localdate(now)
    people = _people(chance, now)
    sock, ferry = _put_up("Harrow Sock", 100), _put_up("Ferry DK", 100)
    mini = _put_up("Harrow Sock", 20)
    gone, coming, *quarterly = _colourways()

    monthly = clubs.make_club(
        facts=ClubFacts(name="Post Bag", most_members=95, exclusive_months=6, not_again_months=12),
        now=now - timedelta(days=300),
    )
    full = clubs.make_level(
        club=monthly, name="One skein", slots=[SlotSaid([sock, ferry])], price_minor=2900, extras=["A card"]
    )
    past = clubs.make_round(club=monthly, facts=_round(today - timedelta(days=24), [gone]))
    members = _sign_up(full, people[:90], people[90:95], [sock.base, ferry.base], chance, now, owner)
    _went_out(past, gone, [sock, ferry], now=now - timedelta(days=24), who=owner)

    present = clubs.make_round(club=monthly, facts=_round(today + timedelta(days=12), [coming]))
    for member in members[50:54]:
        memberships.skip(membership=member, round=present, who=owner)
    freezing.freeze(round=present, who=owner, now=now - timedelta(days=3))
    cards = Box.objects.filter(round=present, membership__prepaid_rounds=None, number=1).order_by("-pk")
    failed = list(cards.values_list("pk", flat=True)[:3])
    payments.all_paid_but(round=present, these=failed, who=owner, now=now - timedelta(days=2))
    late = [
        memberships.join(
            level=full, receiver=whom, base=sock.base, who=owner, signed_up_at=now - timedelta(days=1)
        )
        for whom in people[95:97]
    ]
    for member in late:
        freezing.let_in_late(round=present, membership=member, who=owner, why="wrote in time")
    memberships.skip(membership=members[7], round=present, who=owner, why="away")

    four = clubs.make_club(
        facts=ClubFacts(name="Four Tides", every_months=3, exclusive_months=12), now=now - timedelta(days=200)
    )
    set_of = clubs.make_level(
        club=four,
        name="Skein and minis",
        slots=[SlotSaid([sock]), *(SlotSaid([mini], colourway_number=number) for number in (2, 3))],
        price_minor=4600,
        extras=["Stitch marker", "A card"],
    )
    clubs.make_round(club=four, facts=_round(today + timedelta(days=40), quarterly))
    _sign_up(set_of, people[97:137], people[90:92], [], chance, now, owner)


def _put_up(base: str, grams: int) -> PutUp:
    return PutUp.objects.select_related("base").get(base__name=base, nominal_milligrams=grams * 1000)


def _colourways() -> list[Colourway]:
    """The one that went out, the secret one, and three for the quarter."""
    secret = Colourway.objects.filter(secret_until__isnull=False).order_by("pk").first()
    others = list(Colourway.objects.filter(secret_until=None).exclude(name="").order_by("name")[:5])
    return [others[0], secret or others[4], *others[1:4]]


def _round(ships_on: date, colourways: Sequence[Colourway]) -> RoundFacts:
    return RoundFacts(
        called=f"{ships_on:%B}",
        ships_on=ships_on,
        sign_up_opens=ships_on - timedelta(days=45),
        sign_up_closes=ships_on - timedelta(days=16),
        payment_due=ships_on - timedelta(days=12),
        spares_percent=5,
        spares_until=ships_on + timedelta(days=42),
        insert_words="Knit it soon, or let it rest in a bowl by the window.",
        colourways=colourways,
    )


def _people(chance: random.Random, now: datetime) -> list[Person]:
    """140 people with an address each, but two; some avoid a fibre or a colour."""
    names = [f"{given} {family}" for given in GIVEN for family in FAMILY]
    chosen = chance.sample(names, 138)
    rows = []
    for number, (name, code) in enumerate(zip(chosen, take_codes(138, chance.choice), strict=True)):
        country, street, city, area, postcode = PLACES[number % len(PLACES)]
        has_address = number not in (11, 92)
        letter = "ABDEFGHJLN"[number % 10]
        filled = {"n": number % 89 + 1, "l": letter}
        rows.append(
            Person(
                code=code,
                name=name,
                email=f"{name.lower().replace(' ', '.')}@example.org",
                street=street.format(**filled) if has_address else "",
                city=city if has_address else "",
                country_area=area if has_address else "",
                postcode=postcode.format(**filled) if has_address else "",
                country=country if has_address else "",
                avoids_fibres=["nylon"] if number % 41 == 17 else [],
                avoids_families=["orange"] if number % 23 == 5 else [],
                likes_families=["blue"] if number % 9 == 2 else [],
                doubles=Person.Doubles.SAME if number % 10 == 0 else "",
                made_at=now - timedelta(days=280),
            )
        )
    return Person.objects.bulk_create(rows)


def _sign_up(
    level: Level,
    receivers: Sequence[Person],
    givers: Sequence[Person],
    bases: Sequence[Base],
    chance: random.Random,
    now: datetime,
    who: User,
) -> list[Membership]:
    """Memberships that began months ago: one in ten with two boxes, the first few given by somebody else, some prepaid."""
    rows = Membership.objects.bulk_create(
        Membership(
            club=level.club,
            level=level,
            base=(bases[1] if number % 3 == 1 else bases[0]) if bases else None,
            count=2 if number % 10 == 4 else 1,
            receiver=whom,
            payer=givers[number] if number < len(givers) else whom,
            gift_note="Many happy returns" if number < len(givers) else "",
            signed_up_at=now - timedelta(days=200 - number, hours=chance.randrange(20)),
            from_round=1,
            prepaid_rounds=6 if number % 15 == 2 else None,
            reference=f"S-{1000 + number}",
        )
        for number, whom in enumerate(receivers)
    )
    MembershipChange.objects.bulk_create(
        MembershipChange(membership=row, kind=MembershipChange.Kind.JOINED, at=row.signed_up_at, by=who)
        for row in rows
    )
    return rows


def _went_out(
    round: Round, colourway: Colourway, put_ups: Sequence[PutUp], *, now: datetime, who: User
) -> None:
    """A round of last month: frozen, paid, its skeins held and sent, one parcel a person, some spares put by."""
    freezing.freeze(round=round, who=who, now=now - timedelta(days=14))
    payments.all_paid_but(round=round, these=[], who=who, now=now - timedelta(days=10))
    Box.objects.filter(round=round).update(made_at=now - timedelta(days=14))
    boxes = list(
        Box.objects.filter(round=round)
        .select_related("claim", "receiver")
        .prefetch_related("parts")
        .order_by("pk")
    )
    shelf = Place.objects.filter(kind=Place.Kind.SHELF, closed_at=None).order_by("pk").first()
    assert shelf is not None
    wanted = {put_up.pk: 0 for put_up in put_ups}
    for box in boxes:
        wanted[box.parts.all()[0].put_up_id] += 1
    lots = {
        put_up.pk: _dyed(
            colourway, put_up, wanted[put_up.pk] + (0 if number else SPARE_PIECES), shelf, now, who
        )
        for number, put_up in enumerate(put_ups)
    }
    customer = Bucket(fixed_place("customer"))
    holds, goes = [], []
    for box in boxes:
        row = lots[box.parts.all()[0].put_up_id].pop()
        holds.append(hold(item=row.item, lot=row.lot, quantity=1, place=shelf, claim=box.claim))
        goes.append(Step(row.item, row.lot, 1, Bucket(shelf, box.claim), customer))
    post(
        key=demo_key("club", "held"),
        who=who,
        steps=holds,
        why=f"Held for {round}",
        happened_at=now - timedelta(days=2),
    )
    _spare(round, lots[put_ups[0].pk], shelf, now=now, who=who)
    post(key=demo_key("club", "gone"), who=who, steps=goes, why=f"Sent: {round}", happened_at=now)
    _parcels(boxes, now)


def _dyed(
    colourway: Colourway, put_up: PutUp, pieces: int, shelf: Place, now: datetime, who: User
) -> list[Piece]:
    """Skeins of a colourway on the shelf in lots of five, each by itself. They were dyed elsewhere, so they have no log."""
    item = dyed_yarn(colourway=colourway, put_up=put_up, grade=DyedYarn.Grade.GOOD).item
    dyed_on = timezone.localdate(now) - timedelta(days=9)
    outside, there = Bucket(fixed_place("before_the_house")), Bucket(shelf)
    found: list[Piece] = []
    steps = []
    for number in range(0, pieces, LOT_OF):
        count = min(LOT_OF, pieces - number)
        lot = lot_from_before(colourway=colourway, dyed_on=dyed_on).lot
        steps.append(Step(item, lot, count, outside, there))
        found += [Piece(item, lot)] * count
    post(
        key=demo_key("club", put_up.pk),
        who=who,
        steps=steps,
        why=WHY,
        source=SOURCE,
        happened_at=now - timedelta(days=8),
    )
    return found


def _spare(round: Round, left: Sequence[Piece], shelf: Place, *, now: datetime, who: User) -> None:
    claim = claim_for(key=demo_key("club", "spares"), held_for=f"spares of {round}")
    steps = [
        hold(item=item, lot=lot, quantity=count, place=shelf, claim=claim)
        for (item, lot), count in Counter(left).items()
    ]
    post(key=demo_key("club", "spared"), who=who, steps=steps, why=f"Spares of {round}", happened_at=now)
    Spares.objects.create(round=round, claim=claim, until=round.spares_until, made_at=now)


def _parcels(boxes: Sequence[Box], now: datetime) -> None:
    """One parcel a person, on its way."""
    receivers = list(dict.fromkeys(box.receiver for box in boxes))
    parcels = Parcel.objects.bulk_create(
        Parcel(
            code=code,
            receiver=whom,
            state=Parcel.State.GONE,
            made_at=now - timedelta(days=1),
            packed_at=now - timedelta(hours=5),
            gone_at=now,
        )
        for whom, code in zip(receivers, take_codes(len(receivers)), strict=True)
    )
    of = {parcel.receiver_id: parcel for parcel in parcels}
    ParcelBox.objects.bulk_create(ParcelBox(box=box, parcel=of[box.receiver_id]) for box in boxes)
