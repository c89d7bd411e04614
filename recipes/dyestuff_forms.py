"""Forms for dyes and jars, auxiliaries, and for counting and finishing what is in the store."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from dyehouse.studio.amounts import AmountField, GramsField, MillilitresField, ScaledField
from dyehouse.studio.keys import KeyField
from dyehouse.studio.widgets import Segmented
from recipes.models import Auxiliary, Dye, hex_colour
from recipes.yarn_forms import came_field

MOST_MILLIGRAMS = 1_000_000_000
MOST_MICROLITRES = 1_000_000_000
NO_CHIP = "#ffffff"


def grams_field(**kwargs: Any) -> GramsField:
    """A weight of dye or powder, from a milligram to a tonne."""
    return GramsField(**{"most": MOST_MILLIGRAMS, **kwargs})


def amount_field(*, liquid: bool, **kwargs: Any) -> AmountField:
    """Millilitres of a liquid, grams of a powder."""
    return MillilitresField(**{"most": MOST_MICROLITRES, **kwargs}) if liquid else grams_field(**kwargs)


def _sds_field() -> forms.URLField:
    return forms.URLField(
        label="Safety data sheet",
        required=False,
        assume_scheme="https",
        help_text="The address of the maker’s sheet. It decides what is safe.",
        error_messages={"invalid": "Write a whole address, for example https://example.com/sheet.pdf."},
    )


class DyeFactsForm(forms.Form):
    """What is known of a dye. Its name is enough."""

    name = forms.CharField(
        label="Name of the dye",
        max_length=60,
        help_text="As you call it at the pot.",
        error_messages={"required": "Give the dye a name. It can be changed."},
    )
    dye_class = forms.ChoiceField(
        label="Class",
        choices=Dye.Class,
        initial=Dye.Class.ACID_UNKNOWN,
        help_text="The maker’s leaflet says it. It decides cautions and temperatures.",
    )
    ci_name = forms.CharField(
        label="C.I. generic name", max_length=60, required=False, help_text="For example C.I. Acid Red 1."
    )
    strength_of_type_percent = forms.IntegerField(
        label="Strength of type, %",
        min_value=1,
        max_value=1000,
        initial=100,
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        help_text="100 unless the maker says otherwise.",
        error_messages={
            "invalid": "Write whole percent, for example 100.",
            "min_value": "Write 1 or more, usually 100.",
            "max_value": "Write 1000 or less, usually 100.",
        },
    )
    strongest_stock_mg_per_litre = ScaledField(
        label="Strongest stock that stays dissolved",
        places=4,
        least=Decimal("0.0001"),
        most=Decimal(50),
        unit="%",
        required=False,
        help_text="Where you know it: no stronger stock is proposed. Empty is not known.",
    )
    sds_url = _sds_field()
    chip = forms.CharField(
        label="Colour on its button",
        required=False,
        initial=NO_CHIP,
        max_length=7,
        validators=[hex_colour],
        widget=forms.TextInput(attrs={"type": "color"}),
        help_text="White stands for none.",
    )

    def clean_chip(self) -> str:
        chip = self.cleaned_data["chip"].lower()
        return "" if chip == NO_CHIP else chip

    def clean_strength_of_type_percent(self) -> int:
        return self.cleaned_data["strength_of_type_percent"] or 100

    def facts(self) -> dict[str, Any]:
        """What the form says of the dye, as `add_dye` and `change_dye` take it."""
        return {name: self.cleaned_data[name] for name in DyeFactsForm.base_fields}

    @staticmethod
    def initial_of(dye: Dye) -> dict[str, Any]:
        """What is known of a dye, as the form shows it."""
        known = {name: getattr(dye, name) for name in DyeFactsForm.base_fields}
        return {**known, "chip": dye.chip or NO_CHIP}


class _JarFields(forms.Form):
    """A jar: how much powder, or what it weighs full and empty."""

    milligrams = grams_field(label="Dye in the jar", required=False)
    label = forms.CharField(
        label="Lot on the jar", max_length=60, required=False, help_text="Empty: jar 1, jar 2 and so on."
    )
    gross_milligrams = grams_field(
        label="Full jar",
        required=False,
        help_text="Jar, lid and dye on the scale. Then a count is one weighing.",
    )
    tare_milligrams = grams_field(label="Empty jar", required=False, help_text="Jar and lid, when known.")
    opened_on = forms.DateField(
        label="Opened on",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "Write the day like 2026-03-14."},
    )

    def clean(self) -> dict[str, Any]:
        super().clean()
        dye, gross, tare = (
            self.cleaned_data.get(name) for name in ("milligrams", "gross_milligrams", "tare_milligrams")
        )
        if {"milligrams", "gross_milligrams", "tare_milligrams"} & set(self.errors):
            return self.cleaned_data
        if gross is not None and tare is not None:
            if gross <= tare:
                self.add_error("gross_milligrams", "The full jar must weigh more than the empty one.")
            elif dye is not None and dye != gross - tare:
                left = GramsField().shown(gross - tare)
                self.add_error(
                    "milligrams", f"Full less empty is {left}. Leave this empty, or weigh the jar again."
                )
            else:
                self.cleaned_data["milligrams"] = gross - tare
        elif dye is None:
            self.no_amount()
        return self.cleaned_data

    def no_amount(self) -> None:
        self.add_error("milligrams", "Write how much dye is in the jar, or weigh it full and empty.")

    def jar(self) -> dict[str, Any]:
        """The jar as `add_jar` takes it."""
        return {name: self.cleaned_data[name] for name in _JarFields.base_fields}


class JarForm(_JarFields):
    """One more jar of a dye."""

    key = KeyField()
    came = came_field()

    field_order = ("key", "milligrams", "label", "came")


class NewDyeForm(_JarFields, DyeFactsForm):
    """A dye with its first jar, when there is one."""

    key = KeyField()
    came = came_field()

    field_order = ("key", "name", "milligrams", "label", "came")

    def no_amount(self) -> None:
        """A dye may be written down before there is any of it; a tare or a label alone is no jar."""
        if self.cleaned_data.get("gross_milligrams") is not None:
            super().no_amount()


class WeighForm(forms.Form):
    """One weighing of a jar."""

    key = KeyField()
    gross_milligrams = grams_field(label="Jar on the scale", required_words="Write what the jar weighs now.")
    why = forms.CharField(
        label="Why it differs",
        max_length=200,
        required=False,
        help_text="For example spilt. It may stay empty.",
    )


class TareForm(forms.Form):
    """What the empty jar weighs."""

    tare_milligrams = grams_field(
        label="Empty jar with lid", required_words="Write what the empty jar weighs."
    )


class CountForm(forms.Form):
    """What is really there, and why the book said otherwise. `unit` is piece, mg or ul."""

    key = KeyField()
    why = forms.CharField(
        label="Why it differs",
        max_length=200,
        help_text="For example counted again, spilt, given away.",
        error_messages={"required": "Say in a few words why the count differs."},
    )

    field_order = ("key", "counted", "why")

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        words = {
            "label": "Really there",
            "required_words": "Write how much is really there; 0 when nothing is.",
        }
        if unit == "piece":
            self.fields["counted"] = forms.IntegerField(
                label="Pieces really there",
                min_value=0,
                max_value=100_000,
                widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
                error_messages={
                    "required": "Write how many are really there; 0 when none is.",
                    "invalid": "Write a whole number of pieces.",
                    "min_value": "A count is 0 or more.",
                    "max_value": "This is more than 100,000 pieces. Check the number.",
                },
            )
        else:
            self.fields["counted"] = amount_field(liquid=unit == "ul", least=0, **words)
        self.order_fields(self.field_order)


class FinishForm(forms.Form):
    """Why something is put away for good."""

    key = KeyField()
    why = forms.CharField(
        label="Why",
        max_length=200,
        help_text="For example used up, too old, gone off.",
        error_messages={"required": "Say in a word why it is finished."},
    )


class AuxiliaryFactsForm(forms.Form):
    """What is known of an auxiliary."""

    name = forms.CharField(
        label="Name",
        max_length=60,
        help_text="For example white vinegar or Glauber’s salt.",
        error_messages={"required": "Give it a name. It can be changed."},
    )
    role = forms.ChoiceField(label="What it does", choices=Auxiliary.Role, initial=Auxiliary.Role.ACID)
    strength_hundredths_percent = ScaledField(
        label="Strength",
        places=2,
        least=Decimal("0.01"),
        most=Decimal(100),
        unit="%",
        required=False,
        help_text="5 for household vinegar; empty for what is pure or not known.",
    )
    sds_url = _sds_field()

    def facts(self) -> dict[str, Any]:
        """What the form says, as `change_auxiliary` takes it."""
        return {name: self.cleaned_data[name] for name in AuxiliaryFactsForm.base_fields}

    @staticmethod
    def initial_of(auxiliary: Auxiliary) -> dict[str, Any]:
        """What is known of an auxiliary, as the form shows it."""
        return {name: getattr(auxiliary, name) for name in AuxiliaryFactsForm.base_fields}


class NewAuxiliaryForm(AuxiliaryFactsForm):
    """An auxiliary and how much of it there is. Its amount is in ml or g, by its form."""

    key = KeyField()
    form = forms.ChoiceField(
        label="Form", choices=Auxiliary.Form, initial=Auxiliary.Form.LIQUID, widget=Segmented
    )
    amount = forms.CharField(
        label="How much is there",
        max_length=30,
        required=False,
        help_text="Millilitres of a liquid, grams of a powder; or with its unit, for example 5 l or 2 kg.",
        widget=forms.TextInput(attrs={"inputmode": "text", "autocomplete": "off"}),
    )
    came = came_field()

    field_order = ("key", "name", "role", "form", "strength_hundredths_percent", "amount", "came")

    def clean(self) -> dict[str, Any]:
        typed = self.cleaned_data.get("amount")
        if typed:
            field = amount_field(liquid=self.cleaned_data.get("form") == Auxiliary.Form.LIQUID)
            try:
                self.cleaned_data["amount"] = field.clean(typed)
            except forms.ValidationError as wrong:
                self.add_error("amount", wrong)
        return self.cleaned_data


class AuxiliaryInForm(forms.Form):
    """More of an auxiliary."""

    key = KeyField()
    came = came_field()

    field_order = ("key", "amount", "came")

    def __init__(self, *args: Any, auxiliary: Auxiliary, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"] = amount_field(
            liquid=auxiliary.is_liquid, label="How much", required_words="Write how much comes in."
        )
        self.order_fields(self.field_order)
