"""What is asked when pieces are put aside for somebody."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.utils import timezone

from dyehouse.studio.keys import KeyField
from dyehouse.studio.widgets import Stepper
from inventory.holding import LONGEST_NAME, LONGEST_REASON

USUAL_DAYS = 7


def _in_a_week() -> dt.date:
    return timezone.localdate() + dt.timedelta(days=USUAL_DAYS)


def _until() -> forms.DateField:
    return forms.DateField(
        label="Until",
        initial=_in_a_week,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="On this day the day's page asks; nothing is let go by itself.",
        error_messages={
            "required": "Choose the day until which they are held.",
            "invalid": "Write the day as year, month and day, for example 2026-03-14.",
        },
    )


class HoldForm(forms.Form):
    """How many, for whom, until when."""

    key = KeyField()
    for_whom = forms.CharField(
        label="For",
        max_length=LONGEST_NAME,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": "Write for whom they are put aside."},
    )
    pieces = forms.IntegerField(
        label="Pieces",
        min_value=1,
        initial=1,
        error_messages={"required": "Write how many are put aside.", "min_value": "Put at least one aside."},
    )
    until = _until()
    note = forms.CharField(label="Note", max_length=LONGEST_REASON, required=False)

    def __init__(self, *args: Any, free: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["pieces"].widget = Stepper(attrs={"min": 1, "max": free})
        self.fields["pieces"].help_text = f"{free} free."


class LongerForm(forms.Form):
    """Another day to hold until."""

    until = _until()


class LetGoForm(forms.Form):
    """Why a hold ends without being handed over."""

    key = KeyField()
    why = forms.CharField(
        label="Why",
        max_length=LONGEST_REASON,
        error_messages={"required": "Say in a word or two why they are let go."},
    )
