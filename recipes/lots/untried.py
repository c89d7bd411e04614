"""Ways of dyeing that were written down from notes and that no pot of this house has borne out yet."""

from __future__ import annotations

from django.db.models import BooleanField, Case, Exists, OuterRef, Q, Value, When

from recipes.lots.models import Judgement

#: What stands beside such a way wherever it is shown.
FROM_NOTES = "from notes, not yet dyed here"


def untried(way: str = "") -> Case:
    """Annotation that tells whether the way of a row is from notes and no pot of it was judged yet.

    `way` is how a row gets to its way, "way" for a pot; empty for a way itself.
    """
    judged = Judgement.objects.filter(
        dye_lot__pots__way=OuterRef(way or "pk"), movement__reversed_by__isnull=True
    )
    from_notes = Q(**{f"{way}__from_notes" if way else "from_notes": True})
    return Case(
        When(from_notes & ~Exists(judged), then=Value(True)),
        default=Value(False),
        output_field=BooleanField(),
    )
