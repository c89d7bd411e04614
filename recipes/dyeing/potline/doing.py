"""What a clause says was done to the yarn: dipped, painted, wrapped, steamed, held, entered and the like.

A technique before an amount tells how that amount was put on: "paint A 30 ml of red 1 %" is an addition.
"""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from recipes.dyeing.potline import doubts
from recipes.dyeing.potline import technique_words as said
from recipes.dyeing.potline import vocabulary as words
from recipes.dyeing.potline.additions import LONGEST_NAME, read_addition
from recipes.dyeing.potline.amounts import InDoubt, refuse_minus, refuse_range, take_about
from recipes.dyeing.potline.cursor import Cursor
from recipes.dyeing.potline.jars import read_jar
from recipes.dyeing.potline.naming import Bench
from recipes.dyeing.potline.notes import names_something
from recipes.dyeing.potline.reading import Reading
from recipes.dyeing.potline.sections import LENGTHS, take_named_section, take_place
from recipes.dyeing.potline.states import bath_celsius, take_degrees
from recipes.dyeing.potline.tokens import Token
from recipes.dyeing.potline.vocabulary import words_of
from recipes.dyeing.techniques import BY_SLUG, Takes
from recipes.dyeing.units import LENGTH_UNITS, whole

#: Beyond these a step is asked about; common practice of small studios, no source.
MOST_SECONDS = 48 * 3600
MOST_MILLIMETRES = 3_000
MOST_HANKS = 200
MOST_SPECKLED_MILLIGRAMS = 20_000


@dataclass(slots=True)
class _Step:
    """The details of a step as they are found; `seen` is how many were."""

    slug: str
    seconds: int | None = None
    millimetres: int | None = None
    hanks: int | None = None
    section: str = ""
    name: str = ""
    celsius: Decimal | None = None
    about: bool = False

    def takes(self, detail: Takes) -> bool:
        return detail in BY_SLUG[self.slug].takes


def read_technique(cursor: Cursor, bench: Bench, *, fahrenheit: bool) -> Reading | None:
    """A step that was done to the yarn, or an addition with how it was put on.

    None when the clause tells of no technique, or of one in words that carry no number. Raises InDoubt where a number in it
    is not understood.
    """
    cursor.take_words(said.BEFORE_VERBS)
    slug = _take_verb(cursor)
    if slug in said.PUT_ON and _has_amount(cursor):
        return _put_on(cursor, bench, slug)
    if cursor.index and cursor.tokens[cursor.index - 1].is_word("sprinkled"):
        return None
    step = _Step(slug) if slug else _moved_hanks(cursor)
    if step is None:
        return None
    numbers = any(token.kind == "number" for token in cursor.tokens[cursor.index :])
    _take_details(cursor, step, bench, fahrenheit=fahrenheit)
    if not cursor.at_end:
        if numbers:
            raise InDoubt(
                _question(step), infects=any(_is_amount(cursor, at) for at in range(len(cursor.tokens)))
            )
        return None
    return _reading(step)


def _take_verb(cursor: Cursor) -> str:
    for phrase, slug in said.PHRASES.items():
        if cursor.take_phrase(phrase):
            return slug
    token = cursor.peek()
    if token is None or token.kind != "word" or token.text not in said.VERBS:
        return ""
    cursor.index += 1
    return said.VERBS[token.text]


def _has_amount(cursor: Cursor) -> bool:
    places = range(cursor.index, len(cursor.tokens))
    return any(_is_amount(cursor, at) for at in places) or any(
        token.is_word("jar") or (token.kind == "word" and token.text in words.MEASURES)
        for token in cursor.tokens[cursor.index :]
    )


def _is_amount(cursor: Cursor, at: int) -> bool:
    following = cursor.tokens[at + 1] if at + 1 < len(cursor.tokens) else None
    number = cursor.tokens[at].kind == "number"
    return number and following is not None and following.kind == "word" and following.text in words.MEASURES


def _put_on(cursor: Cursor, bench: Bench, slug: str) -> Reading | None:
    """The addition that follows the verb. Raises InDoubt where it is no addition, since an amount stands there."""
    while cursor.take_words(("with", "using", "over", "the", "it", "on")) and not cursor.at_end:
        continue
    rest = Cursor(cursor.line, cursor.tokens[cursor.index :])
    section = _leading_section(rest)
    reading = read_jar(Cursor(rest.line, rest.tokens[rest.index :]), bench) or read_addition(
        Cursor(rest.line, rest.tokens[rest.index :]), bench
    )
    if reading is None or (section and reading.section and section != reading.section):
        raise InDoubt(doubts.UNREAD)
    section = section or reading.section
    if "," in section and not reading.section:
        raise InDoubt(doubts.SHARED)
    weighed = reading.milligrams if reading.jar_before_milligrams is None else None
    if reading.kind == "powder" and weighed and (slug != "speckle" or weighed > MOST_SPECKLED_MILLIGRAMS):
        # "Overdye 50 g navy" may be a half skein; powder is sprinkled, and never by so much.
        raise InDoubt(doubts.DYE_OR_YARN)
    dye = reading.kind == "powder" if slug == "speckle" else reading.kind in ("stock", "powder")
    return replace(reading, section=section, technique=slug if dye else "")


