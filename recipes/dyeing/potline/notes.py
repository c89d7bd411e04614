"""What stays a note: what makes a whole line one, what a negative clause means for its neighbours, and what to ask."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from recipes.dyeing.potline import doubts
from recipes.dyeing.potline import vocabulary as words
from recipes.dyeing.potline.amounts import take_measure
from recipes.dyeing.potline.clauses import Clause
from recipes.dyeing.potline.cursor import Cursor
from recipes.dyeing.potline.naming import Bench
from recipes.dyeing.potline.tokens import STRANGE, Token
from recipes.dyeing.potline.vocabulary import words_of

_OTHER_POTS = words_of("other next second left right big small new wrong old third")
_VESSELS = frozenset(("pot", "pan", "bath", "bucket", "steamer", "vessel"))
_UNDONE_ENDINGS = words_of(
    "it that this those them these yet added add put in done used all either both though did do have has had "
    "been was were is are be to the of any i we much"
)
_RINSING = words_of("rinse rinsed rinsing washed wash washing soak soaked soaking drained drain spun")


def doubt_of_line(tokens: list[Token], bench: Bench) -> str | None:
    """The question that makes the whole line a note, "" for a note that needs none, None when it can be read further."""
    numbered = any(token.kind == "number" for token in tokens)
    if numbered and any(token.is_sign(STRANGE) for token in tokens):
        return doubts.STRANGE
    for token in tokens:
        if token.kind == "no_clock":
            return doubts.NO_TIME.format(token.text)
    return _speaks_of_doing(tokens, bench)


def _speaks_of_doing(tokens: list[Token], bench: Bench) -> str | None:
    names = any(names_something([token], bench) for token in tokens)
    amounts = any(_measured(tokens, index) for index in range(len(tokens)))
    concerns = names or amounts or any(token.kind == "number" for token in tokens)
    if any(token.is_word(*words.TAKEN_BACK) for token in tokens) or _corrects(tokens):
        return doubts.TAKEN_BACK if concerns else ""
    if any(token.is_word(*words.WANTED) for token in tokens) or _to_do(tokens):
        return doubts.WANTED if concerns else ""
    if any(token.is_sign("?") for token in tokens):
        return doubts.WANTED if concerns else ""
    if amounts and any(token.is_word(*words.PORTIONS) or token.is_sign("*") for token in tokens):
        return doubts.PORTIONS
    if amounts and _multiplies(tokens):
        return doubts.PORTIONS
    if (amounts or names) and _other_pot(tokens):
        return doubts.WHICH_POTS
    return None


def _corrects(tokens: list[Token]) -> bool:
    """ "no, 15", "not 5", "make that 15", "i mean"."""
    for token, following in zip(tokens, [*tokens[1:], None], strict=True):
        if token.is_word("not", "no") and (following is None or following.kind == "number"):
            return True
        if (
            token.is_word("no", "nope")
            and following is not None
            and following.is_sign(",", ".", ";", "-", ":", "!")
        ):
            return True
        if token.is_word("make", "i") and following is not None and following.is_word("that", "it", "mean"):
            return True
    return False


def _to_do(tokens: list[Token]) -> bool:
    """ "to add", "about to put", "going to"."""
    for token, following in pairwise(tokens):
        if token.is_word("to") and following.is_word("add", "put", "pour", "go", "do", "give"):
            return True
        if token.is_word("going") and following.is_word("to"):
            return True
    for place, token in enumerate(tokens):
        before = tokens[place - 1] if place else None
        opens = (
            before is None
            or before.kind in ("sign", "clock")
            or before.is_word("and", "then", "but", "so", "ok")
        )
        if opens and token.is_word("when", "before", "bring", "raise", "take"):
            return True
    return False


def _multiplies(tokens: list[Token]) -> bool:
    """ "2x5", "x3": a sign of times beside a number."""
    for index, token in enumerate(tokens):
        if token.is_word("x"):
            beside = tokens[max(0, index - 1) : index + 2]
            if any(near.kind == "number" for near in beside):
                return True
    return False


def _other_pot(tokens: list[Token]) -> bool:
    for token, following in pairwise(tokens):
        if token.is_word(*_OTHER_POTS) and following.is_word(*_VESSELS):
            return True
        if token.is_word("pot", "pan", "bucket") and (following.kind == "number" or len(following.text) == 1):
            return following.kind in ("number", "word")
        if token.is_word("all") and following.kind == "number":
            return True
    return any(token.is_word("pots", "pans") for token in tokens)


def _measured(tokens: list[Token], index: int) -> bool:
    if tokens[index].kind != "number":
        return False
    following = Cursor("", tokens, index + 1)
    return take_measure(following) is not None


def names_something(tokens: list[Token], bench: Bench) -> bool:
    """Whether the tokens name a dye or an auxiliary: a colour word, a common auxiliary, or one of the studio's own."""
    for token in tokens:
        if token.kind == "name":
            return True
        if token.kind != "word" or token.text in words.NEVER_NAMES:
            continue
        if token.text in words.COLOURS or token.text in words.AUXILIARIES:
            return True
        if len(token.text) > 2 and token.text in bench.words and token.text not in words.RESERVED:
            return True
    return False


