"""What is asked about the weeks: what is wanted by hand, which day is lost, how weeks go."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils import timezone

from dyehouse.studio.amounts import GramsField
from dyehouse.studio.keys import KeyField
from dyehouse.studio.models import Vessel
from dyehouse.studio.widgets import SegmentedMany, Stepper
from inventory.kit_forms import KitChoices
from inventory.models import Kit
from inventory.weeks.ahead import own_days
from inventory.weeks.keeping import LONGEST_WORDS, Holding
from inventory.weeks.models import MOST_DRYING_DAYS, MOST_LOADS, WeekHabits
from recipes.models import Colourway, PutUp

MOST_WANTED = 2000
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip
WHOLE = {"invalid": "Write a whole number, for example 4.", "min_value": "Write %(limit_value)s or more."}


def _day(label: str, *, required: bool = True, **kwargs: Any) -> forms.DateField:
    return forms.DateField(
        label=label,
        required=required,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={
            "required": "Choose a day.",
            "invalid": "Write the day as year, month and day, for example 2026-03-14.",
        },
        **kwargs,
    )


class WantedForm(forms.Form):
    """I want so many of this by that day."""

    key = KeyField()
    count = forms.IntegerField(
        label="I want",
        min_value=1,
        max_value=MOST_WANTED,
        initial=10,
        widget=Stepper(attrs={"min": 1, "max": MOST_WANTED}),
        error_messages={
            "required": "Write how many you want.",
            "max_value": f"More than {MOST_WANTED} are not put on the list at once.",
            **WHOLE,
        },
    )
    colourway = forms.ModelChoiceField(
        label="Of the colourway", queryset=Colourway.objects.none(), required=False, empty_label="none"
    )
    put_up = forms.ModelChoiceField(
        label="On the yarn", queryset=PutUp.objects.none(), required=False, empty_label="none"
    )
    kit = forms.ModelChoiceField(
        label="Or of the kit", queryset=Kit.objects.none(), required=False, empty_label="no kit"
    )
    due = _day("By", required=False, help_text="When they are to be ready. Empty: when there is room.")
    set_of = forms.IntegerField(
        label="In sets from one pot, of",
        min_value=2,
        max_value=200,
        required=False,
        help_text="Pieces that belong together, for example 3. Empty: no matter which pot.",
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        error_messages=WHOLE,
    )
    what_for = forms.CharField(
        label="For",
        max_length=LONGEST_WORDS,
        required=False,
        help_text="In a few words, for example “spring update”.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def __init__(self, *args: Any, choices: KitChoices, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        colourway: forms.ModelChoiceField = self.fields["colourway"]  # type: ignore[assignment]
        colourway.queryset = choices.all_colourways
        colourway.choices = [("", "none"), *choices.colourways]
        put_up: forms.ModelChoiceField = self.fields["put_up"]  # type: ignore[assignment]
        put_up.queryset = choices.all_put_ups
        put_up.choices = [("", "none"), *choices.put_ups]
        kit: forms.ModelChoiceField = self.fields["kit"]  # type: ignore[assignment]
        kit.queryset = Kit.objects.filter(retired_at__isnull=True, one_of_a_kind=False).order_by("name")

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        if said.get("kit"):
            if said.get("colourway"):
                self.add_error("kit", "Choose a colourway or a kit, not both.")
        elif "colourway" not in self.errors and not said.get("colourway"):
            self.add_error("colourway", "Choose a colourway and its yarn, or a kit.")
        elif "put_up" not in self.errors and not said.get("put_up"):
            self.add_error("put_up", "Choose the yarn it is to be on.")
        return said


class LoseDayForm(forms.Form):
    """Which session is lost, or takes fewer loads."""

    day = _day("The day that is lost")
    loads_left = forms.IntegerField(
        label="Loads that it still takes",
        min_value=0,
        max_value=MOST_LOADS,
        initial=0,
        help_text="0: no session at all.",
        widget=Stepper(attrs={"min": 0, "max": MOST_LOADS}),
        error_messages={"required": "Write 0, or how many loads it still takes.", **WHOLE},
    )
    why = forms.CharField(
        label="Why",
        max_length=LONGEST_WORDS,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def clean_day(self) -> dt.date:
        day: dt.date = self.cleaned_data["day"]
        if day < timezone.localdate():
            raise forms.ValidationError("This day has gone by. Choose today or a later day.")
        return day


class HabitsForm(forms.Form):
    """How the weeks go: sessions, soaking, drying, racks, finishing, spares, vessels."""

    weekdays = forms.MultipleChoiceField(
        label="Sessions on",
        choices=[(str(number), name) for number, name in enumerate(WEEKDAYS)],
        required=False,
        widget=SegmentedMany,
    )
    own_days = forms.CharField(
        label="Days of their own",
        required=False,
        max_length=4000,
        help_text=(
            "One a line: the day and its loads, for example “2026-12-06 3”. 0 is a day for finishing only. "
            "A day written here goes before its weekday."
        ),
        widget=forms.Textarea(attrs={"rows": 3, "autocomplete": "off", "spellcheck": "false"}),
    )
    loads_a_session = forms.IntegerField(
        label="Loads a session",
        min_value=1,
        max_value=MOST_LOADS,
        required=False,
        help_text="Empty goes by the pots of your last dye days.",
        error_messages=WHOLE,
    )
    soaks_overnight = forms.BooleanField(
        label="Yarn soaks overnight before it is dyed",
        required=False,
        help_text="A way of dyeing that knows its own pre-soak goes by that.",
    )
    rack_pieces = forms.IntegerField(
        label="Pieces that hang wet at once",
        min_value=1,
        max_value=100_000,
        required=False,
        help_text="Empty: the racks are never full.",
        error_messages=WHOLE,
    )
    finishing_pieces = forms.IntegerField(
        label="Pieces twisted and labelled in a session",
        min_value=1,
        max_value=100_000,
        required=False,
        help_text="Empty: what is dry counts as ready.",
        error_messages=WHOLE,
    )
    spares_percent = forms.IntegerField(
        label="Spares, percent",
        min_value=0,
        max_value=100,
        help_text="On what you want by hand; clubs and pre-orders have their own.",
        error_messages={"required": "Write 0 for none.", **WHOLE},
    )
    spares_pieces = forms.IntegerField(
        label="Spares, pieces of each",
        min_value=0,
        max_value=100,
        error_messages={"required": "Write 0 for none.", **WHOLE},
    )
    vessel = forms.ModelChoiceField(
        label="Reckon the loads in",
        queryset=Vessel.objects.none(),
        required=False,
        empty_label="the vessel that each colourway was dyed in",
    )

    def __init__(self, *args: Any, habits: WeekHabits, vessels: Sequence[Vessel], **kwargs: Any) -> None:
        first = {
            name: getattr(habits, name)
            for name in (
                "loads_a_session", "soaks_overnight", "rack_pieces", "finishing_pieces", "spares_percent",
                "spares_pieces", "vessel",
            )
        }  # fmt: skip
        first["weekdays"] = [str(each) for each in habits.weekdays]
        first["own_days"] = "\n".join(f"{day} {loads}" for day, loads in habits.own_days.items())
        self.vessels = list(vessels)
        for each in self.vessels:
            holds = getattr(each, "holds", None)
            first[f"pieces_{each.pk}"] = holds.most_pieces if holds is not None else None
            first[f"grams_{each.pk}"] = holds.most_milligrams if holds is not None else None
        first |= {f"month_{number}": days for number, days in enumerate(habits.drying_days, start=1)}
        kwargs["initial"] = first
        super().__init__(*args, **kwargs)
        vessel: forms.ModelChoiceField = self.fields["vessel"]  # type: ignore[assignment]
        vessel.queryset = Vessel.objects.filter(pk__in=[each.pk for each in self.vessels])
        vessel.choices = [("", vessel.empty_label or ""), *((each.pk, each.name) for each in self.vessels)]
        for number, month in enumerate(MONTHS, start=1):
            self.fields[f"month_{number}"] = forms.IntegerField(
                label=month,
                min_value=1,
                max_value=MOST_DRYING_DAYS,
                error_messages={"required": "Write the days, at least 1.", **WHOLE},
            )
        for each in self.vessels:
            self.fields[f"pieces_{each.pk}"] = forms.IntegerField(
                label=f"{each.name}: pieces at most",
                min_value=1,
                max_value=500,
                required=False,
                error_messages=WHOLE,
            )
            self.fields[f"grams_{each.pk}"] = GramsField(
                label=f"{each.name}: dry weight at most", required=False, most=100_000_000
            )

    @property
    def months(self) -> list[forms.BoundField]:
        return [self[f"month_{number}"] for number in range(1, 13)]

    @property
    def vessel_fields(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        return [(self[f"pieces_{each.pk}"], self[f"grams_{each.pk}"]) for each in self.vessels]

    def clean_own_days(self) -> dict[dt.date, int]:
        found: dict[dt.date, int] = {}
        for line in self.cleaned_data["own_days"].splitlines():
            if not line.strip():
                continue
            parts = line.split()
            try:
                day, loads = dt.date.fromisoformat(parts[0]), int(parts[1])
            except (ValueError, IndexError):
                raise forms.ValidationError(
                    f"“{line.strip()[:40]}” is not a day and its loads. Write it like “2026-12-06 3”."
                ) from None
            if len(parts) > 2 or not 0 <= loads <= MOST_LOADS:
                raise forms.ValidationError(
                    f"“{line.strip()[:40]}” is not a day and its loads, from 0 to {MOST_LOADS}."
                )
            found[day] = loads
        return found

    def said(self) -> dict[str, Any]:
        """What `keep_habits` takes."""
        data = self.cleaned_data
        plain = ("loads_a_session", "soaks_overnight", "rack_pieces", "finishing_pieces", "spares_percent")
        return {
            **{name: data[name] for name in (*plain, "spares_pieces", "vessel", "own_days")},
            "weekdays": [int(each) for each in data["weekdays"]],
            "drying_days": [data[f"month_{number}"] for number in range(1, 13)],
            "holds": {
                each.pk: Holding(data[f"pieces_{each.pk}"], data[f"grams_{each.pk}"]) for each in self.vessels
            },
        }


def has_sessions(habits: WeekHabits, today: dt.date) -> bool:
    """Whether any session is to come."""
    return bool(habits.weekdays) or any(day >= today for day in own_days(habits))
