"""Printings too long for a page to wait for: drawn a few labels at a time, kept as far as they got, and cancelled at will.

The worker draws; each part is a file of its own, so that a house that was closed goes on where it stopped. A second task
watches over the first, and hands its turn to another where nothing was heard of it for a while.
"""

from __future__ import annotations

import datetime as dt
import os
import shutil
import uuid
from collections.abc import Sequence
from pathlib import Path

from django.conf import settings
from django.db import transaction
from django.utils import timezone
from django_tasks import task

from dyehouse.paper.html_to_pdf import PaperUnavailable
from dyehouse.paper.imposing import impose_files
from dyehouse.paper.models import PrintJob
from dyehouse.paper.payloads import labels_from
from dyehouse.paper.placed import LabelTooSmall
from dyehouse.paper.printouts import run_of_labels
from dyehouse.paper.runs import record_run
from dyehouse.paper.sheets import Offset, Sheet, SheetError, check_offset, positions
from dyehouse.paper.yarn_label import TITLE, YarnLabel, label_artwork
from dyehouse.studio.models import User

#: From more labels that differ than this on, the worker draws them.
LONG = 60
A_PART = 20
LEFT_BEHIND = dt.timedelta(seconds=45)
GOING = (PrintJob.State.WAITING, PrintJob.State.WORKING)


class Stopped(Exception):
    """The job was cancelled, or is another's turn now."""


def start_long_printing(
    *,
    key: uuid.UUID,
    who: User,
    labels: Sequence[YarnLabel],
    sheet: Sheet,
    start_at: int,
    offset: Offset,
    names_opened: bool = False,
) -> PrintJob:
    """Have the worker draw these labels; the same key again gives the first job. Raises StartOutsideSheet, OffsetTooFar."""
    first = PrintJob.objects.filter(key=key).first()
    if first is not None:
        return first
    check_offset(offset)
    positions(sheet, start_at, len(labels))
    now = timezone.now()
    with transaction.atomic():
        job = PrintJob.objects.create(
            key=key,
            asked_at=now,
            asked_by=who,
            beat_at=now,
            count=len(labels),
            distinct=len(dict.fromkeys(labels)),
            run_of=run_of_labels(labels, sheet, start_at=start_at, offset=offset),
            names_opened=names_opened,
        )
        _hand_out(job)
    return job


def cancel_long_printing(*, job: PrintJob) -> None:
    """Stop a job that is not done; nothing of it was printed, and its parts are thrown away."""
    stopped = PrintJob.objects.filter(pk=job.pk, state__in=GOING).update(
        state=PrintJob.State.CANCELLED, turn=None
    )
    if stopped:
        shutil.rmtree(folder_of(job), ignore_errors=True)


def pick_up_left_behind() -> int:
    """Give jobs that nothing was heard of for a while to another worker. Says how many there were."""
    since = timezone.now() - LEFT_BEHIND
    found = list(PrintJob.objects.filter(state__in=GOING, beat_at__lt=since))
    for job in found:
        with transaction.atomic():
            _hand_out(job)
    return len(found)


def _hand_out(job: PrintJob) -> None:
    """Give the job's turn to whichever worker is next; whoever had it before stops at its next part."""
    turn = uuid.uuid4()
    PrintJob.objects.filter(pk=job.pk, state__in=GOING).update(turn=turn, beat_at=timezone.now())
    transaction.on_commit(lambda: _enqueue(job.pk, turn))


def _enqueue(job: int, turn: uuid.UUID) -> None:
    draw_labels.enqueue(job, str(turn))
    watch_over.using(run_after=timezone.now() + LEFT_BEHIND).enqueue(job)


@task()
def draw_labels(job_pk: int, turn: str) -> None:
    """Draw a job's labels, if it is still this one's turn."""
    job = PrintJob.objects.filter(pk=job_pk).select_related("asked_by").first()
    if job is None or str(job.turn) != turn or job.state not in GOING:
        return
    try:
        _draw(job, turn)
    except Stopped:
        if PrintJob.objects.filter(pk=job.pk, state=PrintJob.State.CANCELLED).exists():
            shutil.rmtree(folder_of(job), ignore_errors=True)
    except (PaperUnavailable, LabelTooSmall, SheetError) as reason:
        PrintJob.objects.filter(pk=job.pk, turn=turn).update(
            state=PrintJob.State.FAILED, why=str(reason)[:300]
        )
        shutil.rmtree(folder_of(job), ignore_errors=True)


@task()
def watch_over(job_pk: int) -> None:
    """Look after a job until it is done: pick it up where it was left behind, and look again later."""
    if not PrintJob.objects.filter(pk=job_pk, state__in=GOING).exists():
        return
    pick_up_left_behind()
    watch_over.using(run_after=timezone.now() + LEFT_BEHIND).enqueue(job_pk)


def _draw(job: PrintJob, turn: str) -> None:
    asked = job.run_of
    labels = labels_from(asked["payload"]["labels"])
    distinct = list(dict.fromkeys(labels))
    place = {label: number for number, label in enumerate(distinct)}
    sheet = Sheet.from_payload(asked["payload"]["sheet"])
    folder = folder_of(job)
    parts = []
    for number, first in enumerate(range(0, len(distinct), A_PART)):
        part = folder / f"part-{number:04d}.pdf"
        some = distinct[first : first + A_PART]
        if not part.exists():
            _write(part, label_artwork(some, sheet))
        parts.append(part)
        _beat(job, turn, drawn=first + len(some))
    whole = impose_files(
        parts,
        [place[label] for label in labels],
        sheet,
        start_at=asked["start_at"],
        offset=Offset(asked["offset_x_um"], asked["offset_y_um"]),
        title=TITLE,
    )
    _write(folder / "sheets.pdf", whole)
    with transaction.atomic():
        _beat(job, turn, drawn=len(distinct))
        run = record_run(key=job.key, who=job.asked_by, names_opened=job.names_opened, **asked)
        PrintJob.objects.filter(pk=job.pk).update(
            state=PrintJob.State.DONE, run=run, file=f"{job.key}/sheets.pdf", turn=None
        )
    for part in parts:
        part.unlink(missing_ok=True)


def _beat(job: PrintJob, turn: str, *, drawn: int) -> None:
    """Say how far it is. Raises Stopped where it was cancelled or is another's turn."""
    heard = PrintJob.objects.filter(pk=job.pk, turn=turn, state__in=GOING).update(
        state=PrintJob.State.WORKING, drawn=drawn, beat_at=timezone.now()
    )
    if not heard:
        raise Stopped


def _write(file: Path, content: bytes) -> None:
    """All of it or nothing: what a closing house leaves half-written goes by another name."""
    # Somebody who cancels meanwhile takes the folder away.
    file.parent.mkdir(parents=True, exist_ok=True)
    unfinished = file.with_suffix(f".{os.getpid()}.unfinished")
    unfinished.write_bytes(content)
    unfinished.replace(file)


def folder_of(job: PrintJob) -> Path:
    """Where a job's parts and its sheets lie."""
    return Path(settings.DATA) / "made-paper" / str(job.key)


def sheets_of(job: PrintJob) -> bytes | None:
    """The finished sheets; None where they are not there."""
    file = folder_of(job) / "sheets.pdf"
    return file.read_bytes() if job.state == PrintJob.State.DONE and file.exists() else None
