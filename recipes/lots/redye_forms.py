"""What is asked before a colourway is dyed again, with what the reference lot suggests."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.db.models import Exists, OuterRef

from dyehouse.ledger.models import Balance
from dyehouse.studio.amounts import GramsField, ScaledField
from dyehouse.studio.models import Vessel
from dyehouse.studio.widgets import Stepper
from recipes.lots.models import Pot, RedyePlan
from recipes.lots.redye import RedyeAsk
from recipes.models import Base, Colourway, MillLot, PutUp, WayOfDyeing

MOST_PIECES = 500
USUAL_RATIO_TENTHS = 300
UNKNOWN = "unknown"


def way_for(*, colourway: Colourway, base: Base) -> WayOfDyeing | None:
    """The newest way of a colourway on a base; where it has none there, that of the base whose fibres are nearest."""
    ways = list(
        WayOfDyeing.objects.filter(colourway=colourway)
        .select_related("base", "colourway")
        .order_by("-number")
    )
    own = next((way for way in ways if way.base_id == base.pk), None)
    if own is not None or not ways:
        return own
    wanted = _shares(base)
    return min(ways, key=lambda way: (_distance(wanted, _shares(way.base)), -way.number))


def _shares(base: Base) -> dict[str, int]:
    return {row.fibre: row.per_mille for row in base.fibres.all()}


def _distance(one: dict[str, int], other: dict[str, int]) -> int:
    return sum(abs(one.get(fibre, 0) - other.get(fibre, 0)) for fibre in {*one, *other})


class RedyeForm(forms.Form):
    """How many of what, in which vessel, at which liquor ratio."""

    pieces = forms.IntegerField(
        label="Pieces",
        min_value=1,
        max_value=MOST_PIECES,
        widget=Stepper(attrs={"min": 1, "max": MOST_PIECES}),
        error_messages={
            "required": "Say how many pieces to dye.",
            "min_value": "At least 1 piece is dyed.",
            "max_value": f"More than {MOST_PIECES} pieces are not planned at once. Plan them in parts.",
        },
    )
    put_up = forms.ModelChoiceField(
        PutUp.objects.none(), label="Yarn", empty_label=None, error_messages={"required": "Choose the yarn."}
    )
    mill_lot = forms.ChoiceField(label="Mill lot", required=False)
    dry_weight = GramsField(label="Dry weight of one piece", required=False, most=5_000_000)
    vessel = forms.ModelChoiceField(
        Vessel.objects.none(),
        label="Vessel",
        empty_label=None,
        error_messages={"required": "Choose the vessel."},
    )
    ratio = ScaledField(
        label="Liquor ratio",
        places=1,
        least=Decimal(1),
        most=Decimal(200),
        required=False,
        help_text="Litres of bath for each kilogram of dry yarn.",
    )

    def __init__(self, *args: Any, colourway: Colourway, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.colourway = colourway
        put_ups: forms.ModelChoiceField = self.fields["put_up"]  # type: ignore[assignment]
        put_ups.queryset = (
            PutUp.objects.filter(retired_at__isnull=True)
            .select_related("base")
            .order_by("base__name", "-nominal_milligrams")
        )
        vessels: forms.ModelChoiceField = self.fields["vessel"]  # type: ignore[assignment]
        vessels.queryset = (
            Vessel.objects.filter(retired_at__isnull=True)
            .exclude(kind=Vessel.Kind.STEAMER)
            .order_by("-working_millilitres", "name")
        )
        lots: forms.ChoiceField = self.fields["mill_lot"]  # type: ignore[assignment]
        lots.choices = [
            ("", "the newest in the store"),
            *((str(lot.pk), f"{lot.base.name}: {lot.number}") for lot in mill_lots_in_store()),
            (UNKNOWN, "not known"),
        ]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        put_up: PutUp | None = cleaned.get("put_up")
        if put_up is None or self.errors:
            return cleaned
        lots = [lot for lot in mill_lots_in_store() if lot.base_id == put_up.base_id]
        wanted = cleaned.get("mill_lot") or ""
        if wanted == UNKNOWN:
            cleaned["lot"] = None
        elif wanted:
            chosen = next((lot for lot in lots if str(lot.pk) == wanted), None)
            if chosen is None:
                self.add_error("mill_lot", f"This lot is not of {put_up.base.name}. Choose one of its lots.")
            cleaned["lot"] = chosen
        else:
            cleaned["lot"] = lots[0] if lots else None
        return cleaned

    def ask(self, way: WayOfDyeing) -> RedyeAsk:
        """What was asked, with what was left empty filled in: the put-up's weight, the way's liquor ratio."""
        put_up: PutUp = self.cleaned_data["put_up"]
        return RedyeAsk(
            way=way,
            put_up=put_up,
            mill_lot=self.cleaned_data["lot"],
            pieces=self.cleaned_data["pieces"],
            piece_dry_milligrams=self.cleaned_data["dry_weight"] or put_up.nominal_milligrams,
            vessel=self.cleaned_data["vessel"],
            liquor_ratio_tenths=self.cleaned_data["ratio"] or usual_ratio_tenths(way),
        )


def mill_lots_in_store() -> Sequence[MillLot]:
    """The mill lots that still lie in the store, the newest first."""
    there = Balance.objects.filter(lot=OuterRef("lot"), place__code="store", on_hand__gt=0)
    return list(
        MillLot.objects.filter(Exists(there), unknown=False)
        .select_related("base")
        .order_by("base__name", "-id")
    )


def usual_ratio_tenths(way: WayOfDyeing) -> int:
    """The liquor ratio of the pot that the way was learned from, else 30 to 1 (facts: 20 to 40 in an open pot)."""
    if way.bath_microlitres and way.dry_milligrams:
        return max(10, round(way.bath_microlitres * 10 / way.dry_milligrams))
    return USUAL_RATIO_TENTHS


def first_answers(*, colourway: Colourway, way: WayOfDyeing, put_up: PutUp | None) -> dict[str, Any]:
    """What the page opens with: the reference pot's put-up and vessel, ten pieces, the way's liquor ratio."""
    last = RedyePlan.objects.filter(way__colourway=colourway).order_by("-id").first()
    origin = Pot.objects.filter(ways_learned__way=way).select_related("vessel").first()
    first_load = origin.loads.select_related("put_up").first() if origin is not None else None
    vessel = last.vessel if last is not None else origin.vessel if origin is not None else None
    chosen = put_up or (first_load.put_up if first_load is not None else None)
    return {
        "pieces": last.pieces if last is not None else 10,
        "put_up": chosen.pk if chosen is not None else None,
        "vessel": vessel.pk if vessel is not None else None,
        "ratio": usual_ratio_tenths(way),
    }
