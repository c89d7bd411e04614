"""What every request needs to know about the studio."""

from __future__ import annotations

import zoneinfo
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from dyehouse.studio.models import Studio


class StudioMiddleware:
    """Reads the studio once a request and lets times be shown in its own time zone."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if not request.user.is_authenticated:
            return self.get_response(request)
        studio = Studio.current()
        request.studio = studio  # type: ignore[attr-defined]
        try:
            zone = zoneinfo.ZoneInfo(studio.time_zone)
        except (zoneinfo.ZoneInfoNotFoundError, ValueError):
            zone = zoneinfo.ZoneInfo("UTC")
        with timezone.override(zone):
            return self.get_response(request)
