"""A few skeins on the scale against the weight on their label. Nothing is kept."""

from __future__ import annotations

import re

from django import forms
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from dyehouse.studio.access import SignedInRequest, helper
from recipes.dyeing.net_quantity import OutsideTheRule, Weighed, least_length, weigh_up
from recipes.dyeing.units import parse_decimal
from recipes.dyeing.working import DyeingError
from recipes.models import PutUp

MOST_PIECES = 200


class WeighForm(forms.Form):
    """What pieces weigh, each in grams."""

    weights = forms.CharField(
        label="What they weigh, in grams",
        max_length=2_000,
        widget=forms.TextInput(attrs={"autocomplete": "off", "inputmode": "text", "spellcheck": "false"}),
        help_text="One number a piece with a space between, for example 99.4 101 100.5. Dry, and rested for a day.",
        error_messages={"required": "Write what the pieces weigh, for example 99.4 101 100.5."},
    )

    def clean_weights(self) -> list[int]:
        found = []
        for word in re.split(r"[\s;]+", self.cleaned_data["weights"].strip()):
            try:
                grams = parse_decimal(word)
            except DyeingError as error:
                raise forms.ValidationError(f"{error} Put a space between two weights.") from None
            if not 0 < grams < 100_000:
                raise forms.ValidationError(
                    f"A piece weighs more than 0 g and less than 100 kg, not {word} g."
                )
            found.append(int(grams * 1000))
        if len(found) > MOST_PIECES:
            raise forms.ValidationError(f"Weigh {MOST_PIECES} pieces at a time at most.")
        return found


@helper
@require_safe
def weigh_some(request: SignedInRequest, pk: int) -> HttpResponse:
    """Weigh some pieces of a put-up: does what is on the label hold?"""
    put_up = get_object_or_404(PutUp.objects.select_related("base"), pk=pk)
    form = WeighForm(request.GET if "weights" in request.GET else None)
    weighed: Weighed | None = None
    if form.is_valid():
        try:
            weighed = weigh_up(form.cleaned_data["weights"], nominal_milligrams=put_up.nominal_milligrams)
        except OutsideTheRule as reason:
            form.add_error("weights", str(reason))
    length = least_length(put_up.metres) if put_up.metres else None
    context = {"put_up": put_up, "form": form, "weighed": weighed, "length": length}
    return render(request, "recipes/weigh_some.html", context, status=422 if form.errors else 200)
