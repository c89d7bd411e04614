"""Phones that stay signed in: the owner's list of them, a code for one more, and the page that the phone opens with it."""

from __future__ import annotations

from pathlib import Path

import segno
from django import forms
from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from dyehouse.running.certificate import fingerprint_words, read_authority
from dyehouse.studio import phones
from dyehouse.studio.access import SignedInRequest, anybody, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.models import PairedPhone, User
from dyehouse.studio.refusals import Refused
from dyehouse.studio.throttle import TooManyTries, address_of_visitor, begin_try, forget_tries

HERE_ONLY = ("localhost", "127.0.0.1", "[::1]", "testserver")
# Tries at codes are counted under a name that nobody can sign in by.
AT_CODES = "phone code"


class PairForm(forms.Form):
    """The code off the other screen, and what this phone is called in the list."""

    name = forms.CharField(
        label="What is this phone called?",
        max_length=60,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        help_text="So that you know it in the list again, for example “Jo’s phone” or “the one by the pot”.",
        error_messages={"required": "Give the phone a name."},
    )
    code = forms.CharField(
        label="Code",
        max_length=60,
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "none", "spellcheck": "false"}
        ),
        help_text="The twelve letters and figures below the square on the other screen.",
        error_messages={"required": "Write the code, or hold the phone’s camera at the square."},
    )


@owner
@require_http_methods(["GET"])
def phones_page(request: SignedInRequest) -> HttpResponse:
    """The phones that are signed in, and a button for one more."""
    return render(request, "studio/phones.html", _page())


@owner
@require_POST
@never_cache
def new_code(request: SignedInRequest) -> HttpResponse:
    """A code for one phone, shown this once."""
    person = get_object_or_404(User, username=request.POST.get("person", ""))
    try:
        waiting, code = phones.open_code(person=person)
    except Refused as refused:
        messages.error(request, str(refused))
        return SeeOther(reverse("phones"))
    where = _way_in(request)
    address = f"{where}#{code}" if where else ""
    context = {
        "person": person,
        "until": waiting.code_until,
        "code": " ".join(code[start : start + 4] for start in range(0, len(code), 4)),
        "address": where,
        "square": segno.make_qr(address).svg_data_uri(scale=6, border=4, light="#fff") if address else "",
    }
    return render(request, "studio/phone_code.html", context)


@owner
@require_POST
def end(request: SignedInRequest, pk: int) -> HttpResponse:
    """Sign a phone out at once."""
    phone = get_object_or_404(PairedPhone, pk=pk)
    phones.end_phone(phone=phone)
    messages.success(request, f"{phone} is signed out.")
    return SeeOther(reverse("phones"))


@anybody
@require_http_methods(["GET", "POST"])
@sensitive_post_parameters("code")
@never_cache
def pair(request: HttpRequest) -> HttpResponse:
    """What the phone opens with the code: it names itself and is signed in."""
    form = PairForm(request.POST or None)
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            address = address_of_visitor(request)
            try:
                begin_try(username=AT_CODES, address=address)
                phones.pair_phone(request=request, **form.cleaned_data)
            except TooManyTries:
                form.add_error("code", "There were too many tries with a wrong code. Wait five minutes.")
                status = 429
            except phones.CodeNotGood as refused:
                form.add_error("code", str(refused))
            else:
                forget_tries(username=AT_CODES, address=address)
                return SeeOther(reverse("pots"))
    return render(request, "studio/phone_pair.html", {"form": form}, status=status)


def _page() -> dict[str, object]:
    authority = read_authority(Path(settings.DATA))
    return {
        "fingerprint": fingerprint_words(authority) if authority is not None else "",
        "phones": phones.list_phones(),
        "persons": User.objects.filter(is_active=True).order_by("-role", "username"),
    }


def _way_in(request: HttpRequest) -> str:
    """Where a phone begins: the page that looks whether it trusts the house; empty where no phone can reach the house."""
    if settings.PHONES_HTTP:
        return settings.PHONES_HTTP.rstrip("/") + reverse("phone")
    if request.get_host().rsplit(":", 1)[0] in HERE_ONLY:
        return ""
    return request.build_absolute_uri(reverse("phone"))
