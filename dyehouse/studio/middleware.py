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
        response = self._in_its_zone(request)
        # Nobody who picks up a shared phone after a sign-out may page back; a photo view sets a header of its own.
        if not response.has_header("Cache-Control"):
            response["Cache-Control"] = "no-store"
        return response

    def _in_its_zone(self, request: HttpRequest) -> HttpResponse:
        studio = Studio.current()
        request.studio = studio  # type: ignore[attr-defined]
        try:
            zone = zoneinfo.ZoneInfo(studio.time_zone)
        except (zoneinfo.ZoneInfoNotFoundError, ValueError):
            zone = zoneinfo.ZoneInfo("UTC")
        with timezone.override(zone):
            return self.get_response(request)
