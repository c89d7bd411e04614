"""Fibres by name, and what a dyer must know of each: the names of Regulation (EU) No 1007/2011 Annex I used in yarn.

`kind` is what decides how a dye behaves: protein (wool, hair, silk), polyamide (dyes much as protein does), cellulose
(cotton, flax, viscose...) or synthetic (takes none of the dyes of this house).
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fibre:
    """One fibre: its slug in the database, its name on paper and its kind."""

    slug: str
    name: str
    kind: str


PROTEIN, POLYAMIDE, CELLULOSE, SYNTHETIC = "protein", "polyamide", "cellulose", "synthetic"

FIBRES: tuple[Fibre, ...] = (
    Fibre("wool", "wool", PROTEIN),
    Fibre("alpaca", "alpaca", PROTEIN),
    Fibre("angora", "angora", PROTEIN),
    Fibre("camel", "camel", PROTEIN),
    Fibre("cashmere", "cashmere", PROTEIN),
    Fibre("guanaco", "guanaco", PROTEIN),
    Fibre("llama", "llama", PROTEIN),
    Fibre("mohair", "mohair", PROTEIN),
    Fibre("vicuna", "vicuna", PROTEIN),
    Fibre("yak", "yak", PROTEIN),
    Fibre("silk", "silk", PROTEIN),
    Fibre("nylon", "nylon", POLYAMIDE),
    Fibre("cotton", "cotton", CELLULOSE),
    Fibre("linen", "linen", CELLULOSE),
    Fibre("hemp", "true hemp", CELLULOSE),
    Fibre("ramie", "ramie", CELLULOSE),
    Fibre("viscose", "viscose", CELLULOSE),
    Fibre("modal", "modal", CELLULOSE),
    Fibre("lyocell", "lyocell", CELLULOSE),
    Fibre("cupro", "cupro", CELLULOSE),
    Fibre("acrylic", "acrylic", SYNTHETIC),
    Fibre("polyester", "polyester", SYNTHETIC),
    Fibre("elastane", "elastane", SYNTHETIC),
    Fibre("metallic", "metallic fibre", SYNTHETIC),
)
BY_SLUG: dict[str, Fibre] = {fibre.slug: fibre for fibre in FIBRES}
