"""Pages of people, clubs and rounds: few queries however many members, what the helper sees, forms that keep what was typed."""

from __future__ import annotations

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse

from inventory.promises.models import Box, Club, Level, Membership, Payment, Person, Round
from tests import factories
from tests.inventory.promises.factories import club_round, frozen_round, held_box, level, membership, person

pytestmark = pytest.mark.django_db

SOON = factories.timezone.localdate() + dt.timedelta(days=20)


@pytest.fixture
def owner(client: Client):
    factories.studio()
    user = factories.OwnerFactory()
    client.force_login(user)
    return user


def text(client: Client, page: str, /, *args, status: int = 200, **data) -> str:
    where = reverse(page, args=args)
    answer = client.post(where, data, follow=True) if data else client.get(where)
    assert answer.status_code == status, (answer.status_code, where)
    return answer.content.decode()


def test_pages_take_at_most_twelve_queries_however_many_belong(client, owner, django_assert_max_num_queries):
    put_up = factories.put_up()
    at = level(put_up=put_up)
    receivers = [person(avoids_fibres=["wool"], postcode="LS1 4AP") for _ in range(3)]
    for whom in receivers:
        membership(of=at, receiver=whom, count=2)
    past = frozen_round(of=at, members=0, who=owner, ships_on=SOON)
    late = membership(of=at, prepaid_rounds=1)
    coming = club_round(of=at.club, ships_on=SOON)
    held_box(receiver=receivers[0], who=owner)
    Payment.objects.create(box=past.boxes.first(), kind="failed", at=factories.timezone.now(), by=owner)
    client.post(reverse("round-late", args=[past.pk]), {"membership": late.pk, "why": "wrote in time"})
    client.post(reverse("club-member-do", args=[late.pk]), {"do": "skip", "round": coming.pk})
    member = receivers[0].memberships.first()
    addresses = [
        reverse("promises"),
        reverse("promises-people"),
        reverse("promises-people-alike"),
        reverse("promises-person", args=[receivers[0].code]),
        reverse("club", args=[at.club_id]),
        reverse("club-members", args=[at.club_id]),
        reverse("club-member", args=[member.pk]),
        reverse("club-member-change", args=[member.pk]),
        reverse("club-member-new", args=[at.club_id]),
        reverse("club-level", args=[at.pk]),
        reverse("round", args=[past.pk]),
        reverse("round", args=[coming.pk]),
        reverse("round-change", args=[coming.pk]),
        reverse("round-boxes", args=[past.pk]),
    ]
    for where in addresses:
        with django_assert_max_num_queries(12):
            assert client.get(where).status_code == 200, where
    page = text(client, "round", past.pk)
    assert "6 frozen +1 changed = 7 boxes" in page
    assert "Avoids wool" in page
    assert "Payment failed" in page


