"""The owner's page of who may sign in."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from dyehouse.studio import people
from dyehouse.studio.access import SignedInRequest, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.forms import NewPasswordForm, NewPersonForm, PersonForm
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused


@owner
@require_http_methods(["GET", "POST"])
@sensitive_post_parameters("password")
def everybody(request: SignedInRequest) -> HttpResponse:
    """Who signs in here, and a form for one more."""
    form = NewPersonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            person = people.add_person(**form.cleaned_data)
        except people.NameTaken as refused:
            form.add_error("username", str(refused))
        except ValidationError as easy:
            form.add_error("password", easy)
        else:
            messages.success(request, f"{person} can sign in now.")
            return SeeOther(reverse("people"))
    persons = User.objects.order_by("-is_active", "-role", "username")
    context = {"persons": persons, "form": form}
    return render(request, "studio/people.html", context, status=422 if form.errors else 200)


@owner
@require_http_methods(["GET", "POST"])
def one_person(request: SignedInRequest, username: str) -> HttpResponse:
    """What somebody is called and what they may open."""
    person = get_object_or_404(User, username=username)
    form = PersonForm(request.POST or None, initial={"called": person.called, "role": person.role})
    if request.method == "POST" and form.is_valid():
        try:
            people.change_person(person=person, **form.cleaned_data)
        except people.LastOwner as refused:
            form.add_error("role", str(refused))
        else:
            messages.success(request, f"What is written about {person} was changed.")
            return SeeOther(reverse("people"))
    return _person_page(request, person, form=form)


@owner
@require_POST
@sensitive_post_parameters("password")
def new_password(request: SignedInRequest, username: str) -> HttpResponse:
    """A new password for somebody who has lost theirs."""
    person = get_object_or_404(User, username=username)
    form = NewPasswordForm(request.POST)
    if form.is_valid():
        try:
            people.give_password(person=person, password=form.cleaned_data["password"])
        except ValidationError as easy:
            form.add_error("password", easy)
        else:
            messages.success(request, f"{person} signs in with the new password from now on.")
            return SeeOther(reverse("people"))
    return _person_page(request, person, password_form=form)


@owner
@require_POST
def may_sign_in(request: SignedInRequest, username: str) -> HttpResponse:
    """Lets somebody go, or takes them back."""
    person = get_object_or_404(User, username=username)
    try:
        if request.POST.get("may") == "yes":
            people.take_back(person=person)
            messages.success(request, f"{person} can sign in again.")
        else:
            people.let_go(person=person)
            messages.success(
                request, f"{person} cannot sign in any more. What they did stays under their name."
            )
    except Refused as refused:
        messages.error(request, str(refused))
    return SeeOther(reverse("people"))


def _person_page(
    request: SignedInRequest,
    person: User,
    *,
    form: forms.Form | None = None,
    password_form: forms.Form | None = None,
) -> HttpResponse:
    form = form or PersonForm(initial={"called": person.called, "role": person.role})
    password_form = password_form or NewPasswordForm()
    context = {"person": person, "form": form, "password_form": password_form}
    wrong = form.errors or password_form.errors
    return render(request, "studio/person.html", context, status=422 if wrong else 200)
