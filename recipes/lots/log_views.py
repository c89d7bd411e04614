"""Everything that is kept at a pot: the line, the touches, photos, strikes, corrections and answers.

Each answers a plain form with the page anew, and the page's own script with only the parts that changed.
"""

from __future__ import annotations

from typing import Any, TypeVar
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.core.files.storage import default_storage
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.refusals import Refused
from recipes.lots import log
from recipes.lots.answering import add_to_store, answer, correct_instead, read_instead
from recipes.lots.bench import set_bench
from recipes.lots.forms import AgainForm, AnswerForm, KeptForm, LineForm, PhotoForm, TapForm
from recipes.lots.models import LogEntry, Photo, PlannedStep, Pot
from recipes.lots.photos import add_photo, may_see
from recipes.lots.resolving import ADDITIONS, moment_of
from recipes.lots.together import add_entry_in, keep_again, keep_line_in, pots_called, strike_in_all
from recipes.lots.views import in_us_units, pot_or_404, show_pot
from recipes.lots.wording import entry_words
from recipes.models import Auxiliary, Dye

Thing = TypeVar("Thing", Dye, Auxiliary)


def kept(request: SignedInRequest, pot: Pot) -> HttpResponse:
    """What is answered once something is kept: the changed parts to the page's script, else the page anew."""
    if not request.headers.get("HX-Request"):
        return SeeOther(reverse("pot", args=[pot.code]))
    answered = show_pot(request, pot, fragment="_live")
    # Tells the script that this is the pot, and not the sign-in page that a redirect led to.
    answered["X-Kept"] = pot.code
    return answered


def refuse(
    request: SignedInRequest, pot: Pot, *, slug: str, errors: dict[str, str], typed: Any = None
) -> HttpResponse:
    """A sentence beside what was wrong, with what was typed."""
    if request.headers.get("HX-Request"):
        return render(request, "lots/_refused.html", {"slug": slug, "errors": errors}, status=422)
    key = slug.removeprefix("entry-") if slug.startswith("entry-") else ""
    return show_pot(request, pot, refused={"slug": slug, "key": key, "errors": errors, "typed": typed or {}})


def _sentences(form: KeptForm) -> dict[str, str]:
    return {name: str(errors[0]) for name, errors in form.errors.items()}


@helper
@require_POST
def pot_log(request: SignedInRequest, code: str) -> HttpResponse:
    """Keep the pot line."""
    pot = pot_or_404(code)
    form = LineForm(request.POST)
    if not form.is_valid():
        return refuse(request, pot, slug="line", errors=_sentences(form), typed=request.POST)
    try:
        keep_line_in(
            pot=pot,
            also=pots_called(request.POST.getlist("into"), besides=pot),
            key=form.cleaned_data["key"],
            typed=form.cleaned_data["typed"],
            who=request.user,
            clock=form.cleaned_data["clock"],
            fahrenheit=in_us_units(request),
        )
    except Refused as refused:
        return refuse(request, pot, slug="line", errors={"typed": str(refused)}, typed=request.POST)
    return kept(request, pot)


@helper
@require_GET
def pot_reading(request: SignedInRequest, code: str) -> HttpResponse:
    """What the line would be kept as, while it is typed."""
    pot = pot_or_404(code)
    us = in_us_units(request)
    line = log.tidy_line(request.GET.get("typed", ""))[: 2 * log.LONGEST_LINE]
    meant = (
        log.read_at_pot(typed=line, pot=pot, bench=set_bench(), told_at=timezone.now(), fahrenheit=us)
        if line
        else []
    )
    told_at = timezone.now()
    readings = [
        {
            "words": entry_words(LogEntry(kind=each.kind, **each.fields), us=us),
            "is_note": each.kind == LogEntry.Kind.NOTE,
            "at": moment_of(each.clock, told_at=told_at) if each.clock else None,
            "question": each.question,
        }
        for each in meant
    ]
    return render(request, "lots/_reading.html", {"readings": readings})


