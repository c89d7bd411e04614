"""A line cut into clauses: what is said of one thing, with the time that stands beside it."""

from __future__ import annotations

from dataclasses import dataclass, field

from recipes.dyeing.potline import technique_words
from recipes.dyeing.potline import vocabulary as words
from recipes.dyeing.potline.sections import LENGTHS
from recipes.dyeing.potline.tokens import Token

_JOINING_SIGNS = ("+", "&", "/")
_STOPS = (",", ";", ".", "|")
_JOINING_WORDS = ("and", "plus")
_NEW_WORDS = ("then", "but")


@dataclass(slots=True)
class Clause:
    """The tokens of one clause without its time of day.

    `joined_by` is what stood before it: "" for the first, "and" for and, plus, + and &, else the sign or word itself.
    """

    tokens: list[Token]
    joined_by: str = ""
    said: list[Token] = field(default_factory=list)
    clock: str = ""
    clock_at: str = ""
    half_day_open: bool = False

    @property
    def clocks(self) -> list[Token]:
        return [token for token in self.said if token.kind == "clock"]


def split(tokens: list[Token]) -> list[Clause]:
    """The clauses of a line, each with its time taken out from before or after what it says."""
    clauses: list[Clause] = []
    current = Clause([])
    for index, token in enumerate(tokens):
        joiner = _joiner(tokens, index, current.tokens)
        if joiner is None:
            current.tokens.append(token)
        elif joiner:
            if current.tokens:
                clauses.append(current)
                current = Clause([], joiner)
            elif joiner != "and" or not current.joined_by:
                current.joined_by = joiner if clauses else ""
    if current.tokens:
        clauses.append(current)
    return [_timed(clause) for clause in clauses]


def _joiner(tokens: list[Token], index: int, so_far: list[Token]) -> str | None:
    """How this token joins two clauses; None when it is part of one, "" when it is nothing at all."""
    token = tokens[index]
    following = tokens[index + 1] if index + 1 < len(tokens) else None
    if _within_jar(so_far, following):
        return None
    if token.is_sign(",") and so_far and all(each.kind in ("section", "clock") for each in so_far):
        # "A, 5 ml red" says where first; the comma is no more than a pause.
        return ""
    if token.is_sign(",") and _within_step(tokens, index, so_far):
        return ""
    if token.is_word(*_JOINING_WORDS):
        return "and"
    if token.is_word(*_NEW_WORDS):
        return token.text
    if token.is_sign(*_JOINING_SIGNS):
        if token.text == "/" and ((so_far and so_far[-1].kind == "number") or _is_measure(following)):
            return None
        return "and"
    if token.is_sign('"', "“", "”", "„"):
        return ""
    if token.is_sign(*_STOPS):
        return _stop(token, so_far, following)
    return None


def _is_measure(token: Token | None) -> bool:
    """Whether a slash before it means "per"."""
    return token is not None and token.text in words.MEASURES.keys() | words.COUNTED | words.MINUTES


def _stop(token: Token, so_far: list[Token], following: Token | None) -> str | None:
    if token.text == "." and so_far:
        last = so_far[-1]
        if following is not None and last.is_word("approx", "ca"):
            return ""
        abbreviated = last.text in words.MEASURES or last.is_word("fl", "us", "imp")
        if abbreviated and following is not None and following.kind in ("word", "name"):
            return None
    return token.text


def _within_step(tokens: list[Token], index: int, so_far: list[Token]) -> bool:
    """Whether a comma only parts the details of one technique: "dip 20 cm, 30 s", "paint A, 30 ml red"."""
    verb = next(
        (token for token in so_far if token.kind != "clock" and not token.is_word(*words.OPENINGS)), None
    )
    slug = technique_words.VERBS.get(verb.text) if verb is not None and verb.kind == "word" else None
    if slug is None or index + 2 >= len(tokens):
        return False
    if so_far[-1].kind == "section" and slug in technique_words.PUT_ON:
        return True
    unit = tokens[index + 2]
    units = words.MINUTES | LENGTHS
    return tokens[index + 1].kind == "number" and unit.kind == "word" and unit.text in units


def _within_jar(so_far: list[Token], following: Token | None) -> bool:
    """Whether a stop only parts the two weighings of a jar."""
    if following is None or following.kind != "number" or not any(token.is_word("jar") for token in so_far):
        return False
    return sum(token.kind == "number" for token in so_far) == 1


def _timed(clause: Clause) -> Clause:
    clause.said = list(clause.tokens)
    tokens = clause.tokens
    start = 0
    if start < len(tokens) and (tokens[start].is_word("at") or tokens[start].is_sign("@")):
        start += 1
    if start < len(tokens) and tokens[start].kind == "clock":
        return _with_clock(clause, tokens[start], _after_clock(tokens, start + 1), "before")
    if tokens and tokens[-1].kind == "clock":
        marked = len(tokens) > 1 and (tokens[-2].is_word("at") or tokens[-2].is_sign("@"))
        rest = tokens[: -2 if marked else -1]
        before = rest[-1] if rest else None
        if before is None or not before.is_word(
            "until", "till", "from", "since", "to", "before", "after", "by", "for"
        ):
            return _with_clock(clause, tokens[-1], rest, "after")
    return clause


def _after_clock(tokens: list[Token], index: int) -> list[Token]:
    """What follows a leading time, without the colon or the free-standing dash after it."""
    if (index < len(tokens) and tokens[index].is_sign(":")) or (
        index + 1 < len(tokens) and tokens[index].is_sign("-") and not tokens[index + 1].glued
    ):
        index += 1
    return tokens[index:]


def _with_clock(clause: Clause, clock: Token, rest: list[Token], where: str) -> Clause:
    if any(token.kind == "clock" for token in rest):
        return clause
    clause.tokens, clause.clock, clause.clock_at = rest, clock.text, where
    clause.half_day_open = clock.half_day_open
    return clause
