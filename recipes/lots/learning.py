"""A pot becomes a way of dyeing: what is proposed, what is missing, and keeping it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from django.db import transaction

from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from recipes.lots import mixed
from recipes.lots.baths import beside_of
from recipes.lots.contents import PotContents, add_up, counts
from recipes.lots.fibre_kinds import with_kinds
from recipes.lots.load_words import OF_A_LOAD
from recipes.lots.missing import Missing, missing_of
from recipes.lots.models import LogEntry, Pot, PotLoad, WayOrigin
from recipes.lots.proposing import PotToLearnFrom, ProposedRule, propose_rules
from recipes.models import Base, WayOfDyeing
from recipes.way_words import departures
from recipes.ways import WayFacts, drafts_of, keep_way, newest_way, same_way

Kind = LogEntry.Kind


class CannotGoBy(Refused):
    """An addition cannot be reckoned by the basis that was chosen for it."""


class NothingToLearn(Refused):
    """The pot holds no yarn or its log has no step."""


@dataclass(frozen=True, slots=True)
class ProposedWay:
    """What a pot teaches: its rules with amounts, what its pot was like, and what is missing to dye it again."""

    pot: Pot
    base: Base
    bases: list[Base]
    loads: list[PotLoad]
    contents: PotContents
    rules: list[ProposedRule]
    missing: list[Missing]
    facts: WayFacts

    @property
    def additions(self) -> list[ProposedRule]:
        return [rule for rule in self.rules if rule.is_addition]

    @property
    def steps(self) -> list[ProposedRule]:
        return [rule for rule in self.rules if not rule.is_addition]


def propose_way(
    pot: Pot, *, chosen: Mapping[UUID, str] | None = None, base_id: int | None = None, us: bool = False
) -> ProposedWay:
    """The way of dyeing that a pot's log teaches, each addition by the basis that its kind suggests.

    `chosen` gives another basis by the entry's key; `base_id` for which of its bases it is, where several lay in it, else
    for the one that weighed most. Struck entries teach nothing. Raises NothingToLearn without yarn.
    """
    loads = list(
        with_kinds(PotLoad.objects.filter(pot=pot))
        .select_related(*OF_A_LOAD)
        .prefetch_related("put_up__base__fibres")
        .order_by("id")
    )
    if not loads:
        raise NothingToLearn(f"Nothing lies in pot {pot.code}, so nothing can be learned from it.")
    entries = list(
        LogEntry.objects.filter(pot=pot)
        .select_related("dye", "auxiliary", "mix", "struck_by", "who")
        .prefetch_related(mixed.PARTS)
        .order_by("happened_at", "id")
    )
    kept = [entry for entry in entries if counts(entry)]
    contents = add_up(loads=loads, entries=entries, beside=beside_of(pot))
    bases = bases_of(loads)
    base = next((each for each in bases if each.pk == base_id), bases[0])
    learned_from = PotToLearnFrom.of(base=base, loads=loads, contents=contents)
    return ProposedWay(
        pot=pot,
        base=base,
        bases=bases,
        loads=loads,
        contents=contents,
        rules=propose_rules(kept, learned_from, chosen=chosen, us=us),
        missing=missing_of(pot, loads=loads, entries=kept, contents=contents),
        facts=facts_of(pot, contents),
    )


def bases_of(loads: Sequence[PotLoad]) -> list[Base]:
    """The bases that lie in a pot, the one that weighs most first."""
    weights: dict[Base, int] = {}
    for load in loads:
        weights[load.put_up.base] = weights.get(load.put_up.base, 0) + load.dry_milligrams
    return sorted(weights, key=lambda base: -weights[base])


def facts_of(pot: Pot, contents: PotContents) -> WayFacts:
    """What a pot was like, as far as it is known. A bath that the log calls clear was clear at the end."""
    cleared = pot.bath_at_end or (WayOfDyeing.Cleared.CLEAR.value if contents.cleared_at is not None else "")
    return WayFacts(
        dry_milligrams=contents.dry_milligrams,
        bath_microlitres=contents.bath_microlitres,
        pieces=contents.pieces,
        vessel_name=pot.vessel.name if pot.vessel is not None else "",
        presoak_minutes=pot.presoak_minutes,
        lay=pot.lay,
        lay_plan=pot.lay_plan,
        cleared=cleared,
        cooling=pot.cooling,
    )


@dataclass(frozen=True, slots=True)
class LearnedBefore:
    """The way that a pot taught last, and in what its log departs from that by now."""

    way: WayOfDyeing
    departs: list[str]


def learned_before(proposed: ProposedWay, *, us: bool = False) -> LearnedBefore | None:
    """What was kept of this pot before; None when nothing was. Two queries."""
    origins = WayOrigin.objects.filter(pot=proposed.pot, way__base=proposed.base).select_related("way")
    origin = origins.order_by("-id").first()
    if origin is None:
        return None
    now = [rule.draft for rule in proposed.rules], proposed.facts
    return LearnedBefore(origin.way, departures((drafts_of(origin.way), WayFacts.of(origin.way)), now, us=us))


@transaction.atomic
def learn_way(
    *,
    pot: Pot,
    who: User,
    rules: Mapping[UUID, str] | None = None,
    answers: Mapping[str, str] | None = None,
    why: str = "",
    base_id: int | None = None,
) -> WayOfDyeing:
    """Keep what a pot teaches as a way of dyeing its colourway on its base.

    `rules` gives the chosen basis by the entry's key where it is not the proposed one; `answers` the texts of the way's
    own fields (lay, cooling) where the pot does not know them; `base_id` for which base it is kept. The first way of a colourway on a base departs from
    nothing; a later one departs from the way that the pot was dyed by, else from the newest, and says that it is as done
    in this pot. Learning the same again returns the first. Raises NothingToLearn, and
    CannotGoBy when the pot does not know what a chosen basis needs.
    """
    locked = Pot.objects.select_for_update().get(pk=pot.pk)
    _fill_in(locked, answers or {})
    proposed = propose_way(locked, chosen=rules, base_id=base_id)
    for rule in proposed.rules:
        if rule.problem:
            raise CannotGoBy(f"{rule.name}: {rule.problem} Choose what else it goes with.")
    drafts = [rule.draft for rule in proposed.rules]
    if not any(draft.is_addition for draft in drafts):
        raise NothingToLearn("Nothing went into this pot yet by its log. Write down what did, then keep it.")
    kept = WayOrigin.objects.filter(pot=locked, way__base=proposed.base).select_related("way")
    for origin in kept.order_by("-id")[:1]:
        if same_way(drafts_of(origin.way), WayFacts.of(origin.way), drafts, proposed.facts):
            return origin.way
    by = locked.way if locked.way is not None and locked.way.base_id == proposed.base.pk else None
    before = by or newest_way(colourway=locked.colourway, base=proposed.base)
    way = keep_way(
        colourway=locked.colourway,
        base=proposed.base,
        rules=drafts,
        facts=proposed.facts,
        who=who,
        departs_from=before,
        why=(why or f"As it was done in pot {locked.code}") if before is not None else why,
    )
    WayOrigin.objects.create(way=way, pot=locked)
    return way


def _fill_in(pot: Pot, answers: Mapping[str, str]) -> None:
    """The words that a pot does not have yet; what it has stays."""
    changed = [name for name in ("lay", "cooling") if answers.get(name) and not getattr(pot, name)]
    for name in changed:
        setattr(pot, name, answers[name])
    if changed:
        pot.save(update_fields=changed)
