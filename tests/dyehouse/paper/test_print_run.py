"""What was printed is kept, and keeps its rules in the database itself."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime

import pytest
from django.contrib.auth import get_user_model
from django.db import IntegrityError, transaction

from dyehouse.paper.models import PrintRun

pytestmark = pytest.mark.django_db


@pytest.fixture
def person():
    return get_user_model().objects.create(username="una")


def run(person, **changes) -> PrintRun:
    return PrintRun.objects.create(
        **{
            "key": uuid.uuid4(),
            "kind": PrintRun.Kind.YARN_LABELS,
            "printed_at": datetime(2026, 11, 25, 9, 30, tzinfo=UTC),
            "printed_by": person,
            "count": 4,
            "codes": ["K7M2X"],
            "sheet": "a4-3x8",
            **changes,
        }
    )


def test_a_print_run_says_what_and_when(person):
    assert str(run(person)) == "4 yarn labels at 2026-11-25 09:30"


@pytest.mark.parametrize("wrong", [{"count": 0}, {"start_at": 0}])
def test_a_run_of_nothing_or_from_no_label_is_refused(person, wrong):
    with pytest.raises(IntegrityError), transaction.atomic():
        run(person, **wrong)


def test_the_same_key_is_one_run(person):
    key = uuid.uuid4()
    run(person, key=key)

    with pytest.raises(IntegrityError), transaction.atomic():
        run(person, key=key)
