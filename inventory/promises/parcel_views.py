"""Pages of the packing table: what is ready, a batch, a parcel packed in one touch or piece by piece, and on its way."""

from __future__ import annotations

import uuid
from collections.abc import Callable

from django.contrib import messages
from django.http import HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.studio.access import SignedInRequest, helper, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.codes import tidy
from dyehouse.studio.keys import KeyField
from dyehouse.studio.refusals import Refused
from inventory.promises import making_parcels, parcels
from inventory.promises.models import Box, Parcel, PickBatch
from inventory.promises.parcel_queries import batch_page, box_page, next_to_pack, packing_table, parcel_page
from inventory.promises.parcel_weight import say_packaging, weight_of
from inventory.promises.tracking import take_tracking


def _key(request: SignedInRequest) -> uuid.UUID:
    return KeyField().clean(request.POST.get("key"))


def _parcel(code: str) -> Parcel:
    return get_object_or_404(Parcel.objects.select_related("receiver", "batch"), code=tidy(code))


def _done(request: SignedInRequest, where: str, deed: Callable[[], str]) -> HttpResponse:
    """Does something, says so or why not, and goes on to a page."""
    try:
        said = deed()
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        if said:
            messages.success(request, said)
    return SeeOther(where)


@helper
@require_GET
def parcel_list(request: SignedInRequest) -> HttpResponse:
    """What is ready for parcels, what stands in the way of the others, and the batches."""
    return render(request, "promises/parcels.html", {"page": packing_table()})


@helper
@require_POST
def parcel_make(request: SignedInRequest) -> HttpResponse:
    """Makes parcels of all that is ready of one round, product or order, and opens their pick list."""
    try:
        batches = making_parcels.make_ready(
            key=request.POST.get("of", ""), who=request.user, asked_too="asked" in request.POST
        )
    except Refused as refused:
        messages.error(request, str(refused))
        return SeeOther(reverse("parcels"))
    if len(batches) == 1:
        return SeeOther(reverse("parcel-batch", args=[batches[0].code]))
    messages.success(
        request,
        f"{len(batches)} batches are made."
        if batches
        else "All of it went into parcels that were to be packed already.",
    )
    return SeeOther(reverse("parcels"))


@helper
@require_POST
def parcel_loose(request: SignedInRequest) -> HttpResponse:
    """Puts the parcels that are in no batch into one."""
    loose = list(Parcel.objects.filter(batch=None, state=Parcel.State.OPEN).order_by("pk"))
    batches = making_parcels.batches_of(loose, who=request.user)
    if len(batches) == 1:
        return SeeOther(reverse("parcel-batch", args=[batches[0].code]))
    return SeeOther(reverse("parcels"))


@helper
@require_GET
def parcel_batch(request: SignedInRequest, code: str) -> HttpResponse:
    """A batch: the pick list in shelf order, and its parcels."""
    batch = get_object_or_404(PickBatch.objects.select_related("by"), code=tidy(code))
    return render(request, "promises/parcel_batch.html", {"page": batch_page(batch), "new_key": uuid.uuid4()})


@helper
@require_POST
def parcel_batch_send(request: SignedInRequest, code: str) -> HttpResponse:
    """Sends off all that is packed of a batch."""
    batch = get_object_or_404(PickBatch, code=tidy(code))

    def send() -> str:
        sent = parcels.send_off(parcels=batch.parcels.all(), key=_key(request), who=request.user)
        return f"{sent} {'parcel is' if sent == 1 else 'parcels are'} on their way." if sent else ""

    return _done(request, reverse("parcel-batch", args=[batch.code]), send)


@helper
@require_http_methods(["GET", "POST"])
def parcel(request: SignedInRequest, code: str) -> HttpResponse:
    """One parcel at the table; sent a code, one piece of that lot goes in."""
    found = _parcel(code)
    refusal, typed = "", tidy(request.GET.get("code", ""))
    if request.method == "POST":
        typed = request.POST.get("code", "")
        try:
            found = parcels.pack_piece(parcel=found, code=typed, key=_key(request), who=request.user)
        except Refused as refused:
            refusal = str(refused)
        else:
            if found.state == Parcel.State.PACKED:
                where = _after(found)
                return JsonResponse({"go": where}) if request.headers.get("HX-Request") else SeeOther(where)
            if not request.headers.get("HX-Request"):
                return SeeOther(request.path)
    page = parcel_page(_parcel(code), user=request.user, sent_from=request.studio.country)
    if request.headers.get("HX-Request") and request.method == "POST":
        if refusal:
            return JsonResponse({"wrong": refusal}, status=422)
        inside = render_to_string("promises/_parcel_inside.html", {"page": page}, request=request)
        return JsonResponse({"inside": inside, "key": str(uuid.uuid4()), "said": f"In: {tidy(typed)}."})
    packed = request.GET.get("packed", "")
    context = {
        "page": page,
        "weight": weight_of(page.parcel, [line for box in page.boxes for line in box.lines]),
        "refusal": refusal,
        "typed": typed,
        "new_key": uuid.uuid4(),
        "scan_key": uuid.uuid4(),
        "before": Parcel.objects.filter(code=tidy(packed), state=Parcel.State.PACKED).first()
        if packed
        else None,
    }
    return render(request, "promises/parcel.html", context, status=422 if refusal else 200)


