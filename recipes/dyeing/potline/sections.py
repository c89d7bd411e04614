"""Where along the hank, or on which skein: sections by letter or name, parts such as the left end, single skeins."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from recipes.dyeing.potline import technique_words
from recipes.dyeing.potline import vocabulary as words
from recipes.dyeing.potline.cursor import Cursor
from recipes.dyeing.potline.tokens import Token, prepare, tokenise
from recipes.dyeing.potline.vocabulary import words_of
from recipes.dyeing.techniques import BY_SLUG, Takes

#: What the log keeps of a section.
LONGEST_SECTION = 60

_PLACES = words_of(
    "left right top bottom middle centre center near far outer inner first second last one other"
)
_PARTS = words_of("end side half third section edge corner quarter")
_ONTO = ("on", "in", "to", "at", "for", "onto")
_SECTIONS = frozenset(("section", "sections"))
_SKEINS = frozenset(("skein", "skeins", "hank", "hanks"))
_ORDINALS = {"first": 1, "second": 2, "fourth": 4, "fifth": 5, "sixth": 6}
_ORDINAL_ENDINGS = frozenset(("st", "nd", "rd", "th"))
_JOINING_SIGNS = (",", "&", "+", "/")
_AFTER_LETTER = ("now", "again", "too", "also", "only")
#: Letters that stand for a section without the word; l, g, c and f beside a number are measures and degrees, i the dyer.
_BARE_LETTERS = frozenset("abcdefgh")


def join_sections(tokens: list[Token], line: str, names: Sequence[str] = ()) -> list[Token]:
    """The tokens with each section, or list of sections, as one token of that kind; its text is how it is kept.

    `names` are the sections of the lay as the dyer named them. A letter alone is a section after "on" and the like, after a
    verb of dyeing, and before a colon at the beginning.
    """
    reader = _Sections(tokens, line, names)
    joined: list[Token] = []
    index = 0
    while index < len(tokens):
        found, following = reader.at(index)
        joined.append(found or tokens[index])
        index = following if found else index + 1
    return joined


class _Sections:
    """Finds sections in the tokens of a line. A list is all letters, all numbers, or all names."""

    def __init__(self, tokens: list[Token], line: str, names: Sequence[str]) -> None:
        self.tokens, self.line = tokens, line
        self.letters = {name.casefold() for name in names if len(name) == 1}
        spelled = ((name, tuple(t.text for t in tokenise(prepare(name)))) for name in names)
        self.names = sorted(
            ((name, said) for name, said in spelled if said and len(name) > 1),
            key=lambda pair: len(pair[1]),
            reverse=True,
        )

    def at(self, index: int) -> tuple[Token | None, int]:
        token = self.tokens[index]
        if token.kind != "word":
            return None, index
        if token.text in _SECTIONS:
            return self._listed(index, index + 1, self._any_letter)
        if token.text in _SKEINS:
            return self._listed(index, index + 1, self._numbered, prefix="skein ")
        return self._listed(index, index, self._bare) if self._may_stand(index) else (None, index)

    def _may_stand(self, index: int) -> bool:
        """Whether a section may be named here without the word: after "on", after a verb, before a colon at the start."""
        before = self.tokens[index - 1] if index else None
        if before is not None and before.is_word("the") and index > 1:
            before = self.tokens[index - 2]
        if before is not None and before.kind not in ("clock", "sign"):
            return before.is_word("on", "onto", *VERBS)
        _, following = self._items(index, self._bare)
        if following == index or following >= len(self.tokens):
            return False
        pause = "," if self._upper(index) else ":"
        return self.tokens[following].is_sign(":", pause)

    def _upper(self, index: int) -> bool:
        token = self.tokens[index]
        return self.line[token.start : token.end].isupper()

    def _listed(self, start: int, index: int, item: _Item, *, prefix: str = "") -> tuple[Token | None, int]:
        items, following = self._items(index, item)
        text = ", ".join(f"{prefix}{each}" for each in items)
        if not items or len(text) > LONGEST_SECTION:
            return None, start
        first, last = self.tokens[start], self.tokens[following - 1]
        return Token("section", text, first.start, last.end, first.glued), following

    def _items(self, index: int, item: _Item) -> tuple[list[str], int]:
        """The items of a list from here, and what follows them."""
        items: list[str] = []
        kind, end = "", index
        while index < len(self.tokens):
            found, this, following = item(index)
            if not found or (kind and this != kind):
                break
            items.append(found)
            kind, end = this, following
            index = self._past_joiner(following)
            if index == following:
                break
        return items, end

    def _past_joiner(self, index: int) -> int:
        end = index
        while end < len(self.tokens) and (
            self.tokens[end].is_sign(*_JOINING_SIGNS) or self.tokens[end].is_word("and")
        ):
            end += 1
        return end if end - index <= 2 else index

    def _numbered(self, index: int) -> tuple[str, str, int]:
        token = self.tokens[index]
        if token.kind != "number" or token.value is None or self._measured(index):
            return "", "", index
        whole = token.value.denominator == 1 and 0 < token.value < 100
        return (str(token.value), "number", index + 1) if whole else ("", "", index)

    def _any_letter(self, index: int) -> tuple[str, str, int]:
        name, following = self._named(index)
        if name:
            return name, "name", following
        token = self.tokens[index]
        short = token.kind in ("word", "number") and len(token.text) <= 2 and token.text.isalnum()
        if not short or self._measured(index):
            return "", "", index
        return self.line[token.start : token.end], token.kind, index + 1

    def _bare(self, index: int) -> tuple[str, str, int]:
        name, following = self._named(index)
        if name:
            return name, "name", following
        token = self.tokens[index]
        letter = token.kind == "word" and len(token.text) == 1 and token.text in self.letters | _BARE_LETTERS
        if not letter or self._measured(index) or self._article(index):
            return "", "", index
        return token.text.upper(), "word", index + 1

    def _article(self, index: int) -> bool:
        """Whether a small a is the article of what follows: "paint a bit of red"."""
        following = self.tokens[index + 1] if index + 1 < len(self.tokens) else None
        if self.tokens[index].text != "a" or self._upper(index) or following is None:
            return False
        return following.kind in ("word", "name") and not following.is_word("and", *_AFTER_LETTER)

    def _named(self, index: int) -> tuple[str, int]:
        """A section of the lay that stands here by its name, and what follows it."""
        for name, said in self.names:
            end = index + len(said)
            if end <= len(self.tokens) and all(
                token.text == word for token, word in zip(self.tokens[index:end], said, strict=True)
            ):
                return name, end
        return "", index

    def _measured(self, index: int) -> bool:
        following = self.tokens[index + 1] if index + 1 < len(self.tokens) else None
        if following is None:
            return False
        measures = words.MEASURES.keys() | words.MINUTES | (LENGTHS - {"in"})
        return following.is_sign("%", "°") or (following.kind == "word" and following.text in measures)


_Item = Callable[[int], tuple[str, str, int]]

#: Lengths along the hank, in millimetres; an inch is exactly 25.4 (its definition).
LENGTHS = words_of(
    "mm millimetre millimetres cm cms centimetre centimetres centimeter centimeters in inch inches"
)

#: Verbs after which a section may stand without its word.
VERBS = frozenset(
    word
    for word, slug in technique_words.VERBS.items()
    if Takes.SECTION in BY_SLUG[slug].takes and slug not in technique_words.OUT_OR_IN
)


def take_section(cursor: Cursor) -> str:
    """A section that something went on, with its "on the"; "" where none stands here."""
    start = cursor.index
    led = cursor.take_word(*_ONTO)
    cursor.take_word("the")
    found = take_named_section(cursor) or (led and take_place(cursor)) or ""
    if not found:
        cursor.index = start
    return found or ""


def take_leading_section(cursor: Cursor) -> str:
    """A section at the very beginning: "section A: 5 ml red", "on the left end 5 ml red", "first third: 5 ml red"."""
    found = take_section(cursor)
    start = cursor.index
    if not found:
        cursor.take_word("the")
        found = take_place(cursor)
        if not found or not cursor.sees_sign(":"):
            cursor.index = start
            return ""
    cursor.take_sign(":", ",")
    return found


def take_named_section(cursor: Cursor) -> str:
    """Sections that were joined to one token, or a skein by its order: "the second skein", "3rd hank"."""
    token = cursor.peek()
    if token is not None and token.kind == "section":
        cursor.index += 1
        return token.text
    start = cursor.index
    number = take_ordinal(cursor)
    if number and cursor.take_words(_SKEINS):
        return f"skein {number}"
    cursor.index = start
    return ""


def take_ordinal(cursor: Cursor) -> int:
    """ "first", "second", "3rd"; 0 where none stands here. "Third" alone is a part of something."""
    token, following = cursor.peek(), cursor.peek(1)
    if token is None:
        return 0
    if token.kind == "word" and token.text in _ORDINALS:
        cursor.index += 1
        return _ORDINALS[token.text]
    if token.kind == "number" and token.text == "third":
        cursor.index += 1
        return 3
    glued = following is not None and following.glued and following.text in _ORDINAL_ENDINGS
    if token.kind == "number" and glued and token.text.isdigit() and 0 < int(token.text) < 100:
        cursor.index += 2
        return int(token.text)
    return 0


def take_place(cursor: Cursor) -> str:
    """A part of the hank by where it is: "left end", "first third", "middle section"; "" where none stands here."""
    start = cursor.index
    if not cursor.sees_word(_PLACES):
        return ""
    cursor.index += 1
    if not cursor.take_words(_PARTS) and not _take_part(cursor):
        cursor.index = start
        return ""
    named = cursor.typed_since(start)
    end = cursor.index
    of = cursor.take_word("of")
    cursor.take_word("the", "each", "every")
    if not (of and cursor.take_words(_SKEINS)):
        cursor.index = end
    return named


def _take_part(cursor: Cursor) -> bool:
    """ "half", "third" and "quarter" stand as numbers."""
    token = cursor.peek()
    if token is None or not token.spelled or token.text not in ("half", "third", "quarter"):
        return False
    cursor.index += 1
    return True
