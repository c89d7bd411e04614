"""The dye list on paper: load by load in the order of the sessions. Open paper: secrets stand by their code."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from dyehouse.paper.html_to_pdf import PaperUnavailable, pdf_from_template
from dyehouse.paper.lists import paper_of
from dyehouse.paper.printouts import pdf_answer
from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.models import Studio
from dyehouse.studio.templatetags.house import day as day_words
from inventory.weeks.ahead import Ahead, weeks_ahead
from inventory.weeks.reckoning import name_of


@dataclass(frozen=True, slots=True)
class LoadRow:
    """One pot load to tick off."""

    code: str
    colourway: str
    yarn: str
    pieces: int
    by: str
    what_for: str
    late: str


@dataclass(frozen=True, slots=True)
class SessionRows:
    """The loads of one session."""

    day: str
    rows: tuple[LoadRow, ...]


@dataclass(frozen=True, slots=True)
class DyeListPaper:
    """The whole list."""

    studio: str
    date: str
    paper: str
    loads: int
    pieces: int
    sessions: tuple[SessionRows, ...]
    without_session: tuple[str, ...]
    one_more: tuple[str, ...]


def dye_list_paper(ahead: Ahead, *, studio: Studio) -> DyeListPaper:
    """What the weeks ahead have, as it is printed. Asks the database nothing."""
    days: dict[str, list[LoadRow]] = {}
    for each in ahead.plan.placed:
        seen = ahead.seen[each.job.key]
        promised = dict.fromkeys(want.what for want in seen.wants if not want.is_spares)
        row = LoadRow(
            code=seen.code,
            colourway=name_of(ahead.reckoned.colourways.get(seen.kind.colourway), None),
            yarn=seen.yarn,
            pieces=seen.pieces,
            by=day_words(each.job.due) if each.job.due is not None else "",
            what_for=", ".join(promised),
            late=f"{each.late_days} days late" if each.late_days else "",
        )
        days.setdefault(f"{each.day:%A} {each.day.day} {each.day:%B}", []).append(row)
    jobs = ahead.jobs
    return DyeListPaper(
        studio=studio.name,
        date=f"{timezone.localdate():%d %B %Y}",
        paper=paper_of(studio),
        loads=len(jobs),
        pieces=sum(job.pieces for job in jobs),
        sessions=tuple(SessionRows(day, tuple(rows)) for day, rows in days.items()),
        without_session=tuple(f"{each.job.pieces} pieces: {each.why}" for each in ahead.plan.not_placed),
        one_more=tuple(each.words for each in ahead.reckoned.one_more if each.more == 1),
    )


@helper
@require_GET
def dye_list_on_paper(request: SignedInRequest) -> HttpResponse:
    """The list as a PDF, as it stands now."""
    what = dye_list_paper(weeks_ahead(user=request.user), studio=request.studio)
    try:
        content = pdf_from_template("paper/dye_list.html", {"list": what}, stylesheet="lists.css")
    except PaperUnavailable as reason:
        messages.error(request, str(reason))
        return SeeOther(reverse("dyelist"))
    return pdf_answer(content, "dye-list")
