"""What every request needs to know about the studio."""

from __future__ import annotations

import zoneinfo
from collections.abc import Callable
from urllib.parse import unquote

from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from dyehouse.studio import phones
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


class PhoneMiddleware:
    """A phone that was ended is out with its very next request; what somebody else wrote is not kept under this name."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if "phone" in request.session and not phones.still_paired(request):
            logout(request)
        writer = unquote(request.headers.get("X-Written-By", ""))
        if writer and request.user.is_authenticated and request.user.get_username() != writer:
            words = f"This was written by {writer}. It is kept once {writer} is signed in here again."
            return HttpResponse(words, status=409, content_type="text/plain; charset=utf-8")
        return self.get_response(request)
