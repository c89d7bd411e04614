"""A form sent twice does one thing: every form that moves something carries a key made when it was opened."""

from __future__ import annotations

import uuid
from typing import Any

from django import forms


class KeyField(forms.UUIDField):
    """The hidden key of a form. One that is missing or spoilt is replaced by a new one; nothing is lost by it."""

    widget = forms.HiddenInput

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"required": False, "initial": uuid.uuid4, **kwargs})

    def clean(self, value: Any) -> uuid.UUID:
        try:
            key = super().clean(value)
        except forms.ValidationError:
            key = None
        return key if isinstance(key, uuid.UUID) else uuid.uuid4()
