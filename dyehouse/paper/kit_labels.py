"""Labels for kits that were built: the kit's name, all its yarns' fibres, its whole weight and length, its own code."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from django import forms
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_http_methods

from dyehouse.paper.composition import CompositionError, Market, market_of
from dyehouse.paper.fitting import unprintable
from dyehouse.paper.forms import SheetForm, choose
from dyehouse.paper.kit_fibres import Component, KitFibres, kit_fibres
from dyehouse.paper.label_law import MARKET_WORDS, maker_line, must_stand
from dyehouse.paper.labelling import said_of, shares_of
from dyehouse.paper.models import PrintRun
from dyehouse.paper.own_sheets import usual_sheet
from dyehouse.paper.payloads import payload_of
from dyehouse.paper.printouts import PaperRefused, pdf_answer
from dyehouse.paper.views import first_sheet, record_sheet_run
from dyehouse.paper.yarn_label import YarnLabel, left_out, yarn_labels
from dyehouse.paper.yarn_words import origin_words
from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.models import Studio
from dyehouse.studio.widgets import SegmentedMany
from inventory.kit_queries import built_lines
from inventory.models import BuiltKit, Kit, KitPart


class KitLabelsForm(SheetForm):
    """Which of the kits that stand here get a label, and where they are sold."""

    kits = forms.MultipleChoiceField(
        label="Labels for",
        widget=SegmentedMany,
        error_messages={"required": "Choose one kit at least."},
    )
    market = forms.ChoiceField(
        label="Sold in",
        choices=MARKET_WORDS,
        help_text="Its label law decides the words. Local law comes first.",
    )
    leave_out = forms.BooleanField(
        label="Leave out the fibres of yarns that need no line of their own",
        required=False,
        help_text="In the EU and the UK those under 30 % of the kit’s weight.",
    )

    field_order = ("key", "kits", "market", "leave_out", "sheet", "start_at", "offset_x", "offset_y")

    def __init__(self, *args: Any, codes: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choose(self, "kits", [(code, code) for code in codes])

    @property
    def shown_market(self) -> Market:
        """The market that is chosen so far; one where no rule is known where it is none."""
        chosen = str(self["market"].value())
        return Market(chosen) if chosen in dict(MARKET_WORDS) else Market.OTHER


@dataclass(frozen=True, slots=True)
class KitSaid:
    """What is known of a kit for its label. `lacking` says what cannot stand on it, and why."""

    components: list[Component]
    pieces: int
    milligrams: int
    metres: int | None
    origins: list[str]
    lacking: list[str]


def what_is_in_kit(kit: Kit, *, studio: Studio) -> KitSaid:
    """The yarns of a kit in the order of its parts, those of one base together. Three queries."""
    parts = list(
        KitPart.objects.filter(kit=kit)
        .select_related("put_up__base")
        .prefetch_related("put_up__base__fibres", "put_up__base__labelled_fibres")
        .order_by("position")
    )
    found: dict[int, Component] = {}
    lacking: list[str] = []
    origins: dict[str, None] = {}
    metres: int | None = 0
    for part in parts:
        base, weight = part.put_up.base, part.pieces * part.put_up.nominal_milligrams
        before = found.get(base.pk)
        if before is not None:
            found[base.pk] = replace(before, milligrams=before.milligrams + weight)
        else:
            found[base.pk] = Component(base.name, weight, shares_of(base), said_of(base))
            origins[origin_words(spun_in=base.spun_in, dyed_in=studio.country)] = None
            if not found[base.pk].shares:
                lacking.append(f"The fibres of {base.name} are not written down, so the label names none.")
        if metres is not None:
            metres = metres + part.pieces * part.put_up.metres if part.put_up.metres else None
    if metres is None:
        lacking.append("The length of a piece is not written down for every yarn, so the label has none.")
    return KitSaid(
        components=list(found.values()),
        pieces=sum(part.pieces for part in parts),
        milligrams=sum(each.milligrams for each in found.values()),
        metres=metres,
        origins=[words for words in origins if words],
        lacking=lacking,
    )


def fibres_of_kit(said: KitSaid, market: Market, *, leave_out: bool = False) -> KitFibres:
    """The fibre words of a kit; empty, with the reason for a rule, where a yarn's own line cannot be written."""
    if not said.components or any(not each.shares for each in said.components):
        return KitFibres("", "")
    try:
        return kit_fibres(said.components, market, leave_out=leave_out)
    except CompositionError as error:
        return KitFibres("", str(error))


def label_of_kit(kit: Kit, said: KitSaid, *, studio: Studio, market: Market, fibres: str) -> YarnLabel:
    """The label of a kit, still without the code of the one it is for."""
    yarns = " + ".join(each.name for each in said.components)
    return YarnLabel(
        studio=studio.name,
        colourway=kit.name,
        base=f"{'1 piece' if said.pieces == 1 else f'{said.pieces} pieces'}: {yarns}",
        fibres=fibres,
        nominal_milligrams=said.milligrams,
        metres=said.metres,
        lot="",
        origin="; ".join(said.origins),
        maker=maker_line(studio, market).line,
        must=must_stand(studio, market),
    )


@helper
@require_http_methods(["GET", "POST"])
def kit_label(request: SignedInRequest, pk: int) -> HttpResponse:
    """What the label of a kit says by its market's law, and labels for those that stand here."""
    kit = get_object_or_404(Kit, pk=pk)
    codes = [line.built.code for line in built_lines(BuiltKit.objects.filter(kit=kit)) if line.place][::-1]
    form = KitLabelsForm(
        request.POST if request.method == "POST" else None,
        codes=codes,
        initial={
            **first_sheet(usual_sheet(request.studio.label_sheet)),
            "kits": codes,
            "market": request.GET.get("market") or market_of(request.studio.country).value,
        },
    )
    said = what_is_in_kit(kit, studio=request.studio)
    market = form.shown_market
    fibres = fibres_of_kit(said, market, leave_out=bool(form["leave_out"].value()))
    label = label_of_kit(kit, said, studio=request.studio, market=market, fibres=fibres.line)
    if form.is_bound and form.is_valid():
        labels = [replace(label, lot=code, qr=code) for code in form.cleaned_data["kits"]]
        try:
            content = yarn_labels(
                labels, form.chosen_sheet, start_at=form.cleaned_data["start_at"], offset=form.offset
            )
        except PaperRefused as reason:
            form.add_error(None, str(reason))
        else:
            counts = {each.lot: 1 for each in labels}
            record_sheet_run(request, form, PrintRun.Kind.YARN_LABELS, counts, {"labels": payload_of(labels)})
            return pdf_answer(content, "kit-labels")
    unknown = unprintable("".join(label.texts))
    context = {
        "kit": kit,
        "form": form,
        "codes": codes,
        "label": label,
        "fibres": fibres,
        "notices": [
            *said.lacking,
            *maker_line(request.studio, market).missing,
            *([unknown] if unknown else []),
        ],
        "left_out": _left_out(label, form),
    }
    return render(request, "paper/kit_label.html", context, status=422 if form.errors else 200)


def _left_out(label: YarnLabel, form: KitLabelsForm) -> tuple[str, ...]:
    try:
        return left_out(replace(label, lot="K7M2X", qr="K7M2X"), form.shown_sheet)
    except PaperRefused as reason:
        return (str(reason),)
