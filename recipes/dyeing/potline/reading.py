"""What a line typed at the pot was read as, and the studio's own things that its names may mean."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

KnownKind = Literal["dye", "bottle", "jar", "auxiliary", "jug"]
Kind = Literal[
    "stock",
    "powder",
    "auxiliary",
    "water",
    "temperature",
    "ph",
    "heat",
    "exhausted",
    "technique",
    "repeat",
    "note",
]


@dataclass(frozen=True, slots=True)
class Known:
    """One of the studio's own things: a dye, a bottle of its stock, a jar of its powder, an auxiliary, a jug of mix.

    `form` says how an auxiliary is kept ("liquid", "powder", or "" when that is not known); `strength_percent` is the
    strength of a bottle, a jug or a liquid in % w/v.
    """

    kind: KnownKind
    id: int | str
    name: str
    other_names: tuple[str, ...] = ()
    form: Literal["liquid", "powder", ""] = ""
    strength_percent: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Reading:
    """One thing that a line says was done or seen.

    Amounts are whole microlitres or milligrams and only ever what was typed; an amount without a certain size ("3
    pinches", "1/2 tsp") is in `as_typed` alone. `name` is the name as typed; `match` and `match_kind` say which Known
    it is, None when that is not certain. `strength_percent` is the strength as typed. A `question` that is not empty
    is a sentence to show beside the reading. `technique` is a slug of recipes.dyeing.techniques: what the reading is of, or
    how an addition was put on.
    """

    kind: Kind
    text: str = ""
    question: str = ""
    clock: str = ""
    name: str = ""
    match: int | str | None = None
    match_kind: KnownKind | None = None
    matched_name: str = ""
    matched_strength_percent: Decimal | None = None
    microlitres: int | None = None
    milligrams: int | None = None
    strength_percent: str = ""
    jar_before_milligrams: int | None = None
    jar_after_milligrams: int | None = None
    as_typed: str = ""
    about: bool = False
    section: str = ""
    technique: str = ""
    seconds: int | None = None
    millimetres: int | None = None
    hanks: int | None = None
    celsius: Decimal | None = None
    ph: Decimal | None = None
    on: bool | None = None
    level: str = ""

    @property
    def is_addition(self) -> bool:
        """Whether something went into the bath."""
        return self.kind in ("stock", "powder", "auxiliary", "water")
