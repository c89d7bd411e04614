"""A way of dyeing in the words of the trade, and how one departs from another."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from difflib import SequenceMatcher
from fractions import Fraction
from typing import Any

from recipes.dyeing.lay import Lay, lay_from_json
from recipes.dyeing.scaling import Basis, Unit
from recipes.dyeing.techniques import on_section, put_on_words, technique_name, technique_words
from recipes.dyeing.units import (
    format_celsius,
    format_grams,
    format_litres,
    format_millilitres,
    format_number,
    format_ph,
    format_ratio,
)
from recipes.dyeing.working import Exact, exact
from recipes.models import Rule, WayOfDyeing
from recipes.ways import RuleDraft, WayFacts, amount_of

Kind = Rule.Kind


def rule_name(rule: Rule | RuleDraft) -> str:
    """What a rule is of: the dye or auxiliary by its name, else water, temperature, pH, heat or note."""
    named = rule.dye or rule.auxiliary
    if named is None and rule.kind == Kind.TECHNIQUE:
        return technique_name(rule.technique)
    return named.name if named is not None else str(Kind(rule.kind).label)


def rule_technique_words(rule: Rule | RuleDraft, *, us: bool = False, hanks: int | None = None) -> str:
    """A step of a technique in a line; `hanks` instead of the rule's own where it is scaled to a load."""
    return technique_words(
        rule.technique,
        seconds=rule.seconds,
        millimetres=rule.millimetres,
        hanks=rule.hanks if hanks is None else hanks,
        section=rule.section,
        centi_celsius=rule.centi_celsius,
        name=rule.text,
        us=us,
    )


def rule_place_words(rule: Rule | RuleDraft) -> str:
    """Where an addition goes and how it is put on: "on section A, hand-painted"; empty where nothing was said."""
    if rule.kind == Kind.TECHNIQUE:
        return ""
    put_on = put_on_words(rule.technique) if rule.technique else ""
    return ", ".join(part for part in (on_section(rule.section), put_on) if part)


def strength_words(mg_per_litre: Exact) -> str:
    """A stock's strength: 1 %."""
    return f"{format_number(exact(mg_per_litre) / 10_000, 4)} %"


def amount_words(unit: str, amount: Exact, *, us: bool = False, litres: bool = False) -> str:
    """An exact amount of a rule: grams for what is weighed, millilitres for what is measured, litres for water."""
    if unit == Unit.MG:
        return format_grams(amount, us=us)
    if litres and exact(amount) >= 1_000_000:
        return format_litres(amount, us=us)
    return format_millilitres(amount, us=us)


def rule_amount_words(rule: Rule | RuleDraft) -> str:
    """How much of it, by its basis: 1.5 % of dry fibre, 24:1, 2 ml per piece, until pH 4.5."""
    if rule.as_typed and rule.thousandths is None:
        # A kitchen measure from a recipe for 100 g says so itself.
        return rule.as_typed if rule.as_typed.endswith(" on 100 g") else f"{rule.as_typed} per pot"
    amount = amount_of(rule)
    if amount is None:
        return ""
    if rule.basis == Basis.READING:
        target = f"until pH {format_ph(rule.ph_hundredths)}" if rule.ph_hundredths is not None else ""
        guide = f"about {amount.words}" if amount.rate is not None else ""
        return ", ".join(part for part in (target, guide) if part) or "until the reading is reached"
    if rule.kind == Kind.WATER and rule.basis == Basis.FIBRE and amount.rate is not None:
        return f"{format_ratio(amount.rate / 1_000_000)} on dry fibre"
    return amount.words


