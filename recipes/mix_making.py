"""What a mix that is being written down comes to: grams and strength a dye, the water, what to mind."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from recipes.dyeing.cautions import Caution, cautions
from recipes.dyeing.units import format_grams, format_millilitres
from recipes.mix_forms import MixForm, PartsOfMix
from recipes.mixes import DyeOfMix, Part, mix_best_before, reckon, without_a_life
from recipes.models import Dye
from recipes.stock_making import AT_THE_SCALE
from recipes.way_words import strength_words


@dataclass(frozen=True, slots=True)
class MixToMake:
    """What the form says so far, worked out. `dyes` is empty while the volume is missing.

    `water_microlitres` is what fills it up where all of it is poured from bottles; powder takes no room that is reckoned.
    """

    parts: list[Part]
    dyes: list[DyeOfMix]
    water_microlitres: int | None
    best_before: dt.date | None
    no_life: list[Dye]
    short: list[str]
    cautions: list[Caution]

    @property
    def beyond(self) -> list[str]:
        """What is stronger than stays dissolved, a sentence a dye."""
        return [each.beyond_dissolved for each in self.dyes if each.beyond_dissolved]


def mix_to_make(form: MixForm, rows: PartsOfMix) -> MixToMake:
    """Works out what the form says so far; what is missing or wrong in it is left out."""
    parts, volume = rows.parts, form.volume_microlitres
    poured = sum(part.microlitres for part in parts)
    classes = list(dict.fromkeys(part.dye.dye_class for part in parts))
    powder = any(part.jar is not None for part in parts)
    return MixToMake(
        parts=parts,
        dyes=reckon([(part.dye, part.dye_milligrams) for part in parts], volume) if volume else [],
        water_microlitres=volume - poured if volume and poured <= volume else None,
        best_before=mix_best_before(parts, form.day_made),
        no_life=without_a_life(parts),
        short=[_short(*row.short_of) for row in rows.forms if row.short_of is not None],
        cautions=[caution for caution in cautions(classes, powder=powder) if caution.topic in AT_THE_SCALE]
        if parts
        else [],
    )


def _short(part: Part, left: int) -> str:
    if part.jar is not None:
        return f"By the book {part.dye.name}, {part.jar.label}, has only {format_grams(left)}."
    assert part.bottle is not None
    strength = strength_words(part.bottle.strength_mg_per_litre)
    return f"By the book {part.dye.name} {strength} has only {format_millilitres(left)}."
