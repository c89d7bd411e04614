"""Colour families: a few plain words to find colourways by, in the order in which they are shown."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from recipes.dyeing.working import DyeingError


@dataclass(frozen=True, slots=True)
class Family:
    """One family: its slug in the database and its name on screen and paper."""

    slug: str
    name: str


FAMILIES: tuple[Family, ...] = (
    Family("red", "red"),
    Family("orange", "orange"),
    Family("yellow", "yellow"),
    Family("green", "green"),
    Family("teal", "teal and turquoise"),
    Family("blue", "blue"),
    Family("violet", "violet"),
    Family("pink", "pink"),
    Family("brown", "brown"),
    Family("grey", "grey"),
    Family("black", "black"),
    Family("white", "white and natural"),
    Family("many", "multicoloured"),
)
BY_SLUG: dict[str, Family] = {family.slug: family for family in FAMILIES}


class NotAFamily(DyeingError):
    """A colour family that the list does not have."""


def in_order(slugs: Iterable[str]) -> list[str]:
    """The families of these slugs, each once, in the order of the list. Raises NotAFamily."""
    wanted = set(slugs)
    unknown = sorted(wanted - BY_SLUG.keys())
    if unknown:
        names = ", ".join(family.name for family in FAMILIES)
        raise NotAFamily(f"“{unknown[0]}” is not one of the colour families: {names}.")
    return [family.slug for family in FAMILIES if family.slug in wanted]


def family_names(slugs: Iterable[str]) -> list[str]:
    """The names of families in the order of the list; what the list does not have any more is left out."""
    wanted = set(slugs)
    return [family.name for family in FAMILIES if family.slug in wanted]


def family_called(word: str) -> str | None:
    """The slug of a family by its name, a part of its name, or its slug, however capitalised; None for another word."""
    said = " ".join(word.split()).casefold()
    for family in FAMILIES:
        if said in {family.slug, family.name, *family.name.split(" and ")}:
            return family.slug
    return {"gray": "grey", "purple": "violet", "turquoise": "teal", "multicolour": "many"}.get(said)
