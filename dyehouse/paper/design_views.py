"""Designs: a shape, what stands on it, and a sample of it; and how labels say the fibres of a base."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.db.models import Prefetch
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.paper.composition import market_of, percent
from dyehouse.paper.designs import (
    BUILT_IN,
    CHOOSABLE,
    OWN,
    Design,
    DesignNameTaken,
    design_of,
    designs_here,
    keep_design,
    retire_design,
)
from dyehouse.paper.forms import choose
from dyehouse.paper.label_fibres import fibre_lines, say_fibres
from dyehouse.paper.label_said import PART_WORDS
from dyehouse.paper.models import LabelDesign, LabelledFibre
from dyehouse.paper.own_sheets import sheets_for_choice, usual_sheet
from dyehouse.paper.printouts import PaperRefused, pdf_answer
from dyehouse.paper.samples import sample_label
from dyehouse.paper.yarn_label import yarn_labels
from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.refusing import refusals_beside
from dyehouse.studio.widgets import Segmented, SegmentedMany
from recipes.models import Base, BaseFibre


class DesignForm(forms.Form):
    """A shape and the parts that stand on it."""

    name = forms.CharField(
        label="Name",
        max_length=40,
        error_messages={"required": "Give the design a name, for example Sock tag."},
    )
    shape = forms.ChoiceField(label="Shape", choices=LabelDesign.Shape, widget=Segmented)
    stands = forms.MultipleChoiceField(
        label="What stands on it",
        choices=[(part, PART_WORDS[part].removeprefix("the ").capitalize()) for part in CHOOSABLE],
        widget=SegmentedMany,
        required=False,
        help_text="The colourway, the base and the dye lot stand on every label.",
    )
    code_kind = forms.ChoiceField(
        label="Code",
        choices=[("qr", "QR code"), ("code128", "Bar code"), ("", "None")],
        required=False,
        widget=Segmented,
    )
    with_picture = forms.BooleanField(
        label="A picture of the lot", required=False, help_text="On labels with room for it."
    )
    sheet = forms.ChoiceField(label="Usual sheet", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choose(self, "sheet", [("", "the studio’s usual one"), *sheets_for_choice()])

    def design(self) -> Design:
        said = self.cleaned_data
        return Design(
            slug="",
            name=said["name"],
            shape=said["shape"],
            leaves_out=tuple(part for part in CHOOSABLE if part not in said["stands"]),
            code_kind=said["code_kind"],
            with_picture=said["with_picture"],
            sheet=said["sheet"],
        )


@helper
@require_GET
def designs(request: SignedInRequest) -> HttpResponse:
    """All designs, the studio's own first."""
    return render(request, "paper/designs.html", {"designs": list(designs_here().values()), "own": OWN})


@helper
@require_http_methods(["GET", "POST"])
def new_design(request: SignedInRequest) -> HttpResponse:
    """A design of one's own, beginning as one of ours."""
    like = next((design for design in BUILT_IN if design.slug == request.GET.get("like")), BUILT_IN[0])
    return _design_page(
        request, DesignForm(request.POST or None, initial=_initial(like) | {"name": ""}), None
    )


@helper
@require_http_methods(["GET", "POST"])
def design(request: SignedInRequest, pk: int) -> HttpResponse:
    """Change a design."""
    row = get_object_or_404(LabelDesign, pk=pk)
    return _design_page(request, DesignForm(request.POST or None, initial=_initial(design_of(row))), row)


def _design_page(request: SignedInRequest, form: DesignForm, row: LabelDesign | None) -> HttpResponse:
    if form.is_bound and form.is_valid():
        with refusals_beside(form, "name", name=DesignNameTaken):
            kept = keep_design(design=form.design(), of=row)
            messages.success(request, "The design was kept.")
            return SeeOther(reverse("label-design", args=[kept.pk]))
    context = {"form": form, "row": row, "slug": f"{OWN}{row.pk}" if row is not None else ""}
    return render(request, "paper/design.html", context, status=422 if form.errors else 200)


def _initial(one: Design) -> dict[str, Any]:
    return {
        "name": one.name,
        "shape": one.shape,
        "stands": [part for part in CHOOSABLE if part not in one.leaves_out],
        "code_kind": one.code_kind,
        "with_picture": one.with_picture,
        "sheet": one.sheet,
    }


@helper
@require_POST
def drop_design(request: SignedInRequest, pk: int) -> HttpResponse:
    """Take a design out of the list."""
    retire_design(of=get_object_or_404(LabelDesign, pk=pk))
    messages.success(request, "The design is out of the list.")
    return SeeOther(reverse("label-designs"))


@helper
@require_GET
def sample(request: SignedInRequest, slug: str) -> HttpResponse:
    """One label of a design with invented words on it, on its usual sheet."""
    one = designs_here().get(slug)
    if one is None:
        raise Http404("There is no design of this name.")
    sheet = usual_sheet(one.sheet or request.studio.label_sheet)
    label = one.applied(sample_label(request.studio, market_of(request.studio.country)))
    try:
        return pdf_answer(yarn_labels([label], sheet), f"sample-{slug}")
    except PaperRefused as reason:
        return HttpResponse(str(reason), content_type="text/plain; charset=utf-8", status=422)


@helper
@require_http_methods(["GET", "POST"])
def label_fibres(request: SignedInRequest, pk: int) -> HttpResponse:
    """How labels say the fibres of a base, and the line of each market with its rule."""
    base = get_object_or_404(
        Base.objects.prefetch_related(
            Prefetch("fibres", BaseFibre.objects.order_by("-per_mille", "fibre")), "labelled_fibres"
        ),
        pk=pk,
    )
    said = {row.fibre: row.how for row in base.labelled_fibres.all()}
    form = FibresForm(request.POST or None, fibres=list(base.fibres.all()), said=said)
    if form.is_bound and form.is_valid():
        with refusals_beside(form):
            say_fibres(base=base, said=form.cleaned_data)
            messages.success(request, f"How labels say the fibres of {base.name} was kept.")
            return SeeOther(reverse("label-fibres", args=[pk]))
    context = {
        "base": base,
        "form": form,
        "lines": fibre_lines(base, said=said, home=market_of(request.studio.country)),
    }
    return render(request, "paper/label_fibres.html", context, status=422 if form.errors else 200)


class FibresForm(forms.Form):
    """One choice a fibre."""

    def __init__(self, *args: Any, fibres: list[BaseFibre], said: dict[str, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for row in fibres:
            self.fields[row.fibre] = forms.ChoiceField(
                label=f"{row.get_fibre_display().capitalize()}, {percent(row.per_mille)} %",
                choices=LabelledFibre.How,
                initial=said.get(row.fibre, LabelledFibre.How.NAMED),
            )
