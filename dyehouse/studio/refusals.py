"""What the house says when something cannot be done."""

from __future__ import annotations


class Refused(Exception):
    """Nothing was changed. `str()` is the sentence for the screen: what is wrong, and what would be right."""
