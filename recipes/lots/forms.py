"""What is typed and touched at a pot, cleaned to the whole units that are stored."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid4

from django import forms
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from dyehouse.studio.amounts import GramsField, MillilitresField, ScaledField
from recipes.dyeing.potline.sections import LONGEST_SECTION
from recipes.dyeing.units import centi_celsius
from recipes.lots.models import LogEntry
from recipes.lots.technique_forms import TechniqueForm
from recipes.models import Auxiliary, Jar, Mix, StockBottle

Kind = LogEntry.Kind
TOUCHED = (
    Kind.STOCK,
    Kind.POWDER,
    Kind.MIX,
    Kind.AUXILIARY,
    Kind.WATER,
    Kind.TEMPERATURE,
    Kind.PH,
    Kind.HEAT,
    Kind.EXHAUSTED,
    Kind.TECHNIQUE,
)
#: What goes on a section of the yarn where one is chosen beside the bench.
ON_SECTIONS = (Kind.STOCK, Kind.POWDER, Kind.MIX)
MOST_PIECES = 500
MOST_INTO_A_POT_MICROLITRES = 500_000_000
MOST_INTO_A_POT_MILLIGRAMS = 100_000_000


class StampField(forms.Field):
    """The moment on the phone, as ISO 8601 with its zone; anything else is nothing, since it is never typed."""

    widget = forms.HiddenInput

    def to_python(self, value: Any) -> datetime | None:
        try:
            moment = parse_datetime(str(value or ""))
        except ValueError:
            return None
        return moment if moment is not None and timezone.is_aware(moment) else None


class KeyField(forms.UUIDField):
    """The id that the phone made; a page without JavaScript brings its own, and a form without one gets one here."""

    widget = forms.HiddenInput

    def clean(self, value: Any) -> UUID:
        try:
            return super().clean(value) or uuid4()
        except forms.ValidationError:
            return uuid4()


class KeptForm(forms.Form):
    """What every form at a pot sends along."""

    key = KeyField(required=False)
    clock = StampField(required=False)

    @property
    def at(self) -> datetime:
        """When it was done: the phone's clock, but never later than now."""
        arrived = timezone.now()
        told: datetime | None = self.cleaned_data.get("clock")
        return min(told, arrived) if told is not None else arrived


class LineForm(KeptForm):
    """The pot line. Nothing typed is ever refused but an empty line."""

    typed = forms.CharField(
        max_length=4000,
        error_messages={
            "required": "Write what you did, for example “5 ml red” or “82 C”.",
            "max_length": "This is too long for one line. Write it in parts.",
        },
    )


