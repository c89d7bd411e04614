"""Pages for what went wrong. Each says what happened and where to go from here."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def form_expired(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form whose protection against forgery did not fit: nearly always one left open over a new sign-in."""
    return render(request, "studio/form_expired.html", status=403)
