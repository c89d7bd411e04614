"""Which basis to propose for an addition when a pot becomes a way of dyeing, by what kind of thing it is.

The one published statement that draws the line most clearly gives dye, levellers and resist agents by the weight of the
fibre and salt and alkali by the litre, in the same recipe for cotton. On wool Glauber's salt is a retarder and goes by
the fibre.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from recipes.dyeing import sources
from recipes.dyeing.fibres import BY_SLUG, CELLULOSE
from recipes.dyeing.scaling import Basis
from recipes.dyeing.working import Source

_DYES_OF_CELLULOSE = frozenset({"cold_reactive", "other_reactive", "direct"})


@dataclass(frozen=True, slots=True)
class Proposal:
    """A basis to start from, why, and whose rule that is. `question` is asked where the kind does not decide it."""

    basis: Basis
    why: str
    source: Source
    question: str = ""


def on_cellulose(dye_class: str, fibres: Iterable[str]) -> bool | None:
    """Whether this dyeing is one on cotton, linen or viscose; None where neither fibre nor dye tells.

    `fibres` are slugs, most of it first; the first one decides.
    """
    for slug in fibres:
        if slug in BY_SLUG:
            return BY_SLUG[slug].kind == CELLULOSE
    if dye_class in _DYES_OF_CELLULOSE:
        return None
    return False


def propose_basis(
    kind: str,
    role: str = "",
    dye_class: str = "acid_unknown",
    fibre: str | Iterable[str] = (),
    *,
    spoon: bool = False,
    aims_at_reading: bool = False,
) -> Proposal:
    """The basis that the kind of an addition suggests.

    `kind` is dye, auxiliary, water, temperature, ph or heat; `role` acid, acid_donor, salt, leveller, wetting, alkali, buffer
    or other; `fibre` a slug or several, most of it first. `spoon` is an amount without a weight or volume;
    `aims_at_reading` an acid or alkali that was added until a pH was reached.
    """
    fibres = (fibre,) if isinstance(fibre, str) else tuple(fibre)
    if kind in {"temperature", "ph", "heat"}:
        return Proposal(
            Basis.READING,
            "Temperatures, times and pH stay the same whatever the load is.",
            sources.BROADBENT,
        )
    if spoon:
        return Proposal(
            Basis.POT,
            "A spoon, a pinch or drops have no certain weight, so the words are kept and the same is taken for every pot.",
            sources.DEFINITION,
            "Weigh it once to let it grow with the load.",
        )
    if kind == "dye":
        return Proposal(
            Basis.FIBRE, "Dye of every class goes by the weight of dry fibre.", sources.MAKER_QUANTITIES
        )
    if kind == "water":
        return Proposal(Basis.FIBRE, "The bath goes by dry fibre and liquor ratio.", sources.DEFINITION)
    if aims_at_reading and role in {"acid", "acid_donor", "alkali", "buffer"}:
        return Proposal(
            Basis.READING,
            "What is added until a pH is reached follows the meter: part of it meets the fibre, part the water.",
            sources.SHEET_MIXED,
        )
    return _by_role(role, on_cellulose(dye_class, fibres))


def _by_role(role: str, cellulose: bool | None) -> Proposal:
    if role == "acid":
        return Proposal(
            Basis.FIBRE,
            "Acid is published by the weight of fibre. Hard or alkaline water takes some more, by the litre.",
            sources.BROADBENT,
        )
    if role == "acid_donor":
        return Proposal(
            Basis.FIBRE,
            "Ammonium sulphate is published by the weight of fibre, 3 to 4 %.",
            sources.MAKER_MILLING,
            "One rule of thumb gives it by the gallon of bath instead. Which one did you follow?",
        )
    if role == "salt":
        if cellulose:
            return Proposal(
                Basis.BATH,
                "Salt on cotton, linen or viscose drives the dye out of the bath and goes by the litre.",
                sources.MAKER_COTTON,
            )
        if cellulose is None:
            return Proposal(
                Basis.BATH,
                "Salt with reactive or direct dye on cellulose goes by the litre; on wool it goes by the fibre.",
                sources.MAKER_COTTON,
                "The base's fibres are not known. Is this cotton, linen or viscose, or is it wool?",
            )
        return Proposal(
            Basis.FIBRE,
            "Glauber's salt on wool slows the dye and goes by the weight of fibre.",
            sources.BROADBENT,
        )
    if role == "leveller":
        return Proposal(
            Basis.FIBRE,
            "Levelling, resist and fixing agents go by the weight of fibre.",
            sources.MAKER_MILLING,
        )
    if role == "wetting":
        return Proposal(
            Basis.BATH, "Wetting agents and sequestrants go by the litre of bath.", sources.SHEET_COLD_ON_WOOL
        )
    if role == "alkali":
        return Proposal(
            Basis.BATH,
            "Soda ash and caustic go by the litre of bath, not by fibre or dye.",
            sources.MAKER_COTTON,
        )
    if role == "buffer":
        return Proposal(
            Basis.BATH, "Buffers such as sodium acetate go by the litre of bath.", sources.SHEET_MIXED
        )
    return Proposal(
        Basis.POT,
        "What it does is not known, so nothing is scaled until you say by what.",
        sources.DEFINITION,
        "Does it go by the fibre, by the litre of bath, by the piece, or is it the same in every pot?",
    )