@helper
@require_POST
def pot_tap(request: SignedInRequest, code: str) -> HttpResponse:
    """Keep a touch: an amount of something on the bench, a temperature, a pH, the heat, water."""
    pot = pot_or_404(code)
    form = TapForm(request.POST, fahrenheit=in_us_units(request))
    slug = request.POST.get("slug", "")[:40]
    if not form.is_valid():
        return refuse(request, pot, slug=slug, errors=_sentences(form), typed=request.POST)
    try:
        add_entry_in(
            pot=pot,
            also=pots_called(request.POST.getlist("into"), besides=pot),
            key=form.cleaned_data["key"],
            kind=form.cleaned_data["kind"],
            who=request.user,
            happened_at=form.at,
            **form.cleaned_data["fields"],
        )
    except Refused as refused:
        return refuse(request, pot, slug=slug, errors={"": str(refused)}, typed=request.POST)
    return kept(request, pot)


@helper
@require_POST
def pot_again(request: SignedInRequest, code: str) -> HttpResponse:
    """Put the same in once more: what the button showed, whatever went in since."""
    pot = pot_or_404(code)
    form = AgainForm(request.POST)
    form.is_valid()
    of = _entry_or_404(pot, form.cleaned_data["of"])
    try:
        if of.kind not in ADDITIONS:
            raise log.NotAnEntry("Only what went into the pot can go in again.")
        keep_again(
            pot=pot,
            also=pots_called(request.POST.getlist("into"), besides=pot),
            of=of,
            key=form.cleaned_data["key"],
            who=request.user,
            happened_at=form.at,
        )
    except Refused as refused:
        return refuse(request, pot, slug="again", errors={"": str(refused)})
    return kept(request, pot)


@helper
@require_POST
def pot_step(request: SignedInRequest, code: str, number: int) -> HttpResponse:
    """Keep a planned step as done just as planned."""
    pot = pot_or_404(code)
    steps = PlannedStep.objects.select_related("rule__dye", "rule__auxiliary")
    step = get_object_or_404(steps, pot=pot, number=number)
    form = KeptForm(request.POST)
    form.is_valid()
    try:
        log.keep_step(pot=pot, step=step, key=form.cleaned_data["key"], who=request.user, happened_at=form.at)
    except Refused as refused:
        return refuse(request, pot, slug=f"step-{number}", errors={"": str(refused)})
    return kept(request, pot)


@helper
@require_POST
def pot_photo(request: SignedInRequest, code: str) -> HttpResponse:
    """Keep a photo of the pot."""
    pot = pot_or_404(code)
    form = PhotoForm(request.POST, request.FILES)
    if not form.is_valid():
        return refuse(request, pot, slug="photo", errors=_sentences(form))
    try:
        add_photo(
            key=form.cleaned_data["key"],
            upload=form.cleaned_data["photo"],
            kind=Photo.Kind.POT,
            pot=pot,
            who=request.user,
            taken_at=form.at,
        )
    except Refused as refused:
        return refuse(request, pot, slug="photo", errors={"photo": str(refused)})
    return kept(request, pot)


def _entry_or_404(pot: Pot, key: UUID) -> LogEntry:
    entries = LogEntry.objects.select_related(
        "dye__item",
        "dye__stock_item",
        "jar__lot",
        "bottle__lot",
        "mix__item",
        "mix__lot",
        "auxiliary__item",
        "auxiliary__lot",
        "planned",
    )
    return get_object_or_404(entries.exclude(kind=LogEntry.Kind.STRIKE), pot=pot, key=key)


@helper
@require_POST
def entry_strike(request: SignedInRequest, code: str, key: UUID) -> HttpResponse:
    """Strike an entry: it stays and counts for nothing. What went into several pots at once can be struck in all."""
    pot = pot_or_404(code)
    form = KeptForm(request.POST)
    form.is_valid()
    entry = _entry_or_404(pot, key)
    struck = strike_in_all if request.POST.get("pots") == "all" else log.strike
    try:
        struck(entry=entry, key=form.cleaned_data["key"], who=request.user, now=form.at)
    except Refused as refused:
        return refuse(request, pot, slug=f"entry-{key}", errors={"": str(refused)})
    return kept(request, pot)


