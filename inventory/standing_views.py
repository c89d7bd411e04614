"""What is owned, free and shown: everything on one page, one colourway on one put-up, and a put-up's undyed yarn."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.codes import tidy
from inventory.standing import standing_page
from inventory.standing_detail import dyed_detail, yarn_detail
from recipes.models import Colourway, PutUp
from recipes.paging import page_asked


@helper
@require_GET
def standing(request: SignedInRequest) -> HttpResponse:
    """All that stands, narrowed by words, by a base, or to what does not reach."""
    base = request.GET.get("base", "")
    page = standing_page(
        user=request.user,
        search=request.GET.get("find", "")[:80],
        base=int(base[:9]) if base.isascii() and base.isdecimal() else None,
        only_short=request.GET.get("only") == "short",
        page=page_asked(request),
    )
    return render(request, "inventory/standing.html", {"page": page})


@helper
@require_GET
def standing_dyed(request: SignedInRequest, code: str, put_up: int) -> HttpResponse:
    """One colourway on one put-up."""
    colourway = get_object_or_404(Colourway, code=tidy(code))
    on = get_object_or_404(PutUp.objects.select_related("base"), pk=put_up)
    detail = dyed_detail(colourway=colourway, put_up=on, user=request.user)
    return render(request, "inventory/standing_dyed.html", {"detail": detail, "standing": detail.standing})


@helper
@require_GET
def standing_yarn(request: SignedInRequest, put_up: int) -> HttpResponse:
    """The undyed yarn of one put-up."""
    on = get_object_or_404(PutUp.objects.select_related("base"), pk=put_up)
    detail = yarn_detail(put_up=on, user=request.user)
    return render(request, "inventory/standing_yarn.html", {"detail": detail, "standing": detail.standing})
