"""Cautions by the class of the dye and what else goes into the bath: short sentences, each with its source.

They never replace the safety data sheet or the local rules, and the last one always says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from recipes.dyeing import sources
from recipes.dyeing.classes import CLASSES, process_for
from recipes.dyeing.working import Source


class Topic(StrEnum):
    """What a caution is about."""

    POWDER = "powder"
    ACID = "acid"
    ALKALI = "alkali"
    HEAT = "heat"
    VESSELS = "vessels"
    WASTE_WATER = "waste water"
    WHO_DECIDES = "who decides"


@dataclass(frozen=True, slots=True)
class Caution:
    """One sentence and whose it is."""

    topic: Topic
    sentence: str
    source: Source


_POWDER = (
    Caution(
        Topic.POWDER,
        "The greatest exposure is when powder is weighed and mixed: work where there is no draught, close the jar at once, and "
        "wear a respirator where dust cannot be kept down.",
        sources.HSE_LUNG,
    ),
    Caution(
        Topic.POWDER,
        "Wear gloves; no eating, drinking or smoking; wash skin with soap and water, never with bleach.",
        sources.SCHOOL_NOTES,
    ),
)
_ANY_DYE = Caution(
    Topic.POWDER,
    "Keep contact with every dye low: that no hazard is known does not mean that there is none.",
    sources.HSE,
)
_REACTIVE = (
    Caution(
        Topic.POWDER,
        "Some reactive dyes carry H334: may cause allergy or asthma symptoms or breathing difficulties if inhaled.",
        sources.CLP,
    ),
    Caution(
        Topic.POWDER,
        "Once somebody is sensitised, even a tiny amount of the same dye brings back asthma or a running nose.",
        sources.HSE,
    ),
    Caution(
        Topic.POWDER,
        "No test tells beforehand which reactive dye will sensitise, so treat all of them as if they did.",
        sources.HSE,
    ),
)
_METAL = (
    Caution(
        Topic.POWDER,
        "Premetallised dye holds chromium or cobalt as part of the dye itself.",
        sources.BROADBENT,
    ),
    Caution(
        Topic.WASTE_WATER,
        "A premetallised dye leaves some chromium or cobalt in the bath: use the bath up, and ask what the sewer may take.",
        sources.NOTE_PREMETALLISED,
    ),
)
_DIRECT = Caution(
    Topic.POWDER,
    "A small number of dyes made from benzidine are linked with cancer; use substitutes for them.",
    sources.HSE,
)
_ACID = (
    Caution(
        Topic.ACID,
        "Add acid to water, never water to acid; wear gloves and eye protection.",
        sources.SDS_IRRITANTS,
    ),
    Caution(
        Topic.ACID,
        "Vinegar of 5 % is of low hazard; stronger acetic acid is irritant from 10 % and corrosive from 25 %.",
        sources.ACID_LIMITS,
    ),
    Caution(Topic.ACID, "Citric acid irritates the eyes.", sources.SDS_IRRITANTS),
)
_ALKALI = Caution(
    Topic.ALKALI, "Soda ash solution is mildly caustic: gloves and eye protection.", sources.SDS_IRRITANTS
)
_HEAT = Caution(
    Topic.HEAT,
    "A hot bath scalds: at 66 °C in about 2 seconds, at 60 °C in 6, at 54 °C in 30.",
    sources.SCALDS,
)
_VESSELS = Caution(
    Topic.VESSELS,
    "Never cook in a dye pot and never use kitchen tools for dye. Take stainless steel or enamel; aluminium and cast iron may "
    "shift the colour.",
    sources.SHEET_COLD_ON_WOOL,
)
_WASTE = Caution(
    Topic.WASTE_WATER,
    "Keep salt and soda off the soil, make a large alkaline bath neutral first, and take care with a septic tank.",
    sources.DRAINS,
)
_DECIDES = Caution(
    Topic.WHO_DECIDES,
    "The safety data sheet of each product and the local sewer operator decide; nothing here replaces them.",
    sources.WHO_DECIDES,
)


def _to_come(classes: Sequence[str], fibres: Sequence[str]) -> tuple[bool, bool]:
    """Whether acid and whether alkali is to be expected: by dye and fibre, or by the dye alone where no fibre is known."""
    if not fibres:
        return (
            any(each not in {"direct", "other_reactive", "other", "cold_reactive"} for each in classes),
            any(each in {"cold_reactive", "other_reactive"} for each in classes),
        )
    processes = {process_for(each, [fibre]).kind for each in classes for fibre in fibres}
    return "acid" in processes, "alkali" in processes


def cautions(
    dye_classes: Iterable[str],
    roles: Iterable[str] = (),
    *,
    powder: bool = True,
    fibres: Iterable[str] = (),
) -> list[Caution]:
    """What to mind with these classes of dye and these roles of auxiliaries, the gravest first, who decides last.

    `powder` is False where only ready stock is used, which leaves the dust out but not what the dye itself is. `fibres` are
    slugs: with the dye they decide whether acid or alkali is to come, as long as neither is in.
    """
    known = [CLASSES[slug] for slug in dict.fromkeys(dye_classes) if slug in CLASSES]
    used = set(roles)
    found: list[Caution] = []
    if any(each.is_reactive for each in known):
        found.extend(_REACTIVE)
    if any(each.holds_metal for each in known):
        found.append(_METAL[0])
    if any(each.slug == "direct" for each in known):
        found.append(_DIRECT)
    if powder:
        found.extend(_POWDER)
    found.append(_ANY_DYE)
    takes_acid, takes_alkali = _to_come([each.slug for each in known], tuple(fibres))
    settled = bool(used & {"acid", "acid_donor", "alkali"}) or bool(used and not fibres)
    if "acid" in used or (takes_acid and not settled):
        found.extend(_ACID)
    if "alkali" in used or (takes_alkali and not settled):
        found.append(_ALKALI)
    found += [_HEAT, _VESSELS]
    if any(each.holds_metal for each in known):
        found.append(_METAL[1])
    return [*found, _WASTE, _DECIDES]
