"""Labels, tags and cards to print in tests: all they need, and what each test changes."""

from __future__ import annotations

from decimal import Decimal

from dyehouse.paper.composition import Market, fibre_line
from dyehouse.paper.dye_card import CardAddition, Difference, DyeCard, HeatPoint, LayPart, StockToMix
from dyehouse.paper.wet_tag import WetTag
from dyehouse.paper.yarn_label import YarnLabel
from dyehouse.paper.yarn_words import care_words, origin_words

SOCK = {"wool": 750, "nylon": 250}
LONG_NAME = "The Long and Winding Road Down to the Old Slate Quarry in November Rain"


def label(**changes) -> YarnLabel:
    """A label with everything on it but a picture."""
    return YarnLabel(
        **{
            "studio": "Tern & Tansy Yarns",
            "colourway": "Low Tide at Dusk",
            "base": "Harbour Sock",
            "fibres": fibre_line(SOCK, Market.EU).line,
            "nominal_milligrams": 100_000,
            "metres": 400,
            "lot": "K7M2X",
            "qr": "K7M2X",
            "care": care_words(SOCK, superwash=True),
            "origin": origin_words(spun_in="PE", dyed_in="IE"),
            "maker": "4 Quay Street, Ballydun, Ireland",
            **changes,
        }
    )


def tag(**changes) -> WetTag:
    """A tag of a pot of five."""
    return WetTag(
        **{
            "code": "K7M2X",
            "colourway": "Low Tide at Dusk",
            "base": "Harbour Sock",
            "pieces": 5,
            "vessel": "Big pot",
            "date": "25 November 2026",
            **changes,
        }
    )


def card(**changes) -> DyeCard:
    """A card with every part of it."""
    return DyeCard(
        **{
            "studio": "Tern & Tansy Yarns",
            "code": "K7M2X",
            "colourway": "Low Tide at Dusk",
            "base": "Harbour Sock",
            "way": "way 3",
            "date": "25 November 2026",
            "pieces": 5,
            "dry_milligrams": 487_500,
            "vessel": "Big pot",
            "bath_microlitres": 10_000_000,
            "liquor_ratio": Decimal("20.5"),
            "additions": (
                CardAddition(
                    what="Slate blue", minute=5, microlitres=292_500, how="of the 1 % stock", note="0.6 %"
                ),
                CardAddition(what="Citric acid", minute=25, milligrams=9_750, how="weigh, dissolve first"),
                CardAddition(what="Black speckle", words="2 pinches"),
            ),
            "heat": (HeatPoint(0, 2_000), HeatPoint(65, 8_500), HeatPoint(105, 8_500), HeatPoint(165, 4_000)),
            "heat_note": "As the log of lot B3DAC shows.",
            "stocks": (StockToMix("Slate blue 1 %", 292_500, 120_000, "Mix 200 ml."),),
            "reference": "B3DAC",
            "differences": (Difference("Another mill lot.", "Dye one piece first."),),
            "presoak": "30 min",
            "cooling": "in the pot",
            "lay": (LayPart(60, "#3d5a73", "slate"), LayPart(40, "", "left undyed")),
            "lay_words": "Ties to the left.",
            "folded": True,
            "cautions": ("Weigh powder with a mask on.",),
            "workings": ("Slate blue: dry weight × depth / strength.",),
            **changes,
        }
    )
