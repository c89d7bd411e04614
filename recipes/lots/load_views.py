"""Loading a pot: one line or several, undyed or dyed before; more put in, weighed, put back; whose bath it is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.codes import tidy
from dyehouse.studio.refusals import Refused
from dyehouse.studio.refusing import refusals_beside
from recipes.lots import baths
from recipes.lots import pots as operations
from recipes.lots.bath_forms import BathForm, LeftForm
from recipes.lots.forms import KeptForm
from recipes.lots.load_forms import (
    LineForms,
    LoadForm,
    PlannedLoadForm,
    Typed,
    WeightForm,
    one_line,
    planned_lines,
    typed_lines,
)
from recipes.lots.load_lines import LoadLine
from recipes.lots.loading import mill_lots_for, what_can_be_loaded
from recipes.lots.mill_lots import split_when_loaded
from recipes.lots.models import Pot, PotLoad
from recipes.lots.queries import loads_of
from recipes.lots.views import pot_or_404
from recipes.lots.yarn_choices import Lying, free_to_overdye, to_redye, yarn_choices
from recipes.models import DyedYarn, PutUp

NEXT_LINE: Typed = {"what": "", "pieces": "1", "dry_weight": ""}
Sent = Mapping[str, Any] | None


def _is_loading(sent: Sent) -> bool:
    """Whether the pot is to be loaded, rather than a line put to the others or taken away."""
    return sent is not None and not {"several", "another", "away"} & set(sent)


@helper
@require_http_methods(["GET", "POST"])
def pot_new(request: SignedInRequest) -> HttpResponse:
    """Load a pot to try a colour: one line of undyed yarn, or several, among them lots that were dyed before."""
    sent = request.POST if request.method == "POST" else None
    wanted = (sent or request.GET).get("put_up", "")
    choices = what_can_be_loaded(put_up_id=int(wanted) if wanted.isdecimal() else None)
    if choices.put_up is None:
        return render(request, "lots/pot_new.html", {"choices": choices})
    overdye = (sent or request.GET).get("overdye")
    several = overdye is not None or (sent is not None and bool({"several", "lines"} & set(sent)))
    loading = _is_loading(sent)
    form = LoadForm(
        sent if loading else None,
        initial={**choices.initial, "key": uuid4(), **(sent.dict() if sent is not None else {})},
        put_up=choices.put_up,
        mill_lots=choices.mill_lots,
        vessels=choices.vessels,
        colourways=choices.colourways,
        baths=baths.baths_at_hand(),
        user=request.user,
        several=several,
    )
    lines, lying = None, []
    if several:
        lying = _lying(overdye)
        if sent is None:
            typed = _first_lines(lying, request.GET) or [dict(NEXT_LINE)]
        else:
            typed = (
                typed_lines(sent) if "lines" in sent else [one_line(sent, choices.put_up), dict(NEXT_LINE)]
            )
        lines = _line_forms(request, typed, lying, dyed_first=overdye is not None, put_ups=choices.put_ups)
    if loading and form.is_valid() and (lines is None or lines.is_valid()):
        said = lines.lines if lines is not None else [_only_line(form, choices.put_up)]
        if lines is None or not lines.wrong:
            with refusals_beside(form):
                pot = operations.load_pot(
                    key=form.cleaned_data["key"],
                    lines=said,
                    vessel=form.chosen_vessel,
                    colourway=form.chosen_colourway,
                    who=request.user,
                    together_milligrams=form.cleaned_data["dry_weight"] if lines is not None else None,
                    strip_milligrams=form.cleaned_data["strip"],
                    bath=form.used_bath,
                    happened_at=form.at,
                )
            if not form.errors:
                _say_if_split(request, pot)
                return SeeOther(reverse("pot", args=[pot.code]))
    wrong = bool(form.errors) or (lines is not None and lines.wrong)
    context = {
        "choices": choices,
        "form": form,
        "lines": lines,
        "overdye": overdye,
        "nothing_free": overdye is not None and not lying,
    }
    return render(request, "lots/pot_new.html", context, status=422 if wrong else 200)


def _say_if_split(request: SignedInRequest, pot: Pot) -> None:
    split = split_when_loaded(pot)
    if split is not None:
        messages.warning(request, f"One colourway over several mill lots. {split.sentence}")


def _only_line(form: LoadForm, put_up: PutUp) -> LoadLine:
    said = form.cleaned_data
    return LoadLine(put_up, form.chosen_mill_lot, said["pieces"], said["dry_weight"])


def _line_forms(
    request: SignedInRequest,
    typed: list[Typed],
    lying: Sequence[Lying] = (),
    *,
    dyed_first: bool = False,
    put_ups: Sequence[PutUp] | None = None,
) -> LineForms:
    """The lines as typed; the one that was just put to the others is where the typing goes on."""
    sent = request.POST if request.method == "POST" else None
    return LineForms(
        typed,
        choices=yarn_choices(
            user=request.user,
            lying=lying,
            sent=[line["what"] for line in typed],
            dyed_first=dyed_first,
            put_ups=put_ups,
        ),
        checked=_is_loading(sent),
        focus_last=sent is not None and bool({"several", "another"} & set(sent)),
    )


def _lying(overdye: str | None) -> list[Lying]:
    """What can be dyed again: of the lot that was named, else what waits for it anywhere."""
    if not overdye:
        return to_redye()
    return free_to_overdye(tidy(overdye))


def _first_lines(lying: Sequence[Lying], asked: Mapping[str, Any]) -> list[Typed]:
    """The pieces that were pointed at; else those of the named lot that are to redye, else all of it."""
    if not asked.get("overdye"):
        return []
    pointed = [
        each
        for each in lying
        if asked.get("dyed") == str(each.before.was.pk) and asked.get("place") == str(each.before.place.pk)
    ]
    waiting = [each for each in lying if each.before.was.grade == DyedYarn.Grade.REDYE]
    return [
        {"what": each.value, "pieces": str(each.pieces), "dry_weight": ""}
        for each in pointed or waiting or lying
    ]


@helper
@require_http_methods(["GET", "POST"])
def pot_load(request: SignedInRequest, code: str) -> HttpResponse:
    """Load a planned pot, as planned or from what is really at hand."""
    pot = pot_or_404(code)
    if request.method == "GET" and pot.state != "planned":
        return SeeOther(reverse("pot", args=[pot.code]))
    sent = request.POST if request.method == "POST" else None
    loads = loads_of(pot)
    several = sent is not None and bool({"several", "lines"} & set(sent))
    loading = _is_loading(sent)
    first = {
        "key": uuid4(),
        "mill_lot": str(loads[0].mill_lot_id) if loads else "",
        "strip": pot.strip_milligrams,
    }
    form = PlannedLoadForm(
        sent if loading else None,
        initial={**first, **(sent.dict() if sent is not None else {})},
        mill_lots=mill_lots_for(loads),
        planned_milligrams=sum(load.dry_milligrams for load in loads),
        baths=baths.baths_at_hand(besides=pot),
        user=request.user,
        several=several,
    )
    lines = None
    if several and sent is not None:
        typed = typed_lines(sent) if "lines" in sent else [*planned_lines(loads), dict(NEXT_LINE)]
        lines = _line_forms(request, typed)
    if loading and form.is_valid() and (lines is None or lines.is_valid()):
        said = lines.lines if lines is not None else None
        if lines is None or not lines.wrong:
            with refusals_beside(form):
                operations.load_planned(
                    key=form.cleaned_data["key"],
                    pot=pot,
                    mill_lot=form.chosen_mill_lot,
                    dry_milligrams=form.cleaned_data.get("dry_weight"),
                    who=request.user,
                    happened_at=form.at,
                    lines=said,
                    strip_milligrams=form.cleaned_data["strip"],
                    bath=form.used_bath,
                )
            if not form.errors:
                _say_if_split(request, pot)
                return SeeOther(reverse("pot", args=[pot.code]))
    wrong = bool(form.errors) or (lines is not None and lines.wrong)
    context = {**_named(request, pot), "loads": loads, "form": form, "lines": lines}
    return render(request, "lots/pot_load.html", context, status=422 if wrong else 200)


def _named(request: SignedInRequest, pot: Pot) -> dict[str, Any]:
    return {"pot": pot, "name": pot.colourway.shown_name(request.user)}


@helper
@require_http_methods(["GET", "POST"])
def pot_yarn(request: SignedInRequest, code: str) -> HttpResponse:
    """Put more into a pot in work: a line beside those that lie in it."""
    pot = pot_or_404(code)
    if request.method == "GET" and pot.state != "in work":
        return SeeOther(reverse("pot", args=[pot.code]))
    sent = request.POST if request.method == "POST" else None
    form = KeptForm(sent, initial={"key": uuid4()})
    lines = _line_forms(request, typed_lines(sent) if sent is not None else [dict(NEXT_LINE)], to_redye())
    if sent is not None and form.is_valid() and lines.is_valid():
        said = lines.lines
        if not lines.wrong and said:
            with refusals_beside(form):
                operations.add_line(
                    key=form.cleaned_data["key"],
                    pot=pot,
                    line=said[0],
                    who=request.user,
                    happened_at=form.at,
                )
            if not form.errors:
                return SeeOther(reverse("pot", args=[pot.code]))
    wrong = lines.wrong or bool(form.errors)
    context = {
        **_named(request, pot),
        "loads": loads_of(pot),
        "form": form,
        "lines": lines,
        "holds": operations.bath_holds(pot),
    }
    return render(request, "lots/pot_yarn.html", context, status=422 if wrong else 200)


@helper
@require_POST
def pot_unload(request: SignedInRequest, code: str) -> HttpResponse:
    """Put the yarn back to where it lay: the pot was not dyed."""
    pot = pot_or_404(code)
    form = KeptForm(request.POST)
    form.is_valid()
    before = PotLoad.objects.filter(pot=pot, overdyes__isnull=False).exists()
    try:
        operations.unload_untouched(key=form.cleaned_data["key"], pot=pot, who=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
        return SeeOther(reverse("pot", args=[pot.code]))
    where = "where it lay before" if before else "in the store"
    messages.success(request, f"The yarn of pot {pot.code} is back {where}.")
    return SeeOther(reverse("pots"))


@helper
@require_http_methods(["GET", "POST"])
def pot_weight(request: SignedInRequest, code: str) -> HttpResponse:
    """The dry weight of what is in a pot, weighed after all: together, or line by line."""
    pot = pot_or_404(code)
    loads = loads_of(pot)
    form = WeightForm(
        request.POST if request.method == "POST" else None,
        loads=loads,
        strip_milligrams=pot.strip_milligrams,
    )
    if form.is_bound and form.is_valid():
        with refusals_beside(form, "dry_weight" if "dry_weight" in form.fields else "strip"):
            operations.weigh_load(
                pot=pot,
                dry_milligrams=form.cleaned_data.get("dry_weight"),
                by_load=form.by_load,
                strip_milligrams=form.cleaned_data["strip"],
            )
        if not form.errors:
            return SeeOther(reverse("pot", args=[pot.code]))
    context = {**_named(request, pot), "loads": loads, "form": form}
    return render(request, "lots/pot_weight.html", context, status=422 if form.errors else 200)


@helper
@require_http_methods(["GET", "POST"])
def pot_bath(request: SignedInRequest, code: str) -> HttpResponse:
    """Whose bath a pot was filled with, or that it was fresh."""
    pot = pot_or_404(code)
    form = BathForm(
        request.POST if request.method == "POST" else None,
        pot=pot,
        baths=baths.baths_at_hand(besides=pot),
        now=baths.bath_now(pot),
        user=request.user,
    )
    if form.is_bound and form.is_valid():
        with refusals_beside(form, "bath_from" if "bath_from" in form.fields else None):
            baths.change_bath(pot=pot, bath=form.used_bath, key=form.cleaned_data["key"], who=request.user)
        if not form.errors:
            there = "pot-bath" if form.used_bath is not None else "pot"
            return SeeOther(reverse(there, args=[pot.code]))
    return _show_bath(request, pot, form)


@helper
@require_POST
def pot_left(request: SignedInRequest, code: str) -> HttpResponse:
    """How much of each dye the bath before still held."""
    pot = pot_or_404(code)
    before = baths.beside_of(pot).bath
    if before is None:
        messages.warning(request, f"Pot {pot.code} has a fresh bath, so nothing was left in it.")
        return SeeOther(reverse("pot", args=[pot.code]))
    form = LeftForm(request.POST, before=before)
    if form.is_valid():
        with refusals_beside(form):
            baths.say_what_is_left(pot=pot, left=form.left, who=request.user)
        if not form.errors:
            return SeeOther(reverse("pot", args=[pot.code]))
    return _show_bath(request, pot, None, left=form)


def _show_bath(
    request: SignedInRequest, pot: Pot, form: BathForm | None, *, left: LeftForm | None = None
) -> HttpResponse:
    before = left.before if left is not None else baths.beside_of(pot).bath
    context = {
        **_named(request, pot),
        "form": form
        or BathForm(
            pot=pot, baths=baths.baths_at_hand(besides=pot), now=baths.bath_now(pot), user=request.user
        ),
        "before": before,
        "refills": baths.refills(pot, before) if before is not None else [],
        "left": left or (LeftForm(before=before) if before is not None else None),
    }
    wrong = bool((form is not None and form.errors) or (left is not None and left.errors))
    return render(request, "lots/pot_bath.html", context, status=422 if wrong else 200)
