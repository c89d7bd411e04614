"""What to weigh for a bottle of stock, with its working, its cautions and how long it is known to last."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from fractions import Fraction

from dyehouse.studio.models import Measure
from recipes.dyeing.cautions import Caution, Topic, cautions
from recipes.dyeing.depth import powder_for_stock
from recipes.dyeing.dissolving import beyond_dissolved
from recipes.dyeing.rounding import Measured, round_powder
from recipes.dyeing.stock_life import Life, stock_life, with_alkali
from recipes.dyeing.working import Figure
from recipes.models import Dye
from recipes.stock_forms import StockForm

AT_THE_SCALE = frozenset({Topic.POWDER, Topic.VESSELS, Topic.WHO_DECIDES})


@dataclass(frozen=True, slots=True)
class ToMake:
    """What the form says so far, worked out. `powder` is None while strength or volume is missing."""

    dye: Dye | None
    powder: Figure[Fraction] | None
    on_the_scale: Measured | None
    left_milligrams: int | None
    life: Life | None
    best_before: dt.date | None
    alkali: str
    cautions: list[Caution]
    beyond: str = ""

    @property
    def short_milligrams(self) -> Fraction | None:
        """How much more powder it takes than the book says is in the jar."""
        if self.powder is None or self.left_milligrams is None or self.powder.value <= self.left_milligrams:
            return None
        return self.powder.value - self.left_milligrams


def to_make(form: StockForm) -> ToMake:
    """Works out what the form says so far; what is missing or wrong in it is left out."""
    dye, jar, strength, volume = form.dye, form.in_jar, form.strength_mg_per_litre, form.volume_microlitres
    powder = (
        powder_for_stock(make_microlitres=volume, strength_mg_per_litre=strength)
        if volume and strength
        else None
    )
    scale = Measure.objects.filter(kind=Measure.Kind.SCALE, retired_at=None).order_by("step").first()
    life = stock_life(dye.dye_class, in_fridge=form.in_fridge) if dye is not None else None
    return ToMake(
        dye=dye,
        powder=powder,
        on_the_scale=round_powder(powder.value, step_milligrams=scale.step) if powder and scale else None,
        left_milligrams=jar.milligrams if jar is not None else None,
        life=life,
        best_before=life.warn_on(form.day_made) if life is not None else None,
        alkali=with_alkali(dye.dye_class) if dye is not None else "",
        cautions=[caution for caution in cautions([dye.dye_class]) if caution.topic in AT_THE_SCALE]
        if dye
        else [],
        beyond=beyond_dissolved(
            dye=dye.name,
            strength_mg_per_litre=strength,
            strongest_mg_per_litre=dye.strongest_stock_mg_per_litre,
        )
        if dye is not None and strength
        else "",
    )
