"""What is asked when a count is settled."""

from __future__ import annotations

from django import forms

from dyehouse.studio.keys import KeyField
from inventory.counting import LONGEST_REASON


class SettleForm(forms.Form):
    """Why the count differs, and what becomes of what nobody counted."""

    key = KeyField()
    why = forms.CharField(
        label="Why it differs",
        max_length=LONGEST_REASON,
        required=False,
        help_text="Needed where anything differs, for example “sold at the door, not entered”.",
    )
    rest_is_gone = forms.BooleanField(
        label="What was not counted is not there", required=False, help_text="Otherwise it stays in the book."
    )
