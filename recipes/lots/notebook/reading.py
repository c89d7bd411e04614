"""The rows of a recipe read into the steps of a way of dyeing, or noted with what is wrong in which of their cells."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from dyehouse.studio.refusals import Refused
from recipes.dyeing.basis_proposal import propose_basis
from recipes.dyeing.noted import AmountNotClear, NotedAmount, read_noted_amount
from recipes.dyeing.scaling import Basis, BasisNeeds, RuleAmount, Unit, rule_from_amount
from recipes.dyeing.units import NumberUnclear, parse_decimal
from recipes.lots.correcting import StepUnclear, steps_from_line
from recipes.lots.notebook.things import NEW_KINDS, WATER, NotKnown, Things
from recipes.lots.proposing import STEERED_BY_PH
from recipes.models import Auxiliary, Base, Dye, Rule
from recipes.ways import PotSize, RuleDraft, WayFacts

HUNDRED_GRAMS = 100_000
LONGEST_STEP = 300
MOST_MINUTES = 20_000
#: What a recipe's amounts may be said to go with, by the word in a list.
GOES_WITH = {basis.words: basis for basis in Basis if basis is not Basis.READING} | {
    "fibre": Basis.FIBRE,
    "bath": Basis.BATH,
    "piece": Basis.PIECE,
    "pot": Basis.POT,
}


@dataclass(frozen=True, slots=True)
class NotedRow:
    """One row as typed: something that goes in, with its amount, or else a step in words."""

    row: int
    what: str = ""
    amount: str = ""
    strength: str = ""
    goes: str = ""
    it_is: str = ""
    minute: str = ""
    step: str = ""

    @property
    def is_empty(self) -> bool:
        return not (self.what or self.amount or self.step)


@dataclass(frozen=True, slots=True)
class NotedPot:
    """What the amounts of a recipe are for: 100 g of dry fibre, or one pot as far as it is known."""

    per_100g: bool
    dry_milligrams: int | None = None
    bath_microlitres: int | None = None
    pieces: int | None = None
    presoak_minutes: int | None = None
    vessel_name: str = ""
    lay: str = ""
    cooling: str = ""

    @property
    def size(self) -> PotSize:
        dry = HUNDRED_GRAMS if self.per_100g else self.dry_milligrams
        return PotSize(dry, self.bath_microlitres, None if self.per_100g else self.pieces)

    @property
    def facts(self) -> WayFacts:
        return WayFacts(
            dry_milligrams=HUNDRED_GRAMS if self.per_100g else self.dry_milligrams,
            bath_microlitres=self.bath_microlitres,
            pieces=None if self.per_100g else self.pieces,
            vessel_name=self.vessel_name,
            presoak_minutes=self.presoak_minutes,
            lay=self.lay,
            cooling=self.cooling,
        )


@dataclass(frozen=True, slots=True)
class WrongCell:
    """What is wrong with one cell of a recipe: the row, the field of NotedRow, and why."""

    row: int
    column: str
    sentence: str


class CellRefused(Refused):
    """One cell of a row cannot be read."""

    def __init__(self, column: str, sentence: str) -> None:
        self.column = column
        super().__init__(sentence)


@dataclass(slots=True)
class ReadRows:
    """The steps of a recipe in its order, and what is wrong with its rows."""

    steps: list[RuleDraft] = field(default_factory=list)
    wrong: list[WrongCell] = field(default_factory=list)


def read_rows(
    rows: Sequence[NotedRow], *, pot: NotedPot, base: Base, things: Things, fahrenheit: bool = False
) -> ReadRows:
    """The steps that the rows mean; empty rows mean none. New dyes and auxiliaries come to stand in `things`, unsaved."""
    read = ReadRows()
    fibres = _fibres(base)
    for row in rows:
        if row.is_empty:
            continue
        try:
            read.steps += _steps(row, pot, base, fibres, things, fahrenheit)
        except CellRefused as refused:
            read.wrong.append(WrongCell(row.row, refused.column, str(refused)))
    if not read.wrong and any(step.minute is not None for step in read.steps):
        read.steps = _by_the_clock(read.steps)
    return read


def _by_the_clock(steps: Sequence[RuleDraft]) -> list[RuleDraft]:
    """In the order of their minutes; a step without one stays behind the step that it was written behind."""
    last, keyed = 0, []
    for step in steps:
        last = step.minute if step.minute is not None else last
        keyed.append((last, step))
    return [step for _, step in sorted(keyed, key=lambda pair: pair[0])]


def _fibres(base: Base) -> tuple[str, ...]:
    if base.pk is None:
        return ()
    shares = sorted(base.fibres.all(), key=lambda share: (-share.per_mille, share.pk))
    return tuple(share.fibre for share in shares)


def _steps(
    row: NotedRow, pot: NotedPot, base: Base, fibres: tuple[str, ...], things: Things, fahrenheit: bool
) -> list[RuleDraft]:
    minute = _minute(row)
    if row.step:
        if row.what or row.amount:
            raise CellRefused("step", "A row is one thing: what goes in with its amount, or a step in words.")
        return _in_words(row.step, base, pot, things, minute, fahrenheit)
    if not row.what:
        raise CellRefused("what", "Write what goes in: the dye, the auxiliary or water.")
    try:
        amount = read_noted_amount(row.amount)
    except AmountNotClear as unclear:
        raise CellRefused("amount", str(unclear)) from None
    if row.what.casefold() == WATER:
        draft = _water(row, amount, pot)
    else:
        try:
            thing = things.called(row.what, row.it_is.casefold())
        except NotKnown:
            raise CellRefused(
                "it_is" if row.it_is else "what",
                f"“{row.what}” is not in the store. Say what it is and it is added: {NEW_KINDS}.",
            ) from None
        draft = (
            _dye(row, thing, amount, pot, fibres)
            if isinstance(thing, Dye)
            else _auxiliary(row, thing, amount, pot, fibres)
        )
    return [replace(draft, minute=minute, text="about" if amount.about else "")]


def _minute(row: NotedRow) -> int | None:
    if not row.minute:
        return None
    try:
        minute = parse_decimal(row.minute)
    except NumberUnclear as unclear:
        raise CellRefused("minute", str(unclear)) from None
    if minute != minute.to_integral_value() or not 0 <= minute <= MOST_MINUTES:
        raise CellRefused("minute", "Write whole minutes from the start, for example 20.")
    return int(minute)


def _in_words(
    words: str, base: Base, pot: NotedPot, things: Things, minute: int | None, fahrenheit: bool
) -> list[RuleDraft]:
    """A temperature, a technique or the like, where the reader of the pot line is certain of it; else a note."""
    if len(words) > LONGEST_STEP:
        raise CellRefused("step", f"This is longer than {LONGEST_STEP} letters. Shorten it, or write two.")
    try:
        steps = steps_from_line(
            words, base=base, size=pot.size, minute=minute, fahrenheit=fahrenheit, bench=things.bench
        )
    except StepUnclear:
        steps = []
    if any(step.is_addition for step in steps):
        raise CellRefused("step", "Something goes in here. Write it as what goes in, with its amount.")
    return steps or [RuleDraft(Rule.Kind.NOTE.value, text=words, minute=minute)]


def _strength(row: NotedRow, amount: NotedAmount) -> int | None:
    """Milligrams a litre of the stock, from the amount or its own cell."""
    said = amount.strength_percent
    if row.strength:
        try:
            typed = parse_decimal(row.strength.removesuffix("%").strip())
        except NumberUnclear as unclear:
            raise CellRefused("strength", str(unclear)) from None
        if said is not None and said != typed:
            raise CellRefused("strength", f"The amount says {said:f} %. Write one of the two.")
        said = typed
    if said is None:
        return None
    mg_per_litre = said * 10_000
    if mg_per_litre != mg_per_litre.to_integral_value() or not 1 <= mg_per_litre <= 500_000:
        raise CellRefused("strength", "A stock is from 0.0001 to 50 %.")
    return int(mg_per_litre)


def _goes(row: NotedRow) -> Basis | None:
    if not row.goes:
        return None
    basis = GOES_WITH.get(row.goes.casefold())
    if basis is None:
        raise CellRefused("goes", f"This is not one of the words for it: {', '.join(GOES_WITH)}.")
    return basis


def _dye(row: NotedRow, dye: Dye, amount: NotedAmount, pot: NotedPot, fibres: tuple[str, ...]) -> RuleDraft:
    strength = _strength(row, amount)
    draft = RuleDraft(Rule.Kind.DYE.value, dye=dye, strength_mg_per_litre=strength)
    if amount.basis is Basis.READING or amount.ratio is not None:
        raise CellRefused(
            "amount", "Dye is weighed, or measured as a stock: write grams, ml, or % of the fibre."
        )
    if amount.microlitres is not None and strength is not None:
        weight = amount.microlitres * strength / 1_000_000
        return _rated(row, draft, replace(amount, microlitres=None, milligrams=weight), pot, Basis.FIBRE)
    return _rated(row, draft, amount, pot, Basis.FIBRE)


def _auxiliary(
    row: NotedRow, auxiliary: Auxiliary, amount: NotedAmount, pot: NotedPot, fibres: tuple[str, ...]
) -> RuleDraft:
    draft = RuleDraft(Rule.Kind.AUXILIARY.value, auxiliary=auxiliary)
    if row.strength or amount.strength_percent is not None:
        raise CellRefused(
            "strength" if row.strength else "amount",
            f"{auxiliary.name} has its strength on its own page. Leave it out here.",
        )
    if auxiliary.is_liquid and amount.milligrams is not None:
        raise CellRefused("amount", f"{auxiliary.name} is measured here. Write millilitres.")
    if not auxiliary.is_liquid and amount.microlitres is not None:
        raise CellRefused(
            "amount", f"{auxiliary.name} is weighed here. Write the grams that were in the solution."
        )
    if amount.ratio is not None:
        raise CellRefused("amount", "A ratio is of water. Write g, ml, % of the fibre, or a kitchen measure.")
    if amount.basis is Basis.READING and auxiliary.role not in STEERED_BY_PH:
        raise CellRefused("amount", f"{auxiliary.name} is no acid or alkali, so it is not added to a pH.")
    if pot.per_100g:
        # A recipe for 100 g says what goes with the fibre already.
        usual = Basis.FIBRE
    else:
        usual = propose_basis("auxiliary", role=auxiliary.role, fibre=fibres).basis
    return _rated(row, draft, amount, pot, usual, Unit.UL if auxiliary.is_liquid else Unit.MG)


def _water(row: NotedRow, amount: NotedAmount, pot: NotedPot) -> RuleDraft:
    draft = RuleDraft(Rule.Kind.WATER.value)
    if amount.ratio is not None:
        if not 1 <= amount.ratio <= 200:
            raise CellRefused("amount", "A liquor ratio is from 1:1 to 200:1.")
        rate = RuleAmount(Basis.FIBRE, Unit.UL, amount.ratio * 1_000_000)
        return replace(draft, basis=Basis.FIBRE.value, unit=Unit.UL.value, thousandths=rate.thousandths)
    if amount.microlitres is None or amount.strength_percent is not None or amount.basis is not None:
        raise CellRefused(
            "amount", "Write the water in litres or as a liquor ratio, for example 7.5 l or 25:1."
        )
    return _rated(row, draft, amount, pot, Basis.FIBRE)


def _rated(
    row: NotedRow,
    draft: RuleDraft,
    amount: NotedAmount,
    pot: NotedPot,
    usual: Basis,
    unit: Unit | None = None,
) -> RuleDraft:
    """The draft with its rate: said by the words, chosen in the row, or as its kind suggests."""
    chosen = _goes(row)
    if amount.basis is not None and chosen not in (None, amount.basis):
        raise CellRefused("goes", f"The amount says {amount.basis.words}. Write one of the two.")
    if amount.as_typed:
        if chosen not in (None, Basis.POT):
            raise CellRefused(
                "goes", "A kitchen measure has no weight to scale, so it is the same in every pot."
            )
        words = f"{amount.as_typed} on 100 g" if pot.per_100g and amount.basis is None else amount.as_typed
        return replace(draft, basis=Basis.POT.value, as_typed=words[:200])
    if amount.percent is not None:
        if chosen not in (None, Basis.FIBRE):
            raise CellRefused(
                "goes", "A % without a volume is a share of the fibre. Write grams or ml for others."
            )
        rate = RuleAmount.share(amount.percent, unit or Unit.MG)
        return replace(draft, basis=Basis.FIBRE.value, unit=rate.unit.value, thousandths=rate.thousandths)
    if amount.basis is Basis.READING and amount.milligrams is None and amount.microlitres is None:
        return replace(draft, basis=Basis.READING.value, ph_hundredths=amount.ph_hundredths)
    mass = amount.milligrams is not None
    value = amount.milligrams if amount.milligrams is not None else amount.microlitres or Fraction(0)
    in_unit = Unit.MG if mass else Unit.UL
    if amount.basis in (Basis.BATH, Basis.PIECE, Basis.POT):
        basis: Basis = amount.basis
        rate = RuleAmount(basis, in_unit, value)
    else:
        rate, basis = _from_pot(value, chosen, usual, in_unit, amount, pot)
    return replace(
        draft,
        basis=basis.value,
        unit=in_unit.value,
        thousandths=rate.thousandths,
        ph_hundredths=amount.ph_hundredths,
    )


def _from_pot(
    value: Fraction, chosen: Basis | None, usual: Basis, unit: Unit, amount: NotedAmount, pot: NotedPot
) -> tuple[RuleAmount, Basis]:
    """The rate that an amount in the recipe's pot comes from; the same in every pot while its size is not known."""
    basis = Basis.READING if amount.basis is Basis.READING else chosen or usual
    by = Basis.FIBRE if basis is Basis.READING else basis
    size = pot.size
    try:
        rate = rule_from_amount(
            value,
            basis=by,
            unit=unit,
            dry_milligrams=size.dry_milligrams,
            bath_microlitres=size.bath_microlitres,
            pieces=size.pieces,
        ).value
    except BasisNeeds as needs:
        if chosen is not None:
            raise CellRefused("goes", str(needs)) from None
        if basis is Basis.READING:
            raise CellRefused("amount", f"{needs} Or write the pH alone.") from None
        return RuleAmount(Basis.POT, unit, value), Basis.POT
    return rate, basis
