"""The way from pot to shelf: whole racks moved on at a touch, part of a lot as easily, another name with a reason."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.ledger.models import Held, Place
from dyehouse.ledger.operations import NotEnough
from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.codes import tidy
from dyehouse.studio.keys import KeyField
from dyehouse.studio.refusals import Refused
from dyehouse.studio.refusing import refusals_beside
from inventory import stages as operations
from inventory.stage_forms import AnotherForm
from inventory.views import lot_or_404, row_or_404
from inventory.way_queries import StageShown, way_page
from recipes.lots import soaking
from recipes.lots.models import Pot


def _page(request: SignedInRequest, *, refused: str = "", stage: str = "") -> HttpResponse:
    context = {
        "page": way_page(user=request.user),
        "refused": refused,
        "refused_stage": stage,
        "new_key": KeyField().initial(),
        "chosen": request.POST.getlist("pick") if refused else [],
    }
    return render(request, "inventory/way.html", context, status=422 if refused else 200)


@helper
@require_GET
def way_on(request: SignedInRequest) -> HttpResponse:
    """Everything between the pot and the shelf, stage by stage."""
    return _page(request)


@helper
@require_POST
def way_move(request: SignedInRequest, code: str) -> HttpResponse:
    """Move what was chosen at a stage on; the button says where to, and whether it is all from before today."""
    page = way_page(user=request.user)
    shown = next((each for each in page.stages if each.place.code == code), None)
    if shown is None:
        return _page(request, refused="Nothing is at this stage any more; it has moved on.", stage=code)
    try:
        moving = _chosen(shown, request.POST)
        to = _place(shown, request.POST.get("all_to") or request.POST.get("to") or "")
        key = KeyField().clean(request.POST.get("key"))
        operations.move_on(key=key, moving=moving, to=to, who=request.user)
    except Refused as refused:
        return _page(request, refused=str(refused), stage=code)
    pieces = sum(each.pieces for each in moving)
    messages.success(request, f"{pieces} {'piece' if pieces == 1 else 'pieces'} moved on to {to.name}.")
    return SeeOther(reverse("shelf-way"))


@helper
@require_POST
def soak(request: SignedInRequest) -> HttpResponse:
    """Put the yarn of planned pots to soak: the chosen ones, or all that do not soak yet."""
    page = way_page(user=request.user)
    picked = set(request.POST.getlist("pick"))
    pots = [each.pot for each in page.to_soak if "all" in request.POST or each.pot.code in picked]
    try:
        key = KeyField().clean(request.POST.get("key"))
        movement = soaking.soak(key=key, pots=pots, who=request.user)
    except Refused as refused:
        return _page(request, refused=str(refused), stage="to-soak")
    messages.success(request, f"{movement.why}.")
    return SeeOther(reverse("shelf-way"))


@helper
@require_POST
def soak_back(request: SignedInRequest, code: str) -> HttpResponse:
    """What soaks for a pot goes back to where it lay; the pot stays planned."""
    pot = get_object_or_404(Pot, code=tidy(code))
    key = KeyField().clean(request.POST.get("key"))
    soaking.leave_off_soaking(key=key, pots=[pot], who=request.user)
    messages.success(request, f"The yarn of pot {pot.code} is back where it lay.")
    return SeeOther(reverse("shelf-way"))


def _place(shown: StageShown, sent: str) -> Place:
    for place in [*shown.onward, *shown.shelves]:
        if str(place.pk) == sent:
            return place
    raise operations.NotOnTheWay("Choose where they go.")


def _chosen(shown: StageShown, sent: QueryDict) -> list[operations.Moving]:
    if sent.get("all_to"):
        return [operations.Moving(row.dyed, row.lot, row.place, row.pieces) for row in shown.before_today]
    picked = set(sent.getlist("pick"))
    moving = []
    for row in shown.rows:
        if row.field not in picked:
            continue
        typed = sent.get(row.field, "").strip()
        if not (typed.isascii() and typed.isdecimal() and 1 <= int(typed[:6]) <= row.pieces):
            raise operations.NotOnTheWay(
                f"Of lot {row.lot.code} {row.pieces} are here. Write a number from 1 to {row.pieces}."
            )
        moving.append(operations.Moving(row.dyed, row.lot, row.place, int(typed)))
    return moving


@helper
@require_http_methods(["GET", "POST"])
def call_it(request: SignedInRequest, code: str, dyed: int, place: int) -> HttpResponse:
    """Pieces are something else after another look: a second, to redye, a sample, a gift, or for the bin."""
    lot = lot_or_404(code)
    row = row_or_404(request, lot, dyed, place)
    held = list(
        Held.objects.filter(place=place, item=row.dyed.item_id, lot=lot.lot_id, quantity__gt=0)
        .select_related("claim")
        .order_by("id")
    )
    instead = {each.pk: operations.next_best(held=each, pieces=1) for each in held}
    form = AnotherForm(
        request.POST if request.method == "POST" else None, row=row, held=held, instead=instead
    )
    if form.is_bound and form.is_valid():
        with refusals_beside(
            form, "pieces", why=operations.WhyAnother, pieces=(NotEnough, operations.HeldForSomebody)
        ):
            said = form.cleaned_data
            operations.call_it(
                key=said["key"],
                moving=operations.Moving(row.dyed, lot, row.place, said["pieces"]),
                outcome=said["outcome"],
                who=request.user,
                why=said["why"],
                held=form.chosen_held,
                instead=form.chosen_instead,
            )
        if not form.errors:
            words = operations.ANOTHER[said["outcome"]]
            messages.success(request, f"{said['pieces']} of lot {lot.code}: {words}.")
            return SeeOther(reverse("lot", args=[lot.code]))
    context = {"lot": lot, "row": row, "form": form, "held": held}
    return render(request, "inventory/call_it.html", context, status=422 if form.errors else 200)
