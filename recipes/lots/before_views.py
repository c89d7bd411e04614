"""The page to read before a dye day, on the phone in the shed or on paper."""

from __future__ import annotations

from django import forms
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.codes import tidy
from recipes.lots.before_day import OLD_DAYS, before_day

MOST_DAYS = 3650


class OlderForm(forms.Form):
    """From which age on a bottle is pointed out."""

    older = forms.IntegerField(
        label="Point out bottles older than, days",
        min_value=1,
        max_value=MOST_DAYS,
        initial=OLD_DAYS,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        error_messages={
            "required": "Write how many days, for example 30.",
            "invalid": "Write whole days, for example 30.",
            "min_value": "Write 1 day or more.",
            "max_value": f"Write {MOST_DAYS} days or fewer.",
        },
    )


@helper
@require_GET
def before(request: SignedInRequest) -> HttpResponse:
    """What to mix for the planned pots, what will not suffice, and what is past its day; all of them or some."""
    codes = {tidy(code) for code in request.GET.getlist("pot")}
    plan = request.GET.get("plan", "")
    form = OlderForm(request.GET if "older" in request.GET else None)
    older = form.cleaned_data["older"] if form.is_bound and form.is_valid() else OLD_DAYS
    page = before_day(
        user=request.user,
        codes=codes,
        plan=int(plan) if plan.isdecimal() and len(plan) < 10 else None,
        old_days=older,
    )
    context = {"page": page, "form": form}
    wrong = form.is_bound and bool(form.errors)
    return render(request, "lots/before_day.html", context, status=422 if wrong else 200)
