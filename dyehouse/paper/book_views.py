"""The colour book: what is to be in it, its PDF, and the whole of it as a list."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from dyehouse.paper.book_contents import book_contents, colourways_for_book
from dyehouse.paper.book_csv import COLUMNS, colour_book_csv
from dyehouse.paper.colour_book import colour_book_pdf
from dyehouse.paper.models import PrintRun
from dyehouse.paper.printouts import PaperRefused, pdf_answer
from dyehouse.paper.runs import record_run
from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.codes import tidy
from dyehouse.studio.keys import KeyField
from dyehouse.studio.models import Studio, User
from dyehouse.studio.widgets import SegmentedMany
from recipes.dyeing.families import FAMILIES

#: More colourways than this are printed in parts, so that nobody waits longer than for a cup of tea.
MOST_PAGES = 200


class BookForm(forms.Form):
    """Which colourways are printed."""

    key = KeyField()
    code = forms.CharField(max_length=12, required=False, widget=forms.HiddenInput)
    families = forms.MultipleChoiceField(
        label="Of these colour families",
        required=False,
        choices=[(family.slug, family.name) for family in FAMILIES],
        widget=SegmentedMany,
        help_text="None chosen: all of them.",
    )
    secrets = forms.BooleanField(
        label="With those that are still secret",
        required=False,
        help_text="Each says until when. Otherwise they are left out.",
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not user.is_owner:
            del self.fields["secrets"]


@helper
@require_http_methods(["GET", "POST"])
def colour_book(request: SignedInRequest) -> HttpResponse:
    """Choose what is in it; posted, the book as a PDF."""
    code = tidy(request.GET.get("colourway", ""))[:12]
    sent = request.POST if request.method == "POST" else None
    form = BookForm(sent, user=request.user, initial={"code": code, "secrets": bool(code)})
    if form.is_bound and form.is_valid():
        said = form.cleaned_data
        colourways = colourways_for_book(families=said["families"], code=tidy(said["code"]))
        us = request.studio.units == Studio.Units.US
        contents = book_contents(
            colourways[: MOST_PAGES + 1], user=request.user, with_secrets=said.get("secrets", False), us=us
        )
        if not contents.pages:
            form.add_error(
                None, "There is nothing to print: no colourway of these has a way or a lot to repeat."
            )
        elif len(contents.pages) > MOST_PAGES:
            form.add_error(
                None, f"That is more than {MOST_PAGES} pages. Choose some families and print it in parts."
            )
        else:
            try:
                content = colour_book_pdf(contents, studio=request.studio)
            except PaperRefused as reason:
                form.add_error(None, str(reason))
            else:
                record_run(
                    key=said["key"],
                    kind=PrintRun.Kind.COLOUR_BOOK,
                    who=request.user,
                    counts={page.code: 1 for page in contents.pages},
                    names_opened=any(page.secret_until for page in contents.pages),
                )
                alone = f"-{contents.pages[0].code}" if len(contents.pages) == 1 else ""
                return pdf_answer(content, f"colour-book{alone}")
    shown = tidy(str(form["code"].value() or ""))
    one = colourways_for_book(code=shown).first() if shown else None
    context = {
        "form": form,
        "one": one,
        "name": one.shown_name(request.user) if one is not None else "",
        "count": colourways_for_book().count(),
        "columns": COLUMNS,
    }
    return render(request, "paper/book.html", context, status=422 if form.errors else 200)


@helper
@require_GET
def colour_book_list(request: SignedInRequest) -> HttpResponse:
    """The whole book as CSV; a helper's is without what is secret."""
    contents = book_contents(colourways_for_book(), user=request.user)
    name = f"colour-book-{timezone.localdate()}.csv"
    return HttpResponse(
        colour_book_csv(contents),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
