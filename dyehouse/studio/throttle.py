"""Guessing passwords is made slow: a few tries, then a wait."""

from __future__ import annotations

import datetime as dt
import ipaddress

from django.conf import settings
from django.db import transaction
from django.db.models import Q
from django.http import HttpRequest
from django.utils import timezone

from dyehouse.studio.models import SignInAttempt
from dyehouse.studio.refusals import Refused

TRIES_PER_NAME = 5
TRIES_PER_ADDRESS = 20
WINDOW = dt.timedelta(minutes=5)


class TooManyTries(Refused):
    """Too many wrong passwords of late. `until` is when the next try is let through."""

    def __init__(self, until: dt.datetime) -> None:
        self.until = until
        super().__init__(
            f"There were too many tries with a wrong password. Wait until {timezone.localtime(until):%H:%M:%S} "
            f"({timezone.get_current_timezone_name()}) and try again."
        )


@transaction.atomic
def begin_try(*, username: str, address: str | None, now: dt.datetime | None = None) -> None:
    """Count one try before the password is looked at, so that many tries at once are counted as many.

    Five tries in five minutes for a name from one address, twenty for an address whatever the names. Raises TooManyTries.
    """
    at = now or timezone.now()
    name = _name(username)
    since = at - WINDOW
    SignInAttempt.objects.filter(at__lte=since).delete()
    for told, limit in (
        (Q(username=name, address=address), TRIES_PER_NAME),
        (Q(address=address), TRIES_PER_ADDRESS),
    ):
        latest = list(
            SignInAttempt.objects.filter(told).order_by("-at", "-pk").values_list("at", flat=True)[:limit]
        )
        if len(latest) == limit:
            raise TooManyTries(latest[-1] + WINDOW)
    SignInAttempt.objects.create(username=name, address=address, at=at)


def forget_tries(*, username: str, address: str | None) -> None:
    """After a right password: the tries before it count no longer."""
    SignInAttempt.objects.filter(username=_name(username), address=address).delete()


def address_of_visitor(request: HttpRequest) -> str | None:
    """Where the request came from; behind our own proxy, what the proxy says."""
    if settings.SECURE_PROXY_SSL_HEADER:
        told = request.headers.get("X-Forwarded-For", "").rsplit(",", 1)[-1].strip()
        if told:
            return told if _is_address(told) else None
    remote = request.META.get("REMOTE_ADDR", "")
    return remote if _is_address(remote) else None


def _is_address(text: str) -> bool:
    try:
        ipaddress.ip_address(text)
    except ValueError:
        return False
    return True


def _name(username: str) -> str:
    return username.strip().casefold()[:150]
