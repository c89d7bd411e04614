"""Answering what was missing of a pot: only what is empty is filled, and who said it when stays in the log."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID, uuid5

from django.db import transaction
from django.utils import timezone

from dyehouse.studio.models import User, Vessel
from dyehouse.studio.refusals import Refused
from recipes.dyeing.potline import read_line
from recipes.dyeing.units import format_grams
from recipes.lots.log import add_entry, keep_line, tidy_line
from recipes.lots.missing import (
    ACID,
    COOLING,
    DRY_WEIGHT,
    HEAT,
    HEATING,
    LAY,
    MILL_LOT,
    NO_ACID,
    NOTED,
    ORDER,
    PRESOAK,
    VESSEL,
    WATER,
)
from recipes.lots.models import LogEntry, Pot, PotLoad
from recipes.lots.pots import weigh_load
from recipes.lots.resolving import moment_near

Kind = LogEntry.Kind

#: What the shortest of the pot's fields for words takes.
SHORTEST_WORDS = 120


class AnsweredAlready(Refused):
    """It is known by now, and an answer never takes the place of another."""


class NotAnAnswer(Refused):
    """What was given does not answer what is missing."""


@transaction.atomic
def answer_missing(
    *,
    pot: Pot,
    slug: str,
    key: UUID,
    who: User,
    text: str = "",
    milligrams: int | None = None,
    microlitres: int | None = None,
    minutes: int | None = None,
    vessel: Vessel | None = None,
    centi_celsius: int | None = None,
    clock: str = "",
    fahrenheit: bool = False,
) -> None:
    """Answer one thing that was missing. Only what is empty is filled, and who said it when stays in the log.

    The same key again changes nothing. Raises AnsweredAlready, and NotAnAnswer when nothing was said.
    """
    if LogEntry.objects.filter(key=key).exists():
        return
    locked = Pot.objects.select_for_update().get(pk=pot.pk)
    said = tidy_line(text)[:300]
    answering = _Answer(locked, key, who)
    if slug == DRY_WEIGHT:
        answering.dry_weight(milligrams)
    elif slug == PRESOAK:
        answering.presoak(minutes)
    elif slug == VESSEL:
        answering.vessel(vessel)
    elif slug == WATER:
        answering.water(microlitres)
    elif slug == HEAT:
        answering.heat(centi_celsius, clock, minutes)
    elif slug in (LAY, COOLING):
        answering.words(slug, said)
    elif slug == ACID and said == NO_ACID:
        answering.note(NOTED[slug], said)
    elif slug == ACID or (slug == ORDER and not _has_additions(locked)):
        answering.line(said, fahrenheit)
    elif slug in (MILL_LOT, ORDER, HEATING):
        answering.note(NOTED[slug], said)
    else:
        raise NotAnAnswer("This is answered on another page.")


def _has_additions(pot: Pot) -> bool:
    kinds = [Kind.STOCK, Kind.POWDER, Kind.MIX, Kind.AUXILIARY]
    return LogEntry.objects.filter(pot=pot, kind__in=kinds, struck_by__isnull=True).exists()


@dataclass(frozen=True, slots=True)
class _Answer:
    """One answer for a pot that is locked, by somebody."""

    pot: Pot
    key: UUID
    who: User

    def dry_weight(self, milligrams: int | None) -> None:
        if not milligrams:
            raise NotAnAnswer("Write the grams that the scale shows.")
        if not PotLoad.objects.filter(pot=self.pot, weighed=False).exists():
            raise AnsweredAlready("The pieces of this pot were weighed already.")
        weigh_load(pot=self.pot, dry_milligrams=milligrams)
        self.note(NOTED[DRY_WEIGHT], f"{format_grams(milligrams)}, weighed")

    def presoak(self, minutes: int | None) -> None:
        if minutes is None:
            raise NotAnAnswer("Write the minutes, or 0 for not at all.")
        if self.pot.presoak_minutes is not None:
            raise AnsweredAlready(f"The pre-soak is known already: {self.pot.presoak_minutes} min.")
        self.pot.presoak_minutes = minutes
        self.pot.save(update_fields=["presoak_minutes"])
        self.note(NOTED[PRESOAK], f"{minutes} min" if minutes else "none")

    def vessel(self, vessel: Vessel | None) -> None:
        if vessel is None:
            raise NotAnAnswer("Choose the vessel.")
        if self.pot.vessel_id is not None:
            raise AnsweredAlready("The vessel is known already.")
        self.pot.vessel = vessel
        self.pot.save(update_fields=["vessel"])
        self.note(NOTED[VESSEL], vessel.name)

    def words(self, slug: str, said: str) -> None:
        if not said:
            raise NotAnAnswer("Write it in a few words.")
        field = "lay" if slug == LAY else "cooling"
        if getattr(self.pot, field):
            raise AnsweredAlready(f"This is known already: {getattr(self.pot, field)}.")
        setattr(self.pot, field, said[:SHORTEST_WORDS])
        self.pot.save(update_fields=[field])
        self.note(NOTED[slug], said)

    def water(self, microlitres: int | None) -> None:
        """The bath that was there from the beginning, so that it stands first in the log."""
        if not microlitres:
            raise NotAnAnswer("Write the litres of the bath.")
        if LogEntry.objects.filter(
            pot=self.pot, kind=Kind.WATER, microlitres__gt=0, struck_by__isnull=True
        ).exists():
            raise AnsweredAlready("The log names the water already.")
        add_entry(
            pot=self.pot,
            key=self.key,
            kind=Kind.WATER,
            who=self.who,
            happened_at=self._start(),
            microlitres=microlitres,
        )

    def heat(self, centi_celsius: int | None, clock: str, minutes: int | None) -> None:
        """Reached at a clock time and held for so long: two readings, as they would have been read."""
        if centi_celsius is None or not clock or minutes is None:
            raise NotAnAnswer("Write how hot it was, when it was reached, and how long it was held.")
        reached = moment_near(clock, at=self.pot.out_at or self._last_entry())
        for key, at in ((self.key, reached), (uuid5(self.key, "held"), reached + timedelta(minutes=minutes))):
            add_entry(
                pot=self.pot,
                key=key,
                kind=Kind.TEMPERATURE,
                who=self.who,
                happened_at=at,
                centi_celsius=centi_celsius,
            )

    def line(self, said: str, fahrenheit: bool) -> None:
        if not said:
            raise NotAnAnswer("Write what went in, for example “50 ml vinegar at 14:35”.")
        keep_line(
            pot=self.pot,
            key=self.key,
            typed=said,
            who=self.who,
            now=self._told_at(said),
            fahrenheit=fahrenheit,
        )

    def _told_at(self, said: str) -> datetime:
        """The moment that a line without a clock time is about, or by which its clock times were past."""
        last = self.pot.out_at or self._last_entry()
        if any(reading.clock for reading in read_line(said)):
            return min(timezone.now(), self._start() + timedelta(hours=12))
        return last

    def _last_entry(self) -> datetime:
        kept = LogEntry.objects.filter(pot=self.pot, struck_by__isnull=True)
        kept = kept.exclude(kind__in=[Kind.STRIKE, Kind.NOTE])
        newest = kept.order_by("-happened_at").values_list("happened_at", flat=True).first()
        return newest or self._start()

    def note(self, name: str, said: str) -> None:
        if not said:
            raise NotAnAnswer("Write it in a few words.")
        if LogEntry.objects.filter(pot=self.pot, kind=Kind.NOTE, name=name, struck_by__isnull=True).exists():
            raise AnsweredAlready("This was answered already. Strike that note first if it is wrong.")
        add_entry(
            pot=self.pot,
            key=self.key,
            kind=Kind.NOTE,
            who=self.who,
            happened_at=timezone.now(),
            name=name,
            text=said,
            typed=f"{name[:1].upper()}{name[1:]}: {said}",
        )

    def _start(self) -> datetime:
        return self.pot.loaded_at or self.pot.made_at
