"""A list chosen as a file."""

from __future__ import annotations

from typing import Any

from django import forms

from recipes.lists.reading import MOST_BYTES, FileRefused, text_of


class ListForm(forms.Form):
    """A list as a file; `text` is what stands in it."""

    file = forms.FileField(
        label="The list",
        help_text="CSV with a row of column names, up to 2 MB and 5,000 rows.",
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,text/csv,text/plain"}),
        error_messages={
            "required": "Choose the file with the list.",
            "empty": "This file is empty. Begin with a row of column names; the examples show them.",
        },
    )
    text = ""

    def clean_file(self) -> Any:
        upload = self.cleaned_data["file"]
        try:
            # One byte more than may be, so that a larger one is refused without being read.
            self.text = text_of(upload.read(MOST_BYTES + 1))
        except FileRefused as refused:
            raise forms.ValidationError(str(refused)) from None
        return upload
