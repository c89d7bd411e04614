"""What a way from notes leaves open and would be wanted to dye by it, by name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from recipes.dyeing.scaling import Basis
from recipes.lots.missing import NEEDS_NO_ACID, SETTING
from recipes.models import Dye, Rule
from recipes.ways import RuleDraft, WayFacts

Kind = Rule.Kind


@dataclass(frozen=True, slots=True)
class Lack:
    """One thing that the notes do not tell: its name, and what that means at the pot."""

    name: str
    sentence: str


def lacking(rules: Sequence[Rule | RuleDraft], facts: WayFacts) -> list[Lack]:
    """What is missing, in the order that it is wanted at the pot."""
    return [*_amounts(rules, facts), *_bath(rules, facts), *_heat(rules), *_handling(rules, facts)]


def _named(rules: Sequence[Rule | RuleDraft]) -> str:
    names = (rule.dye or rule.auxiliary for rule in rules)
    return ", ".join(dict.fromkeys(each.name for each in names if each is not None))


def _amounts(rules: Sequence[Rule | RuleDraft], facts: WayFacts) -> list[Lack]:
    dyes = [rule for rule in rules if rule.kind == Kind.DYE]
    found = []
    if not dyes:
        found.append(Lack("Dye", "The notes name no dye."))
    if facts.dry_milligrams is None and any(rule.basis == Basis.POT and rule.thousandths for rule in rules):
        found.append(
            Lack(
                "Dry weight",
                "It is not known for how much yarn this was, so the amounts are the same in every pot.",
            )
        )
    weak = [rule for rule in dyes if rule.unit == "ul" and rule.strength_mg_per_litre is None]
    if weak:
        found.append(Lack("Strength", f"{_named(weak)}: millilitres of a stock whose strength is not known."))
    loose = [rule for rule in rules if rule.as_typed and rule.thousandths is None]
    if loose:
        found.append(
            Lack(
                "Weight",
                f"{_named(loose) or 'Something'}: a kitchen measure. Weigh it the first time it goes in.",
            )
        )
    unknown = [rule for rule in dyes if rule.dye is not None and rule.dye.dye_class == Dye.Class.ACID_UNKNOWN]
    if unknown:
        found.append(
            Lack("Class", f"{_named(unknown)}: acid, class unknown. Heat and acid follow the class.")
        )
    return found


def _bath(rules: Sequence[Rule | RuleDraft], facts: WayFacts) -> list[Lack]:
    found = []
    if facts.bath_microlitres is None and not any(rule.kind == Kind.WATER for rule in rules):
        found.append(Lack("Water", "The notes name no water, so the liquor ratio is not known."))
    dyes = [rule.dye for rule in rules if rule.dye is not None]
    needs_acid = not dyes or any(dye.dye_class not in NEEDS_NO_ACID for dye in dyes)
    if needs_acid and not any(rule.auxiliary and rule.auxiliary.role in SETTING for rule in rules):
        found.append(Lack("Acid", "The notes name no acid. Most dyes for wool are set with it."))
    return found


def _heat(rules: Sequence[Rule | RuleDraft]) -> list[Lack]:
    found = []
    if not any(rule.kind == Kind.TEMPERATURE for rule in rules):
        found.append(Lack("Heat", "The notes name no temperature; those of the dye's class are proposed."))
    if not any(rule.minute for rule in rules):
        found.append(Lack("Times", "Nothing says what comes when, and how long it is held."))
    return found


def _handling(rules: Sequence[Rule | RuleDraft], facts: WayFacts) -> list[Lack]:
    found = []
    if facts.presoak_minutes is None:
        found.append(Lack("Pre-soak", "Dry spots take dye later and paler."))
    if not facts.lay and not facts.lay_plan:
        found.append(Lack("Lay", "How the pieces lie decides where the colour goes."))
    if not facts.cooling:
        found.append(Lack("Cooling", "Some colour strikes only while it cools."))
    return found
