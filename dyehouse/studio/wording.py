"""What forms say by default about what was typed."""

from __future__ import annotations

from django import forms


def speak_plainly() -> None:
    """Says what would be right where a form does not say it better itself."""
    for field, words in {
        forms.Field: {"required": "This cannot stay empty."},
        forms.IntegerField: {"invalid": "Write a whole number, such as 5."},
        forms.DecimalField: {"invalid": "Write a number, such as 7.5."},
        forms.DateField: {"invalid": "Write a date as year, month and day: 2026-03-14."},
        forms.TimeField: {"invalid": "Write a time of day, such as 14:20."},
        forms.ChoiceField: {"invalid_choice": "“%(value)s” is not one of the choices. Choose one of them."},
        forms.MultipleChoiceField: {
            "invalid_choice": "“%(value)s” is not one of the choices. Choose one of them."
        },
        forms.ModelChoiceField: {"invalid_choice": "That is not one of the choices any more. Choose again."},
        forms.URLField: {"invalid": "Write a web address, beginning with https://."},
    }.items():
        field.default_error_messages = {**field.default_error_messages, **words}  # type: ignore[attr-defined]
