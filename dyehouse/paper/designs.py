"""The labels a studio chose: a shape of ours, and which parts stand on it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

from django.db import transaction
from django.utils import timezone

from dyehouse.paper.label_said import PART_WORDS, YarnLabel
from dyehouse.paper.models import LabelDesign
from dyehouse.studio.refusals import Refused

#: What may be left out of a label by choice; the colourway, the base and the dye lot stand on every one.
CHOOSABLE = ("studio", "fibres", "nominal_milligrams", "metres", "origin", "maker", "care")
_EMPTY: Mapping[str, object] = {"nominal_milligrams": 0, "metres": None}
OWN = "own-"


class DesignNameTaken(Refused):
    """Two designs would be called the same."""


@dataclass(frozen=True, slots=True)
class Design:
    """A design to print with: its slug and name, its shape, what is left out, which code and whether a picture."""

    slug: str
    name: str
    shape: str
    leaves_out: tuple[str, ...] = ()
    code_kind: str = "qr"
    with_picture: bool = False
    sheet: str = ""

    def applied(self, label: YarnLabel) -> YarnLabel:
        """The label in this shape, without what the design leaves out."""
        blank = {part: _EMPTY.get(part, "") for part in self.leaves_out}
        return replace(
            label,
            shape=self.shape,
            code_kind=self.code_kind or "qr",
            qr=label.qr if self.code_kind else "",
            picture=label.picture if self.with_picture else None,
            photo=label.photo if self.with_picture else "",
            **blank,  # type: ignore[arg-type]
        )

    @property
    def pk(self) -> int | None:
        """The number of a design of the studio's own; None for ours."""
        return int(self.slug.removeprefix(OWN)) if self.slug.startswith(OWN) else None

    def withholds(self, wanted: Collection[str]) -> list[str]:
        """What the design leaves out of what is wanted, named for the screen."""
        return [PART_WORDS[part] for part in self.leaves_out if part in wanted]


BUILT_IN: tuple[Design, ...] = (
    Design("tag", "Tag, with everything on it", "tag"),
    Design("band", "Band around the skein", "band", sheet="a4-1x6-cut"),
    Design("mini", "Small sticker for minis", "mini", sheet="a4-5x13"),
)


def designs_here() -> dict[str, Design]:
    """Every design that can be chosen, by its slug; the studio's own first. One query."""
    own = [design_of(row) for row in LabelDesign.objects.filter(retired_at=None).order_by("name")]
    return {design.slug: design for design in (*own, *BUILT_IN)}


def design_of(row: LabelDesign) -> Design:
    """A design that was kept."""
    return Design(
        slug=f"{OWN}{row.pk}",
        name=row.name,
        shape=row.shape,
        leaves_out=tuple(part for part in row.leaves_out if part in CHOOSABLE),
        code_kind=row.code_kind,
        with_picture=row.with_picture,
        sheet=row.sheet,
    )


@transaction.atomic
def keep_design(*, design: Design, of: LabelDesign | None = None) -> LabelDesign:
    """Keep a design, or change one. Labels that were printed print again as they were. Raises DesignNameTaken."""
    name = " ".join(design.name.split())
    if not name:
        raise DesignNameTaken("Give the design a name, for example Sock tag.")
    others = LabelDesign.objects.filter(name__iexact=name)
    if of is not None:
        others = others.exclude(pk=of.pk)
    if others.exists() or any(name.lower() == known.name.lower() for known in BUILT_IN):
        raise DesignNameTaken(f"There is a design called {name} already. Choose another name.")
    row = of or LabelDesign()
    row.name = name
    row.shape = design.shape
    row.leaves_out = [part for part in CHOOSABLE if part in design.leaves_out]
    row.code_kind = design.code_kind
    row.with_picture = design.with_picture
    row.sheet = design.sheet
    row.retired_at = None
    row.save()
    return row


@transaction.atomic
def retire_design(*, of: LabelDesign) -> None:
    """Take a design out of the list."""
    of.retired_at = of.retired_at or timezone.now()
    of.save(update_fields=["retired_at"])
