"""The shelf: what waits for it, what lies on it, putting away and counting."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.ledger.models import Place
from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.codes import tidy
from dyehouse.studio.refusing import refusals_beside
from inventory import shelf as operations
from inventory.forms import CountForm, PlaceForm, PutAwayForm
from inventory.queries import DRY, Lying, lot_lying, shelf_page, shelf_places, stock_by_stage
from recipes.lots.models import DyeLot
from recipes.models import DyedYarn
from recipes.paging import page_asked

#: What is there cannot be looked at, counted or put aside from here.
NOT_HERE = (Place.Kind.BOUNDARY, Place.Kind.SHOW)
SHELVED = (DyedYarn.Grade.GOOD, DyedYarn.Grade.SECOND, DyedYarn.Grade.SAMPLE)


def lot_or_404(code: str) -> DyeLot:
    """The lot of a code, however it was typed."""
    return get_object_or_404(DyeLot.objects.select_related("colourway", "lot"), code=tidy(code))


@helper
@require_GET
def shelf(request: SignedInRequest) -> HttpResponse:
    """What waits for a shelf and what lies on the shelves."""
    page = shelf_page(user=request.user, search=request.GET.get("find", "")[:80], page=page_asked(request))
    return render(request, "inventory/shelf.html", {"page": page})


@helper
@require_http_methods(["GET", "POST"])
def shelf_move(request: SignedInRequest, code: str, place: int | None = None) -> HttpResponse:
    """Put counted pieces of a lot away; `place` is the shelf they lie on now, none where they are only dry."""
    lot = lot_or_404(code)
    source = get_object_or_404(Place, pk=place, kind=Place.Kind.SHELF) if place is not None else None
    lying = [
        row
        for row in lot_lying(lot, user=request.user)
        if row.dyed.grade in SHELVED
        and (
            row.place == source
            if source is not None
            else row.place.kind == Place.Kind.STAGE and row.place.order >= DRY
        )
    ]
    places = [each for each in shelf_places() if each != source]
    form = PutAwayForm(request.POST if request.method == "POST" else None, lying=lying, places=places)
    if form.is_bound and form.is_valid():
        with refusals_beside(form, why=operations.ReasonMissing):
            operations.put_away(
                key=form.cleaned_data["key"],
                dye_lot=lot,
                place=form.chosen_place,
                counts=form.counts,
                who=request.user,
                why=form.cleaned_data["why"],
                book_follows=form.book_follows,
            )
        if not form.errors:
            messages.success(request, f"Lot {lot.code} is in {form.chosen_place.name}.")
            return SeeOther(reverse("shelf"))
    context = {
        "lot": lot,
        "form": form,
        "lying": lying,
        "source": source,
        "name": lot.shown_name(request.user),
    }
    return render(request, "inventory/put_away.html", context, status=422 if form.errors else 200)


@helper
@require_http_methods(["GET", "POST"])
def shelf_count(request: SignedInRequest, code: str, dyed: int, place: int) -> HttpResponse:
    """Correct how many pieces of a lot the book has at a place."""
    lot = lot_or_404(code)
    row = row_or_404(request, lot, dyed, place)
    form = CountForm(request.POST if request.method == "POST" else None, initial={"counted": row.pieces})
    if form.is_bound and form.is_valid():
        with refusals_beside(form, "counted", why=operations.ReasonMissing):
            operations.correct_count(
                key=form.cleaned_data["key"],
                dyed=row.dyed,
                dye_lot=lot,
                place=row.place,
                counted=form.cleaned_data["counted"],
                who=request.user,
                why=form.cleaned_data["why"],
            )
        if not form.errors:
            messages.success(
                request, f"The book has {form.cleaned_data['counted']} of lot {lot.code} there now."
            )
            return SeeOther(reverse("shelf"))
    context = {"lot": lot, "form": form, "row": row}
    return render(request, "inventory/count.html", context, status=422 if form.errors else 200)


def row_or_404(request: SignedInRequest, lot: DyeLot, dyed: int, place: int) -> Lying:
    """What lies of a lot in a place: nothing, where none does any more."""
    for row in lot_lying(lot, user=request.user):
        if row.dyed.pk == dyed and row.place.pk == place and row.place.kind not in NOT_HERE:
            return row
    wanted = (
        DyedYarn.objects.filter(pk=dyed, colourway=lot.colourway)
        .select_related("put_up__base", "item")
        .first()
    )
    where = Place.objects.filter(pk=place).exclude(kind__in=NOT_HERE).first()
    if wanted is None or where is None:
        raise Http404("There is no such yarn in this place.")
    return Lying(where, wanted, lot, 0, 0, lot.shown_name(request.user))


@helper
@require_http_methods(["GET", "POST"])
def shelf_place_new(request: SignedInRequest) -> HttpResponse:
    """Add a shelf, bin or box."""
    form = PlaceForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        with refusals_beside(form, "name"):
            place = operations.add_shelf_place(name=form.cleaned_data["name"])
        if not form.errors:
            messages.success(request, f"{place.name} is there.")
            return SeeOther(reverse("shelf"))
    return render(request, "inventory/place_new.html", {"form": form}, status=422 if form.errors else 200)


@helper
@require_http_methods(["GET", "POST"])
def shelf_place(request: SignedInRequest, pk: int) -> HttpResponse:
    """Another name for a place, and taking it out of use when it is empty."""
    place = get_object_or_404(Place, pk=pk, kind=Place.Kind.SHELF)
    form = PlaceForm(request.POST if request.method == "POST" else None, initial={"name": place.name})
    if form.is_bound and form.is_valid():
        with refusals_beside(form, "name"):
            operations.rename_shelf_place(place=place, name=form.cleaned_data["name"])
        if not form.errors:
            return SeeOther(reverse("shelf"))
    context = {"form": form, "place": place, "pieces": stock_by_stage().by_place.get(place.pk, 0)}
    return render(request, "inventory/place.html", context, status=422 if form.errors else 200)


@helper
@require_POST
def shelf_place_close(request: SignedInRequest, pk: int) -> HttpResponse:
    """Takes an empty place out of use."""
    place = get_object_or_404(Place, pk=pk, kind=Place.Kind.SHELF)
    try:
        operations.close_shelf_place(place=place)
    except operations.PlaceNotEmpty as refused:
        messages.error(request, str(refused))
        return SeeOther(reverse("shelf-place", args=[place.pk]))
    messages.success(request, f"{place.name} is not in use any more.")
    return SeeOther(reverse("shelf"))
