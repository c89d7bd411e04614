"""Amounts as they are ordered and taken in: packs, or pieces and grams that are rounded up to packs, which is said."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from django import forms

from dyehouse.ledger.models import Item
from dyehouse.studio.amounts import MASS_WORDS, VOLUME_WORDS, AmountUnclear, read_amount
from dyehouse.studio.widgets import Amount
from inventory.allocation.reorder import saying
from recipes.dyeing.units import MASS_UNITS, VOLUME_UNITS, whole

PIECE_WORDS = dict.fromkeys(("piece", "pieces", "pc", "pcs", "skein", "skeins", "mini", "minis"), "piece")
PACK_WORDS = dict.fromkeys(("pack", "packs", "bag", "bags", "jar", "jars", "package", "packages"), "pack")
MOST = 10**12


@dataclass(frozen=True, slots=True)
class Packs:
    """So many packs, and what was asked for when that is less than they hold."""

    packs: int
    asked: int
    pack_quantity: int
    item: Item

    @property
    def rounded(self) -> bool:
        return self.asked < self.packs * self.pack_quantity

    @property
    def sentence(self) -> str:
        """What the rounding made of it: 35 pieces are 4 packs, 40 pieces."""
        say = saying(self.item.unit)
        packs = "1 pack" if self.packs == 1 else f"{self.packs} packs"
        return f"{self.item.name}: {say(self.asked)} are rounded up to {packs}, {say(self.packs * self.pack_quantity)}."


def read_quantity(typed: str, item: Item, *, plain: str) -> Fraction:
    """What was typed, in pieces, mg or µl; a bare number is in `plain`. Raises AmountUnclear."""
    kinds: dict[str, tuple[dict[str, str], dict[str, Fraction], str]] = {
        Item.Unit.PIECE: (PIECE_WORDS, {"piece": Fraction(1)}, "12 or 12 pieces"),
        Item.Unit.MILLIGRAM: (dict(MASS_WORDS), dict(MASS_UNITS), "250 g"),
        Item.Unit.MICROLITRE: (dict(VOLUME_WORDS), dict(VOLUME_UNITS), "500 ml"),
    }
    words, sizes, example = kinds[item.unit]
    return read_amount(typed, words=words, sizes=sizes, plain=plain, example=example)


def plain_unit(item: Item) -> str:
    """What a bare number of an item is in."""
    return {Item.Unit.PIECE: "piece", Item.Unit.MILLIGRAM: "g", Item.Unit.MICROLITRE: "ml"}[
        Item.Unit(item.unit)
    ]


class PacksField(forms.Field):
    """Packs of one thing: `4`, or `35 pieces`, `250 g`, rounded up to packs. Cleaned to Packs, None when empty or 0."""

    def __init__(self, *, item: Item, pack_quantity: int, most: int = 10_000, **kwargs: Any) -> None:
        kwargs.setdefault("widget", Amount("packs"))
        kwargs.setdefault("required", False)
        super().__init__(**kwargs)
        self.item, self.pack_quantity, self.most = item, pack_quantity, most

    def to_python(self, value: Any) -> Packs | None:
        typed = str(value or "").strip()
        if not typed:
            return None
        bare = typed.lower()
        for word in PACK_WORDS:
            bare = bare.removesuffix(word).strip() if bare.endswith(word) else bare
        if bare.isascii() and bare.isdecimal():
            packs = int(bare[:12])
            asked = packs * self.pack_quantity
        else:
            asked = self._amount(typed)
            packs = -(-asked // self.pack_quantity)
        if packs > self.most:
            raise forms.ValidationError(f"This is more than {self.most:,} packs. Check the number.")
        return Packs(packs, asked, self.pack_quantity, self.item) if packs else None

    def _amount(self, typed: str) -> int:
        example = {
            Item.Unit.PIECE: "35 pieces",
            Item.Unit.MILLIGRAM: "250 g",
            Item.Unit.MICROLITRE: "2 litres",
        }
        words = (
            f"Write how many packs, for example 4, or an amount such as {example[Item.Unit(self.item.unit)]}."
        )
        if not any(character.isalpha() for character in typed):
            raise forms.ValidationError(words)
        try:
            exact = read_quantity(typed, self.item, plain=plain_unit(self.item))
        except AmountUnclear:
            raise forms.ValidationError(words) from None
        if not 0 <= exact <= MOST:
            raise forms.ValidationError(words)
        return whole(exact)
