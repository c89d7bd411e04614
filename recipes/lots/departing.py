"""What was done in a pot departs from its plan: each departure by name, and the deed as the next way of dyeing it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from django.db import transaction

from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from recipes.dyeing.basis_proposal import propose_basis
from recipes.dyeing.programme import SAME_CENTI_CELSIUS
from recipes.dyeing.scaling import Basis, BasisNeeds, RuleAmount, Unit, rule_from_amount
from recipes.dyeing.units import format_celsius, format_minutes
from recipes.lots import mixed
from recipes.lots.baths import beside_of
from recipes.lots.contents import PotContents, add_up, counts, dye_in
from recipes.lots.learning import facts_of
from recipes.lots.models import LogEntry, PlannedStep, Pot, PotLoad, WayOrigin
from recipes.lots.planned import (
    IN_TIME_MINUTES,
    PlannedBesideDone,
    amount_differs,
    beside_done,
    planned_steps,
    reading_differs,
    step_as_entry,
    technique_differs,
)
from recipes.lots.proposing import PotToLearnFrom, as_put_on, propose_rules
from recipes.lots.wording import entry_words, step_words
from recipes.models import Base, Rule, WayOfDyeing
from recipes.way_words import lay_words, rule_words
from recipes.ways import PotSize, RuleDraft, WayFacts, drafts_of, keep_way, same_way

Kind = LogEntry.Kind
ADDITIONS = (Kind.STOCK, Kind.POWDER, Kind.AUXILIARY)
LONGEST_WHY = 300


class NothingDeparted(Refused):
    """The pot was dyed as planned, or by no plan at all."""


class NotOutYet(Refused):
    """The deed is not done: the pieces are still in the pot."""


@dataclass(frozen=True, slots=True)
class AsDone:
    """A pot's deed beside its plan.

    `departs` are the departures, each a sentence; `unsaid` what was planned and never written down, which the next way
    keeps as planned. `rules` and `facts` are the deed as a way of dyeing, by the bases of the way that was followed.
    """

    departs: list[str]
    unsaid: list[str]
    rules: list[RuleDraft]
    facts: WayFacts

    def why(self, code: str) -> str:
        """Why the next way departs, as far as it fits the field; the way itself tells the rest."""
        words = f"As done in pot {code}:"
        for at, sentence in enumerate(self.departs):
            left = len(self.departs) - at
            more = f" And {left} more {'thing' if left == 1 else 'things'}."
            if len(words) + 1 + len(sentence) + (len(more) if left > 1 else 0) > LONGEST_WHY:
                return words + more
            words = f"{words} {sentence}"
        return words


@dataclass(frozen=True, slots=True)
class PotOfPlan:
    """A pot that was planned from a way, with its plan and everything that was done; `pot` comes with its way and base."""

    pot: Pot
    steps: Sequence[PlannedStep]
    entries: Sequence[LogEntry]
    contents: PotContents
    base: Base | None
    us: bool = False

    @property
    def size(self) -> PotSize:
        """What amounts went by; a bath that nobody wrote down is taken as planned."""
        bath = self.contents.bath_microlitres or self.pot.planned_bath_microlitres
        return PotSize(self.contents.dry_milligrams or None, bath, self.contents.pieces or None)

    def minute(self, entry: LogEntry) -> int:
        """Whole minutes from the first entry."""
        return int((entry.happened_at - self.entries[0].happened_at).total_seconds() // 60)

    @property
    def is_out(self) -> bool:
        return self.pot.out_at is not None


def as_done(
    of: PotOfPlan, *, rules: Sequence[Rule] = (), yarn: PotToLearnFrom | None = None
) -> AsDone | None:
    """The deed of a pot beside its plan; None where it was planned from no way or nothing is written down yet.

    `rules` are those of the way, `yarn` what the bases of additions that nobody planned are proposed by: both are
    wanted for keeping the deed, not for naming its departures.
    """
    if of.pot.way is None or not of.steps or not of.entries:
        return None
    rows, unplanned = beside_done(of.steps, of.entries)
    reckoning = _Reckoning(of, {rule.pk: RuleDraft.of(rule) for rule in rules})
    reckoning.base()
    reckoning.water(next((row for row in rows if row.step.rule is None), None), unplanned)
    for row in rows:
        reckoning.step(row)
    reckoning.clock(rows)
    reckoning.hotter()
    reckoning.added([entry for entry in unplanned if entry.kind != Kind.WATER], yarn)
    facts = reckoning.pot()
    return AsDone(reckoning.departs, reckoning.unsaid, reckoning.in_order(), facts)


class _Reckoning:
    """Goes through a plan once and gathers what departs, and the deed as drafts by the rules of the way."""

    def __init__(self, of: PotOfPlan, drafts: dict[int, RuleDraft]) -> None:
        self.of, self.us = of, of.us
        self.departs: list[str] = []
        self.unsaid: list[str] = []
        self.drafts = drafts
        self.order: dict[int, tuple[int, int]] = {}
        self.more: list[RuleDraft] = []
        self.moved = False
        self.hottest: int | None = None

    def base(self) -> None:
        way, base = self.of.pot.way, self.of.base
        if way is not None and base is not None and base.pk != way.base_id:
            self.departs.append(f"On {base.name} instead of {way.base.name}.")

    def water(self, row: PlannedBesideDone | None, unplanned: Sequence[LogEntry]) -> None:
        """All jugs together beside the water of the plan, which is one step whatever the way says."""
        poured = [entry for entry in unplanned if entry.kind == Kind.WATER]
        if row is None:
            return
        poured = [*row.done, *poured]
        if not poured:
            self.unsaid.append(step_words(row.step, us=self.us))
            return
        if not amount_differs(*step_as_entry(row.step), poured):
            return
        total = LogEntry(kind=Kind.WATER, microlitres=sum(entry.microlitres or 0 for entry in poured))
        self.departs.append(
            f"{entry_words(total, us=self.us)} instead of {step_words(row.step, us=self.us)}."
        )
        waters = [pk for pk, draft in self.drafts.items() if draft.kind == Rule.Kind.WATER]
        for pk in waters[1:]:
            del self.drafts[pk]
        for pk in waters[:1]:
            self.drafts[pk] = self._amount(self.drafts[pk], Fraction(total.microlitres or 0))

    def step(self, row: PlannedBesideDone) -> None:
        """One planned step that is of a rule of the way."""
        rule = row.step.rule
        if rule is None or rule.kind == Rule.Kind.WATER:
            return
        if row.step.hanks is not None and rule.pk in self.drafts:
            self.drafts[rule.pk] = replace(self.drafts[rule.pk], hanks=row.step.hanks)
        if rule.kind == Rule.Kind.TEMPERATURE and rule.centi_celsius is not None:
            self.hottest = max(self.hottest or rule.centi_celsius, rule.centi_celsius)
        if not row.done:
            self._not_done(row, rule)
            return
        kind, planned = step_as_entry(row.step)
        said = " and ".join(entry_words(entry, us=self.us) for entry in row.done)
        words = step_words(row.step, us=self.us)
        draft = self.drafts.get(rule.pk)
        if kind in ADDITIONS:
            # What is added to a reading is right when the reading is; how much it took is a guide.
            to_a_reading = rule.basis == Basis.READING
            differs = amount_differs(kind, planned, row.done)
            if differs and not to_a_reading:
                self.departs.append(f"{said} instead of {words}.")
            if (differs or to_a_reading) and draft is not None:
                self.drafts[rule.pk] = self._poured(draft, row.done)
        elif reading_differs(kind, planned, row.done):
            self.departs.append(f"{said} instead of {words}.")
            if draft is not None:
                last = row.done[-1]
                self.drafts[rule.pk] = replace(
                    draft, centi_celsius=last.centi_celsius, ph_hundredths=last.ph_hundredths
                )
            if rule.kind == Rule.Kind.TEMPERATURE:
                self.hottest = max(self.hottest or 0, row.done[-1].centi_celsius or 0)
        self._where_and_how(rule, planned, row, said, words)

    def _where_and_how(
        self, rule: Rule, planned: dict[str, Any], row: PlannedBesideDone, said: str, words: str
    ) -> None:
        """Where along the hank it went, and what was done to the yarn, as it really was."""
        if not technique_differs(planned, row.done):
            return
        if (sentence := f"{said} instead of {words}.") not in self.departs:
            self.departs.append(sentence)
        if rule.pk in self.drafts:
            self.drafts[rule.pk] = as_put_on(self.drafts[rule.pk], row.done[-1])

    def _not_done(self, row: PlannedBesideDone, rule: Rule) -> None:
        words = step_words(row.step, us=self.us)
        if not self.of.is_out:
            return
        if rule.kind in (Rule.Kind.DYE, Rule.Kind.AUXILIARY):
            self.departs.append(f"Left out: {words}.")
            self.drafts.pop(rule.pk, None)
        elif rule.kind != Rule.Kind.NOTE:
            self.unsaid.append(words)

    def clock(self, rows: Sequence[PlannedBesideDone]) -> None:
        """Minutes as they were; a delay that only goes on is named where it began."""
        shift = 0
        timed = [row for row in rows if row.done and row.step.minute is not None]
        shifts = [self.of.minute(row.done[0]) - (row.step.minute or 0) for row in timed]
        for at, (row, now) in enumerate(zip(timed, shifts, strict=True)):
            late, goes_on = abs(now) > IN_TIME_MINUTES, abs(now - shift) <= IN_TIME_MINUTES
            if late and not goes_on:
                follows = any(abs(later - now) <= IN_TIME_MINUTES for later in shifts[at + 1 : at + 2])
                words = (
                    f"{self._name(row.step)} {format_minutes(abs(now))} {'later' if now > 0 else 'earlier'}"
                )
                self.departs.append(
                    f"{words} than planned{', and what followed with it' if follows else ''}."
                )
            shift = now if late else 0
            if late or row.out_of_turn:
                self._move(row, self.of.minute(row.done[0]))
        for row in rows:
            if row.out_of_turn:
                self.departs.append(f"{self._name(row.step)} out of turn.")
                if row.step.minute is None:
                    self.moved = True
            if row.done and row.step.rule is not None:
                self.order[row.step.rule.pk] = (self.of.minute(row.done[0]), row.step.number)

    def _move(self, row: PlannedBesideDone, minute: int) -> None:
        self.moved = True
        if row.step.rule is not None and row.step.rule.pk in self.drafts:
            self.drafts[row.step.rule.pk] = replace(self.drafts[row.step.rule.pk], minute=minute)

    def _name(self, step: PlannedStep) -> str:
        rule = step.rule
        if rule is None:
            return "Water"
        named = rule.dye or rule.auxiliary
        return named.name if named is not None else rule_words(rule, us=self.us)

    def hotter(self) -> None:
        """A bath that was seen hotter than anything planned, or never as hot by the readings there are."""
        seen = [e for e in self.of.entries if e.kind == Kind.TEMPERATURE and e.centi_celsius is not None]
        if not seen or self.hottest is None:
            return
        top = max(seen, key=lambda entry: (entry.centi_celsius or 0, -entry.happened_at.timestamp()))
        reached = top.centi_celsius or 0
        short = self.hottest - reached > SAME_CENTI_CELSIUS
        if reached - self.hottest <= SAME_CENTI_CELSIUS and not (short and self.of.is_out):
            return
        planned, was = (format_celsius(each, us=self.us) for each in (self.hottest, reached))
        if short:
            self.departs.append(f"{was} at most instead of {planned}.")
            self.unsaid = [words for words in self.unsaid if words != planned]
            for pk, draft in self.drafts.items():
                if draft.kind == Rule.Kind.TEMPERATURE and draft.centi_celsius == self.hottest:
                    self.drafts[pk] = replace(draft, centi_celsius=reached)
            return
        self.departs.append(f"Up to {was}; planned was {planned} at most.")
        self._add(RuleDraft(Rule.Kind.TEMPERATURE.value, centi_celsius=reached, minute=self.of.minute(top)))

    def added(self, unplanned: Sequence[LogEntry], yarn: PotToLearnFrom | None) -> None:
        """What nobody planned, by the basis that the way has for the same thing, else as its kind suggests."""
        for entry in unplanned:
            self.departs.append(
                f"Not planned: {entry_words(entry, us=self.us)}, {format_minutes(self.of.minute(entry))} in."
            )
        if yarn is None or not unplanned:
            return
        teaching = mixed.by_dye(unplanned)
        known = {(draft.dye, draft.auxiliary): draft.basis for draft in reversed(self.drafts.values())}
        chosen = {
            entry.key: known[entry.dye, entry.auxiliary]
            for entry in teaching
            if known.get((entry.dye, entry.auxiliary))
        }
        wanted = {entry.key: entry for entry in teaching}
        for rule in propose_rules(self.of.entries, yarn, chosen=chosen, us=self.us):
            if rule.entry.key in wanted:
                self._add(replace(rule.draft, minute=self.of.minute(rule.entry)))

    def _add(self, draft: RuleDraft) -> None:
        self.more.append(draft)
        self.moved = True

    def _poured(self, draft: RuleDraft, done: Sequence[LogEntry]) -> RuleDraft:
        """The rule with what was really put in: dye by its weight, from the stock that it came as."""
        if draft.kind == Rule.Kind.DYE:
            weights = [dye_in(entry) for entry in done]
            strengths = {entry.strength_mg_per_litre for entry in done if entry.kind == Kind.STOCK}
            if all(weight is not None for weight in weights):
                dosed = replace(
                    draft, unit="mg", strength_mg_per_litre=strengths.pop() if len(strengths) == 1 else None
                )
                return self._amount(dosed, sum((weight or Fraction(0) for weight in weights), Fraction(0)))
        grams = sum(entry.milligrams or 0 for entry in done)
        volume = sum(entry.microlitres or 0 for entry in done)
        if draft.kind == Rule.Kind.AUXILIARY and bool(grams) != bool(volume):
            return self._amount(replace(draft, unit="mg" if grams else "ul"), Fraction(grams or volume))
        words = ", ".join(entry_words(entry, us=self.us) for entry in done)[:200]
        return replace(draft, basis=Basis.POT.value, unit="", thousandths=None, as_typed=words)

    def _amount(self, draft: RuleDraft, amount: Fraction) -> RuleDraft:
        """The draft with the rate that this amount in this pot comes from, by the basis that the rule had.

        A kitchen measure had none but the pot; weighed at last, it goes as such a thing usually does.
        """
        basis, size = Basis(draft.basis or Basis.POT), self.of.size
        if draft.as_typed and draft.thousandths is None:
            role = draft.auxiliary.role if draft.auxiliary is not None else ""
            basis = propose_basis(draft.kind, role=role).basis
        try:
            rate = rule_from_amount(
                amount,
                basis=Basis.FIBRE if basis is Basis.READING else basis,
                unit=draft.unit,
                dry_milligrams=size.dry_milligrams,
                bath_microlitres=size.bath_microlitres,
                pieces=size.pieces,
            ).value
        except BasisNeeds:
            basis, rate = Basis.POT, RuleAmount(Basis.POT, Unit(draft.unit), amount)
        return replace(draft, basis=basis.value, thousandths=rate.thousandths, as_typed="")

    def pot(self) -> WayFacts:
        """The pot as it was; what it does not know is as the way had it."""
        way = self.of.pot.way
        assert way is not None
        was, here = WayFacts.of(way), facts_of(self.of.pot, self.of.contents)
        for name, words in (("presoak_minutes", "Pre-soak"), ("lay", "Lay"), ("cooling", "Cooling")):
            then, now = getattr(was, name), getattr(here, name)
            if now not in (None, "") and then not in (None, "") and now != then:
                unit = " min" if name == "presoak_minutes" else ""
                self.departs.append(f"{words}: {now}{unit} instead of {then}{unit}.")
        if here.lay_plan and was.lay_plan and here.lay_plan != was.lay_plan:
            lies = [lay_words(each.lay_plan) for each in (here, was)]
            self.departs.append(f"Sections along the hank: {lies[0]} instead of {lies[1]}.")
        unknown = {
            name: getattr(was, name)
            for name in WayFacts.__dataclass_fields__
            if getattr(here, name) in (None, "", {})
        }
        size = self.of.size
        return replace(here, **{**unknown, "bath_microlitres": size.bath_microlitres})

    def in_order(self) -> list[RuleDraft]:
        """The drafts as the way had them; by the clock where something came in or moved."""
        if not self.moved:
            return [*self.drafts.values(), *self.more]
        keyed: list[tuple[tuple[int, int], RuleDraft]] = []
        last = (0, 0)
        for at, (pk, draft) in enumerate(self.drafts.items()):
            done = self.order.get(pk)
            minute = draft.minute if draft.minute is not None else done[0] if done else last[0]
            last = (minute, at)
            keyed.append((last, draft))
        keyed += [((draft.minute or 0, len(keyed) + at), draft) for at, draft in enumerate(self.more)]
        return [draft for _, draft in sorted(keyed, key=lambda pair: pair[0])]


def deed_of(pot: Pot, *, us: bool = False) -> AsDone | None:
    """The deed of one pot beside its plan, whole, from the database."""
    loads = list(
        PotLoad.objects.filter(pot=pot)
        .select_related("put_up__base")
        .prefetch_related("put_up__base__fibres")
        .order_by("id")
    )
    entries = list(
        LogEntry.objects.filter(pot=pot)
        .select_related("dye", "auxiliary", "mix", "struck_by", "who")
        .prefetch_related(mixed.PARTS)
        .order_by("happened_at", "id")
    )
    if pot.way is None or not loads:
        return None
    contents = add_up(loads=loads, entries=entries, beside=beside_of(pot))
    base = main_base(loads)
    of = PotOfPlan(pot, planned_steps(pot), [each for each in entries if counts(each)], contents, base, us)
    rules = list(pot.way.rules.select_related("dye", "auxiliary").order_by("number"))
    yarn = PotToLearnFrom.of(base=base, loads=loads, contents=contents)
    return as_done(of, rules=rules, yarn=yarn)


def main_base(loads: Sequence[PotLoad]) -> Base:
    """The base that most of a pot is of."""
    return max(loads, key=lambda load: load.dry_milligrams).put_up.base


@transaction.atomic
def keep_as_done(*, pot: Pot, who: User) -> WayOfDyeing:
    """Make what was done in a pot the next way of dyeing it, departing from the way it was planned by.

    Additions keep the basis they had there, and say so much of it as really went in; each departure is named in why.
    The same pot again gives the way that it gave first. Raises NothingDeparted and NotOutYet.
    """
    locked = Pot.objects.select_for_update(of=("self",)).select_related("way__base", "vessel", "colourway")
    here = locked.get(pk=pot.pk)
    if here.out_at is None:
        raise NotOutYet(f"Pot {here.code} is {here.state}. Its deed is whole when its pieces are out.")
    deed = deed_of(here)
    if deed is None or not deed.departs or here.way is None:
        raise NothingDeparted(f"Pot {here.code} was dyed as planned, so there is no other way to keep.")
    for origin in WayOrigin.objects.filter(pot=here).select_related("way").order_by("-id"):
        if same_way(drafts_of(origin.way), WayFacts.of(origin.way), deed.rules, deed.facts):
            return origin.way
    loads = list(PotLoad.objects.filter(pot=here).select_related("put_up__base").order_by("id"))
    way = keep_way(
        colourway=here.colourway,
        base=main_base(loads),
        rules=deed.rules,
        facts=deed.facts,
        who=who,
        departs_from=here.way,
        why=deed.why(here.code),
    )
    WayOrigin.objects.create(way=way, pot=here)
    return way
