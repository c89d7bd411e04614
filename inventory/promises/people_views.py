"""Pages of people: the list, one person, who may be the same, and what is given out or erased on request."""

from __future__ import annotations

from dataclasses import asdict

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.studio.access import SignedInRequest, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.codes import tidy
from dyehouse.studio.refusals import Refused
from dyehouse.studio.refusing import refusals_beside
from inventory.promises import alike, people, privacy
from inventory.promises.erased import came_back_unasked
from inventory.promises.models import Club, Person
from inventory.promises.people_forms import EraseForm, PersonForm
from inventory.promises.people_queries import people_page, person_page
from recipes.paging import page_asked


def person_or_404(code: str) -> Person:
    """The person of a code, also of one that was joined to another (then that other)."""
    person = get_object_or_404(Person.objects.select_related("merged_into"), code=tidy(code))
    return person.merged_into or person


@owner
@require_GET
def people_list(request: SignedInRequest) -> HttpResponse:
    """Everybody who is promised something, gives it, or bought."""
    page = people_page(words=request.GET.get("for", ""), page=page_asked(request))
    context = {
        "page": page,
        "alike": len(alike.alike()),
        "back": came_back_unasked(),
        "requests": privacy.requests_log(),
    }
    return render(request, "promises/people.html", context)


@owner
@require_http_methods(["GET", "POST"])
def person_new(request: SignedInRequest) -> HttpResponse:
    """Write somebody down."""
    form = PersonForm(
        request.POST if request.method == "POST" else None, initial={"country": request.studio.country}
    )
    if "show" in request.POST:
        return _person_form(request, PersonForm(initial=_typed(request)))
    if form.is_bound and form.is_valid():
        try:
            person = people.add_person(facts=form.facts, came_back=form.cleaned_data.get("came_back", False))
        except Refused as refused:
            if isinstance(refused, people.WasErased):
                form = PersonForm(request.POST, asks_came_back=True)
                form.is_valid()
            _beside(form, refused)
        else:
            same = alike.alike_to(person)
            messages.success(request, f"{person} is written down.")
            if same:
                messages.warning(
                    request,
                    "Somebody of the same name and postcode is written down already: look whether they are one.",
                )
            return SeeOther(reverse("promises-person", args=[person.code]))
    return _person_form(request, form)


@owner
@require_http_methods(["GET", "POST"])
def person_change(request: SignedInRequest, code: str) -> HttpResponse:
    """Write down what is true of somebody now."""
    person = person_or_404(code)
    if person.erased_at is not None:
        return redirect("promises-person", code=person.code)
    form = PersonForm(
        request.POST if request.method == "POST" else None, initial=asdict(people.PersonFacts.of(person))
    )
    if "show" in request.POST:
        return _person_form(request, PersonForm(initial=_typed(request)), person)
    if form.is_bound and form.is_valid():
        try:
            people.change_person(person=person, facts=form.facts)
        except Refused as refused:
            _beside(form, refused)
        else:
            messages.success(request, "Kept.")
            return SeeOther(reverse("promises-person", args=[person.code]))
    return _person_form(request, form, person)


def _typed(request: SignedInRequest) -> dict[str, object]:
    """What was typed, to be shown again under the fields of another country."""
    many = ("avoids_fibres", "avoids_families", "likes_families")
    typed: dict[str, object] = {
        name: request.POST.getlist(name) if name in many else request.POST.get(name, "")
        for name in PersonForm.base_fields
    }
    typed["ships_apart"] = bool(request.POST.get("ships_apart"))
    return typed


def _person_form(request: SignedInRequest, form: PersonForm, person: Person | None = None) -> HttpResponse:
    context = {"form": form, "person": person}
    return render(request, "promises/person_form.html", context, status=422 if form.errors else 200)


def _beside(form: PersonForm, refused: Refused) -> None:
    if isinstance(refused, people.AddressWrong):
        for name, sentence in refused.faults.items():
            form.add_error(name, sentence)
        return
    beside = {
        people.NotAPerson: "name",
        people.NotAnEmail: "email",
        people.EmailTaken: "email",
        people.WasErased: "email",
    }
    form.add_error(beside.get(type(refused)), str(refused))


@owner
@require_GET
def person(request: SignedInRequest, code: str) -> HttpResponse:
    """One person: everything promised, held and sent."""
    who = person_or_404(code)
    if who.code != tidy(code):
        return redirect("promises-person", code=who.code)
    return render(
        request,
        "promises/person.html",
        {"page": person_page(who), "clubs": Club.objects.filter(retired_at=None).order_by("name")},
    )


@owner
@require_GET
def same_people(request: SignedInRequest) -> HttpResponse:
    """Who may be the same person: the same name and postcode."""
    return render(request, "promises/people_alike.html", {"pairs": alike.alike()})


@owner
@require_POST
def same_person(request: SignedInRequest, code: str, other: str) -> HttpResponse:
    """Say of two who look alike that they are one, with everything under the first, or that they are two."""
    first, second = (get_object_or_404(Person, code=tidy(each)) for each in (code, other))
    try:
        if request.POST.get("they_are") == "one":
            kept = alike.same_person(kept=first, other=second)
            messages.success(request, f"Everything stands under {kept} ({kept.code}) now.")
        else:
            alike.different_people(one=first, other=second, who=request.user)
            messages.success(request, "They are two people. It is not asked again.")
    except Refused as refused:
        messages.error(request, str(refused))
    return SeeOther(reverse("promises-people-alike"))


@owner
@require_POST
def person_export(request: SignedInRequest, code: str) -> HttpResponse:
    """All that is kept of a person, in a file to send to them."""
    who = person_or_404(code)
    answer = HttpResponse(privacy.give_out(person=who, who=request.user), content_type="application/zip")
    answer["Content-Disposition"] = f'attachment; filename="person-{who.code}.zip"'
    return answer


@owner
@require_http_methods(["GET", "POST"])
def person_erase(request: SignedInRequest, code: str) -> HttpResponse:
    """Erase a person on request."""
    who = person_or_404(code)
    form = EraseForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        with refusals_beside(form, withdraw=privacy.StillPromised):
            privacy.erase(person=who, who=request.user, withdraw=form.cleaned_data["withdraw"])
        if not form.errors:
            messages.success(request, "Erased. What was kept, and why, stands below.")
            return SeeOther(reverse("promises-person", args=[who.code]))
    context = {"person": who, "form": form, "owed": privacy.owed_to(who)}
    return render(request, "promises/person_erase.html", context, status=422 if form.errors else 200)
