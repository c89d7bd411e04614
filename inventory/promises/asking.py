"""What a club or a round asks before it can go out well: addresses, avoided fibres and colours, bases, prepaid rounds."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from inventory.promises.addresses import address_faults_of, has_address
from inventory.promises.freezing import had
from inventory.promises.models import Membership, Person
from recipes.dyeing import fibres
from recipes.dyeing.families import family_names
from recipes.models import Base, BaseFibre, Colourway


@dataclass(frozen=True, slots=True)
class Question:
    """Something to settle about a membership: a sentence for the owner, and whether it is about the person's page."""

    membership: Membership
    words: str
    about_person: bool = False


@dataclass(frozen=True, slots=True)
class Gets:
    """A membership, the bases that its boxes come on, and the colourways that are settled for it."""

    membership: Membership
    bases: list[Base]
    colourways: list[Colourway]


def gets(membership: Membership, colourways: dict[int, Colourway]) -> Gets:
    """What a membership would get, read from its level; `colourways` are the round’s by number."""
    slots = sorted(membership.level.slots.all(), key=lambda slot: slot.position)
    bases = []
    for slot in slots:
        choices = [each.put_up.base for each in slot.put_ups.all()]
        bases += choices if len(choices) == 1 else [each for each in choices if each.pk == membership.base_id]
    settled = [colourways[slot.colourway_number] for slot in slots if slot.colourway_number in colourways]
    return Gets(membership, bases, settled)


def questions(of: Iterable[Gets]) -> list[Question]:
    """What is to be asked before these can go out well. One query at most."""
    all_of = list(of)
    of_base = _fibres_of_bases(all_of)
    asked = []
    for each in all_of:
        whom = each.membership.receiver
        asked += [
            Question(each.membership, words, about_person=True) for words in _of_address(each.membership)
        ]
        asked += [Question(each.membership, words) for words in _of_fibres(whom, each.bases, of_base)]
        asked += [Question(each.membership, words) for words in _of_colours(whom, each.colourways)]
    return asked


def prepaid_over(memberships: Iterable[Membership]) -> list[Question]:
    """Whose prepaid rounds are all had; read with `members_with_levels`. No query."""
    return [
        Question(each, f"The {each.prepaid_rounds} prepaid rounds are over: renew it, or end it.")
        for each in memberships
        if each.prepaid_rounds is not None and had(each) >= each.prepaid_rounds
    ]


def _of_address(membership: Membership) -> list[str]:
    whom = membership.receiver
    if not has_address(whom):
        if membership.is_gift:
            return ["A gift, and the receiver’s address is not known: ask the giver."]
        return ["No address yet."]
    return [
        f"The address would not be delivered: {fault}" for fault in list(address_faults_of(whom).values())[:1]
    ]


def _of_fibres(whom: Person, bases: Iterable[Base], of_base: dict[int, set[str]]) -> list[str]:
    words = []
    for base in bases:
        both = set(whom.avoids_fibres) & of_base.get(base.pk, set())
        if both:
            names = " and ".join(fibre.name for fibre in fibres.FIBRES if fibre.slug in both)
            words.append(f"Avoids {names}, and {base} has it: ask which base instead.")
    return list(dict.fromkeys(words))


def _of_colours(whom: Person, colourways: Iterable[Colourway]) -> list[str]:
    words = []
    for colourway in colourways:
        both = set(whom.avoids_families) & set(colourway.families)
        if both:
            words.append(
                f"Avoids {' and '.join(family_names(both))}, and {colourway} is of it: ask what instead."
            )
    return list(dict.fromkeys(words))


def _fibres_of_bases(of: Iterable[Gets]) -> dict[int, set[str]]:
    bases = {base.pk for each in of if each.membership.receiver.avoids_fibres for base in each.bases}
    found: dict[int, set[str]] = {}
    if bases:
        for base, fibre in BaseFibre.objects.filter(base__in=bases).values_list("base", "fibre"):
            found.setdefault(base, set()).add(fibre)
    return found