def is_negative(tokens: list[Token]) -> bool:
    """Whether the clause says that something was not done, or was taken out."""
    return any(token.is_word(*words.NEGATIONS) for token in tokens)


def negates_the_rest(clause: Clause) -> bool:
    """Whether a negative clause has nothing of its own to negate, so that it speaks of the clauses beside it."""
    said = [token for token in clause.tokens if token.kind != "sign"]
    own = [t for t in said if not (t.kind == "word" and t.text in words.NEGATIONS | _UNDONE_ENDINGS)]
    if not own:
        return True
    if any(token.is_word("it", "that", "those", "them", "this", "these") for token in said):
        return True
    denied = next((place for place, t in enumerate(said) if t.is_word(*words.NEGATIONS)), 0)
    return any(token.kind == "number" for token in said[:denied])


def negation_runs_on(pieces: Sequence[tuple[Clause, bool, bool]]) -> bool:
    """Whether an amount follows a negative clause that may speak of it too: "forgot acid, 5 ml red".

    Each piece is a clause, whether it is a note, and whether it was read as an addition. "yet" closes a negative
    clause, and so do a time at its end, and then, but, a semicolon and a full stop after it.
    """
    running = False
    for clause, is_note, is_addition in pieces:
        if clause.joined_by in ("then", "but", ";", "."):
            running = False
        if running and is_addition and not clause.clock:
            return True
        if is_note and is_negative(clause.tokens):
            dated = bool(clause.clocks) and clause.clock_at != "before"
            running = not (dated or clause.tokens[-1].is_word("yet"))
    return False


def question_of_negative(clause: Clause, bench: Bench) -> str:
    """What to ask after a negative note: about an acid or dye that was forgotten, or an amount that was not clear."""
    tokens = clause.tokens
    if any(token.is_word("forgot", "forgotten", "missed") for token in tokens) and names_something(
        tokens, bench
    ):
        return doubts.IN_NOW
    return ""


def depends(clause: Clause, *, first: bool) -> bool:
    """Whether the clause says when or on what condition the rest is done: "once clear, 5 ml red"."""
    word = next((token for token in clause.tokens if not token.is_word(*words.OPENINGS)), clause.tokens[0])
    return word.is_word("when", "once", "until", "till", "unless") or (
        not first and word.is_word("after", "before")
    )


