"""What is asked before stickers for days, labels for shelves and lists are printed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from dyehouse.ledger.models import Place
from dyehouse.paper.fitting import unprintable
from dyehouse.paper.forms import MOST_COPIES, SheetForm, choose
from dyehouse.studio.codes import tidy
from dyehouse.studio.keys import KeyField
from dyehouse.studio.models import User
from dyehouse.studio.widgets import Segmented, SegmentedMany, Stepper
from recipes.lots.before_day import PlannedLine
from recipes.models import Colourway

MOST_DAYS = 60
OUTSIDE, INSIDE, BOTH = "outside", "inside", "both"


class DayNumbersForm(SheetForm):
    """How many days and boxes, and what lies inside each day."""

    days = forms.IntegerField(
        label="Days",
        min_value=1,
        max_value=MOST_DAYS,
        initial=24,
        widget=Stepper(attrs={"min": 1, "max": MOST_DAYS}),
        error_messages={
            "required": "Write how many days there are.",
            "min_value": "There is one day at least.",
            "max_value": f"There are {MOST_DAYS} days at most.",
        },
    )
    boxes = forms.IntegerField(
        label="Boxes",
        min_value=1,
        max_value=MOST_COPIES,
        initial=1,
        widget=Stepper(attrs={"min": 1, "max": MOST_COPIES}),
        error_messages={
            "required": "Write how many boxes are packed.",
            "min_value": "Pack one box at least.",
        },
    )
    part = forms.ChoiceField(
        label="Stickers for",
        choices=[(OUTSIDE, "the outside: numbers"), (INSIDE, "the inside: colourways"), (BOTH, "both")],
        initial=OUTSIDE,
        widget=Segmented,
    )
    colourways = forms.CharField(
        label="What lies inside",
        required=False,
        max_length=6_000,
        widget=forms.Textarea(attrs={"rows": 8, "spellcheck": "false"}),
        help_text="A line for each day, with the colourway’s name or code. Only stickers for the inside say it.",
    )
    open_names = forms.BooleanField(
        label="Print the names of secret colourways",
        required=False,
        help_text="Otherwise a secret colourway stands by its code inside as well.",
    )

    field_order = (
        "key",
        "part",
        "days",
        "boxes",
        "colourways",
        "open_names",
        "sheet",
        "start_at",
        "offset_x",
        "offset_y",
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.user = user
        self.inside: list[Colourway] = []
        if not user.is_owner:
            del self.fields["open_names"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if self.errors or cleaned["part"] == OUTSIDE:
            return cleaned
        lines = [" ".join(line.split()) for line in cleaned["colourways"].splitlines()]
        lines = [line for line in lines if line]
        if len(lines) != cleaned["days"]:
            have = "is 1 line" if len(lines) == 1 else f"are {len(lines)} lines"
            self.add_error(
                "colourways", f"There {have} for {cleaned['days']} days. Write one line for each day."
            )
            return cleaned
        self.inside = self._named(lines)
        return cleaned

    @property
    def unprintable(self) -> str:
        """What the fonts lack of the names inside, unless it is to be printed all the same."""
        if self.data.get("all_the_same"):
            return ""
        opened = bool(self.cleaned_data.get("open_names"))
        names = [each.name or each.code if opened else each.shown_name(None) for each in self.inside]
        return unprintable(" ".join(names))

    @property
    def asks_all_the_same(self) -> bool:
        """Whether it is to be said that boxes may stand in the place of letters."""
        return self.is_bound and any("fonts of paper" in str(error) for error in self.non_field_errors())

    def _named(self, lines: Sequence[str]) -> list[Colourway]:
        known: dict[str, Colourway] = {}
        for colourway in Colourway.objects.order_by("-pk"):
            known[colourway.code.lower()] = colourway
            if colourway.may_be_seen_by(self.user) and colourway.name:
                known[colourway.name.lower()] = colourway
        found = []
        for number, line in enumerate(lines, start=1):
            named = known.get(line.lower()) or known.get(tidy(line).lower())
            if named is None:
                self.add_error(
                    "colourways",
                    f"Line {number}: there is no colourway called “{line}”. Write its name or its code.",
                )
            else:
                found.append(named)
        return found


class ShelfLabelsForm(SheetForm):
    """Which places, and how many labels of each."""

    places = forms.MultipleChoiceField(
        label="Places",
        widget=SegmentedMany,
        error_messages={"required": "Choose one place at least."},
    )
    copies = forms.IntegerField(
        label="Labels of each",
        min_value=1,
        max_value=20,
        initial=1,
        widget=Stepper(attrs={"min": 1, "max": 20}),
        error_messages={"required": "Write how many of each.", "min_value": "Print one of each at least."},
    )

    field_order = ("key", "places", "copies", "sheet", "start_at", "offset_x", "offset_y")

    def __init__(self, *args: Any, places: Sequence[Place], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.by_pk = {str(place.pk): place for place in places}
        choose(self, "places", [(pk, place.name) for pk, place in self.by_pk.items()])

    @property
    def names(self) -> list[str]:
        return [place.name for place in self.by_pk.values()]

    @property
    def chosen_places(self) -> list[Place]:
        return [self.by_pk[pk] for pk in self.cleaned_data["places"]]


class CountSheetsForm(forms.Form):
    """Which places are counted, and whether the book's numbers lead the counting."""

    key = KeyField()
    places = forms.MultipleChoiceField(
        label="Places",
        widget=SegmentedMany,
        error_messages={"required": "Choose one place at least."},
    )
    shows_book = forms.BooleanField(
        label="Print the book’s numbers",
        required=False,
        help_text="Without them it is counted afresh, and the count is worth more.",
    )

    def __init__(self, *args: Any, places: Sequence[Place], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.by_pk = {str(place.pk): place for place in places}
        choose(self, "places", [(pk, place.name) for pk, place in self.by_pk.items()])

    @property
    def chosen_places(self) -> list[Place]:
        return [self.by_pk[pk] for pk in self.cleaned_data["places"]]


class MixingListForm(forms.Form):
    """For which planned pots is mixed."""

    key = KeyField()
    pots = forms.MultipleChoiceField(
        label="Planned pots",
        widget=SegmentedMany,
        error_messages={"required": "Choose one pot at least."},
    )

    def __init__(self, *args: Any, pots: Sequence[PlannedLine], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choose(self, "pots", [(line.pot.code, _pot_words(line)) for line in pots])
        self.fields["pots"].initial = [line.pot.code for line in pots]


def _pot_words(line: PlannedLine) -> str:
    pieces = sum(load.pieces for load in line.loads)
    said = f"{line.pot.code}, {line.name}" if line.name != line.pot.code else line.pot.code
    return f"{said}, {pieces} {'piece' if pieces == 1 else 'pieces'}"
