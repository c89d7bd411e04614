"""What a yarn is made of, in the words that each market's law asks for.

Not legal advice: the rule applied is stated beside the line, and local law decides. Shares are whole tenths of a percent.
Sources: US 15 USC 68b and 16 CFR 300 and 303; EU Regulation (EU) No 1007/2011; UK SI 2012/1102 on the same regulation.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import Enum, StrEnum
from fractions import Fraction

from recipes.dyeing.fibres import BY_SLUG, Fibre
from recipes.dyeing.units import format_number

#: Sheep's wool and the hairs that 15 USC 68(b) counts as wool.
WOOL_OF_THE_ACT = frozenset({"wool", "mohair", "cashmere", "camel", "alpaca", "llama", "vicuna"})

US_NAMES = {
    "wool": "Wool",
    "alpaca": "Alpaca",
    "angora": "Angora Rabbit Hair",
    "camel": "Camel Hair",
    "cashmere": "Cashmere",
    "guanaco": "Guanaco Hair",
    "llama": "Llama",
    "mohair": "Mohair",
    "vicuna": "Vicuna",
    "yak": "Yak Hair",
    "silk": "Silk",
    "nylon": "Nylon",
    "cotton": "Cotton",
    "linen": "Linen",
    "hemp": "Hemp",
    "ramie": "Ramie",
    "viscose": "Rayon",
    "modal": "Modal",
    "lyocell": "Lyocell",
    "cupro": "Cupro",
    "acrylic": "Acrylic",
    "polyester": "Polyester",
    "elastane": "Spandex",
    "metallic": "Metallic",
}

#: What people write for a fibre that is no name of Annex I, and the name to write; and the second names that are.
_OTHER_WORDS = {
    "merino": "wool",
    "superwash": "wool",
    "superwash wool": "wool",
    "merino wool": "wool",
    "lambswool": "wool",
    "bluefaced": "wool",
    "bluefaced leicester": "wool",
    "corriedale": "wool",
    "shetland": "wool",
    "bamboo": "viscose",
    "rayon": "viscose",
    "spandex": "elastane",
    "tussah": "silk",
    "hemp": "hemp",
    "baby alpaca": "alpaca",
    "suri": "alpaca",
}
_SECOND_NAMES = {"polyamide": "nylon", "flax": "linen", "metallic": "metallic"}

# fmt: off
EU_COUNTRIES = frozenset(
    {
        "AT", "BE", "BG", "HR", "CY", "CZ", "DK", "EE", "FI", "FR", "DE", "GR", "HU", "IE",
        "IT", "LV", "LT", "LU", "MT", "NL", "PL", "PT", "RO", "SK", "SI", "ES", "SE",
    }
)
# fmt: on


class Market(Enum):
    """Where the yarn is sold, as far as it changes the label."""

    US = "us"
    EU = "eu"
    UK = "uk"
    OTHER = "other"


_NAMED = "Every fibre named as in Annex I with its share by weight, largest first."
_RULES = {
    Market.EU: (_NAMED, "Regulation (EU) No 1007/2011, Articles 5 and 9"),
    Market.UK: (_NAMED, "SI 2012/1102 on Regulation 1007/2011"),
    Market.OTHER: (
        "Every fibre named with its share, largest first. This country's own rule is not known to the house.",
        "Regulation (EU) No 1007/2011, used where no rule is known",
    ),
}


class CompositionError(ValueError):
    """A sentence about a composition: what is wrong and what would be right."""


class SharesDoNotSum(CompositionError):
    """The shares are not 100 % together."""


class OtherFibresRefused(CompositionError):
    """More of a yarn was to go under “other fibres” than the law lets."""


class OrnamentRefused(CompositionError):
    """More of a yarn was to be left out as decoration than the law lets."""


class TracesRefused(CompositionError):
    """More of a yarn was to be left out as unavoidable traces than the law lets."""


class NotAFibreName(CompositionError):
    """A word that no label may use for a fibre. `instead` is the slug of the fibre meant, where it is known."""

    def __init__(self, sentence: str, instead: str = "") -> None:
        super().__init__(sentence)
        self.instead = instead


@dataclass(frozen=True, slots=True)
class Composition:
    """The fibre line of a label, the rule that it follows and where that rule is from, for the screen."""

    line: str
    rule: str
    source: str


def market_of(country: str) -> Market:
    """The market of a two-letter country."""
    if country == "US":
        return Market.US
    if country == "GB":
        return Market.UK
    return Market.EU if country in EU_COUNTRIES else Market.OTHER


def fibre_from_name(typed: str) -> Fibre:
    """The fibre somebody named by a name of Annex I, as `wool`, `polyamide` or `true hemp`.

    Raises NotAFibreName for breeds, finishes, plants and brands, with the name to write instead where it is known.
    Source: Regulation (EU) No 1007/2011 Annex I.
    """
    word = " ".join(typed.lower().split())
    for fibre in BY_SLUG.values():
        if word in {fibre.name, fibre.slug} and fibre.slug not in _OTHER_WORDS:
            return fibre
    if word == BY_SLUG["hemp"].name:
        return BY_SLUG["hemp"]
    if word in _SECOND_NAMES:
        return BY_SLUG[_SECOND_NAMES[word]]
    if word in _OTHER_WORDS:
        instead = BY_SLUG[_OTHER_WORDS[word]]
        raise NotAFibreName(f"“{typed.strip()}” is not a fibre name. Write “{instead.name}”.", instead.slug)
    raise NotAFibreName(
        f"“{typed.strip()}” is not a fibre name. Write the plain name, for example wool, silk or nylon."
    )


def us_act(shares: Mapping[str, int]) -> str:
    """Which US act a yarn falls under: any wool at all makes it the Wool Act.

    Source: 15 USC 68(b), 68(d); 16 CFR 303.2(c).
    """
    if WOOL_OF_THE_ACT & shares.keys():
        return "Wool Act (16 CFR Part 300)"
    return "Textile Act (16 CFR Part 303)"


class Said(StrEnum):
    """How a label says one fibre of a yarn, where the law leaves a choice."""

    NAMED = "named"
    FUNCTION = "function"
    OTHER = "other"
    ORNAMENT = "ornament"
    TRACE = "trace"
    TRACE_CARDED = "trace_carded"


def fibre_line(
    shares: Mapping[str, int],
    market: Market,
    *,
    said: Mapping[str, str] | None = None,
) -> Composition:
    """The fibre line for a market from shares in tenths of a percent by fibre slug, largest first.

    `said` tells by fibre what its label does where the law leaves a choice (`Said`); fibres it does not name stand by their
    names. FUNCTION names a fibre under 5 % on a US label because it does something (elastane). OTHER groups what could not
    easily be stated when the yarn was made, on EU and UK labels. ORNAMENT leaves a visible decoration out, TRACE and
    TRACE_CARDED what came in unavoidably. Raises SharesDoNotSum, OtherFibresRefused, OrnamentRefused and TracesRefused.
    """
    check_shares(shares)
    how = {slug: Said((said or {}).get(slug, Said.NAMED)) for slug in shares}
    ornament = sum(shares[slug] for slug in shares if how[slug] is Said.ORNAMENT)
    _check_ornament(ornament, shares, market)
    left_out = {slug for slug in shares if how[slug] is Said.ORNAMENT}
    if market is not Market.US:
        traces = {slug for slug in shares if how[slug] in (Said.TRACE, Said.TRACE_CARDED)}
        _check_traces(
            sum(shares[slug] for slug in traces),
            carded=any(how[slug] is Said.TRACE_CARDED for slug in traces),
        )
        left_out |= traces
    shown = scaled({slug: share for slug, share in shares.items() if slug not in left_out})
    # Equal shares stand in the order of their names, so that the line is the same each time.
    by_weight = sorted(shown, key=lambda slug: (-shown[slug], slug))
    if market is Market.US:
        return _us_line(shown, by_weight, {slug for slug in shown if how[slug] is Said.FUNCTION}, ornament)
    grouped = [slug for slug in by_weight if how[slug] is Said.OTHER]
    parts = [(shown[slug], BY_SLUG[slug].name) for slug in by_weight if slug not in grouped]
    if grouped:
        parts.append((_grouped_share(shown, grouped), "other fibres"))
    if market is Market.UK:
        line = ", ".join(f"{name} {percent(share)}%" for share, name in parts)
    else:
        line = ", ".join(f"{percent(share)} % {name}" for share, name in parts)
    rule, source = _RULES[market]
    return Composition(_capital(line), rule, source)


def scaled(shares: Mapping[str, int]) -> dict[str, int]:
    """The shares of what is left, made 100 % again in whole tenths; the largest remainders are rounded up."""
    total = sum(shares.values())
    if total == 1000:
        return dict(shares)
    exact = {slug: Fraction(share * 1000, total) for slug, share in shares.items()}
    whole = {slug: int(share) for slug, share in exact.items()}
    short = 1000 - sum(whole.values())
    for slug in sorted(exact, key=lambda slug: (whole[slug] - exact[slug], slug))[:short]:
        whole[slug] += 1
    return whole


def _check_ornament(ornament: int, shares: Mapping[str, int], market: Market) -> None:
    """Source: 15 USC 68b(a)(2)(A) and 16 CFR 300.16 (5 %); Regulation (EU) No 1007/2011 Art. 10 (7 %)."""
    most = 50 if market is Market.US else 70
    if ornament > most:
        raise OrnamentRefused(
            f"{percent(ornament)} % is too much to leave out as decoration: {percent(most)} % is the most. "
            "Name these fibres."
        )
    if ornament == sum(shares.values()):
        raise OrnamentRefused("A yarn is not all decoration. Name its fibres.")


def _check_traces(traces: int, *, carded: bool) -> None:
    """Source: Regulation (EU) No 1007/2011 Art. 7(2), 20(2); the same in UK SI 1986/26 Sch. 1 para. 3."""
    most = 50 if carded else 20
    if traces > most:
        spun = "carded yarn" if carded else "yarn that is not carded"
        raise TracesRefused(
            f"{percent(traces)} % is too much for unavoidable traces: {percent(most)} % is the most in {spun}. "
            "Name these fibres."
        )


#: Points of the whole that a test may find more or less of a fibre, in tenths of a percent.
TOLERANCE = 30


def found_between(shares: Mapping[str, int], market: Market) -> dict[str, tuple[int, int]]:
    """Between which shares, in tenths of a percent, a laboratory may find each fibre; empty where there is no such rule.

    Source: Regulation (EU) No 1007/2011 Art. 20(3); US 16 CFR 303.43 from memory, for yarns of several fibres without wool
    only (the Wool Act names no number: 15 USC 68b).
    """
    if len(shares) < 2 or market is Market.OTHER or (market is Market.US and WOOL_OF_THE_ACT & shares.keys()):
        return {}
    return {slug: (max(0, share - TOLERANCE), min(1000, share + TOLERANCE)) for slug, share in shares.items()}


def _grouped_share(shares: Mapping[str, int], grouped: Collection[str]) -> int:
    """What goes under “other fibres”: one fibre up to 5 %, several up to 15 % together.

    Source: Regulation (EU) No 1007/2011 Art. 9(2), from memory.
    """
    together = sum(shares[slug] for slug in grouped)
    most = 50 if len(grouped) == 1 else 150
    if together > most:
        raise OtherFibresRefused(
            f"{percent(together)} % is too much for “other fibres”: {percent(most)} % is the most. Name these fibres."
        )
    return together


def check_shares(shares: Mapping[str, int]) -> None:
    """Whether the shares are above zero and sum to 100 %. Raises SharesDoNotSum. Source: Regulation 1007/2011, Art. 9(1)."""
    total = sum(shares.values())
    if total != 1000 or any(share <= 0 for share in shares.values()):
        raise SharesDoNotSum(
            f"The fibres come to {percent(total)} % together. Change the shares until they come to 100 %."
        )


def _us_line(
    shares: Mapping[str, int], by_weight: list[str], named_for_function: Collection[str], ornament: int
) -> Composition:
    # Wool has no 5 % threshold: 15 USC 68b(a)(2)(A).
    named = [
        slug
        for slug in by_weight
        if shares[slug] >= 50 or slug in WOOL_OF_THE_ACT or slug in named_for_function
    ]
    rest = [slug for slug in by_weight if slug not in named]
    parts = [f"{percent(shares[slug])}% {US_NAMES[slug]}" for slug in named]
    if rest:
        parts.append(
            f"{percent(sum(shares[slug] for slug in rest))}% Other {'Fibers' if len(rest) > 1 else 'Fiber'}"
        )
    line = ", ".join(parts)
    return Composition(
        f"{line} - Exclusive of Ornamentation" if ornament else line,
        f"{us_act(shares)}: every fibre of 5 % and more by name, wool always, the rest as other fiber, largest first.",
        "15 USC 68b(a)(2)(A); 16 CFR 303.3 and 303.42(a)" + ("; 16 CFR 300.16" if ornament else ""),
    )


def percent(per_mille: int) -> str:
    """Tenths of a percent as people write them: 725 is 72.5."""
    return format_number(Fraction(per_mille, 10), 1)


def _capital(line: str) -> str:
    """The line with its first letter large, where it begins with a letter."""
    return line[:1].upper() + line[1:]
