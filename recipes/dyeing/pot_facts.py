"""What one pot is like, in plain facts, and what can differ between two of them."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from enum import IntEnum
from fractions import Fraction

from recipes.dyeing.working import Source


class Severity(IntEnum):
    """How much a difference does: the greatest first when sorted downwards."""

    SMALL = 1
    SHIFTS = 2
    CHANGES = 3

    @property
    def words(self) -> str:
        return {1: "small", 2: "may shift the colour", 3: "changes the colour"}[self]


@dataclass(frozen=True, slots=True)
class DyeFacts:
    """One dye of a pot: its jar, and the bottle it was dosed from where it was."""

    name: str
    dye_class: str = "acid_unknown"
    jar: str | None = None
    strength_of_type_percent: int = 100
    bottle_age_days: int | None = None
    bottle_in_fridge: bool = False
    bottle_strength_mg_per_litre: int | None = None


@dataclass(frozen=True, slots=True)
class Water:
    """The studio's water: hardness and alkalinity in mg/L as CaCO3, pH in hundredths."""

    hardness_mg_per_litre: int | None = None
    alkalinity_mg_per_litre: int | None = None
    ph_hundredths: int | None = None


@dataclass(frozen=True, slots=True)
class PotFacts:
    """What one pot is like. None, or an empty text, is "not known"; of `bath_before` and `dyed_before` it is a fresh bath and undyed yarn."""

    base: str
    fibres: tuple[tuple[str, int], ...] = ()
    superwash: bool | None = None
    mill_lot: str | None = None
    dyes: tuple[DyeFacts, ...] = ()
    dry_milligrams: int | None = None
    pieces: int | None = None
    liquor_ratio: Decimal | Fraction | None = None
    bath_microlitres: int | None = None
    vessel: str | None = None
    hob_watts: int | None = None
    water: Water = field(default_factory=Water)
    presoak_minutes: int | None = None
    lay: str = ""
    bath_before: str = ""
    dyed_before: str = ""

    def per_mille(self, fibre: str) -> int:
        """The share of a fibre (slug) in tenths of a percent."""
        return dict(self.fibres).get(fibre, 0)

    @property
    def main_fibres(self) -> tuple[str, ...]:
        """Slugs, most of it first."""
        return tuple(slug for slug, _ in sorted(self.fibres, key=lambda part: -part[1]))


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that differs: how it was then, how it is now, and what that does."""

    severity: Severity
    what: str
    then: str
    now: str
    effect: str
    source: Source
