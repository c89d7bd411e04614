"""What the label of a kit of several yarns says of their fibres: one line for all, or a statement for each yarn.

Not legal advice: the rule applied is stated with its source, and local law decides.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from dyehouse.paper.composition import Market, fibre_line

#: Below this share of the whole weight a component may go without a statement of its own, in percent.
OWN_STATEMENT_FROM_PERCENT = 30
_ARTICLE = "Regulation (EU) No 1007/2011 Art. 11, from memory"
_SOURCES = {
    Market.US: "16 CFR 303.28 and 303.29, detail from memory",
    Market.UK: f"SI 2012/1102 on {_ARTICLE}",
}


@dataclass(frozen=True, slots=True)
class Component:
    """One yarn of a kit: its name, what all its pieces weigh, and its fibres in tenths of a percent by slug."""

    name: str
    milligrams: int
    shares: Mapping[str, int]
    said: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class KitFibres:
    """The words for the label, those that may be left out, and the rule with its source."""

    line: str
    rule: str
    may_go: tuple[str, ...] = ()


def needs_statement(milligrams: int, whole: int, market: Market) -> bool:
    """Whether a component of this weight has to have its own statement in a kit that weighs so much.

    In the EU and the UK from 30 % of the weight on; elsewhere always. Source: Regulation (EU) No 1007/2011 Art. 11, from memory.
    """
    if market not in (Market.EU, Market.UK):
        return True
    return milligrams * 100 >= whole * OWN_STATEMENT_FROM_PERCENT


def kit_fibres(components: Sequence[Component], market: Market, *, leave_out: bool = False) -> KitFibres:
    """The fibres of a kit for a market: one line where all its yarns are of the same, else one for each in their order.

    `leave_out` does without the statements that the market does not want. Raises CompositionError where a yarn's own line
    cannot be written.
    """
    lines = {each.name: fibre_line(each.shares, market, said=each.said).line for each in components}
    source = _SOURCES.get(market, _ARTICLE)
    if len(set(lines.values())) == 1:
        rule = "All yarns of this kit are of the same fibres, so one line stands for all of them."
        return KitFibres(next(iter(lines.values())), f"{rule} Source: {source}.")
    whole = sum(each.milligrams for each in components)
    small = tuple(each.name for each in components if not needs_statement(each.milligrams, whole, market))
    stated = [each.name for each in components if not (leave_out and each.name in small)]
    rule = "Each yarn of this kit has its own line of fibres."
    if small:
        rule += f" A yarn under {OWN_STATEMENT_FROM_PERCENT} % of the kit’s weight may go without one."
    return KitFibres(
        "; ".join(f"{name}: {lines[name]}" for name in stated), f"{rule} Source: {source}.", small
    )