@helper
@require_POST
def entry_correct(request: SignedInRequest, code: str, key: UUID) -> HttpResponse:
    """Put an entry right by writing it as it should have been."""
    pot = pot_or_404(code)
    form = LineForm(request.POST)
    slug = f"entry-{key}"
    if not form.is_valid():
        return refuse(request, pot, slug=slug, errors=_sentences(form), typed=request.POST)
    entry = _entry_or_404(pot, key)
    try:
        log.correct(
            entry=entry,
            key=form.cleaned_data["key"],
            who=request.user,
            typed=form.cleaned_data["typed"],
            now=form.at,
            fahrenheit=in_us_units(request),
        )
    except Refused as refused:
        return refuse(request, pot, slug=slug, errors={"typed": str(refused)}, typed=request.POST)
    return kept(request, pot)


@helper
@require_POST
def entry_back(request: SignedInRequest, code: str, key: UUID) -> HttpResponse:
    """Take a strike back."""
    pot = pot_or_404(code)
    form = KeptForm(request.POST)
    form.is_valid()
    entry = _entry_or_404(pot, key)
    try:
        log.put_back(entry=entry, key=form.cleaned_data["key"], who=request.user)
    except Refused as refused:
        return refuse(request, pot, slug=f"entry-{key}", errors={"": str(refused)})
    return kept(request, pot)


@helper
@require_POST
def entry_answer(request: SignedInRequest, code: str, key: UUID) -> HttpResponse:
    """Answer what an entry left open."""
    pot = pot_or_404(code)
    form = AnswerForm(request.POST)
    slug = f"entry-{key}"
    if not form.is_valid():
        return refuse(request, pot, slug=slug, errors=_sentences(form))
    try:
        _answer(request, pot, _entry_or_404(pot, key), form)
    except Refused as refused:
        return refuse(request, pot, slug=slug, errors={"": str(refused)})
    return kept(request, pot)


def _answer(request: SignedInRequest, pot: Pot, entry: LogEntry, form: AnswerForm) -> None:
    said, who = form.cleaned_data, request.user
    if said["typed"]:
        fahrenheit = in_us_units(request)
        log.correct(entry=entry, key=said["key"], who=who, typed=said["typed"], fahrenheit=fahrenheit)
    elif said["add"]:
        add_to_store(entry=entry, key=said["key"], who=who, what=said["add"])
    elif said["instead"]:
        instead = read_instead(said["instead"])
        if instead is None:
            raise log.NotAnEntry("Correct the entry itself: touch it and write it as it should be.")
        wrong = _entry_or_404(pot, instead[0])
        correct_instead(note=entry, wrong=wrong, key=said["key"], who=who, amount=instead[1])
    else:
        answer(
            entry=entry,
            key=said["key"],
            who=who,
            bottle=said["bottle"],
            strength_mg_per_litre=said["strength"],
            jar=said["jar"],
            mix=said["mix"],
            dye=_named(said["thing"], Dye),
            auxiliary=_named(said["thing"], Auxiliary),
        )


def _named(sent: str, model: type[Thing]) -> Thing | None:
    """The dye or auxiliary that a button names, as dye-12."""
    kind, _, pk = sent.partition("-")
    if kind != model._meta.model_name:
        return None
    found: Thing = get_object_or_404(model._default_manager.all(), pk=pk)
    return found


@helper
@require_GET
def photo(request: SignedInRequest, key: UUID) -> HttpResponse:
    """A photo as it is kept."""
    return _photo_file(request, key, small=False)


@helper
@require_GET
def photo_small(request: SignedInRequest, key: UUID) -> HttpResponse:
    """A photo, small."""
    return _photo_file(request, key, small=True)


def _photo_file(request: SignedInRequest, key: UUID, *, small: bool) -> HttpResponse:
    photos = Photo.objects.select_related("pot__colourway", "dye_lot__colourway", "way__colourway")
    found = get_object_or_404(photos, key=key)
    if not may_see(found, request.user):
        raise PermissionDenied("This colourway is secret until its day.")
    try:
        with default_storage.open(found.thumbnail if small else found.file) as file:
            served = HttpResponse(file.read(), content_type="image/jpeg")
    except FileNotFoundError:
        raise Http404("The photo is not in the data folder any more.") from None
    # The file never changes, but who may see it does.
    served["Cache-Control"] = "private, max-age=3600"
    served["Content-Disposition"] = "inline"
    return served
