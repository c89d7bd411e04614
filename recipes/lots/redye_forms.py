"""What is asked before a colourway is dyed again, with what the reference lot suggests."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.db.models import Exists, OuterRef

from dyehouse.studio.amounts import GramsField, ScaledField
from dyehouse.studio.keys import KeyField
from dyehouse.studio.models import Vessel
from dyehouse.studio.widgets import Stepper
from recipes.lots.models import PotLoad, ReferenceChoice
from recipes.lots.redye import RedyeAsk
from recipes.lots.today import pot_learned_from
from recipes.lots.untried import untried
from recipes.models import MillLot, PutUp, WayOfDyeing

MOST_PIECES = 500
USUAL_RATIO_TENTHS = 300
UNKNOWN = "unknown"


def ways_to_dye(colourway_code: str) -> list[WayOfDyeing]:
    """The ways of a colourway, with it: on the bases that have a lot to repeat first, of each base the newest first. One query."""
    chosen = ReferenceChoice.objects.filter(colourway=OuterRef("colourway"), base=OuterRef("base"))
    ways = WayOfDyeing.objects.filter(colourway__code=colourway_code).annotate(
        has_reference=Exists(chosen), untried=untried()
    )
    return list(ways.select_related("base", "colourway").order_by("-has_reference", "-pk"))


class RedyeForm(forms.Form):
    """How many of what, in which vessel, at which liquor ratio."""

    key = KeyField()
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
    put_up = forms.ChoiceField(label="Yarn", error_messages={"required": "Choose the yarn."})
    mill_lot = forms.ChoiceField(label="Mill lot", required=False)
    dry_weight = GramsField(label="Dry weight of one piece", required=False, most=5_000_000)
    vessel = forms.ChoiceField(label="Vessel", error_messages={"required": "Choose the vessel."})
    ratio = ScaledField(
        label="Liquor ratio",
        places=1,
        least=Decimal(1),
        most=Decimal(200),
        required=False,
        help_text="Litres of bath for each kilogram of dry yarn.",
    )

    def __init__(
        self,
        *args: Any,
        put_ups: Sequence[PutUp],
        vessels: Sequence[Vessel],
        mill_lots: Sequence[MillLot],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.put_ups = {str(each.pk): each for each in put_ups}
        self.vessels = {str(each.pk): each for each in vessels}
        self.mill_lots = list(mill_lots)
        self._choose("put_up", [(pk, str(each)) for pk, each in self.put_ups.items()])
        self._choose("vessel", [(pk, each.name) for pk, each in self.vessels.items()])
        self._choose(
            "mill_lot",
            [
                ("", "the newest in the store"),
                *((str(lot.pk), f"{lot.base.name}: {lot.number}") for lot in self.mill_lots),
                (UNKNOWN, "not known"),
            ],
        )

    def _choose(self, name: str, choices: list[tuple[str, str]]) -> None:
        chosen: forms.ChoiceField = self.fields[name]  # type: ignore[assignment]
        chosen.choices = choices

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        put_up = self.put_ups.get(cleaned.get("put_up", ""))
        if put_up is None or self.errors:
            return cleaned
        lots = [lot for lot in self.mill_lots if lot.base_id == put_up.base_id]
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
        put_up = self.put_ups[self.cleaned_data["put_up"]]
        return RedyeAsk(
            way=way,
            put_up=put_up,
            mill_lot=self.cleaned_data["lot"],
            pieces=self.cleaned_data["pieces"],
            piece_dry_milligrams=self.cleaned_data["dry_weight"] or put_up.nominal_milligrams,
            vessel=self.vessels[self.cleaned_data["vessel"]],
            liquor_ratio_tenths=self.cleaned_data["ratio"] or usual_ratio_tenths(way),
        )


def put_ups_in_use() -> list[PutUp]:
    """Every put-up that is still used, by base and weight. One query."""
    return list(
        PutUp.objects.filter(retired_at__isnull=True, base__retired_at__isnull=True)
        .select_related("base")
        .order_by("base__name", "-nominal_milligrams")
    )


def vessels_to_dye_in() -> list[Vessel]:
    """Pots and pans, the largest first. One query."""
    vessels = Vessel.objects.filter(retired_at__isnull=True).exclude(kind=Vessel.Kind.STEAMER)
    return list(vessels.order_by("-working_millilitres", "name"))


def usual_ratio_tenths(way: WayOfDyeing) -> int:
    """The liquor ratio of the pot that the way was learned from, else 30 to 1 (facts: 20 to 40 in an open pot)."""
    if way.bath_microlitres and way.dry_milligrams:
        return max(10, round(way.bath_microlitres * 10 / way.dry_milligrams))
    return USUAL_RATIO_TENTHS


def first_answers(*, way: WayOfDyeing, put_up: PutUp | None) -> dict[str, Any]:
    """What the page opens with: the pot's put-up and vessel that the way was learned from, ten pieces, its liquor ratio."""
    load = PotLoad.objects.filter(pot__in=pot_learned_from(way)).select_related("pot").order_by("id").first()
    return {
        "pieces": 10,
        "put_up": put_up.pk if put_up is not None else load.put_up_id if load is not None else None,
        "vessel": load.pot.vessel_id if load is not None else None,
        "ratio": usual_ratio_tenths(way),
    }
