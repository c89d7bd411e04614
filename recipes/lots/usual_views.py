"""What is usual: for one pot, and for one dye on any fibre."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from dyehouse.studio.access import SignedInRequest, helper
from recipes.dyeing.usual import Load
from recipes.lots.queries import loads_of
from recipes.lots.usual import usual_in_pot, usual_with
from recipes.lots.usual_forms import UsualForm, fibres_to_choose
from recipes.lots.views import pot_or_404, studio_of
from recipes.models import Dye


@helper
@require_GET
def pot_usual(request: SignedInRequest, code: str) -> HttpResponse:
    """What is usual for what is in a pot so far; to the pot's own page only the part that it opens."""
    pot = pot_or_404(code)
    context = {
        "pot": pot,
        "name": pot.colourway.shown_name(request.user),
        "usual": usual_in_pot(pot, loads=loads_of(pot), studio=studio_of(request)),
        "takes_lines": pot.loaded_at is not None,
    }
    part = "_usual" if request.headers.get("HX-Request") else "usual"
    return render(request, f"lots/{part}.html", context)


@helper
@require_GET
def dye_usual(request: SignedInRequest, pk: int) -> HttpResponse:
    """What is usual with one dye on a fibre or on one of the studio's bases, for so much of it."""
    dye = get_object_or_404(Dye, pk=pk)
    choices = fibres_to_choose()
    form = UsualForm(
        request.GET if "on" in request.GET else None, choices=choices, initial={"on": choices[0].slug}
    )
    chosen, asked = choices[0], {}
    if form.is_bound and form.is_valid():
        asked = form.cleaned_data
        chosen = next(each for each in choices if each.slug == asked["on"])
    context = {
        "dye": dye,
        "form": form,
        "chosen": chosen,
        "usual": usual_with(
            dyes=[(dye, asked.get("percent"))],
            fibres=chosen.fibres,
            superwash=chosen.superwash,
            load=Load(asked.get("dry_weight"), asked.get("bath_microlitres")),
            studio=studio_of(request),
        ),
    }
    return render(request, "lots/dye_usual.html", context, status=422 if form.errors else 200)
