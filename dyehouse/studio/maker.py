"""How the studio names itself as the maker: on labels, where each market's law asks for something else."""

from __future__ import annotations

from dataclasses import dataclass

from django.db import transaction

from dyehouse.studio.models import Studio


@dataclass(frozen=True, slots=True)
class MakerFacts:
    """The maker's words: address and the person in the EU one line under another, as they were typed."""

    postal_address: str = ""
    email: str = ""
    identification_number: str = ""
    responsible_in_eu: str = ""


@transaction.atomic
def keep_makers_words(*, facts: MakerFacts) -> Studio:
    """Write down how the studio is named on labels. Labels that were printed keep what stood on them."""
    studio = Studio.current()
    studio.postal_address = _tidy(facts.postal_address)
    studio.email = facts.email.strip()
    studio.identification_number = " ".join(facts.identification_number.split())
    studio.responsible_in_eu = _tidy(facts.responsible_in_eu)
    studio.save(update_fields=["postal_address", "email", "identification_number", "responsible_in_eu"])
    return studio


def on_one_line(lines: str) -> str:
    """An address as it stands on a label: its lines with commas between them."""
    return ", ".join(line.strip().rstrip(",") for line in lines.splitlines() if line.strip())


def _tidy(lines: str) -> str:
    return "\n".join(" ".join(line.split()) for line in lines.splitlines() if line.strip())
