"""The forms of the studio's page: the studio itself, its vessels, its scales and cylinders, its water."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction
from typing import Any, cast

from django import forms
from django.conf import settings
from django.forms.formsets import BaseFormSet, formset_factory
from django.utils import timezone
from django.utils.module_loading import import_string

from dyehouse.studio.amounts import AmountField, GramsField, LitresField, MillilitresField, ScaledField
from dyehouse.studio.models import Measure, Studio, Vessel
from dyehouse.studio.regions import countries, currency_choices, time_zones
from dyehouse.studio.setup import MeasureFacts, StudioFacts, VesselFacts
from dyehouse.studio.widgets import Segmented
from recipes.dyeing.units import hardness, whole

HARDNESS_UNITS = (
    ("mg_per_litre", "mg/L as CaCO₃ (ppm)"),
    ("german_degree", "°dH (German degrees)"),
    ("french_degree", "°fH (French degrees)"),
    ("clark_degree", "°e (Clark degrees)"),
    ("us_grain_per_gallon", "grains per US gallon"),
    ("mmol_per_litre", "mmol/L"),
)
MOST_HARDNESS = 5000


def label_sheets() -> list[tuple[str, str]]:
    """The label sheets that can be printed, by slug with their words. The printing room offers them."""
    return list(import_string(settings.LABEL_SHEETS)())


class StudioForm(forms.Form):
    """What the studio says of itself; nothing in it must be answered."""

    name = forms.CharField(
        label="The studio's name",
        max_length=80,
        required=False,
        help_text="It stands on every page and label.",
    )
    units = forms.ChoiceField(label="Measures", choices=Studio.Units, widget=Segmented)
    country = forms.ChoiceField(label="Country", required=False)
    currency = forms.ChoiceField(label="Currency")
    time_zone = forms.ChoiceField(
        label="Time zone", error_messages={"invalid_choice": "Choose a time zone from the list."}
    )
    label_sheet = forms.ChoiceField(
        label="Label sheet",
        help_text="The sheet that is usually in the printer; each print can take another.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _choose(self, "country", [("", "not said"), *countries()])
        _choose(self, "currency", _with_present(currency_choices(), self.initial.get("currency", "")))
        _choose(self, "time_zone", [(zone, zone.replace("_", " ")) for zone in time_zones()])
        _choose(self, "label_sheet", _with_present(label_sheets(), self.initial.get("label_sheet", "")))


class WaterForm(forms.Form):
    """The water that the studio dyes with, as far as it is known."""

    hardness = ScaledField(label="Hardness", places=2, most=Decimal(MOST_HARDNESS), required=False)
    hardness_unit = forms.ChoiceField(label="Hardness is in", choices=HARDNESS_UNITS, required=False)
    ph = ScaledField(label="pH", places=2, most=Decimal(14), required=False)
    alkalinity = ScaledField(label="Alkalinity", places=2, most=Decimal(MOST_HARDNESS), required=False)
    alkalinity_unit = forms.ChoiceField(label="Alkalinity is in", choices=HARDNESS_UNITS, required=False)
    measured_on = forms.DateField(
        label="Measured on",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "Write the day like 2026-03-14."},
    )

    def clean_measured_on(self) -> Any:
        day = self.cleaned_data["measured_on"]
        if day is not None and day > timezone.localdate():
            raise forms.ValidationError(
                "This day is still to come. Write the day on which the water was measured."
            )
        return day

    def clean(self) -> dict[str, Any]:
        for name in ("hardness", "alkalinity"):
            hundredths = self.cleaned_data.get(name)
            if hundredths is None:
                continue
            unit = self.cleaned_data.get(f"{name}_unit") or "mg_per_litre"
            milligrams = whole(hardness(Fraction(hundredths, 100), unit))
            if milligrams > MOST_HARDNESS:
                self.add_error(
                    name, f"This is more than {MOST_HARDNESS} mg/L. Check the number and its unit."
                )
            else:
                self.cleaned_data[f"{name}_mg_per_litre"] = milligrams
        return self.cleaned_data


class VesselForm(forms.Form):
    """One vessel; an empty row is no vessel."""

    pk = forms.IntegerField(required=False, widget=forms.HiddenInput)
    name = forms.CharField(
        label="Name",
        max_length=40,
        error_messages={"required": "Give the vessel a name, for example Big pot."},
    )
    kind = forms.ChoiceField(label="Kind", choices=Vessel.Kind, initial=Vessel.Kind.POT)
    working_millilitres = LitresField(
        label="To the working mark",
        least=100,
        most=500_000,
        required_words="Write how many litres it takes to the working mark, for example 12.",
    )
    hob_watts = forms.IntegerField(
        label="Hob",
        required=False,
        min_value=1,
        max_value=30_000,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off", "placeholder": "watts"}),
        error_messages={
            "invalid": "Write whole watts, for example 2000.",
            "min_value": "Write watts above 0, or leave it empty.",
            "max_value": "This is more than 30,000 watts. Check the number.",
        },
    )
    hob_kind = forms.ChoiceField(
        label="Kind of hob",
        required=False,
        choices=[("", "not known"), *Vessel.HobKind.choices],
    )
    retired = forms.BooleanField(label="No longer used", required=False)

    def facts(self) -> VesselFacts:
        answers = self.cleaned_data
        return VesselFacts(
            pk=answers["pk"],
            name=" ".join(answers["name"].split()),
            kind=answers["kind"],
            working_millilitres=answers["working_millilitres"],
            hob_watts=answers["hob_watts"],
            hob_kind=answers["hob_kind"],
            retired=answers["retired"],
        )


class MeasureForm(forms.Form):
    """One scale or cylinder; its step is in grams or millilitres, by its kind."""

    pk = forms.IntegerField(required=False, widget=forms.HiddenInput)
    name = forms.CharField(
        label="Name", max_length=40, error_messages={"required": "Give it a name, for example Fine scale."}
    )
    kind = forms.ChoiceField(label="Kind", choices=Measure.Kind, initial=Measure.Kind.SCALE)
    step = forms.CharField(
        label="Smallest step",
        max_length=20,
        widget=forms.TextInput(attrs={"placeholder": "0.01 g or 1 ml", "autocomplete": "off"}),
        error_messages={"required": "Write the smallest step that it shows, for example 0.01 g or 1 ml."},
    )
    most = forms.CharField(
        label="The most at once",
        max_length=20,
        required=False,
        widget=forms.TextInput(attrs={"placeholder": "500 g or 50 ml", "autocomplete": "off"}),
    )
    retired = forms.BooleanField(label="No longer used", required=False)

    def clean(self) -> dict[str, Any]:
        field: AmountField = (
            MillilitresField() if self.cleaned_data.get("kind") == Measure.Kind.CYLINDER else GramsField()
        )
        for name in ("step", "most"):
            typed = self.cleaned_data.get(name)
            if typed:
                try:
                    self.cleaned_data[name] = field.clean(typed)
                except forms.ValidationError as wrong:
                    self.add_error(name, wrong)
        step, most = self.cleaned_data.get("step"), self.cleaned_data.get("most")
        if isinstance(step, int) and isinstance(most, int) and most < step:
            self.add_error(
                "most", "This is less than one step. Write the most that it can weigh or hold at once."
            )
        return self.cleaned_data

    def facts(self) -> MeasureFacts:
        answers = self.cleaned_data
        return MeasureFacts(
            pk=answers["pk"],
            name=" ".join(answers["name"].split()),
            kind=answers["kind"],
            step=answers["step"],
            most=answers["most"] or None,
            retired=answers["retired"],
        )


class RowsOfOurs(BaseFormSet):
    """Rows whose hidden number, when there is one, is of a row that the page showed."""

    def __init__(self, *args: Any, known: Iterable[int] = (), **kwargs: Any) -> None:
        self.known = frozenset(known)
        super().__init__(*args, **kwargs)

    def clean(self) -> None:
        names: set[str] = set()
        for form in self.forms:
            pk = form.cleaned_data.get("pk") if form.is_valid() else None
            if pk is not None and pk not in self.known:
                raise forms.ValidationError(
                    "This page is out of date. Open it again and repeat what you changed."
                )
            name = form.cleaned_data.get("name", "").lower() if form.is_valid() else ""
            if name and name in names and isinstance(form, VesselForm):
                form.add_error("name", "Another vessel has this name. Give each a name of its own.")
            names.add(name)

    def answers(self) -> list[Any]:
        """The rows in which something was written."""
        return [form.facts() for form in self.forms if form.cleaned_data.get("name")]


VesselRows = cast(
    type[RowsOfOurs], formset_factory(VesselForm, formset=RowsOfOurs, extra=1, max_num=60, validate_max=True)
)
MeasureRows = cast(
    type[RowsOfOurs], formset_factory(MeasureForm, formset=RowsOfOurs, extra=1, max_num=60, validate_max=True)
)


def studio_facts(studio_form: StudioForm, water_form: WaterForm) -> StudioFacts:
    """What both forms say, once they are valid."""
    said, water = studio_form.cleaned_data, water_form.cleaned_data
    return StudioFacts(
        name=" ".join(said["name"].split()),
        units=said["units"],
        currency=said["currency"],
        country=said["country"],
        time_zone=said["time_zone"],
        label_sheet=said["label_sheet"],
        water_hardness_mg_per_litre=water.get("hardness_mg_per_litre"),
        water_ph_hundredths=water["ph"],
        water_alkalinity_mg_per_litre=water.get("alkalinity_mg_per_litre"),
        water_measured_on=water["measured_on"],
    )


def vessel_initial(vessel: Vessel) -> dict[str, Any]:
    """A row of a vessel that is there."""
    return {
        "pk": vessel.pk,
        "name": vessel.name,
        "kind": vessel.kind,
        "working_millilitres": vessel.working_millilitres,
        "hob_watts": vessel.hob_watts,
        "hob_kind": vessel.hob_kind,
        "retired": vessel.retired_at is not None,
    }


def measure_initial(measure: Measure) -> dict[str, Any]:
    """A row of a scale or cylinder that is there, its step with its unit."""
    field: AmountField = MillilitresField() if measure.kind == Measure.Kind.CYLINDER else GramsField()
    return {
        "pk": measure.pk,
        "name": measure.name,
        "kind": measure.kind,
        "step": field.shown(measure.step),
        "most": "" if measure.most is None else field.shown(measure.most),
        "retired": measure.retired_at is not None,
    }


def _choose(form: forms.Form, name: str, choices: list[tuple[str, str]]) -> None:
    field = form.fields[name]
    assert isinstance(field, forms.ChoiceField)
    field.choices = choices


def _with_present(choices: list[tuple[str, str]], present: str) -> list[tuple[str, str]]:
    known = {code for code, _ in choices}
    return choices if not present or present in known else [(present, present), *choices]