def question_of_note(clause: Clause, bench: Bench) -> tuple[str, bool]:
    """What to ask after a note that nothing was read from, and whether it puts the rest of its line in doubt."""
    tokens = clause.tokens
    named = names_something(tokens, bench)
    if any(token.is_word("forgot", "forgotten") for token in tokens) and named:
        return doubts.IN_NOW, False
    numbers = [index for index, token in enumerate(tokens) if token.kind == "number"]
    if _looks_like_time(tokens) and len(numbers) > 1:
        return doubts.UNSURE_TIME.format(tokens[0].text), True
    if any(_measured(tokens, index) for index in numbers):
        if tokens[0].is_word(*_RINSING):
            return "", False
        return (doubts.LEVEL if _up_to_a_level(tokens) else doubts.UNREAD), True
    if any(_is_percent(tokens, index) for index in numbers):
        return _percent_question(tokens, numbers), True
    counting = [index for index in numbers if not _counts_other_things(tokens, index)]
    if numbers:
        if not counting or tokens[0].is_word(*words.ACTIONS):
            return "", False
        if _looks_like_time(tokens) and len(tokens) == 1:
            return doubts.UNSURE_TIME.format(tokens[0].text), True
        if len(counting) < len(tokens) and not named:
            return (doubts.UNREAD if tokens[0].kind == "number" else ""), True
        number = tokens[counting[0]].text
        return (doubts.NO_UNIT.format(number) if number[0].isdigit() else doubts.NO_AMOUNT), True
    if any(token.kind == "word" and token.text in words.MEASURES for token in tokens) and named:
        return doubts.NO_AMOUNT, True
    if (
        named
        and tokens[0].is_word("some", "more", "a", "bit", "another")
        and names_something(tokens[-1:], bench)
    ):
        return doubts.NO_AMOUNT, True
    if named and _says_it_went_in(tokens):
        return (
            doubts.WHICH_POTS if any(token.is_word("all") for token in tokens) else doubts.NO_AMOUNT
        ), False
    return "", False


def _up_to_a_level(tokens: list[Token]) -> bool:
    """Whether it tells how full the bath was made, not what went in: "water to 10 l", "filled to 10 l"."""
    filled = any(
        token.is_word("water", "filled", "fill", "topped", "top", "bath", "level") for token in tokens
    )
    return filled and any(
        token.is_word("to") and following.kind == "number" for token, following in pairwise(tokens)
    )


def _looks_like_time(tokens: list[Token]) -> bool:
    hours, point, minutes = tokens[0].text.partition(".")
    figures = tokens[0].kind == "number" and hours.isdigit() and len(minutes) == 2 and minutes.isdigit()
    return figures and bool(point) and 1 <= int(hours) < 24 and int(minutes) < 60


def _is_percent(tokens: list[Token], index: int) -> bool:
    following = tokens[index + 1] if index + 1 < len(tokens) else None
    return following is not None and (following.is_sign("%") or following.is_word("percent"))


def _percent_question(tokens: list[Token], numbers: list[int]) -> str:
    if any(token.is_word(*words.DEPTH_WORDS) for token in tokens):
        return doubts.DEPTH
    return doubts.STRENGTH.format(tokens[numbers[0]].text)


def _counts_other_things(tokens: list[Token], index: int) -> bool:
    """Whether the number counts minutes, skeins or the like, or is an ordinal."""
    following = tokens[index + 1] if index + 1 < len(tokens) else None
    if following is None or following.kind != "word":
        return False
    ordinal = following.glued and following.text in ("st", "nd", "rd", "th")
    return ordinal or following.text in words.MINUTES | words.COUNTED


def _says_it_went_in(tokens: list[Token]) -> bool:
    if len(tokens) > 5 or any(token.is_word("still", "the", "on") for token in tokens):
        return False
    return len(tokens) == 1 or any(token.is_word("in", "added", "add", "went", "more") for token in tokens)


def is_bare_name(clause: Clause, next_joined_by: str, line: str, bench: Bench) -> bool:
    """Whether the clause is only a name beside an amount that may be meant for it too: "5 ml red and teal"."""
    tokens = [token for token in clause.tokens if not token.is_word("the", "some", "of", "a", "more", "bit")]
    if not tokens or len(tokens) > 3 or any(token.kind not in ("word", "name") for token in tokens):
        return False
    if any(
        token.is_word(*words.ACTIONS) or token.text.endswith(("ed", "ing"))
        for token in tokens
        if token.text not in words.COLOURS
    ):
        return False
    if any(token.kind == "word" and token.text in words.RESERVED for token in tokens):
        return False
    if "and" in (clause.joined_by, next_joined_by):
        return True
    return all(names_something([token], bench) for token in tokens)
