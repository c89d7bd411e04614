"""Moisture: regain, content and commercial mass, by a table that every result names.

The European and the American figure for wool differ by a third (18.25 or 17.00 against 13.6), so a commercial mass without
its table means nothing. A commercial figure is an agreed trading value, not what a skein holds today.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from recipes.dyeing import sources
from recipes.dyeing.fibres import BY_SLUG
from recipes.dyeing.units import format_grams, format_number, format_percent
from recipes.dyeing.working import (
    DyeingError,
    Exact,
    Figure,
    Source,
    Working,
    above_zero,
    exact,
    not_negative,
)


class Table(StrEnum):
    """Whose commercial regains are used."""

    EU = "eu"
    US = "us"

    @property
    def full_name(self) -> str:
        return {
            Table.EU: "Regulation (EU) No 1007/2011, Annex IX",
            Table.US: "ASTM D1909-13",
        }[self]


class RegainUnknown(DyeingError):
    """The table has no figure for this fibre in this form."""


@dataclass(frozen=True, slots=True)
class Allowance:
    """A commercial regain in percent of dry mass, and where it stands."""

    percent: Decimal
    fibre: str
    form: str
    table: Table
    source: Source


_HAIR = ("alpaca", "angora", "camel", "cashmere", "guanaco", "llama", "mohair", "vicuna", "yak")

# The first form of a fibre is the one taken when nobody says. For wool and hair that is "carded": the annex gives it where it
# cannot be told whether a product is combed (its footnote, from memory).
_EU: dict[str, dict[str, str]] = {
    **{fibre: {"carded": "17.00", "combed": "18.25"} for fibre in ("wool", *_HAIR)},
    "silk": {"": "11.00"},
    "cotton": {"normal": "8.50", "mercerised": "10.50"},
    "linen": {"": "12.00"},
    "hemp": {"": "12.00"},
    "ramie": {"bleached": "8.50"},
    "cupro": {"": "13.00"},
    "modal": {"": "13.00"},
    "viscose": {"": "13.00"},
    "lyocell": {"": "13.00"},
    "acrylic": {"": "2.00"},
    "nylon": {"staple": "6.25", "filament": "5.75"},
    "polyester": {"": "1.50"},
    "elastane": {"": "1.50"},
    "metallic": {"": "2.00"},
}
_US: dict[str, str] = {"cotton": "8.5", "linen": "12", "hemp": "12", "silk": "11", "wool": "13.6"}
_US_FROM_MEMORY: dict[str, str] = {"nylon": "4.5", "acrylic": "1.5", "polyester": "0.4", "viscose": "11.0"}


def allowance(fibre: str, *, form: str = "", table: Table = Table.EU) -> Allowance:
    """The commercial regain of a fibre (its slug), in the form said or else the usual one. Raises RegainUnknown."""
    name = BY_SLUG[fibre].name if fibre in BY_SLUG else fibre
    if table is Table.US:
        for rows, source in ((_US, sources.D1909), (_US_FROM_MEMORY, sources.D1909_MEMORY)):
            if fibre in rows:
                return Allowance(Decimal(rows[fibre]), fibre, "", table, source)
        raise RegainUnknown(f"{table.full_name} has no figure here for {name}.")
    forms = _EU.get(fibre)
    if forms is None:
        raise RegainUnknown(f"{table.full_name} has no figure here for {name}.")
    chosen = form or next(iter(forms))
    if chosen not in forms:
        if set(forms) == {""}:
            chosen = ""
        else:
            raise RegainUnknown(f"{table.full_name} knows {name} as {' or '.join(forms)}, not as {form}.")
    return Allowance(Decimal(forms[chosen]), fibre, chosen, table, sources.REGULATION_1007)


def content_percent(regain_percent: Exact) -> Figure[Fraction]:
    """Moisture content in percent of the moist mass from regain in percent of the dry: C = R ÷ (1 + R/100)."""
    regain = not_negative(regain_percent, "A regain cannot be below 0 %.")
    content = regain / (1 + regain / 100)
    return Figure(
        content,
        Working(
            title="Moisture content",
            formula="regain ÷ (1 + regain ÷ 100)",
            substitution=f"{format_number(regain)} ÷ (1 + {format_number(regain)} ÷ 100)",
            result=format_percent(content),
            source=sources.DEFINITION,
        ),
    )


def dry_milligrams(*, observed_milligrams: Exact, regain_percent: Exact) -> Figure[Fraction]:
    """The oven-dry mass of yarn that was weighed holding so much moisture."""
    observed = not_negative(observed_milligrams, "A weight cannot be below zero.")
    regain = not_negative(regain_percent, "A regain cannot be below 0 %.")
    dry = observed * 100 / (100 + regain)
    return Figure(
        dry,
        Working(
            title="Oven-dry mass",
            formula="mass weighed × 100 ÷ (100 + regain)",
            substitution=f"{format_grams(observed)} × 100 ÷ (100 + {format_number(regain)})",
            result=format_grams(dry),
            source=sources.DEFINITION,
        ),
    )


def commercial_milligrams(
    *,
    milligrams: Exact,
    fibre: str,
    form: str = "",
    table: Table = Table.EU,
    observed_regain_percent: Exact = 0,
) -> Figure[Fraction]:
    """Commercial mass from a mass at the regain it had (0 for oven-dry): m × (100 + R) ÷ (100 + R observed).

    The working names the table. Raises RegainUnknown.
    """
    agreed = allowance(fibre, form=form, table=table)
    observed = not_negative(observed_regain_percent, "A regain cannot be below 0 %.")
    mass = not_negative(milligrams, "A weight cannot be below zero.")
    commercial = mass * (100 + exact(agreed.percent)) / (100 + observed)
    described = " ".join(part for part in (agreed.form, BY_SLUG[fibre].name) if part)
    return Figure(
        commercial,
        Working(
            title=f"Commercial mass of {described} by {table.full_name}",
            formula="mass × (100 + agreed regain) ÷ (100 + regain when weighed)",
            substitution=(
                f"{format_grams(mass)} × (100 + {format_number(agreed.percent)}) ÷ (100 + {format_number(observed)})"
            ),
            result=format_grams(commercial),
            source=agreed.source,
        ),
    )


def blend_percent(
    dry: Mapping[tuple[str, str], Exact], *, table: Table = Table.EU
) -> Figure[dict[tuple[str, str], Fraction]]:
    """The shares of a blend with agreed allowances, from dry masses or dry percentages by (fibre, form)."""
    agreed = {part: allowance(part[0], form=part[1], table=table) for part in dry}
    masses = {
        part: not_negative(amount, "A share cannot be below zero.") * (100 + exact(agreed[part].percent))
        for part, amount in dry.items()
    }
    total = above_zero(sum(masses.values(), Fraction(0)), "A blend needs at least one fibre.")
    shares = {part: mass / total * 100 for part, mass in masses.items()}
    return Figure(
        shares,
        Working(
            title=f"Blend with the allowances of {table.full_name}",
            formula="dry share × (100 + agreed regain), each over their sum",
            substitution=" : ".join(f"{format_number(mass / 100, 2)}" for mass in masses.values()),
            result=" / ".join(format_percent(share) for share in shares.values()),
            source=next(
                (each.source for each in agreed.values() if each.source.from_memory),
                next(iter(agreed.values())).source,
            ),
        ),
    )
