"""What every template may use."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest


def house(request: HttpRequest) -> dict[str, Any]:
    """The studio (None before sign-in) and whether US units are shown beside the metric."""
    studio = getattr(request, "studio", None)
    return {"studio": studio, "us_units": bool(studio and studio.units == "us")}
