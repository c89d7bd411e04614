"""How the pieces lie, as it is typed: open or folded, and a row for each section."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms

from dyehouse.studio.keys import KeyField
from dyehouse.studio.widgets import Segmented
from recipes.dyeing.lay import LONGEST_WORDS, MOST_SECTIONS, Lay, LayUnclear, lay_from_rows, preset

#: What the colour picker shows for a section without a colour of its own: no dye is quite white.
NO_COLOUR = "#ffffff"
FIELDS = ("name", "extent", "words", "colour")

Row = Mapping[str, str]


class LayForm(forms.Form):
    """What is said of the hank as a whole."""

    key = KeyField()
    folded = forms.ChoiceField(
        label="The hank lies",
        choices=[("open", "open, once round"), ("folded", "folded, its legs on each other")],
        initial="open",
        widget=Segmented,
    )


class SectionForm(forms.Form):
    """One section along the hank."""

    name = forms.CharField(label="Letter or name", max_length=40, required=False)
    extent = forms.CharField(
        label="How far it goes",
        max_length=40,
        required=False,
        help_text="1/3, 25 %, 20 cm, or rest.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"}),
    )
    words = forms.CharField(label="In words, if you like", max_length=LONGEST_WORDS, required=False)
    colour = forms.CharField(
        label="Its colour in the drawing",
        max_length=7,
        required=False,
        initial=NO_COLOUR,
        widget=forms.TextInput(attrs={"type": "color"}),
        help_text="White: that of the first dye on it.",
    )


def rows_sent(data: Mapping[str, Any]) -> list[Row]:
    """The rows that a form sends, as they were typed."""
    count = str(data.get("rows", "0"))
    most = min(int(count), MOST_SECTIONS + 1) if count.isdecimal() else 0
    return [{name: str(data.get(f"section-{at}-{name}", "")) for name in FIELDS} for at in range(most)]


def rows_of(lay: Lay | None) -> list[Row]:
    """The rows of a lay that was kept."""
    return [
        {
            "name": section.name,
            "extent": section.extent,
            "words": section.words,
            "colour": section.colour or NO_COLOUR,
        }
        for section in (lay.sections if lay is not None else ())
    ]


def rows_of_preset(slug: str) -> list[Row]:
    """The rows of a usual lay; none for a slug that is none."""
    try:
        return [
            {"name": name, "extent": extent, "words": "", "colour": NO_COLOUR}
            for name, extent in preset(slug)
        ]
    except KeyError:
        return []


def row_more(rows: Sequence[Row]) -> Row:
    """An empty row under the next letter."""
    taken = {row["name"].strip().casefold() for row in rows}
    letters = (chr(ord("A") + number) for number in range(26))
    name = next(letter for letter in letters if letter.casefold() not in taken)
    return {"name": name, "extent": "", "words": "", "colour": NO_COLOUR}


def section_forms(rows: Sequence[Row], *, unclear: LayUnclear | None = None) -> list[SectionForm]:
    """The rows as forms, with the sentence beside the field that it is about."""
    found = [SectionForm(prefix=f"section-{at}", initial=dict(row)) for at, row in enumerate(rows)]
    if unclear is not None and unclear.row is not None and unclear.row < len(rows):
        wrong = SectionForm(
            {f"section-{unclear.row}-{name}": value for name, value in rows[unclear.row].items()},
            prefix=f"section-{unclear.row}",
        )
        wrong.is_valid()
        wrong.add_error(unclear.field, str(unclear))
        found[unclear.row] = wrong
    return found


def lay_from(rows: Sequence[Row], *, folded: bool, circumference_millimetres: int | None) -> Lay:
    """The lay that rows mean. Raises LayUnclear."""
    said = []
    for row in rows:
        colour = "" if row["colour"].lower() == NO_COLOUR else row["colour"]
        # A row that only has the letter it came with was not used.
        used = row["extent"].strip() or row["words"].strip()
        said.append((row["name"], row["extent"], row["words"], colour) if used else ("", "", "", ""))
    return lay_from_rows(said, folded=folded, circumference_millimetres=circumference_millimetres)
