"""Phones that stay signed in: a code shown once pairs one, and it stays so for 90 days or until it is ended."""

from __future__ import annotations

import datetime as dt
import hashlib
import secrets
from dataclasses import dataclass

from django.contrib.auth import login
from django.contrib.sessions.models import Session
from django.db import transaction
from django.db.models import Q
from django.http import HttpRequest
from django.utils import timezone

from dyehouse.studio.models import PairedPhone, User
from dyehouse.studio.refusals import Refused

CODE_LIFE = dt.timedelta(minutes=10)
SIGNED_IN_FOR = dt.timedelta(days=90)
# How exactly the list says when a phone was last seen; every page would otherwise be one write more.
SEEN_STEP = dt.timedelta(minutes=5)
# Typed off a screen with wet fingers: no letters or figures that are taken for each other.
CODE_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
CODE_LENGTH = 12
MODEL_BACKEND = "django.contrib.auth.backends.ModelBackend"


class CodeNotGood(Refused):
    """The code was used, is too old, or was never given out."""


@dataclass(frozen=True, slots=True)
class Phones:
    """The phones that are paired and those that were, the newest first."""

    paired: list[PairedPhone]
    ended: list[PairedPhone]


@transaction.atomic
def open_code(*, person: User, now: dt.datetime | None = None) -> tuple[PairedPhone, str]:
    """A code that pairs one phone for somebody within ten minutes. Only its digest is kept, so it is shown this once."""
    at = now or timezone.now()
    if not person.is_active:
        raise Refused(f"{person} cannot sign in at present, so no phone can be paired for them.")
    PairedPhone.objects.filter(paired_at=None, code_until__lte=at).delete()
    code = "".join(secrets.choice(CODE_LETTERS) for _ in range(CODE_LENGTH))
    return PairedPhone.objects.create(user=person, code_digest=_digest(code), code_until=at + CODE_LIFE), code


def pair_phone(*, request: HttpRequest, code: str, name: str, now: dt.datetime | None = None) -> PairedPhone:
    """Sign this phone in for the person whose code it is, for 90 days. Raises CodeNotGood."""
    at = now or timezone.now()
    not_good = CodeNotGood(
        "This code was used already, is older than ten minutes, or is mistyped. Ask for a new one."
    )
    with transaction.atomic():
        waiting = PairedPhone.objects.select_related("user").filter(code_digest=_digest(code)).first()
        if waiting is None or not waiting.user.is_active:
            raise not_good
        # Changed in one step with the asking, so that of two phones at the same code one is told that it is used.
        taken = PairedPhone.objects.filter(
            pk=waiting.pk, paired_at=None, revoked_at=None, code_until__gt=at
        ).update(
            name=" ".join(name.split())[:60], paired_at=at, seen_at=at, signed_in_until=at + SIGNED_IN_FOR
        )
        if not taken:
            raise not_good
        # What was open on this phone before was perhaps somebody else's.
        request.session.flush()
        login(request, waiting.user, backend=MODEL_BACKEND)
        request.session["phone"], request.session["phone_seen"] = waiting.pk, at.timestamp()
        request.session.set_expiry(at + SIGNED_IN_FOR)
        request.session.save()
        keep_session(request)
    waiting.refresh_from_db()
    return waiting


def keep_session(request: HttpRequest) -> None:
    """A paired phone's sign-in got a new key: write it down, since ending the phone is ending that."""
    phone, key = request.session.get("phone"), request.session.session_key
    if phone and key:
        PairedPhone.objects.filter(pk=phone).update(session_key=key)


def still_paired(request: HttpRequest, *, now: dt.datetime | None = None) -> bool:
    """Whether the phone behind a request may still come in; notes every few minutes that it was here.

    Ending a phone takes its sign-in away at once. This is asked beside that, for the 90 days and the list.
    """
    at = now or timezone.now()
    if at.timestamp() - request.session.get("phone_seen", 0) < SEEN_STEP.total_seconds():
        return True
    still = PairedPhone.objects.filter(
        pk=request.session["phone"], revoked_at=None, signed_in_until__gt=at
    ).update(seen_at=at)
    if still:
        request.session["phone_seen"] = at.timestamp()
    return bool(still)


@transaction.atomic
def end_phone(*, phone: PairedPhone, now: dt.datetime | None = None) -> None:
    """The phone is signed out at once, wherever it is. Ended twice changes nothing."""
    _end(Q(pk=phone.pk), now or timezone.now())


@transaction.atomic
def end_phones_of(*, person: User, but: int | None = None, now: dt.datetime | None = None) -> None:
    """All of somebody's phones are signed out, except the one in the hand if it is named; codes not used yet are void."""
    _end(Q(user=person) & ~Q(pk=but or 0), now or timezone.now())


def _end(which: Q, at: dt.datetime) -> None:
    open_ones = PairedPhone.objects.filter(which, revoked_at=None)
    keys = [key for key in open_ones.values_list("session_key", flat=True) if key]
    Session.objects.filter(session_key__in=keys).delete()
    open_ones.update(revoked_at=at)


def list_phones(*, now: dt.datetime | None = None) -> Phones:
    """Every phone that was ever paired, the ones that are still signed in first."""
    at = now or timezone.now()
    phones = list(
        PairedPhone.objects.filter(paired_at__isnull=False).select_related("user").order_by("-seen_at", "-pk")
    )
    paired = [
        each
        for each in phones
        if each.revoked_at is None and each.signed_in_until is not None and each.signed_in_until > at
    ]
    return Phones(paired=paired, ended=[each for each in phones if each not in paired][:20])


def _digest(code: str) -> str:
    """What is kept of a code, however it was typed."""
    tidy = "".join(code.split()).replace("-", "").lower()
    return hashlib.sha256(tidy.encode()).hexdigest()
