"""The page of a long printing: how far it is, its sheets, and cancelling it."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from dyehouse.paper.long_printing import GOING, cancel_long_printing, pick_up_left_behind
from dyehouse.paper.models import PrintJob
from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther


@helper
@require_GET
def long_printing(request: SignedInRequest, key: UUID) -> HttpResponse:
    """How far it is; the page asks again by itself. Looking at one that was left behind sets it going."""
    job = get_object_or_404(PrintJob, key=key)
    going = job.state in GOING
    if going:
        pick_up_left_behind()
    return render(request, "paper/long_printing.html", {"job": job, "going": going})


@helper
@require_POST
def cancel(request: SignedInRequest, key: UUID) -> HttpResponse:
    """Stop it."""
    cancel_long_printing(job=get_object_or_404(PrintJob, key=key))
    return SeeOther(reverse("long-printing", args=[key]))
