"""What is asked before labels or tags are printed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from dyehouse.paper.labelling import Labelled
from dyehouse.paper.sheets import MOST_OFFSET_UM, Offset, Sheet, sheet_named, sheets_for_choice
from dyehouse.studio.keys import KeyField
from dyehouse.studio.widgets import Stepper

MOST_COPIES = 200


class SheetForm(forms.Form):
    """Which sheet, from which label on, and how far the printer is out."""

    key = KeyField()
    sheet = forms.ChoiceField(label="Sheet")
    start_at = forms.IntegerField(
        label="First label to use",
        min_value=1,
        initial=1,
        widget=Stepper(attrs={"min": 1}),
        help_text="Counted along the rows from the top left, so that a begun sheet can be used up.",
        error_messages={"min_value": "The first label is number 1."},
    )
    offset_x = forms.DecimalField(
        label="Printed too far left by",
        required=False,
        min_value=-MOST_OFFSET_UM // 1000,
        max_value=MOST_OFFSET_UM // 1000,
        decimal_places=1,
        help_text="Millimetres; below zero where it is too far right.",
    )
    offset_y = forms.DecimalField(
        label="Printed too high by",
        required=False,
        min_value=-MOST_OFFSET_UM // 1000,
        max_value=MOST_OFFSET_UM // 1000,
        decimal_places=1,
        help_text="Millimetres; below zero where it is too low.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sheets: forms.ChoiceField = self.fields["sheet"]  # type: ignore[assignment]
        sheets.choices = sheets_for_choice()

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if self.errors:
            return cleaned
        sheet = sheet_named(cleaned["sheet"])
        if cleaned["start_at"] > sheet.labels:
            self.add_error("start_at", f"This sheet has {sheet.labels} labels. Start at one of them.")
        return cleaned

    @property
    def chosen_sheet(self) -> Sheet:
        return sheet_named(self.cleaned_data["sheet"])

    @property
    def offset(self) -> Offset:
        """The offset in micrometres."""
        return Offset(
            int((self.cleaned_data.get("offset_x") or 0) * 1000),
            int((self.cleaned_data.get("offset_y") or 0) * 1000),
        )


class LabelForm(SheetForm):
    """How many labels of each lot: at first as many as it has good pieces."""

    open_names = forms.BooleanField(
        label="Print the names of secret colourways",
        required=False,
        help_text="Before its day a secret colourway stands on paper by its code. A label inside a sealed parcel may say more.",
    )

    def __init__(
        self, *args: Any, lines: Sequence[Labelled], may_open: bool, again: bool = False, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.lines = list(lines)
        if not (may_open and any(line.lot.colourway.is_secret for line in self.lines)):
            del self.fields["open_names"]
        for line in self.lines:
            self.fields[self.count_name(line)] = forms.IntegerField(
                label=f"{line.name}, lot {line.lot.code}, {line.put_up.base.name} {line.put_up.nominal_milligrams // 1000} g",
                min_value=0,
                max_value=MOST_COPIES,
                initial=line.good if again else line.lacking or line.good,
                required=False,
                widget=Stepper(attrs={"min": 0, "max": MOST_COPIES}),
                help_text=_help(line),
            )

    @staticmethod
    def count_name(line: Labelled) -> str:
        return f"count_{line.key}"

    @property
    def count_fields(self) -> list[forms.BoundField]:
        return [self[self.count_name(line)] for line in self.lines]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if self.errors:
            return cleaned
        for line in self.lines:
            asked = cleaned.get(self.count_name(line)) or 0
            if asked > line.good and not self.data.get("more"):
                self.add_error(
                    self.count_name(line),
                    f"There {'is' if line.good == 1 else 'are'} {line.good} good of this lot, and {asked} labels are asked. "
                    f"Print {line.good}, or tick that more are wanted.",
                )
        if not self.errors and not sum(self.counts.values()):
            self.add_error(None, "No label is asked for. Count at least one.")
        return cleaned

    @property
    def asks_for_more(self) -> bool:
        """Whether more labels than good pieces were asked and that is to be confirmed."""
        return self.is_bound and any(
            name.startswith("count_") and any("tick that more" in str(error) for error in errors)
            for name, errors in self.errors.items()
        )

    @property
    def counts(self) -> dict[str, int]:
        """Labels by the line's key."""
        return {line.key: self.cleaned_data.get(self.count_name(line)) or 0 for line in self.lines}


def _help(line: Labelled) -> str:
    good = f"{line.good} good"
    if not line.printed:
        return f"{good}, none labelled yet."
    return f"{good}, {line.printed} labelled before."
