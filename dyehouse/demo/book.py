"""A year of records gathered in memory and written in a few large inserts, through the same triggers as everything."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID, uuid5

from django.db import models

from dyehouse.ledger.models import Item, Line, Lot, Movement, Place
from dyehouse.ledger.operations import digest_of_rows
from dyehouse.studio.models import User
from recipes.colourways import dyed_yarn
from recipes.models import Colourway, DyedYarn, PutUp

HOUSE = UUID("6f1d8d0e-6c0b-4b52-9c0e-6a5d2f0c8620")


def demo_key(*parts: object) -> UUID:
    """The same key each time for the same thing of the invented studio."""
    return uuid5(HOUSE, "/".join(str(part) for part in parts))


@dataclass(frozen=True, slots=True)
class Taken:
    """So much of an item and lot from a place to a place; places are given by their code."""

    item: Item
    lot: Lot
    quantity: int
    source: str
    target: str


@dataclass(slots=True)
class Posting:
    """A movement that will be written."""

    at: datetime
    key: UUID
    why: str
    source: str
    who: User
    taken: Sequence[Taken]


@dataclass(slots=True)
class Book:
    """What is to be written, in the order in which it happened."""

    places: dict[str, Place]
    postings: list[Posting] = field(default_factory=list)
    yarns: dict[tuple[int, int, str], DyedYarn] = field(default_factory=dict)

    def post(
        self, *, at: datetime, key: UUID, why: str, source: str, who: User, taken: Sequence[Taken]
    ) -> None:
        """Note a movement; `write` puts it where its time belongs."""
        self.postings.append(Posting(at, key, why, source, who, taken))

    def dyed(self, colourway: Colourway, put_up: PutUp, grade: str) -> DyedYarn:
        """The dyed yarn of a colourway on a put-up by how it came out, looked up once."""
        key = (colourway.pk, put_up.pk, grade)
        if key not in self.yarns:
            self.yarns[key] = dyed_yarn(colourway=colourway, put_up=put_up, grade=grade)
        return self.yarns[key]

    def write(self) -> dict[UUID, Movement]:
        """Write all movements with their lines, by time, and give them by their key."""
        self.postings.sort(key=lambda posting: posting.at)
        movements = [
            Movement(
                key=posting.key,
                happened_at=posting.at,
                recorded_at=posting.at,
                who=posting.who,
                why=posting.why,
                source=posting.source,
                line_count=len(posting.taken),
                digest=digest_of_rows((self._row(taken) for taken in posting.taken), reverses_id=None),
            )
            for posting in self.postings
        ]
        Movement.objects.bulk_create(movements, batch_size=400)
        lines = [
            Line(
                movement=movement,
                number=number,
                item=taken.item,
                lot=taken.lot,
                quantity=taken.quantity,
                from_place=self.places[taken.source],
                to_place=self.places[taken.target],
            )
            for movement, posting in zip(movements, self.postings, strict=True)
            for number, taken in enumerate(posting.taken, start=1)
        ]
        Line.objects.bulk_create(lines, batch_size=400)
        self.postings.clear()
        return {movement.key: movement for movement in movements}

    def _row(self, taken: Taken) -> tuple[int | None, ...]:
        return (
            taken.item.pk,
            taken.lot.pk,
            taken.quantity,
            self.places[taken.source].pk,
            None,
            self.places[taken.target].pk,
            None,
        )


def write_rows(rows: Sequence[models.Model]) -> None:
    """Insert rows of one table in batches; they get their ids."""
    if rows:
        type(rows[0])._default_manager.bulk_create(rows, batch_size=300)
