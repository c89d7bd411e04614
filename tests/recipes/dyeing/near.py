"""Comparing an exact figure with a published one that was rounded."""

from __future__ import annotations

from fractions import Fraction

from recipes.dyeing.working import Exact


def near(found: Exact, published: str, within: str) -> bool:
    """Whether a figure is at most so far from the published one."""
    return abs(Fraction(found) - Fraction(published)) <= Fraction(within)
