"""People: written down once, found again by their e-mail, changed, and never doubled silently."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import IntegrityError, transaction
from django.db.models import QuerySet
from django.utils import timezone

from dyehouse.studio.codes import take_code, tidy
from dyehouse.studio.refusals import Refused
from inventory.promises.addresses import ADDRESS_FIELDS, address_faults
from inventory.promises.erased import folded, unmark, was_erased
from inventory.promises.models import Person
from recipes.dyeing import families, fibres
from recipes.words import one_line

LONGEST = {each.name: getattr(each, "max_length", None) for each in Person._meta.fields}
PERSONAL_FIELDS = ("name", "email", "phone", *ADDRESS_FIELDS, "note")


class NotAPerson(Refused):
    """Neither a name nor an e-mail address is said."""


class NotAnEmail(Refused):
    """The e-mail address is none."""


class EmailTaken(Refused):
    """Somebody else has this e-mail address; one e-mail address is one person."""

    def __init__(self, person: Person):
        self.person = person
        super().__init__(
            f"{person} ({person.code}) has this e-mail address already. Open that page, or write another address."
        )


class WasErased(Refused):
    """Somebody with this e-mail address asked to be erased."""


class NobodyMeant(Refused):
    """What was typed fits nobody, or more than one person."""


class AddressWrong(Refused):
    """An address that its country would not deliver; `faults` has a sentence for each field."""

    def __init__(self, faults: Mapping[str, str]):
        self.faults = dict(faults)
        super().__init__(" ".join(faults.values()))


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonFacts:
    """All that may be written down of a person."""

    name: str = ""
    email: str = ""
    kind: str = Person.Kind.PERSON
    phone: str = ""
    company: str = ""
    street: str = ""
    city_area: str = ""
    city: str = ""
    country_area: str = ""
    postcode: str = ""
    sorting_code: str = ""
    country: str = ""
    likes_families: Iterable[str] = field(default_factory=list)
    avoids_families: Iterable[str] = field(default_factory=list)
    avoids_fibres: Iterable[str] = field(default_factory=list)
    doubles: str = ""
    ships_apart: bool = False
    note: str = ""

    @classmethod
    def of(cls, person: Person) -> PersonFacts:
        """What is written down now."""
        return cls(**{each.name: getattr(person, each.name) for each in fields(cls)})


def living(people: QuerySet[Person] | None = None) -> QuerySet[Person]:
    """People who were neither erased nor joined to another."""
    everybody = Person.objects.all() if people is None else people
    return everybody.filter(merged_into=None, erased_at=None)


def person_by_email(email: str) -> Person | None:
    """The one person of an e-mail address, also where it was joined to another."""
    said = folded(email)
    if not said:
        return None
    found = Person.objects.filter(email=said).select_related("merged_into").first()
    return None if found is None else found.merged_into or found


def person_said(typed: str) -> Person:
    """The person meant by an e-mail address, a code or a whole name. Raises NobodyMeant."""
    words = one_line(typed)
    if not words:
        raise NobodyMeant("Write whom you mean: a name, an e-mail address or the person's code.")
    by_email = person_by_email(words)
    if by_email is not None:
        return by_email
    by_code = (
        Person.objects.filter(code=tidy(words)[:12], erased_at=None).select_related("merged_into").first()
    )
    if by_code is not None:
        return by_code.merged_into or by_code
    named = list(living().filter(name__iexact=words)[:2])
    if not named:
        raise NobodyMeant(
            f"Nobody is called “{words[:60]}”. Write the whole name, the e-mail address or the code."
        )
    if len(named) > 1:
        raise NobodyMeant(
            f"More than one person is called “{words[:60]}”. Write the e-mail address or the code."
        )
    return named[0]


@transaction.atomic
def add_person(*, facts: PersonFacts, came_back: bool = False, as_written: bool = False) -> Person:
    """Write somebody down. One e-mail address, whatever its case, is one person.

    An address need not be there, but one that is there is complete, unless it is taken `as_written` elsewhere and asked
    about later. Raises NotAPerson, NotAnEmail, EmailTaken,
    AddressWrong, and WasErased for somebody who asked to be erased, unless they came back of their own accord.
    """
    kept = _checked(facts, as_written=as_written)
    if kept["email"]:
        other = person_by_email(kept["email"])
        if other is not None:
            raise EmailTaken(other)
        if was_erased(kept["email"]):
            if not came_back:
                raise WasErased(
                    "Somebody with this e-mail address asked to be erased, and was. "
                    "Write them down again only if they came back themselves, and say so below."
                )
            unmark(kept["email"])
    try:
        with transaction.atomic():
            return Person.objects.create(code=take_code(), made_at=timezone.now(), **kept)
    except IntegrityError:
        taken = person_by_email(kept["email"])
        if taken is None:
            raise
        raise EmailTaken(taken) from None


@transaction.atomic
def change_person(*, person: Person, facts: PersonFacts, as_written: bool = False) -> Person:
    """Write down what is true now in place of what was. Raises as `add_person`, never for what stays as it was."""
    kept = _checked(facts, before=person, as_written=as_written)
    if kept["email"] and kept["email"] != person.email:
        other = person_by_email(kept["email"])
        if other is not None and other.pk != person.pk:
            raise EmailTaken(other)
        # An address of somebody joined to this person is theirs already; it moves to the page that is kept.
        Person.objects.filter(email=kept["email"], merged_into=person).exclude(name="").update(email="")
        if was_erased(kept["email"]):
            raise WasErased(
                "Somebody with this e-mail address asked to be erased, and was. Write another address."
            )
    for name, value in kept.items():
        setattr(person, name, value)
    person.save(update_fields=list(kept))
    return person


def _checked(facts: PersonFacts, *, before: Person | None = None, as_written: bool = False) -> dict[str, Any]:
    kept = _tidied(facts)
    if not kept["name"] and not kept["email"]:
        raise NotAPerson("Write a name or an e-mail address.")
    if kept["email"]:
        try:
            validate_email(kept["email"])
        except ValidationError:
            raise NotAnEmail("This is no e-mail address. It looks like ada@example.org.") from None
    said = {name: kept[name] for name in ADDRESS_FIELDS}
    as_before = before is not None and all(getattr(before, name) == value for name, value in said.items())
    written = any(value for name, value in said.items() if name not in ("country", "company"))
    if written and not as_before and not as_written:
        faults = address_faults(country=said["country"], said=said)
        if faults:
            raise AddressWrong(faults)
    return kept


def _tidied(facts: PersonFacts) -> dict[str, Any]:
    """Every fact as it is kept: lines tidied and no longer than their columns, lists in their own order."""
    kept: dict[str, Any] = {}
    for each in fields(PersonFacts):
        value = getattr(facts, each.name)
        if isinstance(value, str):
            value = one_line(value) if each.name != "street" else _lines(value)
            value = value[: LONGEST.get(each.name)]
        kept[each.name] = value
    kept["email"] = folded(facts.email)
    kept["country"] = facts.country.strip().upper()[:2]
    for name in ("likes_families", "avoids_families"):
        wanted = set(getattr(facts, name))
        kept[name] = [family.slug for family in families.FAMILIES if family.slug in wanted]
    kept["avoids_fibres"] = [fibre.slug for fibre in fibres.FIBRES if fibre.slug in set(facts.avoids_fibres)]
    kept["ships_apart"] = bool(facts.ships_apart)
    return kept


def _lines(typed: str) -> str:
    return "\n".join(line for line in map(one_line, typed.splitlines()) if line)
