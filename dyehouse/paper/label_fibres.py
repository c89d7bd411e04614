"""How labels say the fibres of a base where the law leaves a choice, and what each market's line then is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from django.db import transaction

from dyehouse.paper.composition import CompositionError, Market, fibre_line, found_between, percent, scaled
from dyehouse.paper.label_law import MARKET_WORDS, about_maker
from dyehouse.paper.models import LabelledFibre
from dyehouse.studio.refusals import Refused
from recipes.dyeing.fibres import BY_SLUG
from recipes.models import Base


class FibresRefused(Refused):
    """No market's law lets the fibres be said like this."""


@dataclass(frozen=True, slots=True)
class MarketLine:
    """The fibre line of a market with its rule; or why that market's law does not let the fibres be said so."""

    market: str
    line: str = ""
    rule: str = ""
    more: str = ""
    tolerance: str = ""
    refused: str = ""


def fibre_lines(base: Base, *, said: Mapping[str, str], home: Market) -> list[MarketLine]:
    """The line of each market, the home market first. `base` comes with its fibres."""
    shares = {row.fibre: row.per_mille for row in base.fibres.all()}
    if not shares:
        return []
    found = []
    for value, words in sorted(MARKET_WORDS, key=lambda one: one[0] != home.value):
        market = Market(value)
        try:
            composition = fibre_line(shares, market, said=said)
        except CompositionError as error:
            found.append(MarketLine(words, refused=str(error)))
            continue
        found.append(
            MarketLine(
                market=words,
                line=composition.line,
                rule=f"{composition.rule} Source: {composition.source}.",
                more=about_maker(market),
                tolerance=_tolerance(shares, said, market),
            )
        )
    return found


def _tolerance(shares: Mapping[str, int], said: Mapping[str, str], market: Market) -> str:
    """Between which shares a laboratory may find each fibre that is named."""
    named = scaled(
        {slug: share for slug, share in shares.items() if said.get(slug, "named") in ("named", "function")}
    )
    found = found_between(named, market)
    return ", ".join(
        f"{BY_SLUG[slug].name} {percent(low)} to {percent(high)} %" for slug, (low, high) in found.items()
    )


@transaction.atomic
def say_fibres(*, base: Base, said: Mapping[str, str]) -> None:
    """Keep how labels say each fibre. Labels that were printed keep their words. Raises FibresRefused."""
    shares = {row.fibre: row.per_mille for row in base.fibres.all()}
    refusals = []
    for market in Market:
        try:
            fibre_line(shares, market, said=said)
        except CompositionError as error:
            refusals.append(str(error))
    if len(refusals) == len(Market):
        raise FibresRefused(refusals[0])
    LabelledFibre.objects.filter(base=base).delete()
    LabelledFibre.objects.bulk_create(
        LabelledFibre(base=base, fibre=fibre, how=how)
        for fibre, how in said.items()
        if fibre in shares and how != LabelledFibre.How.NAMED
    )
