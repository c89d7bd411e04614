"""Pieces put aside by hand: held where they lie, asked about on their day, let go or handed over once."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from dyehouse.ledger.models import Balance, Line
from dyehouse.ledger.operations import NotEnough
from dyehouse.ledger.verify import breaches
from inventory import holding, shelf
from inventory.holding import HoldEnded, HoldUntilWhen, HowEnded, NotHeldFor
from inventory.models import HandHold
from recipes.colourways import keep_secret
from tests import factories

pytestmark = pytest.mark.django_db


def today() -> dt.date:
    return timezone.localdate()


def put_aside(pieces: int = 2, *, good: int = 4, **said) -> HandHold:
    owner = factories.OwnerFactory()
    lot, place, dyed = factories.shelved_lot(good=good, who=owner)
    facts = {"for_whom": "Ada Reed", "until": today() + dt.timedelta(days=3), "key": uuid.uuid4(), **said}
    return holding.hold_by_hand(dyed=dyed, dye_lot=lot, place=place, pieces=pieces, who=owner, **facts)


def balance_of(held: HandHold) -> Balance:
    return Balance.objects.get(item=held.dyed.item, lot=held.dye_lot.lot, place__kind="shelf")


def test_what_is_put_aside_stays_where_it_lies_and_is_not_free():
    held = put_aside(3)

    row = balance_of(held)
    assert (row.on_hand, row.held, row.free) == (4, 3, 1)


def test_the_same_key_again_holds_once():
    key = uuid.uuid4()
    held = put_aside(3, key=key)

    again = holding.hold_by_hand(
        key=key, dyed=held.dyed, dye_lot=held.dye_lot, place=balance_of(held).place, pieces=3,
        for_whom="Ada Reed", until=held.until, who=held.made_by,
    )  # fmt: skip

    assert again == held
    assert balance_of(held).held == 3


def test_more_than_is_free_is_refused_and_nothing_is_held():
    with pytest.raises(NotEnough):
        put_aside(5, good=4)

    assert not HandHold.objects.exists()


@pytest.mark.parametrize(
    ("said", "refusal"),
    [
        ({"for_whom": "  "}, NotHeldFor),
        ({"pieces": 0}, NotHeldFor),
        ({"until": dt.date(2020, 1, 1)}, HoldUntilWhen),
    ],
)
def test_what_cannot_be_held_is_refused(said, refusal):
    with pytest.raises(refusal):
        put_aside(**said)


def test_held_pieces_cannot_be_moved_as_if_they_were_free():
    held = put_aside(3)

    with pytest.raises(NotEnough):
        shelf.move_to_shelf(
            key=uuid.uuid4(), dye_lot=held.dye_lot, place=factories.shelf_place(), source=balance_of(held).place,
            counts={held.dyed.pk: 2}, who=held.made_by,
        )  # fmt: skip


def test_let_go_with_a_reason_they_are_free_again_once():
    held, key = put_aside(3), uuid.uuid4()

    for _ in range(2):
        holding.let_go(held=held, key=key, who=held.made_by, why="changed her mind")

    assert balance_of(held).free == 4
    with pytest.raises(HoldEnded):
        holding.let_go(held=held, key=uuid.uuid4(), who=held.made_by, why="again")
    assert breaches() == []


def test_letting_go_without_a_reason_is_refused():
    held = put_aside()

    with pytest.raises(HowEnded):
        holding.let_go(held=held, key=uuid.uuid4(), who=held.made_by, why=" ")
    assert balance_of(held).held == 2


def test_handed_over_they_leave_the_house_from_the_hold():
    held = put_aside(3)

    holding.hand_over(held=held, key=uuid.uuid4(), who=held.made_by)

    row = balance_of(held)
    assert (row.on_hand, row.held) == (1, 0)
    line = Line.objects.get(to_place__code="customer")
    assert (line.quantity, line.from_claim) == (3, held.claim)
    assert breaches() == []


def test_on_its_day_the_hold_is_due_and_still_holds(client: Client):
    held = put_aside(until=today())
    factories.studio()
    client.force_login(held.made_by)

    day = client.get("/").content.decode()

    assert "Ada Reed" in day
    assert balance_of(held).held == 2


def test_a_hold_that_is_not_due_is_not_on_the_days_page(client: Client):
    held = put_aside(until=today() + dt.timedelta(days=1))
    factories.studio()
    client.force_login(held.made_by)

    assert "Ada Reed" not in client.get("/").content.decode()


class TestPages:
    def test_putting_aside_from_the_shelf(self, client: Client):
        owner = factories.OwnerFactory()
        lot, place, dyed = factories.shelved_lot(who=owner)
        client.force_login(owner)

        answer = client.post(
            reverse("hold-new", args=[lot.code, dyed.pk, place.pk]),
            {
                "key": uuid.uuid4(),
                "for_whom": "Ada Reed",
                "pieces": 2,
                "until": f"{today():%Y-%m-%d}",
                "note": "",
            },
        )

        assert answer["Location"] == reverse("holds")
        assert "Ada Reed" in client.get(reverse("holds")).content.decode()

    def test_too_many_are_refused_beside_the_number_with_what_was_typed(self, client: Client):
        owner = factories.OwnerFactory()
        lot, place, dyed = factories.shelved_lot(good=4, who=owner)
        client.force_login(owner)

        answer = client.post(
            reverse("hold-new", args=[lot.code, dyed.pk, place.pk]),
            {"key": uuid.uuid4(), "for_whom": "Ada Reed", "pieces": 9, "until": f"{today():%Y-%m-%d}"},
        )

        assert answer.status_code == 422
        assert "9 pieces are wanted" in answer.content.decode()
        assert 'value="Ada Reed"' in answer.content.decode()
        assert not HandHold.objects.exists()

    def test_a_secret_name_is_not_told_to_a_helper(self, client: Client):
        held = put_aside()
        colourway = held.dye_lot.colourway
        colourway.name = "Thornfold Dusk"
        colourway.save()
        keep_secret(colourway=colourway, until=timezone.now() + dt.timedelta(days=9))
        client.force_login(factories.HelperFactory())

        for address in (reverse("holds"), reverse("hold", args=[held.pk])):
            assert "Thornfold" not in client.get(address).content.decode()
