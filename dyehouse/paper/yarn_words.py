"""The words of a yarn label beside its fibres: weight and length in both units, care, origin, and names to beware of."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from fractions import Fraction

from dyehouse.paper.composition import Market
from dyehouse.paper.countries import COUNTRIES
from recipes.dyeing.fibres import BY_SLUG, CELLULOSE
from recipes.dyeing.units import format_number, from_milligrams, from_millimetres

CARE_SOURCE = "common practice, no source; skein yarn needs no care text in the US or the EU, but what is said must be true"

_MACHINE = "Machine wash cool, at most 30 °C, gentle cycle. Do not bleach. Dry flat. Do not tumble dry."
_HAND = "Hand wash cool, do not rub. Do not bleach. Squeeze in a towel, dry flat."
_SILK = "Hand wash cool with mild soap. Do not wring or bleach. Dry flat away from sun."
_PLANT = "Machine wash at 30 °C with like colours. Do not bleach. Dry flat or line dry."
_COLOUR = "Wash separately at first; colour may release."

_PLANT_FIBRES = frozenset({"cotton", "linen", "hemp", "ramie"})
_SUPERWASH_FIBRES = frozenset({"wool", "nylon", "polyester", "acrylic", "elastane", "metallic"})

#: Words that make a buyer think of a fibre, and the fibres that make them true.
_IMPLIES: dict[str, frozenset[str]] = {
    "wool": frozenset({"wool"}),
    "woolly": frozenset({"wool"}),
    "woollen": frozenset({"wool"}),
    "woolen": frozenset({"wool"}),
    "lambswool": frozenset({"wool"}),
    "merino": frozenset({"wool"}),
    "fleece": frozenset({"wool"}),
    "silk": frozenset({"silk"}),
    "silks": frozenset({"silk"}),
    "silky": frozenset({"silk"}),
    "silken": frozenset({"silk"}),
    "tussah": frozenset({"silk"}),
    "cashmere": frozenset({"cashmere"}),
    "mohair": frozenset({"mohair"}),
    "alpaca": frozenset({"alpaca"}),
    "suri": frozenset({"alpaca"}),
    "llama": frozenset({"llama"}),
    "angora": frozenset({"angora"}),
    "yak": frozenset({"yak"}),
    "camel": frozenset({"camel"}),
    "vicuna": frozenset({"vicuna"}),
    "vicuña": frozenset({"vicuna"}),
    "guanaco": frozenset({"guanaco"}),
    "cotton": frozenset({"cotton"}),
    "linen": frozenset({"linen"}),
    "flax": frozenset({"linen"}),
    "hemp": frozenset({"hemp"}),
    "ramie": frozenset({"ramie"}),
    "bamboo": frozenset({"viscose", "lyocell"}),
    "nylon": frozenset({"nylon"}),
}

_ALL_OF_IT = re.compile(r"\bpure\b|\b100\s?%", re.IGNORECASE)


def round_down_to_three_digits(number: Fraction) -> str:
    """The number with the digits beyond the first three significant ones dropped, never rounded up.

    Source: US Uniform Packaging and Labeling Regulation 6.13, from memory.
    """
    if number <= 0:
        return "0"
    places, scaled = 0, number
    while scaled < 100:
        scaled *= 10
        places += 1
    while scaled >= 1000:
        scaled /= 10
        places -= 1
    kept = int(scaled)
    if places <= 0:
        return str(kept * 10**-places)
    digits = str(kept).rjust(places + 1, "0")
    return f"{digits[:-places]}.{digits[-places:]}"


def weight_line(nominal_milligrams: int) -> str:
    """Grams with ounces beside them, the ounces rounded down: 100 g (3.52 oz)."""
    grams = format_number(Fraction(nominal_milligrams, 1000))
    return f"{grams} g ({round_down_to_three_digits(from_milligrams(nominal_milligrams, 'oz'))} oz)"


def length_line(metres: int) -> str:
    """Metres with yards beside them, the yards rounded down: 400 m (437 yd)."""
    return f"{metres} m ({round_down_to_three_digits(from_millimetres(metres * 1000, 'yd'))} yd)"


def care_words(shares: Mapping[str, int], *, superwash: bool | None) -> str:
    """How to wash it, in words, by its most delicate fibre. Unknown superwash counts as untreated.

    Words only: the care symbols are registered marks. Source: common practice, no source.
    """
    fibres = set(shares)
    if not fibres:
        words = _HAND
    elif "silk" in fibres:
        words = _SILK
    elif fibres <= _SUPERWASH_FIBRES and ("wool" not in fibres or superwash):
        words = _MACHINE
    elif fibres <= _PLANT_FIBRES | (_SUPERWASH_FIBRES - {"wool"}) and _mostly_cellulose(shares):
        words = _PLANT
    else:
        words = _HAND
    return f"{words} {_COLOUR}"


def _mostly_cellulose(shares: Mapping[str, int]) -> bool:
    return sum(share for slug, share in shares.items() if BY_SLUG[slug].kind == CELLULOSE) >= 500


def origin_words(*, spun_in: str, dyed_in: str) -> str:
    """Where the yarn was made and where it was dyed, by two-letter countries; empty where the second is unknown.

    Dyeing bought-in yarn does not make it of this country: both steps are named. Source: 16 CFR 303.33(a)(4), (b); the
    wording is our reading.
    """
    dyed, spun = COUNTRIES.get(dyed_in, ""), COUNTRIES.get(spun_in, "")
    if not dyed:
        return f"Yarn made in {spun}" if spun else ""
    if not spun:
        return f"Dyed in {dyed}"
    return f"Yarn made and dyed in {dyed}" if spun == dyed else f"Yarn made in {spun}, dyed in {dyed}"


def origin_notice(*, spun_in: str, market: Market) -> str:
    """What to tell the dyer when the country of the yarn is not known; empty where nothing is wanting."""
    if spun_in or market is not Market.US:
        return ""
    return (
        "The label does not say where the yarn was spun. A US label must name the country: "
        "write it with the base (16 CFR 303.33)."
    )


def implied_fibres(name: str) -> dict[str, frozenset[str]]:
    """The words of a name that make a buyer think of a fibre, with the fibres that would make them true."""
    words = re.findall(r"\w+", name.lower())
    return {word: _IMPLIES[word] for word in words if word in _IMPLIES}


def name_warnings(names: Iterable[str], shares: Mapping[str, int]) -> list[str]:
    """A sentence for each word in a colourway's or base's name that promises a fibre the yarn does not have.

    Also for “pure” and “100 %” in the name of a yarn of several fibres. Source: 16 CFR 300.24(a) and 300.17; Regulation (EU)
    No 1007/2011 Art. 16(2) and Art. 7.
    """
    found = []
    for name in names:
        if len(shares) > 1 and _ALL_OF_IT.search(name):
            found.append(
                f"“{name}” says that the yarn is all of one fibre, and it has {len(shares)}. Use another name on the label."
            )
        for word, fibres in implied_fibres(name).items():
            if not fibres & shares.keys():
                found.append(
                    f"“{name}” makes people think of {word}, and there is none in this yarn. "
                    "A label may not name a fibre that is not there: use another name on it."
                )
    return found
