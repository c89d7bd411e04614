"""The studio's first minute, and what of it changes later: its name and units, vessels, scales, water."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from dyehouse.studio.models import Measure, Studio, Vessel
from dyehouse.studio.refusals import Refused


class VesselNameTaken(Refused):
    """Two vessels would be called the same."""


@dataclass(frozen=True, slots=True)
class StudioFacts:
    """What the studio says of itself. Water is in mg/L as CaCO₃ and hundredths of pH; None is “not known”."""

    name: str
    units: str
    currency: str
    country: str
    time_zone: str
    label_sheet: str
    water_hardness_mg_per_litre: int | None = None
    water_ph_hundredths: int | None = None
    water_alkalinity_mg_per_litre: int | None = None
    water_measured_on: dt.date | None = None


@dataclass(frozen=True, slots=True)
class VesselFacts:
    """A vessel: `pk` is None for a new one; `retired` takes it out of every list of vessels to choose from."""

    pk: int | None
    name: str
    kind: str
    working_millilitres: int
    hob_watts: int | None = None
    hob_kind: str = ""
    retired: bool = False


@dataclass(frozen=True, slots=True)
class MeasureFacts:
    """A scale (milligrams) or a cylinder (microlitres), its smallest step and the most it takes at once."""

    pk: int | None
    name: str
    kind: str
    step: int
    most: int | None = None
    retired: bool = False


def needs_set_up(studio: Studio) -> bool:
    """Whether the first minute's questions have not been answered yet."""
    return studio.set_up_at is None


@transaction.atomic
def set_up_studio(
    *, facts: StudioFacts, vessels: Sequence[VesselFacts], measures: Sequence[MeasureFacts]
) -> Studio:
    """Keep what the studio says of itself. From then on the house does not ask by itself again.

    Vessels and measures that are not named stay as they are. Raises VesselNameTaken.
    """
    studio = Studio.current()
    for field in StudioFacts.__dataclass_fields__:
        setattr(studio, field, getattr(facts, field))
    studio.set_up_at = studio.set_up_at or timezone.now()
    studio.save()
    for vessel in vessels:
        _keep_vessel(vessel)
    for measure in measures:
        _keep_measure(measure)
    return studio


@transaction.atomic
def skip_set_up(*, time_zone: str | None = None) -> Studio:
    """Begin with the defaults; everything can be said later."""
    studio = Studio.current()
    studio.time_zone = time_zone or studio.time_zone
    studio.set_up_at = studio.set_up_at or timezone.now()
    studio.save(update_fields=["time_zone", "set_up_at"])
    return studio


def _keep_vessel(facts: VesselFacts) -> None:
    vessel = Vessel() if facts.pk is None else Vessel.objects.select_for_update().get(pk=facts.pk)
    if Vessel.objects.filter(name__iexact=facts.name).exclude(pk=vessel.pk).exists():
        raise VesselNameTaken(f"There are two vessels called {facts.name}. Give each a name of its own.")
    vessel.name = facts.name
    vessel.kind = facts.kind
    vessel.working_millilitres = facts.working_millilitres
    vessel.hob_watts = facts.hob_watts
    vessel.hob_kind = facts.hob_kind
    vessel.retired_at = (vessel.retired_at or timezone.now()) if facts.retired else None
    vessel.save()


def _keep_measure(facts: MeasureFacts) -> None:
    measure = Measure() if facts.pk is None else Measure.objects.select_for_update().get(pk=facts.pk)
    measure.name = facts.name
    measure.kind = facts.kind
    measure.step = facts.step
    measure.most = facts.most
    measure.retired_at = (measure.retired_at or timezone.now()) if facts.retired else None
    measure.save()
