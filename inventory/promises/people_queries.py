"""What the pages of people show: who there is, and all that is promised, held and sent to one of them."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Count, Prefetch, Q

from dyehouse.studio.codes import tidy
from inventory.promises.addresses import address_faults_of, address_lines, has_address
from inventory.promises.alike import alike_to
from inventory.promises.club_queries import Standing, with_stand
from inventory.promises.models import Box, BoxPart, Membership, Order, Parcel, Person, PrivacyRequest
from inventory.promises.people import living
from recipes.dyeing.families import family_names
from recipes.dyeing.fibres import BY_SLUG
from recipes.words import one_line

PAGE = 50


@dataclass(frozen=True, slots=True)
class PersonLine:
    """One person in the list: how many memberships go on, and whether there is an address."""

    person: Person
    going_on: int

    @property
    def has_address(self) -> bool:
        return has_address(self.person)


@dataclass(frozen=True, slots=True)
class PeoplePage:
    """A page of people whom the words fit."""

    lines: list[PersonLine]
    words: str
    page: int
    more: bool
    everybody: int


@dataclass(frozen=True, slots=True)
class PersonPage:
    """All of one person: the address for paper, what is promised, held and sent, and who looks the same."""

    person: Person
    lines: list[str]
    faults: list[str]
    memberships: list[Membership]
    gifts: list[Membership]
    promised: list[Box]
    sent: list[Box]
    withdrawn: list[Box]
    orders: list[Order]
    alike: list[Person]
    requests: list[PrivacyRequest]
    likes: str
    avoids: str

    @property
    def standing(self) -> Standing:
        """How what is promised stands."""
        return Standing.of(self.promised)


def people_page(*, words: str = "", page: int = 1) -> PeoplePage:
    """People by name, of whom a part of the name, e-mail, town or postcode fits, or the code. Three queries."""
    said = one_line(words)[:80]
    found = living()
    if said:
        found = found.filter(
            Q(name__icontains=said)
            | Q(email__icontains=said.casefold())
            | Q(city__icontains=said)
            | Q(postcode__istartswith=said)
            | Q(company__icontains=said)
            | Q(code=tidy(said)[:12])
        )
    start = (page - 1) * PAGE
    going_on = Count("memberships", filter=Q(memberships__state=Membership.State.ACTIVE), distinct=True)
    rows = list(found.annotate(going_on=going_on).order_by("name", "email", "pk")[start : start + PAGE + 1])
    return PeoplePage(
        lines=[PersonLine(row, row.going_on) for row in rows[:PAGE]],
        words=said,
        page=page,
        more=len(rows) > PAGE,
        everybody=living().count(),
    )


def person_page(person: Person) -> PersonPage:
    """Everything of one person. Seven queries at most, beside the one that found them."""
    parts = Prefetch(
        "parts", BoxPart.objects.select_related("put_up__base", "colourway").order_by("position")
    )
    boxes = list(
        with_stand(Box.objects.filter(receiver=person).select_related("round__club", "order_line__order"))
        .prefetch_related(parts)
        .order_by("-made_at", "pk")
    )
    memberships = list(
        Membership.objects.filter(Q(receiver=person) | Q(payer=person))
        .select_related("club", "level", "base", "receiver", "payer")
        .order_by("state", "club__name", "pk")
    )
    standing = [box for box in boxes if box.withdrawn_at is None]
    sent = [box for box in standing if box.parcel_state == Parcel.State.GONE]  # type: ignore[attr-defined]
    orders = Order.objects.filter(Q(buyer=person) | Q(receiver=person)).order_by("-placed_at", "pk")
    requests = PrivacyRequest.objects.filter(Q(person=person) | Q(person__merged_into=person))
    return PersonPage(
        person=person,
        lines=address_lines(person) if has_address(person) else [],
        faults=list(address_faults_of(person).values()),
        memberships=[each for each in memberships if each.receiver_id == person.pk],
        gifts=[each for each in memberships if each.receiver_id != person.pk],
        promised=[box for box in standing if box not in sent],
        sent=sent,
        withdrawn=[box for box in boxes if box.withdrawn_at is not None],
        orders=list(orders[:PAGE]),
        alike=alike_to(person),
        requests=list(requests.select_related("by").order_by("id")),
        likes=", ".join(family_names(person.likes_families)),
        avoids=", ".join(
            [
                *family_names(person.avoids_families),
                *(BY_SLUG[slug].name for slug in person.avoids_fibres if slug in BY_SLUG),
            ]
        ),
    )
