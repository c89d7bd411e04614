"""What a pot holds that its log does not put in: a strip beside the pieces, and what the bath held before."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from recipes.lots.models import LeftInBath, Pot
from recipes.models import Dye

#: The name of the log's entries on the bath before; what they say follows when it is changed.
EARLIER_BATH = "earlier bath"


@dataclass(frozen=True, slots=True)
class BathBefore:
    """The bath of an earlier pot that is used again: what that pot took by its log, and what was told to be left of it.

    `told` has the newest telling of each dye. Of a dye that nobody has told of, what is left is unknown.
    """

    pot: Pot
    took: Mapping[Dye, Fraction] = field(default_factory=dict)
    told: tuple[LeftInBath, ...] = ()
    microlitres: int | None = None

    @property
    def how_left(self) -> str:
        """Clear, tinted or coloured; empty while nobody has said."""
        return str(self.pot.get_bath_at_end_display())

    @property
    def unknown(self) -> list[Dye]:
        """The dyes of which nobody has said how much is left."""
        said = {left.dye_id for left in self.told}
        return [dye for dye in self.took if dye.pk not in said]

    @property
    def leaves_unknown(self) -> bool:
        """Whether it may hold more than was told: an untold dye, or what the bath before that one held."""
        return bool(self.unknown) or self.pot.bath_from_id is not None

    @property
    def holds_something(self) -> bool:
        """Whether dye is in it by what is known: told, or left tinted or coloured."""
        return any(left.micrograms for left in self.told) or self.pot.bath_at_end != Pot.Bath.CLEAR

    @property
    def words(self) -> str:
        """The bath of pot K7Q2M, left tinted."""
        left = f", left {self.how_left}" if self.how_left else ", still in work"
        return f"the bath of pot {self.pot.code}{left}"


@dataclass(frozen=True, slots=True)
class Beside:
    """A strip by its dry weight, and the bath before, where there are any."""

    strip_milligrams: int = 0
    bath: BathBefore | None = None


NOTHING_BESIDE = Beside()


def strip_beside(pot: Pot) -> Beside:
    """The strip alone, for lists in which nobody asks what a bath held before. No query."""
    return Beside(pot.strip_milligrams or 0)
