"""Taking a base, a dye or an auxiliary out of use, bringing it back, and the page of all that is out of use."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from dyehouse.studio.access import SignedInRequest, helper, owner
from dyehouse.studio.answers import SeeOther
from recipes.models import Auxiliary, Base, Dye
from recipes.retiring import Retirable, bring_back, no_longer_used, retire


@helper
@require_safe
def retired(request: SignedInRequest) -> HttpResponse:
    """All that is no longer used."""
    return render(request, "recipes/retired.html", {"unused": no_longer_used()})


@owner
@require_POST
def base_retire(request: SignedInRequest, pk: int) -> HttpResponse:
    """Take a base out of use, or bring it back."""
    return _change(request, get_object_or_404(Base, pk=pk), "base")


@owner
@require_POST
def dye_retire(request: SignedInRequest, pk: int) -> HttpResponse:
    """Take a dye out of use, or bring it back."""
    return _change(request, get_object_or_404(Dye, pk=pk), "dye")


@owner
@require_POST
def auxiliary_retire(request: SignedInRequest, pk: int) -> HttpResponse:
    """Take an auxiliary out of use, or bring it back."""
    return _change(request, get_object_or_404(Auxiliary, pk=pk), "auxiliary")


def _change(request: SignedInRequest, thing: Retirable, page: str) -> HttpResponse:
    if "back" in request.POST:
        bring_back(thing=thing)
        messages.success(request, f"{thing} is in use again.")
    else:
        retire(thing=thing)
        messages.success(
            request,
            f"{thing} is no longer offered. What is left of it stays in the book, and it can be brought back here.",
        )
    return SeeOther(reverse(page, args=[thing.pk]))
