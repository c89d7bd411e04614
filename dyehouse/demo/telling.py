"""What is known of one pot of the invented year while it is told."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from dyehouse.demo.invented import InventedColourway
from dyehouse.studio.models import Vessel
from recipes.lots.models import DyeLot, LogEntry, Pot, PotLoad
from recipes.models import PutUp


@dataclass(frozen=True, slots=True)
class PlannedPot:
    """One pot before it is dyed: what, on which put-up, how many, when and where; `first` of its kind is a trial."""

    colourway: InventedColourway
    put_up: PutUp
    pieces: int
    start: datetime
    vessel: Vessel
    first: bool


@dataclass(frozen=True, slots=True)
class Told:
    """One pot as it will be written."""

    plan: PlannedPot
    row: Pot
    load: PotLoad
    lot: DyeLot
    entries: list[LogEntry] = field(default_factory=list)

    @property
    def put_up(self) -> PutUp:
        return self.plan.put_up

    @property
    def pieces(self) -> int:
        return self.plan.pieces

    @property
    def what(self) -> tuple[str, int]:
        """Its colourway and base, which share one reference lot and one way of dyeing."""
        return self.plan.colourway.name, self.plan.put_up.base_id
