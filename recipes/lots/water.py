"""The studio's water as a pot keeps it when it is loaded, and as it is compared later."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dyehouse.studio.models import Studio
from recipes.dyeing.pot_facts import Water


def water_of(studio: Studio) -> dict[str, int | str]:
    """What is known of the studio's water, for keeping with a pot."""
    known: dict[str, int | str | None] = {
        "hardness_mg_per_litre": studio.water_hardness_mg_per_litre,
        "alkalinity_mg_per_litre": studio.water_alkalinity_mg_per_litre,
        "ph_hundredths": studio.water_ph_hundredths,
        "measured_on": studio.water_measured_on.isoformat() if studio.water_measured_on else None,
    }
    return {name: value for name, value in known.items() if value is not None}


def water_as_kept(kept: Mapping[str, Any]) -> Water:
    """The water of a pot for comparing; what was not known then is not known."""
    return Water(**{name: kept.get(name) for name in Water.__dataclass_fields__})
