"""What an auxiliary of the store is, told by its name and what it is kept for.

The tables name substances, the store names bottles and boxes. Where a name does not tell, nothing is guessed.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Substance:
    """A substance that the tables speak of: its slug and its name on the page."""

    slug: str
    name: str


SUBSTANCES: dict[str, Substance] = {
    each.slug: each
    for each in (
        Substance("acetic", "acetic acid, such as vinegar"),
        Substance("citric", "citric acid"),
        Substance("sulphuric", "sulphuric acid"),
        Substance("ammonium_sulphate", "ammonium sulphate"),
        Substance("glauber_crystals", "Glauber's salt"),
        Substance("glauber_anhydrous", "Glauber's salt without its water"),
        Substance("common_salt", "common salt"),
        Substance("exhausting_salt", "common or Glauber's salt"),
        Substance("leveller", "levelling agent"),
        Substance("resist", "resist agent for nylon"),
        Substance("fixing", "fixing agent, afterwards"),
        Substance("wetting", "wetting agent"),
        Substance("sodium_acetate", "sodium acetate"),
        Substance("phosphate", "disodium phosphate"),
        Substance("soda_ash", "soda ash"),
        Substance("washing_soda_crystals", "washing soda crystals"),
        Substance("caustic", "caustic soda of 50 %"),
    )
}

# The first row whose words all stand in the name tells.
_BY_NAME: tuple[tuple[tuple[str, ...], str], ...] = (
    (("vinegar",), "acetic"),
    (("acetic",), "acetic"),
    (("citric",), "citric"),
    (("sulphuric",), "sulphuric"),
    (("sulfuric",), "sulphuric"),
    (("ammonium", "sul"), "ammonium_sulphate"),
    (("glauber", "anhydrous"), "glauber_anhydrous"),
    (("sodium", "sul", "anhydrous"), "glauber_anhydrous"),
    (("glauber",), "glauber_crystals"),
    (("sodium", "acetate"), "sodium_acetate"),
    (("phosphate",), "phosphate"),
    (("washing soda",), "washing_soda_crystals"),
    (("soda ash",), "soda_ash"),
    (("sodium carbonate",), "soda_ash"),
    (("caustic",), "caustic"),
    (("resist",), "resist"),
    (("fix",), "fixing"),
)
_BY_ROLE = {"leveller": "leveller", "wetting": "wetting"}


def substance_of(name: str, role: str = "") -> str:
    """The slug of the substance that an auxiliary of this name and role is, or "" where neither tells.

    Common salt is only what is kept as a salt and is not called by another salt's name.
    """
    spelled = f" {name.casefold()} ".replace("_", " ")
    for words, slug in _BY_NAME:
        if all(word in spelled for word in words):
            return slug
    if "salt" in spelled and role == "salt":
        return "common_salt"
    return _BY_ROLE.get(role, "")


def serves_as(kept: str, wanted: str) -> bool:
    """Whether what is kept can be taken where a table names `wanted`: itself, one of two salts, another crystal form."""
    if kept == wanted:
        return True
    if wanted == "exhausting_salt":
        return kept in {"common_salt", "glauber_crystals"}
    return (kept, wanted) in {
        ("glauber_anhydrous", "glauber_crystals"),
        ("washing_soda_crystals", "soda_ash"),
    }