def _leading_section(cursor: Cursor) -> str:
    found = take_named_section(cursor) or take_place(cursor)
    cursor.take_sign(":", ",")
    cursor.take_words(("with",))
    return found


def _moved_hanks(cursor: Cursor) -> _Step | None:
    """ "2 hanks in", "third hank in", "another one out": hanks that were entered or lifted, without the verb."""
    start = cursor.index
    try:
        count = _take_hanks(cursor)
    except InDoubt:
        # Without the verb a number may be of anything, so the other grammars look at it.
        count = None
    if count is not None:
        cursor.take_words(("is", "are", "went", "goes", "gone", "now", "has", "came", "comes"))
        for slug, ways in said.OUT_OR_IN.items():
            if cursor.take_word(*ways):
                return _Step(slug, hanks=count[0], section=count[1])
    cursor.index = start
    return None


def _take_hanks(cursor: Cursor, *, bare: bool = False) -> tuple[int, str] | None:
    """So many hanks, and which where they are named: "2 hanks", "another hank", "the 3rd skein"; with `bare` also "two"."""
    start = cursor.index
    cursor.take_words(("the",))
    which = take_named_section(cursor)
    if which.startswith("skein "):
        return len(which.split(", ")), which
    cursor.index = start
    cursor.take_words(("the", "another", "next", "last", "other", "more", "a"))
    article = cursor.index > start
    refuse_minus(cursor)
    number = cursor.take_number()
    if number is not None:
        _refuse_range(cursor)
        cursor.take_words(("more", "of", "the"))
        return _counted(cursor, number, start, bare=bare)
    if article and cursor.take_words(said.HANKS):
        return 1, ""
    cursor.index = start
    return None


def _counted(cursor: Cursor, number: Token, start: int, *, bare: bool) -> tuple[int, str] | None:
    named = cursor.take_words(said.HANKS - {"one"})
    value = number.value or Fraction(0)
    whole_number = value.denominator == 1 and 0 < value <= MOST_HANKS
    if named and not whole_number:
        raise InDoubt(doubts.HOW_MANY_HANKS, infects=False)
    alone = number.spelled or cursor.at_end or cursor.sees_word(("in", "out"))
    if whole_number and (named or (bare and alone)):
        return int(value), ""
    cursor.index = start
    return None


def _take_details(cursor: Cursor, step: _Step, bench: Bench, *, fahrenheit: bool) -> None:
    """Everything from here that the step can carry, in any order; stops at the first word that it does not know."""
    while not cursor.at_end:
        start = cursor.index
        step.about = take_about(cursor) or step.about
        _passed_over(cursor, step)
        if not (
            _take_time(cursor, step)
            or _take_length(cursor, step)
            or _take_count(cursor, step)
            or _take_where(cursor, step)
            or _take_heat(cursor, step, fahrenheit=fahrenheit)
            or _take_with(cursor, step, bench)
        ) and (cursor.index == start):
            return


def _passed_over(cursor: Cursor, step: _Step) -> None:
    cursor.take_sign(":", "!", ".", "(", ")")
    if step.slug in said.OUT_OR_IN:
        cursor.take_words(said.OUT_OR_IN[step.slug])
    if cursor.sees_word(("in", "into")) and any(
        Cursor(cursor.line, cursor.tokens, cursor.index + 1).take_phrase(place) for place in said.INTO_BATH
    ):
        cursor.index += 1
        for place in said.INTO_BATH:
            if cursor.take_phrase(place):
                return
    if cursor.sees_word(("each", "every")) and cursor.sees_word(said.HANKS, 1):
        cursor.index += 2
        return
    if not cursor.sees_word(("over",)) or step.slug != "overdye":
        # What may be the beginning of "the second skein" or "the left end" is looked at as such first.
        if cursor.sees_word(("the", "on")) and _section_ahead(cursor):
            return
        cursor.take_words(
            said.FILLERS - {"all", "everything"} if step.slug in said.OUT_OR_IN else said.FILLERS
        )


