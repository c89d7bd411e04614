"""Ways of dyeing: a pot is made repeatable, what is missing is answered, and a way is corrected."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.refusals import Refused
from dyehouse.studio.refusing import refusals_beside
from recipes.lots.colourway_queries import way_lines
from recipes.lots.correct_forms import CorrectForm
from recipes.lots.departing import keep_as_done
from recipes.lots.filling_in import answer_missing
from recipes.lots.learning import ProposedWay, learn_way, learned_before, propose_way
from recipes.lots.missing import PHOTO, Missing
from recipes.lots.models import Photo, Pot
from recipes.lots.notebook_forms import NotesPhotoForm
from recipes.lots.photos import add_photo
from recipes.lots.proposing import ProposedRule
from recipes.lots.untried import untried
from recipes.lots.views import in_us_units, pot_or_404
from recipes.lots.way_forms import ASKED, AnswerForm, chosen_bases
from recipes.models import WayOfDyeing
from recipes.way_words import departures
from recipes.ways import Notes, WayFacts, WhyMissing, depart, drafts_of, rules_of


@helper
@require_http_methods(["GET", "POST"])
def way_new(request: SignedInRequest, code: str) -> HttpResponse:
    """Make a pot repeatable: its additions as rules, what is missing, and keeping it as a way of dyeing."""
    pot = pot_or_404(code)
    us = in_us_units(request)
    try:
        base = _for_base(request, pot)
        proposed = propose_way(pot, base_id=base, us=us)
        chosen = _chosen(request, pot, proposed.rules, base)
        if chosen:
            proposed = propose_way(pot, chosen=chosen, base_id=base, us=us)
    except Refused as refused:
        return _show_way(request, pot, None, problem=str(refused))
    if request.method == "POST" and "keep" in request.POST:
        try:
            way = learn_way(pot=pot, who=request.user, rules=chosen, base_id=base)
        except Refused as refused:
            return _show_way(request, pot, proposed, problem=str(refused), status=422)
        request.session.pop(_remembered(pot), None)
        messages.success(request, f"Way {way.number} on {way.base.name} is kept. It never changes.")
        return SeeOther(reverse("colourway", args=[pot.colourway.code]))
    return _show_way(request, pot, proposed)


def _remembered(pot: Pot) -> str:
    return f"bases {pot.code}"


def _for_base(request: SignedInRequest, pot: Pot) -> int | None:
    """For which base the way is, where several lay in the pot: as chosen now, or on the page before."""
    sent = request.POST.get("base") or request.GET.get("base")
    said = str(sent or request.session.get(_remembered(pot), {}).get("base") or "")
    return int(said) if said.isascii() and said.isdigit() and len(said) < 12 else None


def _chosen(
    request: SignedInRequest, pot: Pot, rules: Sequence[ProposedRule], base: int | None = None
) -> dict[UUID, str]:
    """The bases chosen now, or else those chosen before something missing was answered on the same page."""
    if request.method == "POST" and request.resolver_match and request.resolver_match.url_name == "way-new":
        chosen = chosen_bases(request.POST, rules)
        request.session[_remembered(pot)] = {
            **{f"basis_{key}": basis for key, basis in chosen.items()},
            "base": base,
        }
        return chosen
    return chosen_bases(request.session.get(_remembered(pot), {}), rules)


def _show_way(
    request: SignedInRequest,
    pot: Pot,
    proposed: ProposedWay | None,
    *,
    problem: str = "",
    wrong: AnswerForm | None = None,
    status: int = 200,
) -> HttpResponse:
    missing = proposed.missing if proposed is not None else []
    context = {
        "pot": pot,
        "proposed": proposed,
        "problem": problem,
        "name": pot.colourway.shown_name(request.user),
        "kept": learned_before(proposed, us=in_us_units(request)) if proposed is not None else None,
        "missing": [(lack, _answer_form(request, lack, wrong)) for lack in missing],
        "wrong": wrong,
    }
    return render(request, "lots/way_new.html", context, status=422 if wrong is not None else status)


def _answer_form(request: SignedInRequest, lack: Missing, wrong: AnswerForm | None) -> AnswerForm | None:
    if lack.how not in ASKED:
        return None
    if wrong is not None and wrong.missing.slug == lack.slug:
        return wrong
    return AnswerForm(missing=lack, fahrenheit=in_us_units(request))


@helper
@require_POST
def way_answer(request: SignedInRequest, code: str) -> HttpResponse:
    """Answer one thing that is missing to dye a pot again."""
    pot = pot_or_404(code)
    us = in_us_units(request)
    back = SeeOther(reverse("way-new", args=[pot.code]) + "#missing")
    try:
        base = _for_base(request, pot)
        proposed = propose_way(pot, base_id=base, us=us)
        chosen = _chosen(request, pot, proposed.rules)
    except Refused as refused:
        return _show_way(request, pot, None, problem=str(refused), status=422)
    slug = request.POST.get("slug", "")
    lack = next((each for each in proposed.missing if each.slug == slug and each.how in ASKED), None)
    if lack is None:
        messages.warning(request, "That is known by now, or it is answered on another page.")
        return back
    form = AnswerForm(request.POST, request.FILES, missing=lack, fahrenheit=us)
    if form.is_valid():
        with refusals_beside(form, form.asked[0].name):
            _keep_answer(request, pot, form)
    if not form.errors:
        return back
    return _show_way(request, pot, propose_way(pot, chosen=chosen, base_id=base, us=us), wrong=form)


def _keep_answer(request: SignedInRequest, pot: Pot, form: AnswerForm) -> None:
    if form.missing.slug != PHOTO:
        answer_missing(
            pot=pot, slug=form.missing.slug, key=form.cleaned_data["key"], who=request.user, **form.answer()
        )
        return
    lot = pot.dye_lot
    add_photo(
        key=form.cleaned_data["key"],
        upload=form.cleaned_data["photo"],
        kind=Photo.Kind.POT if lot is None else Photo.Kind.DAYLIGHT,
        who=request.user,
        pot=pot if lot is None else None,
        dye_lot=lot,
    )


@helper
@require_POST
def way_as_done(request: SignedInRequest, code: str) -> HttpResponse:
    """Make what was done in a pot the next way of dyeing it."""
    pot = pot_or_404(code)
    try:
        kept = keep_as_done(pot=pot, who=request.user)
    except Refused as refused:
        messages.warning(request, str(refused))
        return SeeOther(reverse("pot", args=[pot.code]))
    messages.success(request, f"Way {kept.number} on {kept.base.name} is as it was done in pot {pot.code}.")
    return SeeOther(reverse("way", args=[kept.pk]))


def way_or_404(pk: int) -> WayOfDyeing:
    ways = WayOfDyeing.objects.select_related(
        "colourway", "base", "departs_from__base", "made_by", "origin__pot"
    )
    return get_object_or_404(ways.annotate(untried=untried()), pk=pk)


@helper
@require_GET
def way(request: SignedInRequest, pk: int) -> HttpResponse:
    """One way of dyeing as it was kept."""
    return show_way(request, way_or_404(pk))


def show_way(
    request: SignedInRequest, found: WayOfDyeing, *, photo_form: NotesPhotoForm | None = None
) -> HttpResponse:
    """The page of a way; with what is missing to dye by it and a photo of its page where it is from notes."""
    lines = way_lines(found, us=in_us_units(request))
    may_see = found.colourway.may_be_seen_by(request.user)
    context = {
        "way": found,
        "lines": lines,
        "name": found.colourway.shown_name(request.user),
        "photos": Photo.objects.filter(way=found).order_by("id") if found.from_notes and may_see else [],
        "photo_form": photo_form or NotesPhotoForm(),
        "may_see": may_see,
    }
    return render(request, "lots/way.html", context, status=422 if photo_form is not None else 200)


@helper
@require_http_methods(["GET", "POST"])
def way_correct(request: SignedInRequest, pk: int) -> HttpResponse:
    """Correct a way: a new one that says what it departs from and why; the old one stays as it is."""
    found = way_or_404(pk)
    sent = request.POST if request.method == "POST" else None
    keeping = sent is None or "keep" in sent
    us = in_us_units(request)
    form = CorrectForm(sent, way=found, rules=rules_of(found), keeping=keeping, us=us)
    departs: list[str] = []
    if form.is_bound and form.is_valid():
        new = (form.drafts(), form.new_facts())
        departs = departures((drafts_of(found), WayFacts.of(found)), new, us=us)
        if keeping:
            with refusals_beside(form, why=WhyMissing):
                kept = depart(
                    way=found,
                    rules=new[0],
                    facts=new[1],
                    why=form.cleaned_data["why"],
                    who=request.user,
                    notes=Notes.of(found) if getattr(found, "untried", False) else None,
                )
            if not form.errors:
                messages.success(request, f"Way {kept.number} is kept; way {found.number} stays as it is.")
                return SeeOther(reverse("colourway", args=[found.colourway.code]))
    context = {
        "way": found,
        "form": form,
        "rows": form.rows(),
        "departs": departs,
        "looked": form.is_bound and not form.errors,
        "name": found.colourway.shown_name(request.user),
    }
    return render(request, "lots/way_correct.html", context, status=422 if form.errors else 200)
