"""Long printings: drawn part by part by the worker, cancelled, left behind and picked up again."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from dyehouse.paper import long_printing as long
from dyehouse.paper.models import PrintJob, PrintRun
from dyehouse.paper.sheets import StartOutsideSheet, sheet_named
from tests import factories
from tests.dyehouse.paper.reading import page_sizes, placed_forms, text_of

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def house(settings, tmp_path):
    settings.DATA = tmp_path
    factories.studio(name="Weir Lane", country="IE")


def drawn(job: PrintJob) -> PrintJob:
    """What the worker does when it comes to the job."""
    job.refresh_from_db()
    long.draw_labels.call(job.pk, str(job.turn))
    job.refresh_from_db()
    return job


def left_alone(job: PrintJob) -> None:
    PrintJob.objects.filter(pk=job.pk).update(beat_at=timezone.now() - dt.timedelta(minutes=5))


def test_all_labels_come_out_in_order_and_are_counted_once():
    job = drawn(factories.long_printing(count=45))

    assert (job.state, job.drawn) == ("done", 45)
    content = long.sheets_of(job)
    assert len(page_sizes(content)) == 2
    assert len(placed_forms(content)) == 45
    text = text_of(content)
    assert text.index("One-off 1 ") < text.index("One-off 21") < text.index("One-off 45")
    assert (job.run.count, job.run.kind) == (45, "yarn_labels")
    assert sorted(file.name for file in long.folder_of(job).iterdir()) == ["sheets.pdf"]


def test_the_worker_is_given_the_job_and_watches_over_it():
    job = factories.long_printing(count=3)

    waiting = {result.task_path.rpartition(".")[2]: result for result in DBTaskResult.objects.all()}
    assert set(waiting) == {"draw_labels", "watch_over"}
    assert waiting["draw_labels"].args_kwargs["args"] == [job.pk, str(PrintJob.objects.get().turn)]
    assert waiting["watch_over"].run_after > timezone.now()


def test_asking_twice_prints_one_job():
    key, who = uuid.uuid4(), factories.OwnerFactory()
    labels = long.labels_from(factories.long_printing(count=2).run_of["payload"]["labels"])

    jobs = {
        long.start_long_printing(
            key=key, who=who, labels=labels, sheet=sheet_named("a4-3x8"), start_at=1, offset=long.Offset()
        ).pk
        for _ in range(2)
    }

    assert len(jobs) == 1


def test_a_first_label_that_is_not_on_the_sheet_starts_no_job():
    with pytest.raises(StartOutsideSheet):
        long.start_long_printing(
            key=uuid.uuid4(), who=factories.OwnerFactory(), labels=[], sheet=sheet_named("a4-3x8"), start_at=25,
            offset=long.Offset(),
        )  # fmt: skip
    assert not PrintJob.objects.exists()


def test_a_cancelled_job_stops_prints_nothing_and_leaves_no_parts(monkeypatch):
    job = factories.long_printing(count=45)
    artwork = long.label_artwork

    def cancelled_meanwhile(*args):
        long.cancel_long_printing(job=job)
        return artwork(*args)

    monkeypatch.setattr(long, "label_artwork", cancelled_meanwhile)
    job = drawn(job)

    assert (job.state, job.run) == ("cancelled", None)
    assert not PrintRun.objects.exists()
    assert not any(long.folder_of(job).glob("*")) if long.folder_of(job).exists() else True


def test_a_job_that_was_left_behind_goes_on_where_it_stopped(monkeypatch):
    job = factories.long_printing(count=45)
    artwork, calls = long.label_artwork, []

    def falls_at_the_second_part(some, sheet):
        calls.append(len(some))
        if len(calls) == 2:
            raise MemoryError("the machine went off")
        return artwork(some, sheet)

    monkeypatch.setattr(long, "label_artwork", falls_at_the_second_part)
    with pytest.raises(MemoryError):
        drawn(job)
    left_alone(job)

    assert long.pick_up_left_behind() == 1
    job = drawn(job)

    assert job.state == "done"
    # Twenty were there already: the second worker draws the second part again and the third.
    assert calls == [20, 20, 20, 5]
    assert PrintRun.objects.count() == 1


def test_a_worker_whose_turn_is_over_prints_nothing():
    job = factories.long_printing(count=3)
    old = str(PrintJob.objects.get().turn)
    left_alone(job)
    long.pick_up_left_behind()

    long.draw_labels.call(job.pk, old)

    assert PrintJob.objects.get().state == "waiting"
    assert drawn(job).state == "done"


def test_what_goes_on_is_not_picked_up():
    factories.long_printing(count=3)

    assert long.pick_up_left_behind() == 0


def test_the_watch_ends_with_its_job():
    job = drawn(factories.long_printing(count=3))
    before = DBTaskResult.objects.count()

    long.watch_over.call(job.pk)

    assert DBTaskResult.objects.count() == before


def test_a_label_too_small_for_its_words_fails_with_the_sentence():
    job = factories.long_printing(count=3)
    run_of = PrintJob.objects.get().run_of
    run_of["payload"]["labels"][0]["colourway"] = "An endless name " * 30
    PrintJob.objects.update(run_of=run_of)

    job = drawn(job)

    assert job.state == "failed"
    assert "Choose a sheet with larger labels" in job.why
    assert not PrintRun.objects.exists()


# --- Pages ------------------------------------------------------------------------------------------------------------


@pytest.fixture
def owner(client):
    client.force_login(factories.OwnerFactory())
    return client


def test_the_page_shows_how_far_it_is_and_asks_again(owner):
    job = factories.long_printing(count=45)
    PrintJob.objects.update(drawn=20, state="working")

    page = owner.get(reverse("long-printing", args=[job.key])).content.decode()

    assert "20 of 45 labels that differ drawn" in page
    assert 'hx-trigger="every 2s"' in page
    drawn(job)
    done = owner.get(reverse("long-printing", args=[job.key])).content.decode()
    assert "every 2s" not in done
    assert reverse("labels-again", args=[PrintRun.objects.get().pk]) in done


def test_it_is_cancelled_at_a_touch(owner):
    job = factories.long_printing(count=45)

    owner.post(reverse("long-printing-cancel", args=[job.key]))

    assert "was cancelled" in owner.get(reverse("long-printing", args=[job.key])).content.decode()


def test_many_lots_that_wait_are_handed_to_the_worker(owner, monkeypatch):
    monkeypatch.setattr("dyehouse.paper.views.LONG", 2)
    monkeypatch.setattr("dyehouse.paper.views.WAITING_SHOWN", 2)
    base = factories.base(fibres={"wool": 1000})
    put_up = factories.put_up(base=base, pieces=40)
    lots = [factories.judged_lot(good=3, put_up=put_up) for _ in range(4)]
    page = owner.get(reverse("labels")).content.decode()
    shown = [lot for lot in lots if f"count_{lot.code}-" in page]

    answer = owner.post(
        reverse("labels"),
        {
            "design": "tag", "market": "eu", "sheet": "a4-3x8", "start_at": 1, "all_waiting": "on",
            **{f"count_{lot.code}-{put_up.pk}": 1 for lot in shown},
        },
    )  # fmt: skip

    job = PrintJob.objects.get()
    assert "Labels for the 2 more lots that wait" in page
    assert answer["Location"] == reverse("long-printing", args=[job.key])
    # One for each of the two shown lots, three for each of the others.
    assert (job.count, job.distinct) == (8, 4)


def test_the_finished_sheets_are_handed_over_as_they_are(owner):
    job = drawn(factories.long_printing(count=45))

    answer = owner.get(reverse("labels-again", args=[job.run_id]))

    assert answer.content == long.sheets_of(job)
