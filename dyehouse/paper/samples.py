"""Invented words to try a design with."""

from __future__ import annotations

from dyehouse.paper.composition import Market, fibre_line
from dyehouse.paper.label_law import maker_line, must_stand
from dyehouse.paper.yarn_label import YarnLabel
from dyehouse.paper.yarn_words import care_words, origin_words
from dyehouse.studio.models import Studio

_SHARES = {"wool": 750, "nylon": 250}


def sample_label(studio: Studio, market: Market) -> YarnLabel:
    """A label with everything on it, in the studio's own name."""
    return YarnLabel(
        studio=studio.name or "Your studio",
        colourway="Slate after Rain",
        base="Harbour Sock",
        fibres=fibre_line(_SHARES, market).line,
        nominal_milligrams=100_000,
        metres=400,
        lot="K7M2X",
        qr="K7M2X",
        care=care_words(_SHARES, superwash=True),
        origin=origin_words(spun_in="PE", dyed_in=studio.country),
        maker=maker_line(studio, market).line,
        must=must_stand(studio, market),
    )
