"""What a market's law wants on the label of a yarn, beside the fibres: maker, batch, origin; and what of it is missing.

Not legal advice: the rule applied is stated with its source, and local law decides.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from dyehouse.paper.composition import EU_COUNTRIES, Market
from dyehouse.studio.maker import on_one_line
from dyehouse.studio.models import Studio

MARKET_WORDS: tuple[tuple[str, str], ...] = (
    (Market.US.value, "United States"),
    (Market.EU.value, "European Union"),
    (Market.UK.value, "United Kingdom"),
    (Market.OTHER.value, "another country"),
)

#: What must stand on a label by market, as the fields of YarnLabel. Fibres, lot and amounts stand on every label.
MUST: Mapping[Market, tuple[str, ...]] = {
    # 15 USC 68b(a)(2)(C), (D) and 16 CFR 303.16, 303.19 (detail from memory): maker and country.
    Market.US: ("origin", "studio"),
    # Regulation (EU) 2023/988 Art. 9, 16 and 19, from memory: name, postal and electronic address, batch.
    Market.EU: ("studio", "maker"),
    # SI 2012/1102 for the fibres; name, addresses and batch as in the EU (our choice, stricter than SI 2005/1803).
    Market.UK: ("studio", "maker"),
    Market.OTHER: (),
}

_ABOUT_MAKER: Mapping[Market, str] = {
    Market.US: (
        "The country where the yarn was made and where it was dyed, and the maker by name or registered number. "
        "Source: 15 USC 68b(a)(2); 16 CFR 300.5, 303.19, 303.20 and 303.33; details from memory."
    ),
    Market.EU: (
        "The maker’s name, postal and e-mail address, and the dye lot as the batch; in the language of each country where it "
        "is sold. Source: Regulation (EU) 2023/988 Art. 9, 16 and 19 and Regulation 1007/2011 Art. 15 and 16, from memory."
    ),
    Market.UK: (
        "The maker’s name and addresses and the dye lot as the batch, in English. "
        "Source: SI 2012/1102; General Product Safety Regulations 2005, from memory."
    ),
    Market.OTHER: "",
}


@dataclass(frozen=True, slots=True)
class MakerLine:
    """The maker's line of a label in a market, and a sentence for each thing that is not written down."""

    line: str
    missing: tuple[str, ...]


def maker_line(studio: Studio, market: Market) -> MakerLine:
    """How the studio is named below the fibres; its name stands above, on its own line."""
    address, answers = on_one_line(studio.postal_address), on_one_line(studio.responsible_in_eu)
    if market is Market.US:
        line = studio.identification_number or address
        missing = [] if line or studio.name else ["A US label names the maker by name or registered number."]
        return MakerLine(line, tuple(missing))
    parts = [part for part in (address, studio.email) if part]
    missing = []
    if market in (Market.EU, Market.UK):
        where = "An EU" if market is Market.EU else "A UK"
        if not address:
            missing.append(f"{where} label names the maker’s postal address, and none is written down.")
        if not studio.email:
            missing.append(f"{where} label names the maker’s e-mail address, and none is written down.")
    if market is Market.EU and studio.country and studio.country not in EU_COUNTRIES:
        if answers:
            parts.append(f"In the EU: {answers}")
        else:
            missing.append(
                "A maker outside the EU names somebody in the EU who answers for the yarn, and nobody is written down."
            )
    return MakerLine(", ".join(parts), tuple(missing))


def must_stand(studio: Studio, market: Market) -> tuple[str, ...]:
    """The parts of a label that a market's law wants beside fibres, lot and amounts.

    In the US the maker's name alone is enough, and so is a registered number.
    """
    if market is Market.US:
        return ("origin", "maker" if studio.identification_number else "studio")
    return MUST[market]


def about_maker(market: Market) -> str:
    """The rule about maker, batch and origin with its source, for the screen; empty where none is known."""
    return _ABOUT_MAKER[market]
