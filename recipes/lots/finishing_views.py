"""Out of the pot, the lot's page, judging it dry, and which lot is the one to repeat."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.codes import tidy
from dyehouse.studio.images import PhotoRefused
from dyehouse.studio.refusals import Refused
from dyehouse.studio.refusing import refusals_beside
from recipes.lots import finishing as operations
from recipes.lots.finishing_forms import JudgeForm, LotPhotoForm, OutForm, TakeBackForm
from recipes.lots.jugs import lots_from_its_jugs
from recipes.lots.lot_queries import lot_page, lot_with_taken
from recipes.lots.models import DyeLot, Judgement, Photo
from recipes.lots.photos import add_photo
from recipes.lots.queries import loads_of
from recipes.lots.views import in_us_units, pot_or_404
from recipes.models import Base


def lot_or_404(code: str) -> DyeLot:
    """The lot of a code, however it was typed, with its colourway."""
    lots = DyeLot.objects.select_related("colourway", "lot", "taken_from")
    return get_object_or_404(lots, code=tidy(code))


@helper
@require_http_methods(["GET", "POST"])
def pot_out(request: SignedInRequest, code: str) -> HttpResponse:
    """Take the pieces out of a pot: all of them unless counted otherwise."""
    pot = pot_or_404(code)
    if request.method == "GET" and pot.dye_lot is not None:
        return SeeOther(reverse("lot", args=[pot.dye_lot.code]))
    form = OutForm(
        request.POST if request.method == "POST" else None,
        loads=loads_of(pot),
        one_lot=lots_from_its_jugs(pot) if pot.state == "in work" else (),
    )
    if form.is_bound and form.is_valid():
        with refusals_beside(form):
            lot = operations.out_of_pot(
                key=form.cleaned_data["key"],
                pot=pot,
                bath=form.cleaned_data["bath"],
                who=request.user,
                pieces_out=form.pieces_out,
                join=form.join,
            )
        if not form.errors:
            said = f"Lot {lot.code} is drying. Judge it when it is dry."
            if form.join is not None:
                said = f"Pot {pot.code} is drying as the same lot, {lot.code}. Judge both together when they are dry."
            messages.success(request, said)
            return SeeOther(reverse("lot", args=[lot.code]))
    context = {"pot": pot, "form": form, "name": pot.colourway.shown_name(request.user)}
    return render(request, "lots/out.html", context, status=422 if form.errors else 200)


@helper
@require_GET
def lot(request: SignedInRequest, code: str) -> HttpResponse:
    """One lot: where its pieces are, how it was judged, and what comes next."""
    found, taken = lot_with_taken(tidy(code))
    if found is None:
        raise Http404
    return _show_lot(request, found, taken=taken)


def _show_lot(
    request: SignedInRequest,
    dye_lot: DyeLot,
    *,
    taken: Sequence[DyeLot] | None = None,
    photo_form: LotPhotoForm | None = None,
    taking_back: tuple[int, TakeBackForm] | None = None,
) -> HttpResponse:
    """The page of a lot, with the form that was refused if one was."""
    page = lot_page(dye_lot, user=request.user, us=in_us_units(request), taken=taken)
    refused = dict([taking_back]) if taking_back is not None else {}
    context = {
        "page": page,
        "lot": dye_lot,
        "photo_form": photo_form or LotPhotoForm(),
        "judgements": [
            (line, refused.get(line.judgement.pk) or TakeBackForm(auto_id=f"back-{number}-%s"))
            for number, line in enumerate(page.judgements)
        ],
        "taking_back": taking_back[0] if taking_back is not None else None,
    }
    return render(request, "lots/lot.html", context, status=422 if photo_form or taking_back else 200)


@helper
@require_http_methods(["GET", "POST"])
def lot_judge(request: SignedInRequest, code: str) -> HttpResponse:
    """Judge what of a lot is dry, all or part; with a photo, a verdict, and whether it is the one to repeat."""
    dye_lot = lot_or_404(code)
    page = lot_page(dye_lot, user=request.user)
    reference = next(
        (on.reference for on in page.bases if on.reference is not None and not on.is_reference), None
    )
    form = JudgeForm(
        request.POST if request.method == "POST" else None,
        request.FILES if request.method == "POST" else None,
        waiting=page.waiting,
        has_reference=reference is not None,
        sample=page.is_sample,
    )
    if (
        form.is_bound
        and form.is_valid()
        and _judged(request, form, dye_lot, {line.put_up.base for line in page.waiting})
    ):
        messages.success(request, f"Lot {dye_lot.code} is judged.")
        return SeeOther(reverse("lot", args=[dye_lot.code]))
    context = {
        "page": page,
        "lot": dye_lot,
        "form": form,
        "reference": reference,
        "reference_photo": _photo_of(reference) if reference is not None and page.may_see else None,
    }
    return render(request, "lots/judge.html", context, status=422 if form.errors else 200)


def _photo_of(dye_lot: DyeLot) -> Photo | None:
    return Photo.objects.filter(dye_lot=dye_lot).order_by("-taken_at", "-id").first()


def _judged(request: SignedInRequest, form: JudgeForm, dye_lot: DyeLot, bases: Iterable[Base]) -> bool:
    """Keep the photo first: a picture that is refused leaves the counts as typed and nothing judged."""
    said = form.cleaned_data
    with refusals_beside(form, photo=PhotoRefused):
        if said.get("photo") is not None:
            add_photo(
                key=said["key"],
                upload=said["photo"],
                kind=Photo.Kind.DAYLIGHT,
                who=request.user,
                dye_lot=dye_lot,
            )
        operations.judge(
            key=said["key"],
            dye_lot=dye_lot,
            counts=form.counts,
            by_line=form.by_line,
            who=request.user,
            verdict=said.get("verdict") or ("" if "verdict" in form.fields else Judgement.Verdict.FIRST),
            words=said["words"],
        )
        if said.get("repeat"):
            for base in bases:
                operations.choose_reference(dye_lot=dye_lot, base=base, who=request.user)
    return not form.errors


@helper
@require_POST
def lot_photo(request: SignedInRequest, code: str) -> HttpResponse:
    """Add a photo of a lot in daylight."""
    dye_lot = lot_or_404(code)
    form = LotPhotoForm(request.POST, request.FILES)
    if form.is_valid():
        with refusals_beside(form, "photo"):
            add_photo(
                key=form.cleaned_data["key"],
                upload=form.cleaned_data["photo"],
                kind=Photo.Kind.DAYLIGHT,
                who=request.user,
                dye_lot=dye_lot,
            )
    if not form.errors:
        return SeeOther(reverse("lot", args=[dye_lot.code]))
    return _show_lot(request, dye_lot, photo_form=form)


@helper
@require_POST
def lot_repeat(request: SignedInRequest, code: str, base: int) -> HttpResponse:
    """Make a lot the one to repeat on a base."""
    dye_lot = lot_or_404(code)
    try:
        operations.choose_reference(dye_lot=dye_lot, base=get_object_or_404(Base, pk=base), who=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, f"Lot {dye_lot.code} is the one to repeat.")
    return SeeOther(reverse("lot", args=[dye_lot.code]))


@helper
@require_POST
def judgement_back(request: SignedInRequest, code: str, pk: int) -> HttpResponse:
    """Take a judgement back with a reason; its pieces wait for judging again."""
    dye_lot = lot_or_404(code)
    judgement = get_object_or_404(Judgement.objects.select_related("movement"), pk=pk, dye_lot=dye_lot)
    form = TakeBackForm(request.POST)
    if form.is_valid():
        with refusals_beside(form, "why"):
            operations.take_back_judgement(
                key=form.cleaned_data["key"],
                judgement=judgement,
                who=request.user,
                why=form.cleaned_data["why"],
            )
    if not form.errors:
        messages.success(request, "The judgement is taken back; its pieces wait for judging again.")
        return SeeOther(reverse("lot", args=[dye_lot.code]))
    return _show_lot(request, dye_lot, taking_back=(pk, form))
