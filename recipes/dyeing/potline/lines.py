"""A whole line read: its clauses one by one, and what in a line puts all of it in doubt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from recipes.dyeing.potline import doubts, notes
from recipes.dyeing.potline.additions import read_addition
from recipes.dyeing.potline.amounts import InDoubt
from recipes.dyeing.potline.clauses import Clause, split
from recipes.dyeing.potline.clocks import join_clocks
from recipes.dyeing.potline.cursor import Cursor
from recipes.dyeing.potline.doing import read_technique
from recipes.dyeing.potline.jars import read_jar
from recipes.dyeing.potline.matching import matched, question_of_longer_name
from recipes.dyeing.potline.naming import Bench, bench_of
from recipes.dyeing.potline.numbers import join_numbers
from recipes.dyeing.potline.reading import Known, Reading
from recipes.dyeing.potline.sections import join_sections
from recipes.dyeing.potline.states import read_clear, read_heat, read_ph, read_repeat, read_temperature
from recipes.dyeing.potline.tokens import LONGEST_LINE, Token, prepare, presentable, tokenise, typed

#: What the log keeps of a question.
_LONGEST_QUESTION = 300


def read_line(
    text: str,
    *,
    fahrenheit: bool = False,
    known: Sequence[Known] = (),
    now: str = "",
    sections: Sequence[str] = (),
) -> list[Reading]:
    """What a line typed or dictated at the pot says, in order; nothing for an empty line. Never raises.

    An amount is read only when every word of its clause is understood and nothing else in the line puts it in doubt;
    otherwise the whole line is one note with a question. `fahrenheit` is the studio's unit for degrees without a
    letter, `known` its own dyes, bottles, jars, auxiliaries and jugs, `now` the time of day ("HH:MM") by which a time
    without am or pm is taken for the last one past, `sections` the names of the lay's sections.
    """
    shown = presentable(text)
    if not shown:
        return []
    if len(text.strip()) > LONGEST_LINE:
        return [Reading(kind="note", text=shown, question=doubts.TOO_LONG)]
    line = prepare(text.replace("\n", ";").replace("\r", ";"))
    bench = bench_of(tuple(known))
    tokens = bench.join_names(tokenise(line))
    tokens = join_sections(join_numbers(join_clocks(tokens, now=now)), line, sections)
    whole = _Line(shown, line, tokens, fahrenheit, bench)
    question = notes.doubt_of_line(tokens, bench)
    readings = whole.read() if question is None else [whole.as_note(question)]
    return [replace(reading, question=reading.question[:_LONGEST_QUESTION]) for reading in readings]


@dataclass(slots=True)
class _Piece:
    """A clause and what came of it: a reading, or a note with a question."""

    clause: Clause
    reading: Reading
    infects: bool = False
    is_note: bool = False


@dataclass(slots=True)
class _Line:
    shown: str
    line: str
    tokens: list[Token]
    fahrenheit: bool
    bench: Bench

    def as_note(self, question: str) -> Reading:
        clocks = [token for token in self.tokens if token.kind == "clock"]
        return Reading(
            kind="note", text=self.shown, question=question, clock=clocks[0].text if len(clocks) == 1 else ""
        )

    def read(self) -> list[Reading]:
        clauses = split(self.tokens)
        pieces = [self._piece(clause) for clause in clauses if clause.tokens]
        if not pieces or (len(clauses) == 1 and pieces[0].is_note):
            return [self.as_note(pieces[0].reading.question if pieces else "")]
        question = self._question_of_all(pieces)
        if question:
            return [self.as_note(question)]
        _spread_clocks(clauses)
        readings = [self._finished(piece) for piece in pieces]
        if all(piece.is_note for piece in pieces):
            return [self.as_note(next((r.question for r in readings if r.question), ""))]
        return readings if len(readings) > 1 else [replace(readings[0], text=self.shown)]

    def _piece(self, clause: Clause) -> _Piece:
        if notes.is_negative(clause.tokens):
            infects = notes.negates_the_rest(clause)
            question = doubts.WANTED if infects else notes.question_of_negative(clause, self.bench)
            return _Piece(clause, self._note(clause, question), infects, True)
        try:
            reading = self._understood(clause)
        except InDoubt as doubt:
            return _Piece(clause, self._note(clause, doubt.question), doubt.infects, True)
        if reading is not None:
            reading = matched(reading, self.bench)
            if reading.match is None and (question := question_of_longer_name(reading.name, self.bench)):
                return _Piece(clause, self._note(clause, question), True, True)
            return _Piece(clause, reading)
        question, infects = notes.question_of_note(clause, self.bench)
        return _Piece(clause, self._note(clause, question), infects, True)

    def _note(self, clause: Clause, question: str) -> Reading:
        clocks = clause.clocks
        return Reading(kind="note", question=question, clock=clocks[0].text if len(clocks) == 1 else "")

    def _understood(self, clause: Clause) -> Reading | None:
        def cursor() -> Cursor:
            return Cursor(self.line, clause.tokens)

        return (
            read_repeat(cursor())
            or read_clear(cursor())
            or read_heat(cursor())
            or read_ph(cursor())
            or read_technique(cursor(), self.bench, fahrenheit=self.fahrenheit)
            or read_jar(cursor(), self.bench)
            or read_temperature(cursor(), fahrenheit=self.fahrenheit)
            or read_addition(cursor(), self.bench)
        )

    def _question_of_all(self, pieces: list[_Piece]) -> str:
        """The question that makes the whole line a note, or "" when its parts stand by themselves."""
        others = len(pieces) > 1 and any(not piece.is_note for piece in pieces)
        for place, piece in enumerate(pieces):
            if others and notes.depends(piece.clause, first=place == 0):
                return doubts.WANTED
            if piece.infects and others:
                return piece.reading.question or doubts.UNREAD
            nearby = pieces[max(0, place - 1) : place + 2]
            if piece.is_note and any(near.reading.is_addition for near in nearby):
                follows = pieces[place + 1].clause.joined_by if place + 1 < len(pieces) else ""
                if notes.is_bare_name(piece.clause, follows, self.line, self.bench):
                    return doubts.EACH
        additions = sum(piece.reading.is_addition for piece in pieces)
        if additions and any(piece.reading.kind == "repeat" for piece in pieces):
            return doubts.PORTIONS
        if others and notes.negation_runs_on([(p.clause, p.is_note, p.reading.is_addition) for p in pieces]):
            return doubts.WANTED
        return ""

    def _finished(self, piece: _Piece) -> Reading:
        clause, reading = piece.clause, piece.reading
        clock = reading.clock or clause.clock
        question = reading.question
        if clause.half_day_open and clause.clock and not question and int(clause.clock[:2]) < 6:
            later = f"{int(clause.clock[:2]) + 12}{clause.clock[2:]}"
            question = doubts.HALF_DAY.format(clause.clock.lstrip("0"), later)
        return replace(reading, text=typed(self.line, clause.said), clock=clock, question=question)


def _spread_clocks(clauses: list[Clause]) -> None:
    """Gives a time at the start to the clauses after it, and one at the end to those joined before it."""
    if not clauses[-1].tokens:
        clauses[-1].clock_at = "after"
    for before, clause in pairwise(clauses):
        leading = before.clock_at == "before" and not clause.clocks
        if leading:
            clause.clock, clause.clock_at, clause.half_day_open = before.clock, "before", before.half_day_open
    for clause, after in reversed(list(pairwise(clauses))):
        if after.clock_at == "after" and not clause.clocks and after.joined_by in ("and", ","):
            clause.clock, clause.clock_at, clause.half_day_open = after.clock, "after", after.half_day_open