def rule_words(rule: Rule | RuleDraft, *, us: bool = False) -> str:
    """A rule in a line: "Red: 1.5 % of dry fibre", "82 °C", "pH 4.5", "Heat off", or its note."""
    if rule.kind == Kind.TEMPERATURE:
        return "Temperature" if rule.centi_celsius is None else format_celsius(rule.centi_celsius, us=us)
    if rule.kind == Kind.PH:
        return "pH" if rule.ph_hundredths is None else f"pH {format_ph(rule.ph_hundredths)}"
    if rule.kind == Kind.HEAT:
        return f"Heat {'on' if rule.heat_on else 'off'}{f', {rule.text}' if rule.text else ''}"
    if rule.kind == Kind.NOTE:
        return rule.text
    if rule.kind == Kind.TECHNIQUE:
        return rule_technique_words(rule, us=us)
    words = f"{rule_name(rule).capitalize() if rule.kind == Kind.WATER else rule_name(rule)}: {rule_amount_words(rule)}"
    return ", ".join(part for part in (words, rule_place_words(rule), rule.text) if part)


def departures(
    old: tuple[Sequence[RuleDraft], WayFacts],
    new: tuple[Sequence[RuleDraft], WayFacts],
    *,
    us: bool = False,
) -> list[str]:
    """Everything in which a new way departs from an old one, each as a sentence; empty where they say the same."""
    pairs, gone, added = _pairs(old[0], new[0])
    found = [sentence for before, after in pairs for sentence in _changes(before, after, us)]
    found += [f"Left out: {rule_words(rule, us=us)}." for rule in gone]
    found += [f"New: {rule_words(rule, us=us)}{_at(rule)}." for rule in added]
    found += _order(pairs, old[0], new[0])
    return found + _facts(old[1], new[1])


def departures_of(
    way: WayOfDyeing, old: Iterable[Rule], new: Iterable[Rule], *, us: bool = False
) -> list[str]:
    """How a kept way departs from the one that it names, given the rules of both."""
    if way.departs_from is None:
        return []
    return departures(
        ([RuleDraft.of(rule) for rule in old], WayFacts.of(way.departs_from)),
        ([RuleDraft.of(rule) for rule in new], WayFacts.of(way)),
        us=us,
    )


Pair = tuple[RuleDraft, RuleDraft]


def _pairs(
    old: Sequence[RuleDraft], new: Sequence[RuleDraft]
) -> tuple[list[Pair], list[RuleDraft], list[RuleDraft]]:
    """Rules of the same thing side by side, what is left out, and what is added."""
    pairs: list[Pair] = []
    gone: list[RuleDraft] = []
    added: list[RuleDraft] = []
    for key in dict.fromkeys(_key(rule) for rule in (*old, *new)):
        before = [rule for rule in old if _key(rule) == key]
        after = [rule for rule in new if _key(rule) == key]
        for _, i, j, k, m in SequenceMatcher(None, before, after, autojunk=False).get_opcodes():
            both = min(j - i, m - k)
            pairs += zip(before[i : i + both], after[k : k + both], strict=True)
            gone += before[i + both : j]
            added += after[k + both : m]
    return pairs, gone, added


def _key(rule: RuleDraft) -> Hashable:
    return rule.kind, rule.dye, rule.auxiliary, rule.technique if rule.kind == Kind.TECHNIQUE else ""


def _changes(before: RuleDraft, after: RuleDraft, us: bool) -> list[str]:
    if before == after:
        return []
    name, found = rule_name(after), []
    if before.kind in (Kind.TEMPERATURE, Kind.PH, Kind.HEAT, Kind.NOTE, Kind.TECHNIQUE):
        if rule_words(before) != rule_words(after):
            kind = Kind(after.kind).label
            now, then = rule_words(after, us=us), rule_words(before, us=us)
            found.append(f"{kind[:1].upper()}{kind[1:]}: “{now}” instead of “{then}”.")
    else:
        name = name if after.dye or after.auxiliary else name.capitalize()
        then, now = _amount_beside(before), _amount_beside(after)
        if _how_much(before) != _how_much(after):
            if then == now:
                then, now = _finely(before), _finely(after)
            found.append(f"{name}: {now} instead of {then}.")
        if before.strength_mg_per_litre != after.strength_mg_per_litre:
            found.append(f"{name}: from {_stock(after)} instead of {_stock(before)}.")
        then, now = rule_place_words(before), rule_place_words(after)
        if then != now:
            found.append(f"{name}: {now or 'all over'} instead of {then or 'all over'}.")
        if before.text != after.text:
            found.append(f"{name}: “{after.text or 'no remark'}” instead of “{before.text or 'no remark'}”.")
    if before.minute != after.minute:
        found.append(f"{_named(after)} at {_minute(after)} instead of {_minute(before)}.")
    return found


