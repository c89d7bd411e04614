"""What a pot's log teaches: each addition as a rule by its kind, each reading as a step with its minute."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any
from uuid import UUID

from recipes.dyeing.basis_proposal import Proposal, propose_basis
from recipes.dyeing.scaling import Basis, BasisNeeds, RuleAmount, Unit, rule_from_amount
from recipes.dyeing.sources import DEFINITION
from recipes.dyeing.working import Figure, Working
from recipes.lots import mixed
from recipes.lots.contents import PotContents, dye_in
from recipes.lots.models import LogEntry, PotLoad
from recipes.lots.wording import entry_words
from recipes.models import Auxiliary, Base, Dye, Rule
from recipes.way_words import amount_words, rule_amount_words, strength_words
from recipes.ways import PotSize, RuleDraft, amount_in

Kind = LogEntry.Kind
ADDED = (Kind.STOCK, Kind.POWDER, Kind.MIX, Kind.AUXILIARY, Kind.WATER)
TEN_PIECES = 10
HUNDRED_GRAMS = 100_000

#: Answers to what was missing are named notes. What a way has a field for is no step of it, and the others have no minute.
ASIDE = ("mill lot", "pre-soak", "lay", "cooling", "vessel", "dry weight")
ANSWERS = ("order and times", "acid", "heating")

CHOICES = tuple((basis.value, basis.words) for basis in Basis)
STEERED_BY_PH = (Auxiliary.Role.ACID, Auxiliary.Role.ACID_DONOR, Auxiliary.Role.ALKALI, Auxiliary.Role.BUFFER)


@dataclass(frozen=True, slots=True)
class Amounts:
    """One rule's amount in this pot, for ten pieces and for 100 g of dry fibre, in words; `working` is of the first."""

    in_pot: str
    for_ten: str
    for_100_g: str
    working: Working | None = None


@dataclass(frozen=True, slots=True)
class ProposedRule:
    """One step that a log entry teaches.

    `basis` is the chosen one, `proposal` what its kind suggests and why. `before` are the amounts by the proposed basis
    where another one is chosen. `problem` is a sentence when the chosen basis cannot be used for this pot.
    """

    entry: LogEntry
    draft: RuleDraft
    name: str
    words: str
    proposal: Proposal | None = None
    basis: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    amounts: Amounts | None = None
    before: Amounts | None = None
    rule_words: str = ""
    problem: str = ""

    @property
    def kind(self) -> str:
        return self.draft.kind

    @property
    def is_addition(self) -> bool:
        return self.draft.is_addition

    @property
    def changed(self) -> bool:
        return self.proposal is not None and self.basis != self.proposal.basis


@dataclass(frozen=True, slots=True)
class PotToLearnFrom:
    """The pot's size and yarn, as far as it matters for what its additions go by."""

    size: PotSize
    fibres: tuple[str, ...]
    dye_class: str

    @classmethod
    def of(cls, *, base: Base, loads: Sequence[PotLoad], contents: PotContents) -> PotToLearnFrom:
        fibres = sorted(base.fibres.all(), key=lambda fibre: (-fibre.per_mille, fibre.pk))
        deepest = max(contents.dyes, key=lambda each: each.milligrams, default=None)
        return cls(
            size=PotSize(contents.dry_milligrams or None, contents.bath_microlitres, contents.pieces or None),
            fibres=tuple(fibre.fibre for fibre in fibres),
            dye_class=deepest.dye.dye_class if deepest is not None else Dye.Class.ACID_UNKNOWN.value,
        )


