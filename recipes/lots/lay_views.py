"""The page that says how the pieces of a pot lie."""

from __future__ import annotations

from uuid import uuid4

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from recipes.dyeing.lay import PRESETS, Lay, LayUnclear, lay_from_json
from recipes.dyeing.techniques import format_centimetres
from recipes.lots.lay_forms import (
    LayForm,
    Row,
    lay_from,
    row_more,
    rows_of,
    rows_of_preset,
    rows_sent,
    section_forms,
)
from recipes.lots.laying import circumference_of, keep_lay, main_base_of
from recipes.lots.queries import loads_of
from recipes.lots.views import in_us_units, pot_or_404


@helper
@require_http_methods(["GET", "POST"])
def pot_lay(request: SignedInRequest, code: str) -> HttpResponse:
    """How it lies: sections are added, left out, drawn and kept; nothing is kept before it is asked for."""
    pot = pot_or_404(code)
    loads = loads_of(pot)
    round_ = circumference_of(loads)
    kept = lay_from_json(pot.lay_plan)
    rows, folded = rows_of(kept), kept is not None and kept.folded
    form = LayForm(initial={"key": uuid4(), "folded": "folded" if folded else "open"})
    drawn: Lay | None = None
    unclear: LayUnclear | None = None
    if request.method == "POST":
        rows, folded = _changed(request), request.POST.get("folded") == "folded"
        form = LayForm(initial={"key": request.POST.get("key"), "folded": "folded" if folded else "open"})
        if "keep" in request.POST or "draw" in request.POST or "preset" in request.POST:
            try:
                drawn = lay_from(rows, folded=folded, circumference_millimetres=round_)
            except LayUnclear as refused:
                unclear = refused
        if drawn is not None and "keep" in request.POST:
            sent = LayForm(request.POST)
            sent.is_valid()
            keep_lay(pot=pot, lay=drawn, key=sent.cleaned_data["key"], who=request.user)
            return SeeOther(reverse("pot", args=[pot.code]))
    if unclear is not None and unclear.row is None:
        form = LayForm({"key": request.POST.get("key"), "folded": request.POST.get("folded", "open")})
        form.is_valid()
        form.add_error(None, str(unclear))
    context = {
        "pot": pot,
        "base": main_base_of(loads),
        "circumference": round_,
        "circumference_words": format_centimetres(round_ or 0, us=in_us_units(request)),
        "form": form,
        "rows": section_forms(rows, unclear=unclear),
        "presets": [(slug, name) for slug, (name, _) in PRESETS.items()],
        "drawn": drawn if drawn is not None and drawn.sections else None,
    }
    return render(request, "lots/pot_lay.html", context, status=422 if unclear is not None else 200)


def _changed(request: SignedInRequest) -> list[Row]:
    """The rows as sent, with what a button adds, leaves out or puts in their place."""
    rows = rows_sent(request.POST)
    if usual := rows_of_preset(request.POST.get("preset", "")):
        return usual
    without = request.POST.get("without", "")
    if without.isdecimal() and int(without) < len(rows):
        del rows[int(without)]
    if "more" in request.POST:
        rows.append(row_more(rows))
    return rows
