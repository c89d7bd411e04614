"""The living page of every component. It exists only where DEBUG is on."""

from __future__ import annotations

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from dyehouse.studio.access import anybody
from dyehouse.studio.look import everything


@anybody
@require_GET
def look(request: HttpRequest) -> HttpResponse:
    """All components with invented things in them."""
    if not settings.DEBUG:
        raise Http404
    return render(request, "studio/look.html", everything())
