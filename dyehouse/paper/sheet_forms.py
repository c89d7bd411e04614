"""What is asked of a sheet that the studio measured itself, and how far the printer is out."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from dyehouse.paper.models import OwnSheet
from dyehouse.paper.sheets import MOST_OFFSET_UM, Offset, Sheet, SheetDoesNotFit, custom_sheet


class MillimetresField(forms.DecimalField):
    """A length in millimetres to a hundredth, with a comma or a point; micrometres once it is clean."""

    def __init__(self, *, least: Decimal = Decimal(0), most: int = 1_500, **kwargs: Any) -> None:
        self.least, self.most = least, most
        super().__init__(
            decimal_places=2,
            widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off", "class": "number"}),
            error_messages={
                "required": "Measure it and write it in millimetres, for example 63.5.",
                "invalid": "Write millimetres, for example 63.5.",
                "max_decimal_places": "Hundredths of a millimetre are enough.",
            },
            **kwargs,
        )

    def to_python(self, value: Any) -> Any:
        return super().to_python(value.replace(",", ".") if isinstance(value, str) else value)

    def clean(self, value: Any) -> int | None:
        millimetres = super().clean(value)
        if millimetres is None:
            return None
        if not self.least <= millimetres <= self.most:
            raise forms.ValidationError(f"Write between {self.least} and {self.most} mm.")
        return int(millimetres * 1000)


class OwnSheetForm(forms.Form):
    """A page of equal labels as it is measured with a ruler; a roll is one label a page."""

    name = forms.CharField(
        label="Name",
        max_length=60,
        error_messages={"required": "Give it a name, for example what its packet says."},
    )
    roll = forms.BooleanField(
        label="A roll: each label is a page",
        required=False,
        help_text="Then only the label’s own size counts.",
    )
    label_width = MillimetresField(label="Label, width", least=Decimal(10))
    label_height = MillimetresField(label="Label, height", least=Decimal(10))
    width = MillimetresField(label="Page, width", least=Decimal(10), required=False)
    height = MillimetresField(label="Page, height", least=Decimal(10), required=False)
    left = MillimetresField(
        label="Left margin", required=False, help_text="Empty: the labels stand in the middle."
    )
    top = MillimetresField(
        label="Top margin", required=False, help_text="Empty: the labels stand in the middle."
    )
    columns = forms.IntegerField(label="Labels across", min_value=1, max_value=40, required=False)
    rows = forms.IntegerField(label="Labels down", min_value=1, max_value=80, required=False)
    pitch_x = MillimetresField(
        label="From label to label, across",
        required=False,
        help_text="Left edge to left edge. Empty: no gap.",
    )
    pitch_y = MillimetresField(
        label="From label to label, down", required=False, help_text="Top edge to top edge. Empty: no gap."
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if self.errors:
            return cleaned
        if not cleaned["roll"]:
            for name, words in (
                ("width", "Measure the page and write its width in millimetres."),
                ("height", "Measure the page and write its height in millimetres."),
                ("columns", "Count the labels across."),
                ("rows", "Count the labels down."),
            ):
                if cleaned.get(name) is None:
                    self.add_error(name, words)
            if self.errors:
                return cleaned
        for pitch, length in (("pitch_x", "label_width"), ("pitch_y", "label_height")):
            if cleaned[pitch] is not None and cleaned[pitch] < cleaned[length]:
                self.add_error(
                    pitch, "This is less than a label, so the labels would overlap. Measure it again."
                )
        if self.errors:
            return cleaned
        try:
            self.sheet = self._measured(cleaned)
        except SheetDoesNotFit as error:
            self.add_error(
                error.field.removeprefix("gap_") if error.field in self.fields else None, str(error)
            )
        return cleaned

    def _measured(self, said: dict[str, Any]) -> Sheet:
        wide, high = said["label_width"], said["label_height"]
        if said["roll"]:
            return custom_sheet(
                name=said["name"], width_um=wide, height_um=high, columns=1, rows=1,
                label_width_um=wide, label_height_um=high,
            )  # fmt: skip
        return custom_sheet(
            name=said["name"],
            width_um=said["width"],
            height_um=said["height"],
            columns=said["columns"],
            rows=said["rows"],
            label_width_um=wide,
            label_height_um=high,
            gap_x_um=(said["pitch_x"] or wide) - wide,
            gap_y_um=(said["pitch_y"] or high) - high,
            left_um=said["left"],
            top_um=said["top"],
        )


def own_sheet_initial(row: OwnSheet) -> dict[str, Any]:
    """A sheet that was measured before, in millimetres."""

    def millimetres(um: int) -> str:
        return f"{Decimal(um) / 1000:f}"

    lengths = ("label_width", "label_height", "width", "height", "left", "top", "pitch_x", "pitch_y")
    return {
        "name": row.name,
        "columns": row.columns,
        "rows": row.rows,
        **{name: millimetres(getattr(row, f"{name}_um")) for name in lengths},
    }


class OffsetForm(forms.Form):
    """How far the printer is out on a sheet, in steps of half a millimetre."""

    x = forms.DecimalField(
        label="Printed too far left by",
        required=False,
        min_value=-MOST_OFFSET_UM // 1000,
        max_value=MOST_OFFSET_UM // 1000,
        decimal_places=1,
        help_text="Millimetres; below zero where it is too far right.",
    )
    y = forms.DecimalField(
        label="Printed too high by",
        required=False,
        min_value=-MOST_OFFSET_UM // 1000,
        max_value=MOST_OFFSET_UM // 1000,
        decimal_places=1,
        help_text="Millimetres; below zero where it is too low.",
    )

    @property
    def offset(self) -> Offset:
        return Offset(
            int((self.cleaned_data.get("x") or 0) * 1000), int((self.cleaned_data.get("y") or 0) * 1000)
        )
