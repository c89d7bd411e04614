"""What is asked on the page of what is usual with a dye: on which fibre, how deep, for how much."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms

from dyehouse.studio.amounts import GramsField, LitresField, ScaledField
from recipes.dyeing.usual import Fibres, words_of_fibres
from recipes.lots.in_store import fibres_of
from recipes.models import Base


@dataclass(frozen=True, slots=True)
class OnFibre:
    """A fibre, or a base of the studio, that a dye may go on."""

    slug: str
    name: str
    fibres: Fibres
    superwash: bool | None = None


_FIBRES = (
    OnFibre("wool", "wool", (("wool", 1000),), superwash=False),
    OnFibre("superwash", "superwash wool", (("wool", 1000),), superwash=True),
    OnFibre(
        "sock", "superwash wool with a quarter of nylon", (("wool", 750), ("nylon", 250)), superwash=True
    ),
    OnFibre("silk", "silk", (("silk", 1000),)),
    OnFibre("mohair", "mohair", (("mohair", 1000),)),
    OnFibre("nylon", "nylon", (("nylon", 1000),)),
    OnFibre("cotton", "cotton", (("cotton", 1000),)),
    OnFibre("linen", "linen", (("linen", 1000),)),
    OnFibre("viscose", "viscose", (("viscose", 1000),)),
    OnFibre("wool-cotton", "half wool, half cotton", (("wool", 500), ("cotton", 500)), superwash=False),
)


def fibres_to_choose() -> list[OnFibre]:
    """Plain fibres and the usual blends, then the studio's own bases whose fibres are known. Two queries."""
    bases = list(Base.objects.filter(retired_at__isnull=True).order_by("name"))
    fibres = fibres_of(base.pk for base in bases)
    own = [
        OnFibre(
            f"base-{base.pk}",
            f"{base.name}: {words_of_fibres(fibres[base.pk])}",
            fibres[base.pk],
            base.superwash,
        )
        for base in bases
        if base.pk in fibres
    ]
    return [*_FIBRES, *own]


class UsualForm(forms.Form):
    """Nothing but the fibre must be said; amounts are reckoned for what else is."""

    on = forms.ChoiceField(label="With", error_messages={"invalid_choice": "Choose a fibre from the list."})
    depth = ScaledField(label="Depth", places=3, most=Decimal(20), required=False, unit="%")
    dry_weight = GramsField(label="Dry weight", required=False, most=50_000_000)
    bath = LitresField(label="Bath", required=False, most=500_000)

    def __init__(self, *args: Any, choices: Sequence[OnFibre], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: forms.ChoiceField = self.fields["on"]  # type: ignore[assignment]
        field.choices = [(each.slug, each.name) for each in choices]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        depth, litres = cleaned.get("depth"), cleaned.get("bath")
        cleaned["percent"] = Fraction(depth, 1000) if depth else None
        cleaned["bath_microlitres"] = litres * 1000 if litres else None
        return cleaned
