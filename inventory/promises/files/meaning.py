"""What the words of a file mean here: which level, which base, which product. Told once per source, or the house's own names."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

from inventory.promises.files.rows import FileRow
from inventory.promises.models import ColumnMap, Level, Offer
from recipes.models import Base

Thing = TypeVar("Thing")


@dataclass(frozen=True, slots=True)
class Choice:
    """One thing of the house that a word may stand for."""

    value: str
    words: str


@dataclass(frozen=True, slots=True)
class UnknownWord:
    """A word of the file that is no name here: in which field, under which key it is told, and the likeliest meaning."""

    field: str
    key: str
    word: str
    likely: str


@dataclass(slots=True)
class Meanings:
    """All names of the house that a file may use, read once. Three queries."""

    told: Mapping[str, Mapping[str, str]]
    levels: dict[int, Level] = field(default_factory=dict)
    bases: dict[int, Base] = field(default_factory=dict)
    offers: dict[int, Offer] = field(default_factory=dict)
    level_put_ups: dict[int, list[set[int]]] = field(default_factory=dict)

    @classmethod
    def of(cls, column_map: ColumnMap) -> Meanings:
        """What is known for a source."""
        made = cls(told=column_map.words)
        if column_map.kind == ColumnMap.Kind.SIGN_UPS:
            levels = Level.objects.filter(retired_at=None, club__retired_at=None).select_related("club")
            for level in levels.prefetch_related("slots__put_ups__put_up").order_by(
                "club__name", "order", "pk"
            ):
                made.levels[level.pk] = level
                choices = [{each.put_up.base_id for each in slot.put_ups.all()} for slot in level.slots.all()]
                made.level_put_ups[level.pk] = [bases for bases in choices if len(bases) > 1]
            made.bases = {base.pk: base for base in Base.objects.filter(retired_at=None).order_by("name")}
        else:
            offers = Offer.objects.filter(retired_at=None, product__retired_at=None).select_related(
                "product", "kit"
            )
            made.offers = {offer.pk: offer for offer in offers.order_by("product__name", "name")}
        return made

    def level(self, row: FileRow) -> Level | UnknownWord:
        """The level of a sign-up."""
        key = _joined(row.club, row.level)
        told = self._told("level", key, self.levels)
        if told is not None:
            return told
        named = [
            level
            for level in self.levels.values()
            if level.name.casefold() == row.level.casefold()
            and (not row.club or level.club.name.casefold() == row.club.casefold())
        ]
        if len(named) == 1:
            return named[0]
        return self._unknown("level", key, " / ".join(filter(None, (row.club, row.level))))

    def base(self, row: FileRow) -> Base | UnknownWord | None:
        """The base that a sign-up chose; None where none is named."""
        if not row.base:
            return None
        key = row.base.casefold()
        told = self._told("base", key, self.bases)
        if told is not None:
            return told
        named = next((base for base in self.bases.values() if base.name.casefold() == key), None)
        return named or self._unknown("base", key, row.base)

    def offer(self, row: FileRow) -> Offer | UnknownWord:
        """What a line of an order is of."""
        key = _joined(row.product, row.base)
        told = self._told("product", key, self.offers)
        if told is not None:
            return told
        of_product = [
            offer for offer in self.offers.values() if offer.product.name.casefold() == row.product.casefold()
        ]
        named = [offer for offer in of_product if offer.name.casefold() == row.base.casefold()]
        if len(named) == 1:
            return named[0]
        if len(of_product) == 1 and not row.base:
            return of_product[0]
        return self._unknown("product", key, " / ".join(filter(None, (row.product, row.base))))

    def choices(self, field: str) -> list[Choice]:
        """What a word of a field may stand for, as the page offers it."""
        if field == "level":
            return [Choice(str(pk), f"{level.club}: {level}") for pk, level in self.levels.items()]
        if field == "base":
            return [Choice(str(pk), base.name) for pk, base in self.bases.items()]
        return [Choice(str(pk), str(offer)) for pk, offer in self.offers.items()]

    def wrong_base(self, level: Level, base: Base | None) -> str:
        """Why a base cannot be had at a level; empty where it can."""
        choices = self.level_put_ups.get(level.pk, [])
        common = set.intersection(*choices) if choices else set()
        if not common or (base is not None and base.pk in common):
            return ""
        names = ", ".join(sorted(self.bases[pk].name for pk in common if pk in self.bases))
        return f"{level} comes on {names}. Write one of them as the base."

    def _told(self, field: str, key: str, things: Mapping[int, Thing]) -> Thing | None:
        value = self.told.get(field, {}).get(key, "")
        return things.get(int(value)) if value.isdigit() else None

    def _unknown(self, field: str, key: str, word: str) -> UnknownWord:
        choices = {choice.words.casefold(): choice.value for choice in self.choices(field)}
        likely = difflib.get_close_matches(
            word.replace(" / ", ": ").casefold(), list(choices), n=1, cutoff=0.6
        )
        return UnknownWord(field, key, word, choices[likely[0]] if likely else "")


def _joined(*words: str) -> str:
    return "/".join(word.casefold() for word in words)


def unknown_words(found: Sequence[UnknownWord]) -> list[UnknownWord]:
    """Each unknown word once, in the order of the file."""
    return list(dict.fromkeys(found))
