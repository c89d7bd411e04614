"""The classes of dye: at what pH and with what they go on, and how that depends on the fibre.

A class is a table's word, not the studio's own experience; every row names its source. Where the class or the pairing of
class and fibre has no published row here, that is said.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from recipes.dyeing import sources
from recipes.dyeing.fibres import BY_SLUG, CELLULOSE, POLYAMIDE, PROTEIN
from recipes.dyeing.working import Source


@dataclass(frozen=True, slots=True)
class DyeClass:
    """One class: its usual bath on wool, silk and nylon where it has one.

    pH is in hundredths, None where no figure is published here. `levelling` is how well it migrates, empty where no row says.
    """

    slug: str
    name: str
    ph_from_hundredths: int | None
    ph_to_hundredths: int | None
    acid: str
    levelling: str
    note: str
    source: Source

    @property
    def is_reactive(self) -> bool:
        return self.slug in {"cold_reactive", "other_reactive", "mixed_1_2_reactive"}

    @property
    def holds_metal(self) -> bool:
        return self.slug in {"premetallised_1_2", "mixed_1_2_reactive"}


DEFAULT_CLASS = "acid_unknown"

CLASSES: dict[str, DyeClass] = {
    each.slug: each
    for each in (
        DyeClass(
            "acid_unknown",
            "acid, class unknown",
            None,
            None,
            "acetic or citric acid, as its maker says",
            "",
            "Acid dyes of different classes want a pH anywhere from 2 to 7, so only the maker's sheet can say.",
            sources.BROADBENT,
        ),
        DyeClass(
            "levelling",
            "levelling acid",
            200,
            400,
            "sulphuric acid in the trade; a published hand-dyeing method takes acetic acid",
            "high",
            "It moves well and levels by itself; it washes poorly to fairly.",
            sources.BROADBENT,
        ),
        DyeClass(
            "fast_acid",
            "fast acid",
            400,
            600,
            "acetic acid",
            "moderate",
            "It levels moderately and washes well.",
            sources.BROADBENT,
        ),
        DyeClass(
            "milling",
            "milling acid",
            500,
            700,
            "acetic acid or ammonium sulphate",
            "low",
            "It hardly moves once it is on, so the rise must be slow. One textbook says never with Glauber's salt, one maker "
            "takes 5 %: follow the maker.",
            sources.BROADBENT,
        ),
        DyeClass(
            "super_milling",
            "super-milling acid",
            600,
            700,
            "ammonium sulphate",
            "very low",
            "It does not move once it is on, so the rise must be slow.",
            sources.BROADBENT,
        ),
        DyeClass(
            "premetallised_1_2",
            "1:2 premetallised",
            400,
            700,
            "ammonium sulphate or acetic acid; on nylon pH 6 to 6.5",
            "",
            "It holds chromium or cobalt as part of the dye.",
            sources.METAL_COMPLEX,
        ),
        DyeClass(
            "mixed_1_2_reactive",
            "mixed 1:2 + reactive",
            450,
            500,
            "acetic acid",
            "",
            "It goes on best at pH 4.5 and all but stops at 5.5. Sodium acetate holds a pH that drifts to 5 or above.",
            sources.BROADBENT,
        ),
        DyeClass(
            "cold_reactive",
            "cold reactive (dichlorotriazine)",
            None,
            None,
            "acetic acid on wool and silk; soda ash on cotton, linen and viscose",
            "",
            "On wool it is dyed as an acid dye.",
            sources.SHEET_COLD_ON_WOOL,
        ),
        DyeClass(
            "other_reactive",
            "other reactive",
            None,
            None,
            "soda ash, by the litre, on cotton, linen and viscose",
            "",
            "Types differ in their temperature and alkali: the maker's sheet decides.",
            sources.MAKER_COTTON,
        ),
        DyeClass(
            "direct",
            "direct",
            None,
            None,
            "none; salt, by the litre, on cotton, linen and viscose",
            "",
            "A quarter to a half of it stays in the bath, and the parts of a mixture go on unequally.",
            sources.BEECH,
        ),
        DyeClass(
            "other",
            "other",
            None,
            None,
            "as its maker says",
            "",
            "Nothing is known here of this class: the maker's sheet decides.",
            sources.DEFINITION,
        ),
    )
}

_ACID_ON_PROTEIN = frozenset(
    {
        "acid_unknown",
        "levelling",
        "fast_acid",
        "milling",
        "super_milling",
        "premetallised_1_2",
        "mixed_1_2_reactive",
    }
)


@dataclass(frozen=True, slots=True)
class Process:
    """How a dye of a class goes onto a fibre: with acid, alkali or salt, or `unknown` where nothing is published here."""

    kind: str
    sentence: str
    source: Source


def dyes_by_fibre(fibres: Iterable[str]) -> str:
    """protein, polyamide, cellulose or synthetic: the kind of the first known fibre of the slugs, most of it first; or ""."""
    for slug in fibres:
        if slug in BY_SLUG:
            return BY_SLUG[slug].kind
    return ""


def process_for(dye_class: str, fibres: Iterable[str]) -> Process:
    """The process of a class on a base: decided by the dye AND the fibre, since cold reactive dye on wool takes acid."""
    kind = dyes_by_fibre(fibres)
    takes_acid = kind in {PROTEIN, POLYAMIDE}
    if dye_class in _ACID_ON_PROTEIN and (takes_acid or not kind):
        return Process("acid", "It goes on with acid and heat.", CLASSES[dye_class].source)
    if dye_class == "cold_reactive" and kind == PROTEIN:
        return Process(
            "acid", "On wool and silk this dye takes acid and heat, not soda ash.", sources.SHEET_COLD_ON_WOOL
        )
    if dye_class in {"cold_reactive", "other_reactive"} and kind == CELLULOSE:
        return Process(
            "alkali",
            "On cotton, linen and viscose it takes salt and then soda ash, both by the litre of bath.",
            sources.MAKER_COTTON,
        )
    if dye_class == "direct" and kind == CELLULOSE:
        return Process("salt", "On cotton it takes heat and salt by the litre of bath.", sources.BEECH)
    return Process(
        "unknown",
        "There is no published process here for this dye on this fibre. Follow the dye maker's sheet and dye a sample.",
        sources.DEFINITION,
    )
