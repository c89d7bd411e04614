"""What is asked about a file of sign-ups or orders: the file, its columns, and what its words mean."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from dyehouse.studio.keys import KeyField
from dyehouse.studio.widgets import Segmented
from inventory.promises.files.fields import FIELDS
from inventory.promises.files.looking import MEGABYTE, MOST_BYTES, MOST_ROWS
from inventory.promises.files.meaning import Meanings, UnknownWord
from inventory.promises.models import ColumnMap

KINDS = [(ColumnMap.Kind.SIGN_UPS.value, "club sign-ups"), (ColumnMap.Kind.ORDERS.value, "orders")]
DAY_ORDERS = [("", "as the rows tell"), ("dmy", "day first: 31/12/2026"), ("mdy", "month first: 12/31/2026")]


class FileForm(forms.Form):
    """A file as a shop gives it out."""

    key = KeyField()
    kind = forms.ChoiceField(label="In it are", choices=KINDS, initial=KINDS[0][0], widget=Segmented)
    file = forms.FileField(
        label="The file",
        help_text=f"CSV with a row of column names, up to {MOST_BYTES // MEGABYTE} MB and {MOST_ROWS:,} rows.",
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,text/csv,text/plain"}),
        error_messages={
            "required": "Choose the file that your shop gave out.",
            "empty": "This file is empty. It begins with a row of column names.",
        },
    )
    content = b""

    def clean_file(self) -> Any:
        upload = self.cleaned_data["file"]
        # One byte more than may be, so that a larger one is refused without being read.
        self.content = upload.read(MOST_BYTES + 1)
        return upload


class ColumnsForm(forms.Form):
    """Under which heading each thing stands, told once of a source."""

    name = forms.CharField(
        label="This file comes from",
        max_length=60,
        help_text="A name for the source. The next file with these headings is read the same way.",
        error_messages={"required": "Give the source a name, such as the shop it comes from."},
    )
    day_order = forms.ChoiceField(label="Days in it are written", choices=DAY_ORDERS, required=False)

    def __init__(self, *args: Any, column_map: ColumnMap, header: Sequence[str], **kwargs: Any) -> None:
        columns = kwargs.pop("columns")
        kwargs.setdefault("initial", {"name": column_map.name, "day_order": column_map.day_order})
        super().__init__(*args, **kwargs)
        self.fields_of = [field.key for field in FIELDS[column_map.kind]]
        choices = [("", "not in this file"), *((heading, heading) for heading in header if heading)]
        for field in FIELDS[column_map.kind]:
            self.fields[field.key] = forms.ChoiceField(
                label=field.words, choices=choices, required=False, initial=columns.get(field.key, "")
            )

    @property
    def columns(self) -> dict[str, str]:
        return {key: self.cleaned_data.get(key, "") for key in self.fields_of}

    @property
    def column_fields(self) -> list[forms.BoundField]:
        return [self[key] for key in self.fields_of]


class WordsForm(forms.Form):
    """What words of the file mean here."""

    def __init__(self, *args: Any, unknown: Sequence[UnknownWord], meanings: Meanings, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.unknown = list(unknown)
        for number, word in enumerate(self.unknown):
            choices = [(choice.value, choice.words) for choice in meanings.choices(word.field)]
            self.fields[f"word-{number}"] = forms.ChoiceField(
                label=f"“{word.word}” is",
                choices=[("", "not told yet"), *choices],
                required=False,
                initial=word.likely,
            )

    @property
    def words(self) -> dict[tuple[str, str], str]:
        return {
            (word.field, word.key): self.cleaned_data.get(f"word-{number}", "")
            for number, word in enumerate(self.unknown)
        }
