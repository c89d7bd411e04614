"""Recipes from a notebook: written down as ways of dyeing that nobody has dyed by in this house yet."""
