"""What is asked before labels or tags are printed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.urls import reverse_lazy

from dyehouse.paper.composition import Market
from dyehouse.paper.designs import BUILT_IN, Design, designs_here
from dyehouse.paper.label_law import MARKET_WORDS
from dyehouse.paper.labelling import Labelled
from dyehouse.paper.own_sheets import sheets_here
from dyehouse.paper.sheets import MOST_OFFSET_UM, SHEETS, Offset, Sheet
from dyehouse.studio.keys import KeyField
from dyehouse.studio.templatetags.house import when
from dyehouse.studio.widgets import Stepper

MOST_COPIES = 200
#: What decides the words of all labels shows them again; what was counted so far goes along.
_SHOWS_AGAIN = {
    "hx-include": "closest form",
    "hx-params": "not csrfmiddlewaretoken, key",
    "hx-target": "#label-lines",
    "hx-select": "#label-lines",
    "hx-select-oob": "#sheet-fields",
    "hx-swap": "outerHTML",
}


class SheetForm(forms.Form):
    """Which sheet, from which label on, and how far the printer is out."""

    key = KeyField()
    sheet = forms.ChoiceField(
        label="Sheet",
        widget=forms.Select(
            attrs={
                "hx-get": reverse_lazy("labels-sheet"),
                "hx-target": "#sheet-fields",
                "hx-swap": "outerHTML",
            }
        ),
    )
    start_at = forms.IntegerField(
        label="First label to use",
        min_value=1,
        initial=1,
        widget=Stepper(attrs={"min": 1}),
        help_text="Counted along the rows from the top left, so that a begun sheet can be used up.",
        error_messages={
            "min_value": "The first label is number 1.",
            "required": "Write the number of the first label to use, 1 on a new sheet.",
        },
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
        self.sheets = sheets_here()
        choose(self, "sheet", [(slug, sheet.name) for slug, sheet in self.sheets.items()])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if self.errors:
            return cleaned
        sheet = self.sheets[cleaned["sheet"]]
        if cleaned["start_at"] > sheet.labels:
            self.add_error("start_at", f"This sheet has {sheet.labels} labels. Start at one of them.")
        return cleaned

    @property
    def shown_sheet(self) -> Sheet:
        """The sheet that is chosen so far, for its picture; the first of the list where it is none."""
        return self.sheets.get(str(self["sheet"].value()), SHEETS[0])

    @property
    def asked(self) -> int:
        """How many labels are asked for so far."""
        return 0

    @property
    def chosen_sheet(self) -> Sheet:
        return self.sheets[self.cleaned_data["sheet"]]

    @property
    def offset(self) -> Offset:
        """The offset in micrometres."""
        return Offset(
            int((self.cleaned_data.get("offset_x") or 0) * 1000),
            int((self.cleaned_data.get("offset_y") or 0) * 1000),
        )


class LabelForm(SheetForm):
    """In which design and for which market, and how many labels of each lot: at first as many as it has good pieces."""

    design = forms.ChoiceField(label="Design")
    market = forms.ChoiceField(
        label="Sold in",
        choices=MARKET_WORDS,
        help_text="Its label law decides the words. Local law comes first.",
    )
    open_names = forms.BooleanField(
        label="Print the names of secret colourways",
        required=False,
        help_text="Before its day a secret colourway stands on paper by its code. A label inside a sealed parcel may say more.",
    )
    all_waiting = forms.BooleanField(required=False)

    def __init__(
        self,
        *args: Any,
        lines: Sequence[Labelled],
        may_open: bool,
        more_wait: int = 0,
        here: str = "",
        designs: Mapping[str, Design] | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.lines = list(lines)
        self.designs = designs if designs is not None else designs_here()
        choose(self, "design", [(slug, design.name) for slug, design in self.designs.items()])
        for name in ("design", "market", "sheet"):
            self.fields[name].widget.attrs |= {**_SHOWS_AGAIN, "hx-get": here}
        if not may_open:
            del self.fields["open_names"]
        if more_wait:
            self.fields["all_waiting"].label = f"Labels for the {more_wait} more lots that wait, too"
            self.fields["all_waiting"].help_text = "One for each of their good pieces that has none."
        else:
            del self.fields["all_waiting"]
        for line in self.lines:
            self.fields[self.count_name(line)] = forms.IntegerField(
                label=f"{line.name}, lot {line.lot.code}, {line.put_up.base.name} {line.put_up.nominal_milligrams // 1000} g",
                min_value=0,
                max_value=MOST_COPIES,
                initial=line.lacking or line.good,
                widget=Stepper(attrs={"min": 0, "max": MOST_COPIES, "data-counts-labels": ""}),
                error_messages={"required": "Write how many labels, 0 for none."},
                help_text=_help(line),
            )

    @property
    def shown_design(self) -> Design:
        """The design that is chosen so far; ours that has everything on it where it is none."""
        return self.designs.get(str(self["design"].value()), BUILT_IN[0])

    @property
    def shown_market(self) -> Market:
        """The market that is chosen so far."""
        chosen = str(self["market"].value())
        return Market(chosen) if chosen in dict(MARKET_WORDS) else Market.OTHER

    @staticmethod
    def count_name(line: Labelled) -> str:
        return f"count_{line.key}"

    @property
    def asked(self) -> int:
        return sum(_number(field.value()) for field in self.count_fields)

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
        if not self.errors and not sum(self.counts.values()) and not cleaned.get("all_waiting"):
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


class WetTagForm(SheetForm):
    """How many tags: at first one for each piece."""

    tags = forms.IntegerField(
        label="Tags",
        min_value=1,
        max_value=MOST_COPIES,
        widget=Stepper(attrs={"min": 1, "max": MOST_COPIES, "data-counts-labels": ""}),
        help_text="One for each piece, or one for all that hang together.",
        error_messages={"required": "Write how many tags.", "min_value": "Print one tag at least."},
    )

    field_order = ("key", "tags", "sheet", "start_at", "offset_x", "offset_y")

    @property
    def asked(self) -> int:
        return _number(self["tags"].value())


def choose(form: forms.Form, name: str, choices: Sequence[tuple[str, str]]) -> None:
    """Give a field of a form its choices."""
    field = form.fields[name]
    assert isinstance(field, forms.ChoiceField)
    field.choices = list(choices)


def _number(typed: object) -> int:
    """A count that may still be badly typed."""
    text = str(typed).strip()
    return min(int(text), MOST_COPIES) if text.isascii() and text.isdecimal() and len(text) < 6 else 0


def _help(line: Labelled) -> str:
    if line.printed_at is None:
        return f"{line.good} good, none labelled yet."
    labels = "1 label" if line.printed == 1 else f"{line.printed} labels"
    return f"{line.good} good, {labels} printed, the last {when(line.printed_at)}."
