"""Two who look like one person: proposed, never joined silently; joined with everything of both, or said to be two."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.promises.models import Box, DifferentPeople, Membership, Order, Parcel, Person, ShopTerms
from inventory.promises.people import living
from recipes.words import one_line


class CannotBeOne(Refused):
    """The two cannot be joined: they are one already, or one of them is gone."""


@dataclass(frozen=True, slots=True)
class Alike:
    """Two of the same name and postcode; `first` was written down first."""

    first: Person
    second: Person


def alike() -> list[Alike]:
    """Who may be the same person: the same name and postcode, however written, and nobody said they are two.

    Of more than two alike, each is put beside the first. Three queries.
    """
    groups: dict[tuple[str, str], list[int]] = defaultdict(list)
    rows = living().exclude(name="").exclude(postcode="").order_by("pk")
    for pk, name, postcode in rows.values_list("pk", "name", "postcode"):
        groups[_folded(name, postcode)].append(pk)
    pairs = [(same[0], other) for same in groups.values() for other in same[1:]]
    if not pairs:
        return []
    told_apart = set(DifferentPeople.objects.values_list("first", "second"))
    asked = [pair for pair in pairs if pair not in told_apart]
    people = Person.objects.in_bulk({pk for pair in asked for pk in pair})
    return [Alike(people[first], people[second]) for first, second in asked]


def alike_to(person: Person) -> list[Person]:
    """Those who may be the same person as this one. Two queries at most."""
    if not person.name or not person.postcode:
        return []
    near = living().exclude(pk=person.pk).filter(Q(name__iexact=person.name) | Q(postcode=person.postcode))
    same = [other for other in near.order_by("pk") if _looks(other) == _looks(person)]
    if not same:
        return []
    said = DifferentPeople.objects.filter(Q(first=person) | Q(second=person)).values_list("first", "second")
    told_apart = {pk for pair in said for pk in pair}
    return [other for other in same if other.pk not in told_apart]


def _looks(person: Person) -> tuple[str, str]:
    return _folded(person.name, person.postcode)


def _folded(name: str, postcode: str) -> tuple[str, str]:
    return one_line(name).casefold(), "".join(postcode.split()).casefold()


@transaction.atomic
def different_people(*, one: Person, other: Person, who: User) -> DifferentPeople:
    """Say that two who look alike are two, so that it is not asked again. Said before, nothing changes."""
    if one.pk == other.pk:
        raise CannotBeOne("This is one person, not two.")
    first, second = sorted((one, other), key=lambda person: person.pk)
    said, _ = DifferentPeople.objects.get_or_create(
        first=first, second=second, defaults={"said_at": timezone.now(), "by": who}
    )
    return said


@transaction.atomic
def same_person(*, kept: Person, other: Person) -> Person:
    """Put everything of `other` under `kept`: memberships, gifts, orders, boxes, parcels, and what `kept` lacked.

    The row of `other` stays as it was and leads to `kept`, so that its code and e-mail address still find the person.
    The same again changes nothing. Raises CannotBeOne.
    """
    locked = {row.pk: row for row in Person.objects.select_for_update().filter(pk__in=(kept.pk, other.pk))}
    if len(locked) < 2:
        raise CannotBeOne("This is one person already.")
    kept, other = locked[kept.pk], locked[other.pk]
    if other.merged_into_id == kept.pk:
        return kept
    if kept.erased_at or other.erased_at:
        raise CannotBeOne("One of the two was erased, so there is nothing left to put together.")
    if kept.merged_into_id or other.merged_into_id:
        raise CannotBeOne(
            "One of the two was put together with somebody else meanwhile. Look at the list again."
        )
    Membership.objects.filter(payer=other).update(payer=kept)
    Membership.objects.filter(receiver=other).update(receiver=kept)
    Order.objects.filter(buyer=other).update(buyer=kept)
    Order.objects.filter(receiver=other).update(receiver=kept)
    Box.objects.filter(receiver=other).update(receiver=kept)
    Parcel.objects.filter(receiver=other).update(receiver=kept)
    Person.objects.filter(merged_into=other).update(merged_into=kept)
    if not ShopTerms.objects.filter(shop=kept).exists():
        ShopTerms.objects.filter(shop=other).update(shop=kept)
    other.merged_into = kept
    moves_email = not kept.email and bool(other.email) and bool(other.name)
    email = other.email
    if moves_email:
        other.email = ""
    other.save(update_fields=["merged_into", "email"])
    _fill_in(kept, other, email=email if moves_email else kept.email)
    return kept


def _fill_in(kept: Person, other: Person, *, email: str) -> None:
    """What `kept` lacked and `other` had. An address is taken whole or not at all."""
    kept.email = email
    for name in ("name", "phone", "doubles", "note"):
        if not getattr(kept, name):
            setattr(kept, name, getattr(other, name))
    if not (kept.street or kept.city):
        for name in (
            "company",
            "street",
            "city_area",
            "city",
            "country_area",
            "postcode",
            "sorting_code",
            "country",
        ):
            setattr(kept, name, getattr(other, name))
    for name in ("avoids_fibres", "avoids_families", "likes_families"):
        # What either avoids is avoided: asked once too often rather than sent once wrongly.
        both = [*getattr(kept, name), *getattr(other, name)]
        setattr(kept, name, list(dict.fromkeys(both)))
    kept.ships_apart = kept.ships_apart or other.ships_apart
    kept.save()
