"""Kits: written down as parts in order, built from the shelves, broken up again."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.studio.access import SignedInRequest, helper, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.codes import tidy
from dyehouse.studio.keys import KeyField
from dyehouse.studio.refusals import Refused
from dyehouse.studio.refusing import refusals_beside
from inventory import kits as operations
from inventory.kit_forms import BuildForm, KitForm, KitParts, OneKitForm, parts_wanted
from inventory.kit_queries import built_lines, kit_choices, kit_lines
from inventory.models import BuiltKit, Kit
from inventory.queries import free_and_good, shelf_places


@helper
@require_GET
def kits(request: SignedInRequest) -> HttpResponse:
    """All kits and how many of each can be made now."""
    return render(request, "inventory/kits.html", {"lines": kit_lines()})


@owner
@require_http_methods(["GET", "POST"])
def kit_new(request: SignedInRequest) -> HttpResponse:
    """Write a kit down as its parts in order."""
    sent = request.POST if request.method == "POST" else None
    form = KitForm(sent)
    parts = KitParts(sent, prefix="parts", form_kwargs={"choices": kit_choices(user=request.user)})
    if sent is not None and form.is_valid() and parts.is_valid():
        with refusals_beside(form, "name"):
            said = form.cleaned_data
            kit = operations.make_kit(name=said["name"], kind=said["kind"], parts=parts_wanted(parts))
        if not form.errors:
            messages.success(request, f"{kit} is written down.")
            return SeeOther(reverse("kit", args=[kit.pk]))
    status = 422 if sent is not None else 200
    return render(request, "inventory/kit_new.html", {"form": form, "parts": parts}, status=status)


@helper
@require_http_methods(["GET", "POST"])
def kit(request: SignedInRequest, pk: int) -> HttpResponse:
    """One kit: its parts, how many can be made, building some, and those that were built."""
    found = get_object_or_404(Kit.objects.select_related("item"), pk=pk)
    can = operations.can_make([found])[found.pk]
    sent = request.POST if request.method == "POST" else None
    form = BuildForm(sent, places=shelf_places(), most=can.kits)
    if sent is not None and form.is_valid():
        with refusals_beside(form, "count"):
            said = form.cleaned_data
            made = operations.build(
                key=said["key"], kit=found, count=said["count"], place=form.chosen_place, who=request.user
            )
        if not form.errors:
            codes = ", ".join(each.code for each in made)
            messages.success(request, f"In {form.chosen_place}: {codes}.")
            return SeeOther(reverse("kit", args=[found.pk]))
    context = {
        "kit": found,
        "can": can,
        "form": form,
        "parts": [(part, part.part.colourway.shown_name(request.user)) for part in can.parts],
        "built": built_lines(BuiltKit.objects.filter(kit=found)),
    }
    return render(request, "inventory/kit.html", context, status=422 if form.errors else 200)


@helper
@require_http_methods(["GET", "POST"])
def kit_one(request: SignedInRequest) -> HttpResponse:
    """Put a one-of-a-kind kit together from what lies on the shelves."""
    sent = request.POST if request.method == "POST" else None
    search = (sent or request.GET).get("find", "")[:80]
    lying = free_and_good(user=request.user, search=search)
    form = OneKitForm(sent, lying=lying, places=shelf_places())
    if sent is not None and form.is_valid():
        with refusals_beside(form, name=operations.NotAKit):
            built = operations.build_of_these(
                key=form.cleaned_data["key"],
                name=form.cleaned_data["name"],
                taken=[
                    operations.Taken(row.dyed, row.lot.lot, row.place, pieces) for row, pieces in form.chosen
                ],
                place=form.chosen_place,
                who=request.user,
            )
        if not form.errors:
            messages.success(request, f"{built.kit} {built.code} is in {form.chosen_place}.")
            return SeeOther(reverse("kit", args=[built.kit_id]))
    context = {"form": form, "search": search}
    return render(request, "inventory/kit_one.html", context, status=422 if form.errors else 200)


@helper
@require_POST
def kit_break(request: SignedInRequest, code: str) -> HttpResponse:
    """Take a built kit apart: its very skeins are free again where they had lain."""
    built = get_object_or_404(
        BuiltKit.objects.select_related("kit__item", "movement", "lot"), code=tidy(code)
    )
    key = KeyField().clean(request.POST.get("key"))
    try:
        operations.break_up(key=key, built=built, who=request.user, why=request.POST.get("why", "")[:300])
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, f"{built.code} is broken up; its skeins are free where they had lain.")
    return SeeOther(reverse("kit", args=[built.kit_id]))
