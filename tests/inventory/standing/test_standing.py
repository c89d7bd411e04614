"""Owned, free and in work of a colourway on a put-up, and of its undyed yarn, against the ledger itself."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.db.models import Sum
from django.urls import reverse
from django.utils import timezone

from dyehouse.ledger.models import Balance
from inventory import holding, spoken_for, standing
from inventory.spoken_for import SpokenFor
from inventory.standing_detail import dyed_detail, yarn_detail
from recipes.colourways import keep_secret
from tests import factories
from tests.inventory.buying import factories as buying

pytestmark = pytest.mark.django_db
MOST_QUERIES = 12


@pytest.fixture
def promises(monkeypatch) -> list[SpokenFor]:
    told: list[SpokenFor] = []
    monkeypatch.setattr(spoken_for, "_sources", [lambda: told])
    return told


def promise(dyed, pieces: int, *, days: int = 9, any_colour: bool = False, what: str = "Rowan Box, December"):
    return SpokenFor(
        due=timezone.localdate() + dt.timedelta(days=days),
        put_up_id=dyed.put_up_id,
        colourway_id=None if any_colour else dyed.colourway_id,
        pieces=pieces,
        held=0,
        what=what,
        address="/promises/rowan/",
    )


def stock(owner):
    """Four good ones on a shelf, one of them put aside, a second, and a planned pot of five of the same."""
    lot, place, dyed = factories.shelved_lot(good=4, second=1, who=owner)
    holding.hold_by_hand(
        key=uuid.uuid4(), dyed=dyed, dye_lot=lot, place=place, pieces=1, for_whom="Ada Reed",
        until=timezone.localdate() + dt.timedelta(days=2), who=owner,
    )  # fmt: skip
    pot = factories.planned_pot(put_up=dyed.put_up, pieces=5, who=owner)
    pot.colourway = dyed.colourway
    pot.save(update_fields=["colourway"])
    return lot, dyed, pot


def test_what_is_owned_held_in_work_promised_and_free(promises):
    owner = factories.OwnerFactory()
    lot, dyed, pot = stock(owner)
    promises.append(promise(dyed, 4))

    detail = dyed_detail(colourway=dyed.colourway, put_up=dyed.put_up, user=owner)
    now = detail.standing

    on_hand = Balance.objects.filter(lot=lot.lot).aggregate(sum=Sum("on_hand"))["sum"]
    assert (now.counts.owned, detail.owned) == (on_hand, 5)
    assert (now.counts.good_free_place, now.counts.held, now.seconds) == (4, 1, 1)
    assert [(each.claim.held_for, each.pieces) for each in detail.holds] == [("Ada Reed", 1)]
    assert [each.pot.code for each in detail.pots] == [pot.code]
    # 4 of 5 judged came out good, so of 5 in work 4 are to be expected.
    assert now.expected.value == 4
    assert (now.free.value, now.reach.is_short) == (4 - 1 - 4, False)
    assert now.reach.first_resting is not None
    assert now.free.working.substitution == "4 − 1 − 4"
    assert now.to_dye == []
    # The page of everything says the same.
    [row] = standing.standing_page(user=owner).dyed
    assert (row.counts.owned, row.counts.held, row.counts.in_work, row.free.value) == (5, 1, 5, -1)


def test_what_no_pot_will_give_must_be_dyed_on_its_yarn_and_the_first_promise_that_breaks_is_named(
    promises, client
):
    owner = factories.OwnerFactory()
    _, dyed, _ = stock(owner)
    yarn = Balance.objects.filter(item=dyed.put_up.item_id, place__code="store").aggregate(sum=Sum("on_hand"))
    here = yarn["sum"] or 0
    promises += [
        promise(dyed, 7),
        promise(dyed, 10, days=12, what="Advent"),
        promise(dyed, 3, any_colour=True),
    ]

    now = dyed_detail(colourway=dyed.colourway, put_up=dyed.put_up, user=owner).standing
    undyed = yarn_detail(put_up=dyed.put_up, user=owner).standing

    assert now.reach.first_broken is not None
    assert (now.reach.first_broken.what, now.reach.first_broken.short) == ("Advent", 10)
    assert sum(each.pieces for each in now.to_dye) == 10
    assert undyed.free.value == here - 5 - 10 - 3
    assert undyed.counts.planned == 5
    assert undyed.reach.is_short

    # Twenty on order, thirty days on the way: here in eight days, before anything is due.
    buying.sent_order(
        of=buying.offer(of=dyed.put_up.item), packs=2, ordered_on=timezone.localdate() - dt.timedelta(days=22)
    )
    with_order = yarn_detail(put_up=dyed.put_up, user=owner).standing
    assert (with_order.on_order, with_order.free.value) == (20, undyed.free.value)
    assert [change.left for change in with_order.reach.changes] == [15, 12, 2]
    assert with_order.reach.first_broken is None

    factories.studio()
    client.force_login(owner)
    page = client.get(reverse("standing")).content.decode()
    assert "breaks" in page
    assert "/promises/rowan/" in page
    only = client.get(reverse("standing"), {"only": "short"}).content.decode()
    assert "Advent" in only


def test_three_pages_in_few_queries_and_a_secret_by_its_code(promises, client, django_assert_max_num_queries):
    owner, helper = factories.OwnerFactory(), factories.HelperFactory()
    _, dyed, _ = stock(owner)
    for _ in range(3):
        stock(owner)
    dyed.colourway.name = "Withy Bed"
    dyed.colourway.save(update_fields=["name"])
    keep_secret(colourway=dyed.colourway, until=timezone.now() + dt.timedelta(days=30))
    promises.append(promise(dyed, 9))
    factories.studio()
    client.force_login(helper)

    for address in (
        reverse("standing"),
        reverse("standing-dyed", args=[dyed.colourway.code, dyed.put_up_id]),
        reverse("standing-yarn", args=[dyed.put_up_id]),
    ):
        with django_assert_max_num_queries(MOST_QUERIES):
            page = client.get(address)
        assert page.status_code == 200
        assert "Withy Bed" not in page.content.decode()
    assert dyed.colourway.code not in client.get(reverse("standing"), {"find": "Withy"}).content.decode()
