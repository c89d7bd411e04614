"""The one box that finds everything, and the way of a thing from the mill to the shelf."""

from __future__ import annotations

from collections.abc import Sequence

from django.db.models import QuerySet
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET

from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.codes import tidy
from inventory import trace
from inventory.finding import find
from inventory.putups import changes
from recipes.lots.lot_queries import lot_with_taken
from recipes.lots.models import DyeLot, Pot
from recipes.models import Colourway, Jar, MillLot, Mix, StockBottle


@helper
@require_GET
def find_all(request: SignedInRequest) -> HttpResponse:
    """Whatever fits a code or a name; a whole code opens its page at once."""
    found = find(request.GET.get("for", "")[:80], user=request.user)
    if found.only is not None:
        return redirect(found.only.address)
    return render(request, "inventory/find.html", {"found": found})


@helper
@require_GET
def trace_code(request: SignedInRequest, code: str) -> HttpResponse:
    """The way of a lot or a pot; a colourway's code leads to its page."""
    wanted = tidy(code)
    lot, taken = lot_with_taken(wanted)
    if lot is not None:
        name = lot.shown_name(request.user)
        return _show(
            request,
            Pot.objects.filter(dye_lot=lot.dyed_as_id),
            "Lot",
            lot.code,
            name=name,
            lot=lot,
            taken=taken,
        )
    pot = Pot.objects.select_related("colourway").filter(code=wanted).first()
    if pot is not None:
        name = pot.colourway.shown_name(request.user)
        return _show(request, Pot.objects.filter(pk=pot.pk), "Pot", pot.code, name=name)
    if Colourway.objects.filter(code=wanted).exists():
        return redirect("colourway", wanted)
    if Mix.objects.filter(code=wanted).exists():
        return redirect("trace-mix", wanted)
    raise Http404("Nothing in the house has this code.")


@helper
@require_GET
def trace_mill_lot(request: SignedInRequest, pk: int) -> HttpResponse:
    """All pots that a mill lot went into."""
    mill_lot = get_object_or_404(MillLot.objects.select_related("base"), pk=pk)
    made = trace.made_mill_lot(mill_lot)
    return _show(
        request, trace.pots_of_mill_lot(mill_lot), made.kind, made.words, made=made, mill_lot=mill_lot
    )


@helper
@require_GET
def trace_jar(request: SignedInRequest, pk: int) -> HttpResponse:
    """All pots that had dye of a jar."""
    jar = get_object_or_404(Jar.objects.select_related("dye"), pk=pk)
    made = trace.made_jar(jar)
    return _show(request, trace.pots_of_jar(jar), made.kind, made.words, made=made)


@helper
@require_GET
def trace_bottle(request: SignedInRequest, pk: int) -> HttpResponse:
    """All pots that had stock of a bottle."""
    bottle = get_object_or_404(StockBottle.objects.select_related("dye"), pk=pk)
    made = trace.made_bottle(bottle)
    return _show(request, trace.pots_of_bottle(bottle), made.kind, made.words, made=made)


@helper
@require_GET
def trace_mix(request: SignedInRequest, code: str) -> HttpResponse:
    """All pots that had some of a mix."""
    mix = get_object_or_404(Mix, code=tidy(code))
    made = trace.made_mix(mix)
    return _show(request, trace.pots_of_mix(mix), made.kind, made.words, made=made)


def _show(
    request: SignedInRequest,
    pots: QuerySet[Pot],
    kind: str,
    title: str,
    *,
    name: str = "",
    made: trace.Made | None = None,
    lot: DyeLot | None = None,
    taken: Sequence[DyeLot] = (),
    mill_lot: MillLot | None = None,
) -> HttpResponse:
    context = {
        "trace": trace.trace_pots(pots, user=request.user, lot=lot, taken=taken, with_shared=made is None),
        "kind": kind,
        "title": title,
        "name": name if name != title else "",
        "made": made,
        "lot": lot,
        "wound": changes(user=request.user, dye_lot=lot, mill_lot=mill_lot) if lot or mill_lot else [],
    }
    return render(request, "inventory/trace.html", context)
