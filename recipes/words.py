"""Typed words as they are kept."""

from __future__ import annotations


def one_line(typed: str) -> str:
    """The typed words without spaces around them and with single spaces between them."""
    return " ".join(typed.split())
