"""Signing in, signing out, and one's own password."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import authenticate, login, logout, update_session_auth_hash
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import get_script_prefix
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from dyehouse.studio import phones
from dyehouse.studio.access import SignedInRequest, anybody, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.forms import OwnPasswordForm, SignInForm
from dyehouse.studio.models import PairedPhone
from dyehouse.studio.throttle import TooManyTries, address_of_visitor, begin_try, forget_tries


@anybody
@require_http_methods(["GET", "POST"])
@sensitive_post_parameters("password")
@never_cache
def sign_in(request: HttpRequest) -> HttpResponse:
    """Name and password; then on to where they wanted to go."""
    target = _target(request)
    if request.user.is_authenticated:
        return redirect(target)
    form = SignInForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        username, address = form.cleaned_data["username"], address_of_visitor(request)
        try:
            begin_try(username=username, address=address)
        except TooManyTries as refused:
            form.add_error(None, str(refused))
            return render(request, "studio/sign_in.html", {"form": form, "next": target}, status=429)
        person = authenticate(request, username=username, password=form.cleaned_data["password"])
        if person is not None:
            forget_tries(username=username, address=address)
            login(request, person)
            return SeeOther(target)
        form.add_error(
            None, "That name and that password do not belong together. Mind capital letters and try again."
        )
    status = 422 if form.errors else 200
    return render(request, "studio/sign_in.html", {"form": form, "next": target}, status=status)


@helper
@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """Ends this device's sign-in; a paired phone has to be paired again."""
    phone = PairedPhone.objects.filter(pk=request.session.get("phone") or 0).first()
    if phone is not None:
        phones.end_phone(phone=phone)
    logout(request)
    return SeeOther(get_script_prefix())


@helper
@require_http_methods(["GET", "POST"])
@sensitive_post_parameters()
def password(request: SignedInRequest) -> HttpResponse:
    """One's own password."""
    form = OwnPasswordForm(request.user, request.POST or None)
    if request.method == "POST" and form.is_valid():
        with transaction.atomic():
            update_session_auth_hash(request, form.save())
            phones.keep_session(request)
            phones.end_phones_of(person=request.user, but=request.session.get("phone"))
        messages.success(
            request, "Your password is the new one from now on. Other devices have to sign in again."
        )
        return SeeOther(get_script_prefix())
    return render(request, "studio/password.html", {"form": form}, status=422 if form.errors else 200)


def _target(request: HttpRequest) -> str:
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    ours = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, require_https=request.is_secure())
    return wanted if ours else get_script_prefix()
