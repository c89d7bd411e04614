"""A way of dyeing as it should be: every step with its amount, basis and minute, a step more, its pot, and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms

from dyehouse.studio.amounts import AmountField, GramsField, MillilitresField, ScaledField
from dyehouse.studio.keys import KeyField
from recipes.dyeing.lay import lay_from_json
from recipes.dyeing.potline.sections import LONGEST_SECTION
from recipes.dyeing.scaling import Basis, Unit, rule_from_amount
from recipes.dyeing.units import celsius_to_fahrenheit, centi_celsius, format_number, whole
from recipes.lots.correcting import StepUnclear, steps_from_line, technique_from_line
from recipes.lots.proposing import CHOICES, STEERED_BY_PH, Amounts, amounts_of
from recipes.models import Rule, WayOfDyeing
from recipes.way_words import (
    rule_amount_words,
    rule_name,
    rule_technique_words,
    rule_words,
    strength_words,
)
from recipes.ways import ADDED, PotSize, RuleDraft, WayFacts, amount_in
from recipes.words import one_line

Kind = Rule.Kind
#: What stands for the pot of a way that does not know its own: 100 g of dry fibre.
SOME_POT = PotSize(dry_milligrams=100_000)
MOST_MILLIGRAMS = 100_000_000
MOST_MICROLITRES = 500_000_000
MOST_MINUTES = 20_000


@dataclass(frozen=True, slots=True)
class CorrectRow:
    """One step of the form: its name and fields, its amounts as they are, and as they would be where they depart."""

    rule: Rule
    name: str
    keep: forms.BoundField
    fields: list[forms.BoundField]
    words: str
    amounts: Amounts | None = None
    new_words: str = ""
    new_amounts: Amounts | None = None


def _minutes(label: str, initial: int | None) -> forms.IntegerField:
    return forms.IntegerField(
        label=label,
        required=False,
        min_value=0,
        max_value=MOST_MINUTES,
        initial=initial,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        error_messages={
            "invalid": "Write whole minutes from the start, for example 20.",
            "min_value": "Minutes count from the start, so they are 0 or more.",
            "max_value": "That is more than thirteen days. Check the minutes.",
        },
    )


class BathField(MillilitresField):
    """Typed in litres, cleaned to microlitres."""

    plain = "l"
    unit_on_screen = "litres"
    example = "12 litres or 3 gal"


class CorrectForm(forms.Form):
    """Amounts stand as in the pot that the way was learned from; what is not touched stays to its last digit."""

    key = KeyField()
    line = forms.CharField(
        label="One step more",
        max_length=300,
        required=False,
        help_text="As at the pot: “10 ml red 1 %”, “85 C”, “heat off”, or in words. Amounts are for this pot.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"}),
    )
    line_minute = _minutes("at minute", None)
    presoak_minutes = _minutes("Pre-soak, minutes", None)
    vessel_name = forms.CharField(label="Vessel", max_length=40, required=False)
    lay = forms.CharField(label="How it lies", max_length=300, required=False)
    cleared = forms.ChoiceField(
        label="Bath at the end", required=False, choices=[("", "not known"), *WayOfDyeing.Cleared.choices]
    )
    cooling = forms.CharField(label="Cooling", max_length=120, required=False)
    why = forms.CharField(
        label="Why it departs",
        max_length=300,
        error_messages={"required": "Say why it departs, for example “came out too light”."},
    )

    def __init__(
        self,
        *args: Any,
        way: WayOfDyeing,
        rules: Sequence[Rule],
        keeping: bool = True,
        us: bool = False,
        **kwargs: Any,
    ) -> None:
        self.keeping, self.us = keeping, us
        self.way, self.rules = way, list(rules)
        lay = lay_from_json(way.lay_plan)
        self.sections = lay.names if lay is not None else ()
        self.techniques: dict[int, RuleDraft] = {}
        self.facts = WayFacts.of(way)
        self.size = self.facts.size if self.facts.dry_milligrams else SOME_POT
        super().__init__(*args, **kwargs)
        for name in ("presoak_minutes", "vessel_name", "lay", "cleared", "cooling"):
            self.fields[name].initial = getattr(self.facts, name)
        self.names: dict[int, list[str]] = {}
        for rule in self.rules:
            fields = self._fields_of(rule)
            self.names[rule.pk] = [name for name in fields if name != "keep"]
            self.fields |= {f"{name}_{rule.pk}": field for name, field in fields.items()}

    def _fields_of(self, rule: Rule) -> dict[str, forms.Field]:
        found: dict[str, forms.Field] = {
            "keep": forms.BooleanField(label="Keep this step", required=False, initial=True)
        }
        if rule.kind in ADDED and rule.thousandths is not None:
            found["amount"] = self._amount_field(rule)
        elif rule.kind in ADDED:
            found["words"] = _words_field("Amount in words", rule.as_typed, 200)
        if rule.kind in ADDED:
            found["basis"] = forms.ChoiceField(
                label="Goes with", choices=self._choices(rule), initial=rule.basis
            )
        if rule.basis == Basis.READING or rule.kind == Kind.PH:
            found["ph"] = ScaledField(
                label="pH", places=2, most=Decimal(14), initial=rule.ph_hundredths, required=False
            )
        if rule.kind == Kind.TEMPERATURE:
            found["degrees"] = ScaledField(
                label="°F" if self.us else "°C",
                places=2,
                most=Decimal(500 if self.us else 300),
                initial=self._degrees(rule),
                required_words="Write the temperature, or leave the step out.",
            )
        if rule.kind == Kind.NOTE:
            found["text"] = _words_field("Note", rule.text, 500)
        if rule.kind == Kind.TECHNIQUE:
            found["step"] = _words_field("Step", rule_technique_words(rule), 200)
        if rule.kind in (Kind.DYE, Kind.AUXILIARY) and (rule.section or self.sections):
            found["section"] = _words_field("On section", rule.section, LONGEST_SECTION)
        found["minute"] = _minutes("at minute", rule.minute)
        return found

    def _choices(self, rule: Rule) -> list[tuple[str, str]]:
        """The bases that this way's pot can be reckoned by, and the one that stands."""
        steered = rule.auxiliary is not None and rule.auxiliary.role in STEERED_BY_PH
        can = {
            Basis.FIBRE: self.size.dry_milligrams,
            Basis.BATH: self.size.bath_microlitres,
            Basis.PIECE: self.size.pieces,
            Basis.POT: True,
            Basis.READING: steered and self.size.dry_milligrams,
        }
        if rule.thousandths is None:
            can = {Basis.POT: True}
        return [(value, words) for value, words in CHOICES if can.get(Basis(value)) or value == rule.basis]

    def _amount_field(self, rule: Rule) -> AmountField:
        shown = _typed(rule, self._exact(rule))
        if rule.kind == Kind.WATER:
            return BathField(label="Amount in this pot", most=MOST_MICROLITRES, initial=shown)
        if rule.unit == Unit.UL or rule.strength_mg_per_litre:
            label = "Amount in this pot"
            if rule.strength_mg_per_litre:
                label = f"{strength_words(rule.strength_mg_per_litre)} stock in this pot"
            return MillilitresField(label=label, most=MOST_MICROLITRES, initial=shown)
        return GramsField(label="Amount in this pot", most=MOST_MILLIGRAMS, initial=shown)

    def _exact(self, rule: Rule) -> Fraction:
        """What the rule asks of this pot, in the unit that is typed: µl of stock where it is dosed from one."""
        figure = amount_in(rule, self.size)
        assert figure is not None
        return _dosed(rule, figure.value)

    def drafts(self) -> list[RuleDraft]:
        """The steps as they should be, in the order of their minutes where any was changed or added."""
        drafts = [draft for rule in self.rules if (draft := self._draft(rule)) is not None]
        added = self.cleaned_data.get("steps", [])
        moved = added or any(self._said("minute", rule) != rule.minute for rule in self.rules)
        drafts += added
        if moved:
            drafts.sort(key=lambda draft: (draft.minute is None, draft.minute or 0))
        return drafts

    def new_facts(self) -> WayFacts:
        """What the pot was like, as it should be said."""
        said = self.cleaned_data
        return replace(
            self.facts,
            presoak_minutes=said.get("presoak_minutes"),
            vessel_name=said.get("vessel_name", ""),
            lay=said.get("lay", ""),
            cleared=said.get("cleared", ""),
            cooling=said.get("cooling", ""),
        )

    def _said(self, name: str, rule: Rule) -> Any:
        return self.cleaned_data.get(f"{name}_{rule.pk}")

    def _draft(self, rule: Rule) -> RuleDraft | None:
        if not self._said("keep", rule):
            return None
        draft = replace(RuleDraft.of(rule), minute=self._said("minute", rule))
        if rule.kind in ADDED:
            draft = self._addition(rule, draft)
        if f"ph_{rule.pk}" in self.fields:
            draft = replace(draft, ph_hundredths=self._said("ph", rule))
        if rule.kind == Kind.TEMPERATURE:
            draft = replace(draft, centi_celsius=self._heat(rule))
        if rule.kind == Kind.NOTE:
            draft = replace(draft, text=self._said("text", rule))
        if rule.kind == Kind.TECHNIQUE and rule.pk in self.techniques:
            draft = replace(self.techniques[rule.pk], minute=draft.minute)
        if f"section_{rule.pk}" in self.fields:
            draft = replace(draft, section=one_line(self._said("section", rule) or ""))
        if draft.basis != Basis.READING and draft.kind in ADDED:
            draft = replace(draft, ph_hundredths=None)
        return draft

    def _degrees(self, rule: Rule) -> int | None:
        """A temperature as its field shows it, in hundredths of the studio's degrees."""
        if rule.centi_celsius is None or not self.us:
            return rule.centi_celsius
        return whole(celsius_to_fahrenheit(Fraction(rule.centi_celsius, 100)) * 100)

    def _heat(self, rule: Rule) -> int | None:
        said = self._said("degrees", rule)
        if said is None or said == self._degrees(rule):
            return rule.centi_celsius
        return centi_celsius(Decimal(said) / 100, fahrenheit=self.us)

    def _addition(self, rule: Rule, draft: RuleDraft) -> RuleDraft:
        basis = self._said("basis", rule) or rule.basis
        if rule.thousandths is None:
            return replace(draft, as_typed=self._said("words", rule) or rule.as_typed)
        exact = self._exact(rule)
        said = self._said("amount", rule)
        untouched = said == _typed(rule, exact)
        if untouched and basis == rule.basis:
            return draft
        amount = exact if untouched else Fraction(said)
        rate = rule_from_amount(
            _weighed(rule, amount),
            basis=Basis.FIBRE if basis == Basis.READING else Basis(basis),
            unit=rule.unit,
            dry_milligrams=self.size.dry_milligrams,
            bath_microlitres=self.size.bath_microlitres,
            pieces=self.size.pieces,
        ).value
        return replace(draft, basis=basis, thousandths=rate.thousandths)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if not self.keeping:
            # The reason is wanted when it is kept, not while trying out amounts.
            self.errors.pop("why", None)
        for rule in self.rules:
            name = f"text_{rule.pk}"
            if name in self.fields and self._said("keep", rule) and not cleaned.get(name):
                self.add_error(name, "Write the note, or leave the step out.")
            self._clean_technique(rule)
            name = f"ph_{rule.pk}"
            wants_ph = rule.kind == Kind.PH and self._said("keep", rule) and name not in self.errors
            if wants_ph and cleaned.get(name) is None:
                self.add_error(name, "Write the pH, or leave the step out.")
        if cleaned.get("line"):
            try:
                cleaned["steps"] = steps_from_line(
                    cleaned["line"],
                    base=self.way.base,
                    size=self.size,
                    minute=cleaned.get("line_minute"),
                    fahrenheit=self.us,
                    sections=self.sections,
                )
            except StepUnclear as unclear:
                self.add_error("line", str(unclear))
        return cleaned

    def _clean_technique(self, rule: Rule) -> None:
        """A technique that was written anew is read as at the pot; one that was not touched stays to its last detail."""
        said = self._said("step", rule)
        if rule.kind != Kind.TECHNIQUE or not self._said("keep", rule) or said == rule_technique_words(rule):
            return
        try:
            self.techniques[rule.pk] = technique_from_line(
                said or "", sections=self.sections, fahrenheit=self.us
            )
        except StepUnclear as unclear:
            self.add_error(f"step_{rule.pk}", str(unclear))

    def rows(self) -> list[CorrectRow]:
        """Each step with its fields; where the form was read and something departs, old beside new."""
        read = self.is_bound and not self.errors
        return [self._row(rule, self._draft(rule) if read else None, read) for rule in self.rules]

    def _row(self, rule: Rule, draft: RuleDraft | None, read: bool) -> CorrectRow:
        added = rule.kind in ADDED
        row = CorrectRow(
            rule=rule,
            name=_title(rule),
            keep=self[f"keep_{rule.pk}"],
            fields=[self[f"{name}_{rule.pk}"] for name in self.names[rule.pk]],
            words=rule_amount_words(rule) if added else rule_words(rule, us=self.us),
            amounts=amounts_of(rule, self.size, us=self.us) if added else None,
        )
        if not read or draft == RuleDraft.of(rule):
            return row
        if draft is None:
            return replace(row, new_words="left out")
        return replace(
            row,
            new_words=rule_amount_words(draft) if added else rule_words(draft, us=self.us),
            new_amounts=amounts_of(draft, self.size, us=self.us) if added else None,
        )

    @property
    def more(self) -> list[forms.BoundField]:
        """What is said of the pot beside the steps."""
        return [self[name] for name in ("presoak_minutes", "vessel_name", "lay", "cleared", "cooling")]

    @property
    def pot_words(self) -> str:
        """The pot that the amounts are for: 5 pieces, 500 g."""
        if self.size is SOME_POT or not self.size.dry_milligrams:
            return "100 g of dry fibre"
        grams = f"{format_number(Fraction(self.size.dry_milligrams) / 1000)} g of dry fibre"
        if not self.size.pieces:
            return grams
        return f"{self.size.pieces} {'piece' if self.size.pieces == 1 else 'pieces'}, {grams}"


def _title(rule: Rule) -> str:
    if rule.kind == Kind.HEAT:
        return rule_words(rule)
    name = rule_name(rule)
    return name if rule.kind == Kind.PH else f"{name[:1].upper()}{name[1:]}"


def _words_field(label: str, initial: str, longest: int) -> forms.CharField:
    return forms.CharField(label=label, max_length=longest, required=False, initial=initial)


def _dosed(rule: Rule, amount: Fraction) -> Fraction:
    """Milligrams of dye as microlitres of the stock that it is dosed from; anything else as it is."""
    if rule.unit == Unit.MG and rule.strength_mg_per_litre:
        return amount * 1_000_000 / rule.strength_mg_per_litre
    return amount


def _weighed(rule: Rule, typed: Fraction) -> Fraction:
    """The other way round: from what is typed to the rule's own unit."""
    if rule.unit == Unit.MG and rule.strength_mg_per_litre:
        return typed * rule.strength_mg_per_litre / 1_000_000
    return typed


def _typed(rule: Rule, exact: Fraction) -> int:
    """The amount as the field shows it, in whole small units."""
    return max(1, round(exact))