class TapForm(KeptForm):
    """A touch: a thing on the bench with an amount, a reading, or the heat."""

    kind = forms.ChoiceField(choices=[(kind.value, kind.label) for kind in TOUCHED])
    bottle = forms.ModelChoiceField(StockBottle.objects.select_related("dye"), required=False)
    jar = forms.ModelChoiceField(Jar.objects.select_related("dye"), required=False)
    mix = forms.ModelChoiceField(Mix.objects.select_related("item", "lot"), required=False)
    auxiliary = forms.ModelChoiceField(Auxiliary.objects.all(), required=False)
    microlitres = forms.IntegerField(min_value=1, max_value=MOST_INTO_A_POT_MICROLITRES, required=False)
    milligrams = forms.IntegerField(min_value=1, max_value=MOST_INTO_A_POT_MILLIGRAMS, required=False)
    ml = MillilitresField(most=MOST_INTO_A_POT_MICROLITRES, required=False)
    g = GramsField(most=MOST_INTO_A_POT_MILLIGRAMS, required=False)
    before = GramsField(required=False)
    after = GramsField(required=False)
    degrees = ScaledField(places=2, least=Decimal(-40), most=Decimal(500), required=False)
    ph = ScaledField(places=2, most=Decimal(14), required=False)
    heat = forms.ChoiceField(choices=[("on", "on"), ("off", "off")], required=False)
    section = forms.CharField(max_length=LONGEST_SECTION, required=False)

    def __init__(self, *args: Any, fahrenheit: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fahrenheit = fahrenheit

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        kind = cleaned.get("kind")
        if self.errors or kind is None:
            return cleaned
        fields: dict[str, Any] = getattr(self, f"_{kind}", dict)()
        if not self.errors:
            if kind in ON_SECTIONS and cleaned.get("section"):
                fields["section"] = cleaned["section"]
            cleaned["fields"] = fields
        return cleaned

    def _technique(self) -> dict[str, Any]:
        form = TechniqueForm(self.data)
        if not form.is_valid():
            for name, errors in form.errors.items():
                # A field of that form has no place in this one, so its sentence stands under its own name.
                self.errors[name] = errors
            return {}
        fields: dict[str, Any] = form.cleaned_data["fields"]
        return fields

    def _stock(self) -> dict[str, Any]:
        return {"bottle": self._thing("bottle"), "microlitres": self._microlitres()}

    def _mix(self) -> dict[str, Any]:
        return {"mix": self._thing("mix"), "microlitres": self._microlitres()}

    def _powder(self) -> dict[str, Any]:
        jar = self._thing("jar")
        before, after = self.cleaned_data.get("before"), self.cleaned_data.get("after")
        if after is not None:
            return self._two_weighings(jar, before, after)
        amount = self.cleaned_data.get("milligrams") or self.cleaned_data.get("g")
        if amount is None and before is not None:
            # The weight after is still to come; until then nothing has gone in.
            self.cleaned_data["kind"] = Kind.NOTE
            return {"jar": jar, "jar_before_milligrams": before, "text": self._before_words(jar, before)}
        if amount is None:
            self.add_error("g", "Write the grams that went in, or weigh the jar before and after.")
        return {"jar": jar, "milligrams": amount}

    def _before_words(self, jar: Jar | None, before: int) -> str:
        name = f"{jar.dye.name}, {jar.label}" if jar is not None else "Jar"
        return f"{name} weighed {GramsField().shown(before)} before"

    def _two_weighings(self, jar: Jar | None, before: int | None, after: int) -> dict[str, Any]:
        if before is None:
            self.add_error("before", "Write what the jar weighed before as well.")
        elif after >= before:
            self.add_error("after", "The jar is not lighter than before. Weigh it again, or swap the two.")
        else:
            return {
                "jar": jar,
                "milligrams": before - after,
                "jar_before_milligrams": before,
                "jar_after_milligrams": after,
            }
        return {}

    def _auxiliary(self) -> dict[str, Any]:
        auxiliary = self._thing("auxiliary")
        if auxiliary is not None and auxiliary.is_liquid:
            return {"auxiliary": auxiliary, "microlitres": self._microlitres()}
        amount = self.cleaned_data.get("milligrams") or self.cleaned_data.get("g")
        if amount is None:
            self.add_error("g", "Write how many grams went in, for example 12.5.")
        return {"auxiliary": auxiliary, "milligrams": amount}

    def _water(self) -> dict[str, Any]:
        return {"microlitres": self._microlitres()}

    def _temperature(self) -> dict[str, Any]:
        hundredths = self.cleaned_data.get("degrees")
        if hundredths is None:
            self.add_error("degrees", "Write the temperature, for example 82.")
            return {}
        return {"centi_celsius": centi_celsius(Decimal(hundredths) / 100, fahrenheit=self.fahrenheit)}

    def _ph(self) -> dict[str, Any]:
        if self.cleaned_data.get("ph") is None:
            self.add_error("ph", "Write the pH, for example 4.5.")
        return {"ph_hundredths": self.cleaned_data.get("ph")}

    def _heat(self) -> dict[str, Any]:
        if not self.cleaned_data.get("heat"):
            self.add_error("heat", "Say whether the heat went on or off.")
        return {"heat_on": self.cleaned_data.get("heat") == "on"}

    def _thing(self, name: str) -> Any:
        thing = self.cleaned_data.get(name)
        if thing is None:
            self.add_error(name, f"This {name} is not on the bench any more. Open the page afresh.")
        return thing

    def _microlitres(self) -> int | None:
        amount: int | None = self.cleaned_data.get("microlitres") or self.cleaned_data.get("ml")
        if amount is None:
            self.add_error("ml", "Write how many ml went in, for example 12.5.")
        return amount


class PhotoForm(KeptForm):
    """A photo from the camera or the album."""

    photo = forms.FileField(error_messages={"required": "Take or choose a photo first."})


class AgainForm(KeptForm):
    """One more of what a button shows."""

    of = KeyField(required=False)


class AnswerForm(KeptForm):
    """A quick answer to what an entry left open; exactly one of its fields is sent."""

    bottle = forms.ModelChoiceField(StockBottle.objects.select_related("dye"), required=False)
    strength = forms.IntegerField(min_value=1, max_value=500_000, required=False)
    jar = forms.ModelChoiceField(Jar.objects.select_related("dye"), required=False)
    mix = forms.ModelChoiceField(Mix.objects.select_related("item", "lot"), required=False)
    thing = forms.RegexField(r"^(dye|auxiliary)-\d+$", required=False)
    add = forms.ChoiceField(choices=[("dye", "dye"), ("auxiliary", "auxiliary")], required=False)
    typed = forms.CharField(max_length=500, required=False)
    instead = forms.CharField(max_length=80, required=False)
