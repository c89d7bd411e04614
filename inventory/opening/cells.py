"""The cells of one row of opening stock: what the cells of any list have, and amounts, pieces and codes."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

from dyehouse.studio.amounts import MASS_WORDS, VOLUME_WORDS
from dyehouse.studio.codes import tidy
from inventory.opening.columns import BY_KEY, Kind
from recipes.dyeing.units import MASS_UNITS, VOLUME_UNITS, whole
from recipes.lists import cells

MOST_PIECES = 100_000
MOST_AMOUNT = 1_000_000_000
MOST_JAR_GRAMS = 50_000
LONGEST_CODE = 12
PIECE_WORDS = frozenset({"", "piece", "pieces", "skein", "skeins", "pcs"})
NAMES = {key: column.name for key, column in BY_KEY.items()}
_CODE = re.compile(r"[0-9A-Z]+")


@dataclass(slots=True)
class Cells(cells.Cells):
    """One row of opening stock."""

    names: Mapping[str, str] = field(default_factory=lambda: NAMES)

    def refuse_what_is_not_used(self, kind: Kind) -> None:
        """Note cells that are filled though such a row has none, and those that are empty though it needs them."""
        for key, column in BY_KEY.items():
            typed = self.typed(key)
            if typed and kind not in column.used:
                self.refuse(key, f"A row of {kind.value} has no {column.name}. Empty this cell.")
            elif not typed and kind in column.needed:
                self.refuse(key, f"A row of {kind.value} needs this: {column.means}.")

    def grams(self, column: str) -> int | None:
        """A weight in grams, as milligrams."""
        number = self.number(column, least=Decimal("0.001"), most=MOST_JAR_GRAMS)
        return None if number is None else int(number * 1000)

    def pieces(self) -> int | None:
        if self.typed("unit").casefold() not in PIECE_WORDS:
            self.refuse("unit", "Yarn is counted in pieces. Write pieces, or leave this empty.")
            return None
        return self.count("quantity", most=MOST_PIECES)

    def amount(self, *, mass: bool, volume: bool) -> tuple[int | None, bool]:
        """The quantity in milligrams or microlitres, and whether it is a volume; the unit says which."""
        unit = " ".join(self.typed("unit").casefold().replace(".", " ").split())
        # An ounce by itself weighs; liquids are measured in fluid ounces.
        as_mass, as_volume = MASS_WORDS.get(unit), None if unit in MASS_WORDS else VOLUME_WORDS.get(unit)
        sizes: Fraction
        if as_mass is not None and mass:
            sizes = MASS_UNITS[as_mass]
        elif as_volume is not None and volume:
            sizes = VOLUME_UNITS[as_volume]
        else:
            if unit:
                right = " or ".join(
                    [*(["g, kg, oz or lb"] if mass else []), *(["ml, l or fl oz"] if volume else [])]
                )
                self.refuse("unit", f"This is no unit for it. Write {right}.")
            return None, False
        number = self.number("quantity", least=Decimal("0.001"), most=MOST_AMOUNT)
        if number is None:
            return None, as_volume is not None
        small = whole(Fraction(number) * sizes)
        if not 1 <= small <= MOST_AMOUNT:
            self.refuse(
                "quantity",
                "This is less than a milligram or more than a tonne. Check the number and its unit.",
            )
            return None, as_volume is not None
        return small, as_volume is not None

    def code(self, column: str) -> str:
        """A dye lot's code as it is stored, of letters and figures."""
        typed = tidy(self.typed(column))
        if typed and (len(typed) > LONGEST_CODE or not _CODE.fullmatch(typed)):
            self.refuse(
                column,
                f"A dye lot's code has up to {LONGEST_CODE} letters A to Z and figures. Shorten it, or leave it empty.",
            )
            return ""
        return typed