def _how_much(rule: RuleDraft) -> tuple[object, ...]:
    return rule.basis, rule.unit, rule.thousandths, rule.as_typed, rule.ph_hundredths


def _amount_beside(rule: RuleDraft) -> str:
    return rule_amount_words(rule) or "no amount"


def _finely(rule: RuleDraft) -> str:
    """The amount to its last digit, where two look the same when rounded for reading."""
    if rule.thousandths is None:
        return f"{rule.as_typed or 'no amount'}, {rule.basis}"
    per = (
        "kg of dry fibre"
        if rule.basis in (Basis.FIBRE, Basis.READING)
        else Basis(rule.basis).words.removeprefix("per ")
    )
    unit = "g" if rule.unit == Unit.MG else "ml"
    return f"{format_number(Fraction(rule.thousandths, 1_000_000), 6)} {unit} per {per}"


def _stock(rule: RuleDraft) -> str:
    return f"{strength_words(rule.strength_mg_per_litre)} stock" if rule.strength_mg_per_litre else "powder"


def _named(rule: RuleDraft) -> str:
    if rule.kind in (Kind.DYE, Kind.AUXILIARY):
        return rule_name(rule)
    return "Water" if rule.kind == Kind.WATER else rule_words(rule)


def _minute(rule: RuleDraft) -> str:
    return "no set time" if rule.minute is None else f"minute {rule.minute}"


def _at(rule: RuleDraft) -> str:
    return "" if rule.minute is None else f", at minute {rule.minute}"


def _order(pairs: Sequence[Pair], old: Sequence[RuleDraft], new: Sequence[RuleDraft]) -> list[str]:
    """Whether what goes in comes in another order than before; said once, with the new order."""
    was = {id(rule): index for index, rule in enumerate(old)}
    comes = {id(rule): index for index, rule in enumerate(new)}
    kept = [pair for pair in pairs if pair[1].is_addition]
    before = [rule_name(pair[0]) for pair in sorted(kept, key=lambda pair: was[id(pair[0])])]
    after = [rule_name(pair[1]) for pair in sorted(kept, key=lambda pair: comes[id(pair[1])])]
    return [] if before == after else [f"In another order: {', then '.join(after)}."]


def _facts(old: WayFacts, new: WayFacts) -> list[str]:
    found = []
    for name, words, show in _FACTS:
        then, now = getattr(old, name), getattr(new, name)
        if then != now:
            found.append(f"{words}: {_or_unknown(now, show)} instead of {_or_unknown(then, show)}.")
    return found


def coloured_lay(plan: Mapping[str, Any], rules: Iterable[Rule | RuleDraft]) -> Lay | None:
    """A stored lay, its sections coloured by the dyes that the rules of its way put on each; None where there is none."""
    lay = lay_from_json(plan)
    if lay is None:
        return None
    return lay.coloured_by((rule.section, rule.dye.chip) for rule in rules if rule.dye is not None)


def lay_words(plan: Mapping[str, Any]) -> str:
    """The sections of a stored lay in a line."""
    lay = lay_from_json(plan)
    return lay.words if lay is not None else ""


def _or_unknown(value: Any, show: object) -> str:
    if value in (None, "", {}):
        return "not known"
    return show(value) if callable(show) else str(value)


_FACTS = (
    ("dry_milligrams", "Dry weight of the pot", format_grams),
    ("bath_microlitres", "Bath", format_litres),
    ("pieces", "Pieces in the pot", str),
    ("vessel_name", "Vessel", str),
    ("presoak_minutes", "Pre-soak", lambda minutes: f"{minutes} min"),
    ("lay", "Lay", lambda words: f"“{words}”"),
    ("lay_plan", "Sections along the hank", lambda plan: f"“{lay_words(plan)}”"),
    ("cleared", "Bath at the end", str),
    ("cooling", "Cooling", lambda words: f"“{words}”"),
)