def _section_ahead(cursor: Cursor) -> bool:
    ahead = Cursor(cursor.line, cursor.tokens, cursor.index)
    ahead.take_words(("on", "the", "to"))
    return bool(take_named_section(ahead) or take_place(ahead))


def _take_time(cursor: Cursor, step: _Step) -> bool:
    """ "30 s", "20 min", "2 min 30 s", "half an hour", "an hour and a half"."""
    start = cursor.index
    seconds = _one_time(cursor)
    if seconds is None:
        cursor.index = start
        return False
    after = cursor.index
    cursor.take_word("and")
    more = _one_time(cursor, below=seconds)
    if more is None:
        cursor.index = after
    if step.seconds is not None or not step.takes(Takes.SECONDS):
        raise InDoubt(_question(step), infects=False)
    total = seconds + (more or 0)
    if total.denominator != 1 or not 0 < total <= MOST_SECONDS:
        raise InDoubt(doubts.HOW_LONG, infects=False)
    step.seconds = int(total)
    return True


def _one_time(cursor: Cursor, *, below: Fraction | None = None) -> Fraction | None:
    start = cursor.index
    cursor.take_words(("another",))
    refuse_minus(cursor)
    article = bool(cursor.take_words(("an", "a")))
    number = None if article else cursor.take_number()
    _refuse_range(cursor)
    cursor.take_words(("more",))
    size = 1 if cursor.take_words(said.SECONDS) else 60 if cursor.take_words(said.MINUTES) else 0
    size = size or (3600 if cursor.take_words(said.HOURS) else 0)
    if not size or (number is None and not article):
        cursor.index = start
        return None
    cursor.take_sign(".")
    value = Fraction(1) if article else number.value if number is not None else None
    if value is None:
        raise InDoubt(doubts.UNCLEAR_NUMBER.format(number.text if number else ""), infects=False)
    if below is not None and value * size >= below:
        cursor.index = start
        return None
    return value * size


def _refuse_range(cursor: Cursor) -> None:
    try:
        refuse_range(cursor)
    except InDoubt as doubt:
        raise InDoubt(doubts.ONE_NUMBER, infects=False) from doubt


def _take_length(cursor: Cursor, step: _Step) -> bool:
    """ "20 cm", "8 in", "half the hank", "two thirds of the hank", "halfway"."""
    start = cursor.index
    if cursor.take_word("halfway") or cursor.take_phrase("half way"):
        return _dipped_part(step, "half the hank")
    number = cursor.take_number()
    if number is None:
        return False
    _refuse_range(cursor)
    unit = cursor.peek()
    if (
        unit is not None
        and unit.kind == "word"
        and unit.text in LENGTHS
        and not _is_preposition(cursor, unit)
    ):
        cursor.index += 1
        cursor.take_word("deep", "up", "in", "along", "long", "of")
        return _dipped_length(step, number, unit.text)
    if number.value in said.PARTS_OF_HANK:
        cursor.take_words(("of", "the", "its", "length", "way", "up", "each"))
        cursor.take_words(("hank", "hanks", "skein", "skeins", "length", "way"))
        if step.slug in ("dip", "hand_paint", "resist", "wrap"):
            return _dipped_part(step, f"{_part_words(number)} the hank")
    cursor.index = start
    return False


def _is_preposition(cursor: Cursor, unit: Token) -> bool:
    """Whether "in" stands before what it was dipped in rather than after a number of inches."""
    following = cursor.peek(1)
    return unit.text == "in" and following is not None and following.kind in ("word", "name")


def _part_words(number: Token) -> str:
    text = {Fraction(1, 2): "half", Fraction(1, 3): "a third of", Fraction(2, 3): "two thirds of"}
    text |= {Fraction(1, 4): "a quarter of", Fraction(3, 4): "three quarters of"}
    return text[number.value or Fraction(1, 2)]


def _dipped_part(step: _Step, words_of_part: str) -> bool:
    if step.section or step.millimetres is not None or not step.takes(Takes.SECTION):
        raise InDoubt(_question(step), infects=False)
    step.section = words_of_part
    return True


def _dipped_length(step: _Step, number: Token, unit: str) -> bool:
    if step.millimetres is not None or not step.takes(Takes.MILLIMETRES) or number.value is None:
        raise InDoubt(_question(step), infects=False)
    size = LENGTH_UNITS["in"] if unit.startswith("in") else Fraction(1 if unit.startswith("m") else 10)
    millimetres = number.value * size
    if not 1 <= millimetres <= MOST_MILLIMETRES or (
        size != LENGTH_UNITS["in"] and millimetres.denominator != 1
    ):
        raise InDoubt(doubts.HOW_FAR, infects=False)
    step.millimetres = whole(millimetres)
    return True


