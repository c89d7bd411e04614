"""One-offs: made one after the other from a lot, looked at, called otherwise, put back."""

from __future__ import annotations

from uuid import uuid5

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.ledger.operations import NotEnough
from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.codes import tidy
from dyehouse.studio.images import CleanPhoto, PhotoRefused, accept_photo
from dyehouse.studio.keys import KeyField
from dyehouse.studio.refusals import Refused
from dyehouse.studio.refusing import refusals_beside
from inventory import one_offs as operations
from inventory.models import OneOff
from inventory.one_off_forms import CallForm, OneOffForm, RestForm
from inventory.one_off_queries import may_become_one_offs, one_off_lines, one_offs_page
from inventory.views import lot_or_404
from recipes.lots.models import DyeLot, Photo
from recipes.lots.photos import add_photo
from recipes.paging import page_asked


@helper
@require_GET
def one_offs(request: SignedInRequest) -> HttpResponse:
    """All one-offs that are here, or those that are gone."""
    page = one_offs_page(
        user=request.user,
        gone="gone" in request.GET,
        search=request.GET.get("find", "")[:80],
        page=page_asked(request),
    )
    return render(request, "inventory/one_offs.html", {"page": page})


@helper
@require_http_methods(["GET", "POST"])
def one_new(request: SignedInRequest, code: str) -> HttpResponse:
    """The next one-off of a lot: a picture, a name, and on to the next."""
    lot = lot_or_404(code)
    lying = may_become_one_offs(lot, user=request.user)
    posted = request.POST if request.method == "POST" else None
    form = OneOffForm(posted, request.FILES or None, lying=lying, initial=_as_before(request))
    if form.is_bound and form.is_valid():
        with refusals_beside(form, "pieces", photo=PhotoRefused, name=operations.NotAOneOff):
            one = _keep(request, lot, form)
        if not form.errors:
            messages.success(request, f"{one.dye_lot.own_name} is there, code {one.dye_lot.code}.")
            if "done" in request.POST:
                return SeeOther(f"{reverse('one-offs')}?find={lot.code}")
            return SeeOther(f"{reverse('one-new', args=[lot.code])}?of={form.cleaned_data['of']}")
    return _show_new(request, lot, form)


def _as_before(request: SignedInRequest) -> dict[str, str]:
    """The next one is taken from where the last one was."""
    return {"of": request.GET["of"]} if "of" in request.GET else {}


def _clean(upload: UploadedFile | None) -> CleanPhoto | None:
    """The picture, cleaned before anything is written: it takes long, and a refused one changes nothing."""
    return accept_photo(upload) if upload is not None else None


def _keep(request: SignedInRequest, lot: DyeLot, form: OneOffForm) -> OneOff:
    said, row = form.cleaned_data, form.chosen
    photo = _clean(said["photo"])
    if "whole" in request.POST:
        return operations.name_whole_lot(
            key=said["key"],
            dye_lot=lot,
            name=said["name"],
            words=said["words"],
            photo=photo,
            who=request.user,
        )
    named = operations.Named(said["name"], said["pieces"], said["words"], photo)
    made = operations.take_one_offs(
        key=said["key"], dye_lot=lot, dyed=row.dyed, place=row.place, named=[named], who=request.user
    )
    return made[0]


@helper
@require_POST
def one_rest(request: SignedInRequest, code: str) -> HttpResponse:
    """Several one-offs at once, each under its code."""
    lot = lot_or_404(code)
    lying = may_become_one_offs(lot, user=request.user)
    rows = {f"{row.dyed.pk}-{row.place.pk}": row for row in lying}
    row = rows.get(request.POST.get("of", ""))
    if row is None:
        messages.error(request, "These pieces are not here any more. Choose from what is.")
        return SeeOther(reverse("one-new", args=[lot.code]))
    form = RestForm(request.POST, row=row)
    if form.is_valid():
        with refusals_beside(form, "count", count=NotEnough):
            operations.take_one_offs(
                key=form.cleaned_data["key"],
                dye_lot=lot,
                dyed=row.dyed,
                place=row.place,
                named=[operations.Named("")] * form.cleaned_data["count"],
                who=request.user,
            )
        if not form.errors:
            return SeeOther(f"{reverse('one-offs')}?find={lot.code}")
    return _show_new(request, lot, OneOffForm(lying=lying), rest=form)


def _show_new(
    request: SignedInRequest, lot: DyeLot, form: OneOffForm, *, rest: RestForm | None = None
) -> HttpResponse:
    first = next(iter(form.lying.values()), None)
    context = {
        "lot": lot,
        "name": lot.shown_name(request.user),
        "form": form,
        "rest": rest or (RestForm(row=first) if first is not None else None),
        "left": sum(row.pieces - row.held for row in form.lying.values()),
        "one_already": bool(lot.own_name),
    }
    wrong = form.errors or (rest is not None and rest.errors)
    return render(request, "inventory/one_new.html", context, status=422 if wrong else 200)


def _one_off_or_404(code: str) -> OneOff:
    found = OneOff.objects.select_related("dye_lot__colourway", "dye_lot__taken_from", "made_by")
    one = found.filter(dye_lot__code=tidy(code)).order_by("-id").first()
    if one is None:
        raise Http404("There is no one-off of this code.")
    return one


@helper
@require_http_methods(["GET", "POST"])
def one_off(request: SignedInRequest, code: str) -> HttpResponse:
    """One one-off: its picture, name and words, and where it is."""
    one = _one_off_or_404(code)
    line = one_off_lines([one], user=request.user)[0]
    may_see = one.dye_lot.colourway.may_be_seen_by(request.user)
    initial = {"name": one.dye_lot.own_name if may_see else "", "words": one.words if may_see else ""}
    form = CallForm(
        request.POST if request.method == "POST" else None, request.FILES or None, initial=initial
    )
    if form.is_bound and not may_see:
        form.add_error(None, "Its colourway is secret until its day; only the owner names it.")
    if form.is_bound and form.is_valid():
        said = form.cleaned_data
        with refusals_beside(form, "name", photo=PhotoRefused):
            photo = _clean(said["photo"])
            operations.call_one_off(one_off=one, name=said["name"], words=said["words"])
            if photo is not None:
                add_photo(
                    key=uuid5(said["key"], "photo"),
                    upload=photo,
                    kind=Photo.Kind.DAYLIGHT,
                    who=request.user,
                    dye_lot=one.dye_lot,
                )
        if not form.errors:
            return SeeOther(reverse("one-off", args=[one.dye_lot.code]))
    context = {
        "one": one,
        "lot": one.dye_lot,
        "line": line,
        "form": form,
        "may_see": may_see,
        "new_key": KeyField().initial(),
    }
    return render(request, "inventory/one_off.html", context, status=422 if form.errors else 200)


@helper
@require_POST
def one_back(request: SignedInRequest, code: str) -> HttpResponse:
    """A one-off is one no more."""
    one = get_object_or_404(
        OneOff.objects.select_related("dye_lot__taken_from"),
        dye_lot__code=tidy(code),
        ended_at__isnull=True,
    )
    try:
        operations.put_back(one_off=one, key=KeyField().clean(request.POST.get("key")), who=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
        return SeeOther(reverse("one-off", args=[one.dye_lot.code]))
    parent = one.dye_lot.taken_from or one.dye_lot
    messages.success(request, f"{one.dye_lot.code} is no one-off any more.")
    return SeeOther(reverse("lot", args=[parent.code]))