def propose_rules(
    entries: Sequence[LogEntry],
    pot: PotToLearnFrom,
    *,
    chosen: Mapping[UUID, str] | None = None,
    us: bool = False,
) -> list[ProposedRule]:
    """A rule for each entry that counts, in the order things happened.

    `entries` are those that count; `chosen` gives another basis than the proposed one by the entry's key.
    """
    wanted = chosen or {}
    # A mix is poured as one and teaches each of its dyes.
    kept = mixed.by_dye(entry for entry in entries if teaches(entry))
    if not kept:
        return []
    start = kept[0].happened_at
    aims = _aims_at(kept)
    proposed = []
    for entry in kept:
        minute = int((entry.happened_at - start).total_seconds() // 60)
        if entry.kind in ADDED and not _names_nothing(entry):
            rule = _addition(entry, pot, wanted.get(entry.key, ""), aims.get(entry.key), us)
        else:
            rule = _step(entry, us)
        timed = replace(rule.draft, minute=None if _is_answer(entry) else minute)
        proposed.append(replace(rule, draft=timed))
    return proposed


def teaches(entry: LogEntry) -> bool:
    """Whether an entry becomes a step: not a photo, nor the answer to something that a way keeps beside its steps."""
    if entry.kind in (Kind.PHOTO, Kind.STRIKE):
        return False
    return not (entry.kind == Kind.NOTE and entry.name in ASIDE)


def _names_nothing(entry: LogEntry) -> bool:
    if entry.kind in (Kind.STOCK, Kind.POWDER, Kind.MIX):
        return entry.dye_id is None
    return entry.kind == Kind.AUXILIARY and entry.auxiliary_id is None


def _aims_at(kept: Sequence[LogEntry]) -> dict[UUID, int]:
    """The pH that an acid or alkali was added to: the reading that follows before anything else goes in."""
    aims: dict[UUID, int] = {}
    waiting: list[UUID] = []
    for entry in kept:
        if entry.kind == Kind.AUXILIARY and entry.auxiliary and entry.auxiliary.role in STEERED_BY_PH:
            waiting.append(entry.key)
        elif entry.kind == Kind.PH and entry.ph_hundredths is not None:
            aims |= dict.fromkeys(waiting, entry.ph_hundredths)
            waiting = []
        elif entry.kind in ADDED:
            waiting = []
    return aims


def _step(entry: LogEntry, us: bool) -> ProposedRule:
    words = entry_words(entry, us=us)
    if entry.kind == Kind.TEMPERATURE and entry.centi_celsius is not None:
        draft = RuleDraft(Rule.Kind.TEMPERATURE.value, centi_celsius=entry.centi_celsius)
    elif entry.kind == Kind.PH and entry.ph_hundredths is not None:
        draft = RuleDraft(Rule.Kind.PH.value, ph_hundredths=entry.ph_hundredths)
    elif entry.kind == Kind.HEAT and entry.heat_on is not None:
        draft = RuleDraft(Rule.Kind.HEAT.value, heat_on=entry.heat_on, text=entry.heat_level)
    elif entry.kind == Kind.TECHNIQUE:
        draft = RuleDraft(
            Rule.Kind.TECHNIQUE.value,
            technique=entry.technique,
            seconds=entry.seconds,
            millimetres=entry.millimetres,
            hanks=entry.hanks,
            section=entry.section,
            centi_celsius=entry.centi_celsius,
            text=entry.name,
        )
    else:
        # A named note is the answer to what was missing; the name says what it is about.
        if _is_answer(entry):
            words = f"{entry.name[:1].upper()}{entry.name[1:]}: {words}"
        words = words[:500]
        draft = RuleDraft(Rule.Kind.NOTE.value, text=words)
    return ProposedRule(entry=entry, draft=draft, name=Rule.Kind(draft.kind).label, words=words)


def as_put_on(draft: RuleDraft, entry: LogEntry) -> RuleDraft:
    """A step with the section and the details that an entry really had; what the entry left open stays as it was."""
    said: dict[str, Any] = {"section": entry.section or draft.section}
    if entry.kind == Kind.TECHNIQUE:
        for name in ("seconds", "millimetres", "hanks", "centi_celsius"):
            if getattr(entry, name) is not None:
                said[name] = getattr(entry, name)
    return replace(draft, **said)


def _is_answer(entry: LogEntry) -> bool:
    return entry.kind == Kind.NOTE and entry.name in ANSWERS


def _addition(
    entry: LogEntry, pot: PotToLearnFrom, wanted: str, aims_at: int | None, us: bool
) -> ProposedRule:
    unit, amount = _amount(entry)
    proposal = _proposal(entry, pot, amount is None, aims_at)
    basis = wanted or proposal.basis.value
    problem = ""
    if amount is None and basis != Basis.POT:
        problem = "It has no weight or volume, so it stays the same in every pot."
        basis = Basis.POT.value
    try:
        draft = _draft(entry, basis, unit, amount, pot, aims_at)
    except BasisNeeds as needs:
        problem, basis = str(needs), Basis.POT.value
        draft = _draft(entry, basis, unit, amount, pot, aims_at)
    before = None
    if basis != proposal.basis:
        before = _amounts(_draft_or_none(entry, proposal.basis.value, unit, amount, pot, aims_at), pot, us)
    named = entry.dye or entry.auxiliary
    return ProposedRule(
        entry=entry,
        draft=draft,
        name=named.name if named is not None else "Water",
        words=entry_words(entry, us=us),
        proposal=proposal,
        basis=basis,
        choices=_choices(entry, amount),
        amounts=_amounts(draft, pot, us),
        before=before,
        rule_words=rule_amount_words(draft),
        problem=problem,
    )


def _choices(entry: LogEntry, amount: Fraction | None) -> tuple[tuple[str, str], ...]:
    """Only what is steered by a pH can go to a reading, and what has no amount is the same in every pot."""
    if amount is None:
        return tuple(choice for choice in CHOICES if choice[0] == Basis.POT)
    steered = entry.auxiliary is not None and entry.auxiliary.role in STEERED_BY_PH
    return tuple(choice for choice in CHOICES if steered or choice[0] != Basis.READING)


def _amount(entry: LogEntry) -> tuple[str, Fraction | None]:
    """The unit and exact amount of an addition: dye in milligrams, also where it came as stock of a known strength."""
    if entry.kind in (Kind.STOCK, Kind.POWDER, Kind.MIX):
        dye = dye_in(entry)
        if dye is not None:
            return Unit.MG.value, dye
    if entry.milligrams:
        return Unit.MG.value, Fraction(entry.milligrams)
    if entry.microlitres:
        return Unit.UL.value, Fraction(entry.microlitres)
    return "", None


def _proposal(entry: LogEntry, pot: PotToLearnFrom, loosely: bool, aims_at: int | None) -> Proposal:
    kind = {Kind.AUXILIARY: "auxiliary", Kind.WATER: "water"}.get(Kind(entry.kind), "dye")
    dye_class = entry.dye.dye_class if entry.dye is not None else pot.dye_class
    proposal = propose_basis(
        kind,
        role=entry.auxiliary.role if entry.auxiliary is not None else "",
        dye_class=dye_class,
        fibre=pot.fibres,
        spoon=loosely,
        aims_at_reading=aims_at is not None,
    )
    if proposal.basis is Basis.BATH and pot.size.bath_microlitres is None:
        why = f"{proposal.why} The litres of this bath are not known, so it is the same in every pot until they are."
        return Proposal(Basis.POT, why, DEFINITION, proposal.question)
    return proposal


def _draft(
    entry: LogEntry, basis: str, unit: str, amount: Fraction | None, pot: PotToLearnFrom, aims_at: int | None
) -> RuleDraft:
    kind = {Kind.AUXILIARY: Rule.Kind.AUXILIARY, Kind.WATER: Rule.Kind.WATER}.get(
        Kind(entry.kind), Rule.Kind.DYE
    )
    rate: RuleAmount | None = None
    if amount is not None:
        # What was needed to reach a reading is kept by the fibre, as a guide.
        by = Basis.FIBRE if basis == Basis.READING else Basis(basis)
        rate = rule_from_amount(
            amount,
            basis=by,
            unit=unit,
            dry_milligrams=pot.size.dry_milligrams,
            bath_microlitres=pot.size.bath_microlitres,
            pieces=pot.size.pieces,
        ).value
    return RuleDraft(
        kind.value,
        dye=entry.dye if kind is Rule.Kind.DYE else None,
        auxiliary=entry.auxiliary if kind is Rule.Kind.AUXILIARY else None,
        basis=basis,
        unit=unit,
        thousandths=rate.thousandths if rate is not None else None,
        strength_mg_per_litre=_dosed_from(entry),
        ph_hundredths=aims_at if basis == Basis.READING else None,
        as_typed=(entry.as_typed or entry.text or "some") if amount is None else "",
        text=_remark(entry),
        technique=entry.technique,
        section=entry.section,
    )


def _draft_or_none(
    entry: LogEntry, basis: str, unit: str, amount: Fraction | None, pot: PotToLearnFrom, aims_at: int | None
) -> RuleDraft | None:
    try:
        return _draft(entry, basis, unit, amount, pot, aims_at)
    except BasisNeeds:
        return None


def _dosed_from(entry: LogEntry) -> int | None:
    """The strength of the stock it was dosed from; of a dye in a mix, that of the bottle poured into the mix."""
    if entry.kind == Kind.MIX:
        return entry.bottle.strength_mg_per_litre if entry.bottle is not None else None
    return entry.strength_mg_per_litre if entry.kind == Kind.STOCK else None


def _remark(entry: LogEntry) -> str:
    parts = (
        "about" if entry.about else "",
        f"from {mixed.mix_words(entry.mix)}" if entry.mix is not None else "",
    )
    return ", ".join(part for part in parts if part)


def _amounts(draft: RuleDraft | None, pot: PotToLearnFrom, us: bool) -> Amounts | None:
    if draft is None:
        return None
    return amounts_of(draft, pot.size, us=us)


def amounts_of(draft: RuleDraft | Rule, size: PotSize, *, us: bool = False) -> Amounts:
    """A rule's amounts in a pot of this size, for ten pieces of the same yarn, and for 100 g of it."""
    figures = [
        _figure(draft, each) for each in (size, size.holding(TEN_PIECES), size.weighing(HUNDRED_GRAMS))
    ]
    shown = [_shown(draft, figure, us) for figure in figures]
    if draft.basis == Basis.POT:
        shown[1:] = [f"{words} in each pot" for words in shown[1:]]
    in_pot, for_ten, for_100_g = shown
    working = figures[0].working if figures[0] is not None else None
    return Amounts(in_pot, for_ten, for_100_g, working)


def _figure(draft: RuleDraft | Rule, size: PotSize) -> Figure[Fraction] | None:
    try:
        return amount_in(draft, size)
    except BasisNeeds:
        return None


def _shown(draft: RuleDraft | Rule, figure: Figure[Fraction] | None, us: bool) -> str:
    if figure is None:
        return draft.as_typed or "–"
    words = amount_words(draft.unit, figure.value, us=us, litres=draft.kind == Rule.Kind.WATER)
    if draft.kind == Rule.Kind.DYE and draft.unit == Unit.MG and draft.strength_mg_per_litre:
        stock = figure.value * 1_000_000 / draft.strength_mg_per_litre
        words = f"{amount_words(Unit.UL, stock, us=us)} of {strength_words(draft.strength_mg_per_litre)} ({words})"
    return f"about {words}" if draft.basis == Basis.READING else words


def keys_chosen(sent: Iterable[tuple[str, str]]) -> dict[UUID, str]:
    """Which basis was chosen for which entry, from what a form sends; anything else is left out."""
    chosen: dict[UUID, str] = {}
    for key, basis in sent:
        try:
            chosen[UUID(key)] = Basis(basis).value
        except ValueError:
            continue
    return chosen
