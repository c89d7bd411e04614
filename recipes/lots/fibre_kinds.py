"""Of which kinds of fibre the yarn in a pot is, told beside its loads without another question to the database."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import Exists, OuterRef, QuerySet

from recipes.dyeing.fibres import CELLULOSE, FIBRES, POLYAMIDE, PROTEIN
from recipes.lots.models import PotLoad
from recipes.models import BaseFibre

#: A fibre that stands for its kind, and the column that tells of it.
_STANDS_FOR = {PROTEIN: "wool", POLYAMIDE: "nylon", CELLULOSE: "cotton"}


def with_kinds(loads: QuerySet[PotLoad]) -> QuerySet[PotLoad]:
    """Loads, each knowing which kinds of fibre its base has."""
    of_base = BaseFibre.objects.filter(base=OuterRef("put_up__base"))
    columns = {
        f"has_{kind}": Exists(
            of_base.filter(fibre__in=[fibre.slug for fibre in FIBRES if fibre.kind == kind])
        )
        for kind in _STANDS_FOR
    }
    return loads.annotate(**columns)


def kinds_of(loads: Iterable[PotLoad]) -> tuple[str, ...]:
    """A fibre's slug for each kind that is in the loads; none where the fibres are not known, or the loads not asked for them."""
    loads = list(loads)
    return tuple(
        slug
        for kind, slug in _STANDS_FOR.items()
        if any(getattr(load, f"has_{kind}", False) for load in loads)
    )
