"""Lists of a show: what to pack, what is there, and a sheet to count on what comes back."""

from __future__ import annotations

from django import forms
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_http_methods

from dyehouse.paper.html_to_pdf import PaperUnavailable
from dyehouse.paper.models import PrintRun
from dyehouse.paper.printouts import pdf_answer
from dyehouse.paper.runs import record_run
from dyehouse.paper.show_lists import BACK, KINDS, PACK, STOCK, show_list, show_list_payload, show_list_pdf
from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.keys import KeyField
from dyehouse.studio.widgets import Segmented
from inventory.shows.models import Load, Show

EMPTY = {
    PACK: "Nothing is to be packed: there are no normal numbers, nothing is free, or all of it was taken.",
    STOCK: "Nothing is at the show by the book.",
    BACK: "Nothing was taken to the show by the book.",
}


class ShowListForm(forms.Form):
    """Which list, and whether the taken numbers lead the counting."""

    key = KeyField()
    what = forms.ChoiceField(
        label="Which list",
        choices=list(KINDS.items()),
        widget=Segmented,
        error_messages={"required": "Choose a list."},
    )
    shows_numbers = forms.BooleanField(
        label="Print how many were taken",
        required=False,
        help_text="On the sheet for what came back. Without them it is counted afresh.",
    )


@helper
@require_http_methods(["GET", "POST"])
def show_lists(request: SignedInRequest, pk: int) -> HttpResponse:
    """Print one of the lists of a show."""
    show = get_object_or_404(Show.objects.select_related("place"), pk=pk)
    asked = request.GET.get("what", "")
    taken = Load.objects.filter(show=show, movement__reversed_by__isnull=True).exists()
    first = asked if asked in KINDS else STOCK if taken else PACK
    form = ShowListForm(request.POST if request.method == "POST" else None, initial={"what": first})
    if form.is_bound and form.is_valid():
        what = show_list(
            show,
            kind=form.cleaned_data["what"],
            studio=request.studio,
            shows_numbers=form.cleaned_data["shows_numbers"],
        )
        if not what.groups:
            form.add_error("what", EMPTY[what.kind])
        else:
            try:
                content = show_list_pdf(what)
            except PaperUnavailable as reason:
                form.add_error(None, str(reason))
            else:
                record_run(
                    key=form.cleaned_data["key"], kind=PrintRun.Kind.SHOW_LISTS, who=request.user,
                    counts={}, pieces=1, payload={"list": show_list_payload(what)},
                )  # fmt: skip
                return pdf_answer(content, f"show-{what.kind}")
    context = {"form": form, "show": show}
    return render(request, "paper/show_lists.html", context, status=422 if form.errors else 200)
