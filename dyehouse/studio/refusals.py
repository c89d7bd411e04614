"""What the house declines to do, said so that it can be put right."""

from __future__ import annotations


class Refused(Exception):
    """Something cannot be done as asked. Its text is the sentence for the screen: what is wrong, what would be right."""
