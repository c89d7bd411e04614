"""What is asked for a card in one step: which colourway, on which yarn, how many, in which vessel."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from dyehouse.studio.models import User
from recipes.lots.nearest import WayOnBase, way_for
from recipes.lots.redye_forms import RedyeForm, ways_to_dye
from recipes.models import Colourway


def colourways_with_ways(user: User) -> list[tuple[str, str]]:
    """Code and name of each colourway that can be dyed again, by name; a secret one by its code. One query."""
    found = Colourway.objects.filter(ways__isnull=False, retired_at__isnull=True).distinct()
    named = [(each.code, each.shown_name(user)) for each in found]
    return sorted(named, key=lambda each: each[1].casefold())


class CardForm(RedyeForm):
    """A redye asked in four answers; mill lot, dry weight and liquor ratio are the usual ones."""

    colourway = forms.ChoiceField(
        label="Colourway",
        error_messages={
            "required": "Choose the colourway.",
            "invalid_choice": "There is no way of dyeing this colourway. Choose another one.",
        },
    )

    def __init__(self, *args: Any, colourways: Sequence[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._choose("colourway", list(colourways))
        for name in ("mill_lot", "dry_weight", "ratio"):
            del self.fields[name]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        return {**cleaned, "dry_weight": None, "ratio": None}

    def chosen_way(self) -> WayOnBase:
        """The way that the chosen yarn is dyed by: its own, else that of the nearest base."""
        base = self.put_ups[self.cleaned_data["put_up"]].base
        return way_for(ways_to_dye(self.cleaned_data["colourway"]), base)