def _take_count(cursor: Cursor, step: _Step) -> bool:
    if not step.takes(Takes.HANKS):
        return False
    if step.slug in said.OUT_OR_IN and cursor.take_words(("all", "everything", "rest")):
        step.name = step.name or "all of them"
        cursor.take_words(("of", "the", "them", "hanks", "skeins", "rest"))
        return True
    if step.slug == "enter" and cursor.sees_word(("hanks", "skeins")):
        cursor.index += 1
        return True
    start = cursor.index
    count = _take_hanks(cursor, bare=step.slug in said.OUT_OR_IN)
    if count is None or (count[1] and step.slug not in said.OUT_OR_IN):
        cursor.index = start
        return False
    if step.hanks is not None:
        raise InDoubt(doubts.HOW_MANY_HANKS, infects=False)
    step.hanks, which = count
    step.section = step.section or which
    return True


def _take_where(cursor: Cursor, step: _Step) -> bool:
    if not step.takes(Takes.SECTION):
        return False
    start = cursor.index
    cursor.take_words(("on", "of", "the", "to", "onto", "at"))
    section = (
        take_named_section(cursor) or take_place(cursor) or (step.slug == "dip" and _take_end(cursor)) or ""
    )
    if not section:
        cursor.index = start
        return False
    if step.section and step.section != section:
        raise InDoubt(_question(step), infects=False)
    step.section = section
    return True


_ENDS = ("both ends", "ends", "end", "tips", "tip", "bottom", "top")


def _take_end(cursor: Cursor) -> str:
    """The end that hangs into the bath."""
    return next((end for end in _ENDS if cursor.take_phrase(end)), "")


def _take_heat(cursor: Cursor, step: _Step, *, fahrenheit: bool) -> bool:
    """ "at 82 C", "at 82", "82 °": how hot it was held."""
    if not step.takes(Takes.DEGREES):
        return False
    start = cursor.index
    led = cursor.take_word("at", "on") or cursor.take_sign("@")
    number = cursor.take_number()
    _refuse_range(cursor)
    unit = take_degrees(cursor) if number is not None else ""
    if number is None or not (unit or led) or cursor.sees_word(_TIMES):
        cursor.index = start
        return False
    if step.celsius is not None or number.value is None:
        raise InDoubt(_question(step), infects=False)
    step.celsius = bath_celsius(number.value, unit, fahrenheit=fahrenheit, least=40)
    return True


_TIMES: Container[str] = said.SECONDS | said.MINUTES | said.HOURS


def _take_with(cursor: Cursor, step: _Step, bench: Bench) -> bool:
    """What it was done with or in: up to three plain words to the end of the clause, with a strength after a dye's name."""
    if step.name or step.slug in ("hold", "steam", "immersion", "low_immersion", *said.OUT_OR_IN):
        return False
    start = cursor.index
    led = cursor.take_word("in", "into", "with", "using")
    cursor.take_words(("the", "a", "some", "my", "clear"))
    named = cursor.index
    while cursor.index - named < 3 and (token := cursor.peek()) is not None and _names(token):
        cursor.index += 1
    taken = cursor.tokens[named : cursor.index]
    if taken and (led or names_something(taken, bench)):
        number = cursor.peek()
        if number is not None and number.kind == "number" and (sign := cursor.peek(1)) and sign.is_sign("%"):
            cursor.index += 2
        name = cursor.typed_since(named)
        cursor.take_words(words.FORMS | {"bath"})
        if len(name) <= LONGEST_NAME:
            step.name = name
            return True
    cursor.index = start
    return False


def _names(token: Token) -> bool:
    if token.kind == "name":
        return True
    return token.kind == "word" and len(token.text) > 1 and token.text not in words.RESERVED - _WRAPPINGS


_WRAPPINGS = words_of("towel") | words.COLOURS


def _question(step: _Step) -> str:
    if step.slug in ("hold", "steam"):
        return doubts.HOW_LONG
    if step.slug in said.OUT_OR_IN:
        return doubts.HOW_MANY_HANKS
    return doubts.TECHNIQUE


def _reading(step: _Step) -> Reading | None:
    if step.slug == "hold" and step.seconds is None and step.celsius is None:
        return None
    if step.slug == "lift" and step.hanks is None and not step.name:
        return None
    return Reading(
        kind="technique",
        technique=step.slug,
        seconds=step.seconds,
        millimetres=step.millimetres,
        hanks=step.hanks,
        section=step.section,
        name=step.name,
        celsius=step.celsius,
        about=step.about,
        question=doubts.NO_AMOUNT if step.name and step.slug in said.PUT_ON else "",
    )
