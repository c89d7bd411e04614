import datetime as dt

import pytest

from inventory import spoken_for as told
from inventory.spoken_for import SpokenFor


@pytest.fixture
def nobody_told(monkeypatch):
    monkeypatch.setattr(told, "_sources", [])


def promise(due: dt.date | None, pieces: int = 3, held: int = 0) -> SpokenFor:
    return SpokenFor(
        due=due, put_up_id=1, colourway_id=1, pieces=pieces, held=held, what="a box", address="/"
    )


def test_all_rooms_are_asked_and_the_soonest_comes_first(nobody_told):
    open_ended, late, soon = promise(None), promise(dt.date(2026, 12, 1)), promise(dt.date(2026, 11, 29))
    told.tell_of(lambda: [open_ended, late])
    told.tell_of(lambda: [soon])
    assert told.spoken_for() == [soon, late, open_ended]


def test_a_room_that_tells_twice_counts_once(nobody_told):
    def room():
        return [promise(None)]

    told.tell_of(room)
    told.tell_of(room)
    assert len(told.spoken_for()) == 1


@pytest.mark.parametrize(("pieces", "held", "to_find"), [(3, 0, 3), (3, 2, 1), (3, 3, 0), (3, 5, 0)])
def test_what_is_held_is_not_to_be_found_again(pieces, held, to_find):
    assert promise(None, pieces, held).to_find == to_find