def test_a_club_is_written_down_signed_up_for_and_frozen_by_its_pages(client, owner):
    sock, dk = factories.put_up(), factories.put_up()
    text(client, "club-new", name="Weir Club", every_months=1, not_again_months="")
    club = Club.objects.get()
    assert club.not_again_months == 0
    slots = {
        "slots-TOTAL_FORMS": 2,
        "slots-INITIAL_FORMS": 0,
        "slots-0-put_ups": [sock.pk, dk.pk],
        "slots-0-pieces": 2,
    }
    said = {
        **slots,
        "slots-0-colourway_number": "1",
        "slots-1-colourway_number": "1",
        "name": "Full",
        "price_minor": "28,50",
    }
    page = text(client, "club-level-new", club.pk, **{**said, "slots-0-put_ups": []}, status=422)
    assert "at least one thing" in page
    assert "28,50" in page
    text(client, "club-level-new", club.pk, **said, extras="card\n\nmarker")
    at = Level.objects.get()
    assert (at.price_minor, at.extras.count(), at.slots.get().put_ups.count()) == (2850, 2, 2)

    ada, bo = person("Ada Reed", email="ada@example.org"), person("Bo Lind")
    sign_up = {"receiver": "ada reed", "payer": bo.code, "level": at.pk, "count": 2, "doubles": ""}
    page = text(client, "club-member-new", club.pk, **{**sign_up, "receiver": "Adda Reed"}, status=422)
    assert "Nobody is called “Adda Reed”" in page
    page = text(client, "club-member-new", club.pk, **sign_up, status=422)
    assert f"Full comes on {sock.base}, {dk.base}" in page
    text(client, "club-member-new", club.pk, **sign_up, base=dk.base_id)
    member = Membership.objects.get()
    assert (member.receiver, member.payer, member.base) == (ada, bo, dk.base)

    rows = {"colourways-TOTAL_FORMS": 1, "colourways-INITIAL_FORMS": 0, "colourways-0-new_name": "Weir Dusk"}
    round_said = {
        "called": "January",
        "ships_on": SOON.isoformat(),
        "secret_until_day": SOON.isoformat(),
        "spares_percent": 10,
    }
    wrong = {**round_said, "payment_due": (SOON + dt.timedelta(days=1)).isoformat(), **rows}
    assert "Put the days in order" in text(client, "round-new", club.pk, **wrong, status=422)
    text(client, "round-new", club.pk, **round_said, **rows)
    round_ = Round.objects.get()
    assert round_.colourways.get().colourway.is_secret
    assert "Freeze with 2 boxes" in text(client, "round", round_.pk)
    assert "Frozen." in text(client, "round-freeze", round_.pk, sure=1)
    # 2 boxes of 2 pieces and 10 % spares, rounded up to one.
    assert "4 + 1" in text(client, "round", round_.pk)
    one, _ = Box.objects.order_by("pk")
    page = text(client, "round-boxes", round_.pk, say="all_but", box=[one.pk])
    assert "1 marked paid, 1 failed." in page
    assert "is out" in text(client, "round-box-out", round_.pk, box=one.code, why="card failed")
    assert "promised again" in text(client, "round-box-back", round_.pk, box=one.code)
    change = {
        "receiver": "ada@example.org",
        "level": at.pk,
        "base": sock.base_id,
        "count": 1,
        "also_in": "on",
    }
    text(client, "club-member-change", member.pk, **change)
    assert round_.boxes.filter(withdrawn_at=None).get().parts.get().put_up == sock
    page = text(client, "club-member", member.pk)
    assert f"base {dk.base} → {sock.base}" in page
    assert "paid by Bo Lind → Ada Reed" in page


def test_a_person_is_written_down_as_the_country_writes_and_helpers_see_nobody(client, owner):
    where = reverse("promises-person-new")
    page = client.post(where, {"name": "Ann", "country": "US", "show": "1"}).content.decode()
    assert "ZIP code" in page
    assert 'value="Ann"' in page
    said = {
        "name": "Ann Lee",
        "email": "ann@example.org",
        "country": "US",
        "street": "12 Mill St",
        "city": "Portland",
        "kind": "person",
    }
    wrong = client.post(where, {**said, "postcode": "ABC", "country_area": "OR"})
    assert wrong.status_code == 422
    assert "This is no ZIP code" in wrong.content.decode()
    assert "12 Mill St" in wrong.content.decode()
    page = client.post(
        where, {**said, "postcode": "97201", "country_area": "OR"}, follow=True
    ).content.decode()
    assert "PORTLAND, OR 97201<br>UNITED STATES" in page
    ann = Person.objects.get()
    copy = client.post(reverse("promises-person-export", args=[ann.code]))
    assert (copy["Content-Type"], copy.content[:2]) == ("application/zip", b"PK")
    text(client, "promises-person-erase", ann.code, sure="on")
    again = client.post(where, {**said, "postcode": "97201", "country_area": "OR"})
    assert "came back themselves" in again.content.decode()

    round_ = frozen_round(ships_on=SOON, theme="The theme")
    client.force_login(factories.HelperFactory())
    page = text(client, "promises")
    assert str(round_) in page
    assert reverse("round", args=[round_.pk]) not in page
    assert round_.boxes.get().receiver.name not in page