def _after(packed: Parcel) -> str:
    """Where the table goes on once a parcel is packed: to the next, else to the batch."""
    following = next_to_pack(packed)
    if following is not None:
        return f"{reverse('parcel', args=[following.code])}?packed={packed.code}"
    batch = packed.batch
    return reverse("parcel-batch", args=[batch.code]) if batch is not None else reverse("parcels")


@helper
@require_POST
def parcel_pack(request: SignedInRequest, code: str) -> HttpResponse:
    """Packs all of a parcel in one touch; the next one opens."""
    found = _parcel(code)
    try:
        parcels.pack_whole(parcel=found, key=_key(request), who=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
        return SeeOther(reverse("parcel", args=[found.code]))
    return SeeOther(_after(found))


@helper
@require_POST
def parcel_unpack(request: SignedInRequest, code: str) -> HttpResponse:
    """Opens a packed parcel again."""
    found = _parcel(code)

    def deed() -> str:
        parcels.unpack(parcel=found, key=_key(request), who=request.user, why=request.POST.get("why", ""))
        return f"Parcel {found.code} is open again. Its pieces are held as before."

    return _done(request, reverse("parcel", args=[found.code]), deed)


@helper
@require_POST
def parcel_out(request: SignedInRequest, code: str) -> HttpResponse:
    """Takes a box out of a parcel that is not packed; it waits for another."""
    found = _parcel(code)
    box = get_object_or_404(Box, code=tidy(request.POST.get("box", "")), parcel_boxes__parcel=found)

    def deed() -> str:
        parcels.take_box_out(parcel=found, box=box, key=_key(request), who=request.user)
        return f"Box {box.code} is out of parcel {found.code}. Its pieces are still held for it."

    return _done(request, reverse("parcel", args=[found.code]), deed)


@helper
@require_POST
def parcel_send(request: SignedInRequest, code: str) -> HttpResponse:
    """Sends off one packed parcel."""
    found = _parcel(code)

    def deed() -> str:
        parcels.send_off(parcels=[found], key=_key(request), who=request.user)
        return f"Parcel {found.code} is on its way."

    return _done(request, reverse("parcel", args=[found.code]), deed)


@helper
@require_POST
def parcel_tracking(request: SignedInRequest, code: str) -> HttpResponse:
    """Keeps by whom a parcel is carried and under which number."""
    found = _parcel(code)

    def deed() -> str:
        parcels.say_tracking(
            parcel=found,
            carrier=request.POST.get("carrier", ""),
            tracking=request.POST.get("tracking", ""),
            key=_key(request),
            who=request.user,
        )
        return "Kept."

    return _done(request, reverse("parcel", args=[found.code]), deed)


@helper
@require_POST
def parcel_packaging(request: SignedInRequest, code: str) -> HttpResponse:
    """Keeps what the packaging of a parcel weighs."""
    found = _parcel(code)

    def deed() -> str:
        say_packaging(parcel=found, grams=request.POST.get("grams", ""))
        return "Kept."

    return _done(request, reverse("parcel", args=[found.code]), deed)


@helper
@require_http_methods(["GET", "POST"])
def parcel_tracking_list(request: SignedInRequest) -> HttpResponse:
    """Tracking numbers of many parcels from a list; what was typed stays where a line of it is not understood."""
    refusal = ""
    if request.method == "POST":
        try:
            kept = take_tracking(
                text=request.POST.get("list", ""),
                carrier=request.POST.get("carrier", ""),
                key=_key(request),
                who=request.user,
            )
        except Refused as refused:
            refusal = str(refused)
        else:
            messages.success(
                request, f"{kept} {'parcel has its' if kept == 1 else 'parcels have their'} number."
            )
            return SeeOther(reverse("parcels"))
    context = {
        "refusal": refusal,
        "typed": request.POST.get("list", ""),
        "carrier": request.POST.get("carrier", ""),
        "new_key": uuid.uuid4(),
    }
    return render(request, "promises/parcel_tracking_list.html", context, status=422 if refusal else 200)


@owner
@require_POST
def parcel_lost(request: SignedInRequest, code: str) -> HttpResponse:
    """Keeps that a parcel was lost or damaged, or came back."""
    found = _parcel(code)

    def deed() -> str:
        parcels.say_lost(
            parcel=found,
            key=_key(request),
            who=request.user,
            came_back=request.POST.get("what") == "back",
            why=request.POST.get("why", ""),
        )
        return "Kept. Each of its boxes can be replaced below."

    return _done(request, reverse("parcel", args=[found.code]), deed)


@owner
@require_GET
def parcel_box(request: SignedInRequest, code: str) -> HttpResponse:
    """A box: what it is of, what is held for it, its parcel, and both sides of a replacement."""
    box = get_object_or_404(Box, code=tidy(code))
    return render(request, "promises/parcel_box.html", {"page": box_page(box), "new_key": uuid.uuid4()})


@owner
@require_POST
def parcel_box_again(request: SignedInRequest, code: str) -> HttpResponse:
    """Promises a sent box once more, from the spares or what is free."""
    box = get_object_or_404(
        Box.objects.select_related("round", "order_line__offer", "receiver", "replaces"), code=tidy(code)
    )
    try:
        made = parcels.replace_box(box=box, key=_key(request), who=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
        return SeeOther(reverse("parcel-box", args=[box.code]))
    messages.success(request, f"Box {made.code} is held in place of {box.code}, ready for a parcel.")
    return SeeOther(reverse("parcel-box", args=[made.code]))
