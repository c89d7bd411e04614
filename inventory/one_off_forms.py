"""What is asked of a one-off: a picture, a name, and which pieces it is."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from dyehouse.studio.keys import KeyField
from dyehouse.studio.widgets import Segmented, Stepper
from inventory.one_offs import LONGEST_NAME, LONGEST_WORDS, MOST_AT_ONCE
from inventory.queries import Lying


def _name() -> forms.CharField:
    return forms.CharField(
        label="Name",
        max_length=LONGEST_NAME,
        required=False,
        help_text="Empty: it goes by its code.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


def _words() -> forms.CharField:
    return forms.CharField(label="In words", max_length=LONGEST_WORDS, required=False)


class OneOffForm(forms.Form):
    """The next one-off of a lot: photo, name, and from which place it is taken."""

    key = KeyField()
    photo = forms.FileField(
        label="Photo",
        required=False,
        widget=forms.ClearableFileInput(attrs={"accept": "image/*", "capture": "environment"}),
    )
    name = _name()
    words = _words()
    of = forms.ChoiceField(
        label="Taken from", widget=Segmented, error_messages={"required": "Choose which pieces."}
    )
    pieces = forms.IntegerField(
        label="Pieces of it",
        min_value=1,
        initial=1,
        help_text="More than 1 where they are sold together.",
        error_messages={"required": "Write how many pieces it is.", "min_value": "At least one piece."},
    )

    def __init__(self, *args: Any, lying: Sequence[Lying], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lying = {f"{row.dyed.pk}-{row.place.pk}": row for row in lying}
        of: forms.ChoiceField = self.fields["of"]  # type: ignore[assignment]
        of.choices = [
            (value, f"{row.place}, {row.dyed.put_up}, {row.grade}: {row.pieces - row.held} free")
            for value, row in self.lying.items()
        ]
        of.initial = next(iter(self.lying), None)
        most = max((row.pieces - row.held for row in lying), default=1)
        self.fields["pieces"].widget = Stepper(attrs={"min": 1, "max": most})

    @property
    def chosen(self) -> Lying:
        return self.lying[self.cleaned_data["of"]]


class RestForm(forms.Form):
    """Several at once, each under its code; names and pictures come later."""

    key = KeyField()
    count = forms.IntegerField(
        label="One-offs",
        min_value=1,
        max_value=MOST_AT_ONCE,
        error_messages={
            "required": "Write how many.",
            "max_value": f"At most {MOST_AT_ONCE} at once.",
            "min_value": "At least one.",
        },
    )
    of = forms.CharField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, row: Lying, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        free = row.pieces - row.held
        self.fields["count"].widget = Stepper(attrs={"min": 1, "max": min(free, MOST_AT_ONCE)})
        self.fields["count"].initial = min(free, MOST_AT_ONCE)
        self.fields["of"].initial = f"{row.dyed.pk}-{row.place.pk}"


class CallForm(forms.Form):
    """Another name, other words, another picture."""

    key = KeyField()
    photo = forms.FileField(
        label="Photo",
        required=False,
        widget=forms.ClearableFileInput(attrs={"accept": "image/*", "capture": "environment"}),
    )
    name = _name()
    words = _words()
