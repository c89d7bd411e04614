"""Pages of what is ordered."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from dyehouse.studio.access import SignedInRequest, helper
from inventory.buying import queries
from inventory.buying.models import Purchase


@helper
@require_safe
def order(request: SignedInRequest, pk: int) -> HttpResponse:
    """One order: its lines and what came of them."""
    purchase = get_object_or_404(Purchase.objects.select_related("supplier"), pk=pk)
    context = {"order": purchase, "lines": queries.lines_came([purchase])[purchase.pk]}
    return render(request, "buying/order.html", context)
