"""The maker's words: what labels must say of who made the yarn."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from dyehouse.studio.access import SignedInRequest, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.maker import MakerFacts, keep_makers_words


class MakerForm(forms.Form):
    """Nothing must be written; a label says which of it its market asks for."""

    postal_address = forms.CharField(
        label="Postal address",
        max_length=300,
        required=False,
        widget=forms.Textarea(attrs={"rows": 4, "autocomplete": "street-address"}),
        help_text="One line under another. Labels for the EU and the United Kingdom name it.",
    )
    email = forms.EmailField(
        label="E-mail address",
        required=False,
        help_text="Labels for the EU and the United Kingdom name it.",
        error_messages={"invalid": "Write an e-mail address like post@example.org."},
    )
    identification_number = forms.CharField(
        label="Registered identification number",
        max_length=40,
        required=False,
        help_text="For example RN 12345. A US label may carry it in place of the full company name.",
    )
    responsible_in_eu = forms.CharField(
        label="Who answers for it in the EU",
        max_length=300,
        required=False,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="For a maker outside the EU that sells there: name, address and e-mail of the responsible person.",
    )


@owner
@require_http_methods(["GET", "POST"])
def makers_words(request: SignedInRequest) -> HttpResponse:
    """Address, e-mail, number and the person in the EU."""
    studio = request.studio
    form = MakerForm(
        request.POST if request.method == "POST" else None,
        initial={name: getattr(studio, name) for name in MakerFacts.__dataclass_fields__},
    )
    if form.is_bound and form.is_valid():
        keep_makers_words(facts=MakerFacts(**form.cleaned_data))
        messages.success(request, "How labels name the maker was kept.")
        return SeeOther(reverse("makers-words"))
    return render(request, "studio/makers_words.html", {"form": form}, status=422 if form.errors else 200)
