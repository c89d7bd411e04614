"""Yarn and dye that is ordered: from whom, until when, and what has come of it."""
