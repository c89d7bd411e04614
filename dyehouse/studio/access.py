"""Who may open what. Every view names its rule; a test walks all addresses and fails on one that names none."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponseBase

from dyehouse.studio.models import Studio, User

View = Callable[..., HttpResponseBase]


class SignedInRequest(HttpRequest):
    """A request whose user is one of ours, in our studio."""

    user: User
    # Set by StudioMiddleware, so that no page reads it a second time.
    studio: Studio


def anybody(view: View) -> View:
    """A page that needs no sign-in."""
    opened = login_not_required(view)
    opened.rule = "anybody"  # type: ignore[attr-defined]
    return opened


def helper(view: View) -> View:
    """A page for everybody who works here."""

    @wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if not request.user.is_authenticated:
            raise PermissionDenied("Sign in first.")
        return view(request, *args, **kwargs)

    guarded.rule = "helper"  # type: ignore[attr-defined]
    return guarded


def owner(view: View) -> View:
    """A page for the owner alone."""

    @wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if not (request.user.is_authenticated and request.user.is_owner):
            raise PermissionDenied("This page is the owner's.")
        return view(request, *args, **kwargs)

    guarded.rule = "owner"  # type: ignore[attr-defined]
    return guarded
