"""A typed or dictated line cut into numbers, words and signs, with where each stood."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

#: What a pot log keeps of one line.
LONGEST_LINE = 500

#: Stands for a character that could change what a number means, so that nothing around it is read as an amount.
STRANGE = "\N{REPLACEMENT CHARACTER}"

TokenKind = Literal["number", "word", "sign", "name", "section", "clock", "no_clock"]


@dataclass(frozen=True, slots=True)
class Token:
    """One piece of a line. `text` is in lower case; `glued` means that no space stood before it.

    A number's `value` is None when the digits can be read in two ways. A clock's `text` is HH:MM.
    """

    kind: TokenKind
    text: str
    start: int
    end: int
    glued: bool = False
    value: Fraction | None = None
    spelled: bool = False
    half_day_open: bool = False

    def is_word(self, *words: str) -> bool:
        return self.kind == "word" and self.text in words

    def is_sign(self, *signs: str) -> bool:
        return self.kind == "sign" and self.text in signs


_VULGAR = {
    "½": "1/2",
    "¼": "1/4",
    "¾": "3/4",
    "⅓": "1/3",
    "⅔": "2/3",
    "⅕": "1/5",
    "⅖": "2/5",
    "⅗": "3/5",
    "⅘": "4/5",
    "⅛": "1/8",
    "⅜": "3/8",
    "⅝": "5/8",
    "⅞": "7/8",
}
_SAME = {
    "º": "°",
    "˚": "°",
    "−": "-",
    "—": "–",
    "‑": "-",
    "‐": "-",
    "→": "->",
    "⇒": "->",
    "➔": "->",
    "×": "x",
    "≈": "~",
    "’": "'",
    "‘": "'",
    "ʼ": "'",
    "＇": "'",
    "⁄": "/",
}
_OVERRIDES = {"\u202d", "\u202e"}


def presentable(text: str) -> str:
    """The line as it may be kept and shown: no control or invisible characters, one line, at most LONGEST_LINE long."""
    kept = "".join(_shown(character) for character in text[: LONGEST_LINE * 4])
    return " ".join(kept.split())[:LONGEST_LINE]


def _shown(character: str) -> str:
    category = unicodedata.category(character)
    if category in ("Cc", "Zl", "Zp", "Zs"):
        return " "
    return "" if category in ("Cf", "Cs", "Co", "Cn") else character


def prepare(text: str) -> str:
    """The line in plain characters: fractions spelled with a slash, one kind of dash, digits 0 to 9.

    A character that could silently change a number (a raised digit, a struck-through one, a right-to-left override)
    becomes STRANGE.
    """
    plain: list[str] = []
    for character in text:
        if character in _OVERRIDES:
            plain.append(STRANGE)
        elif character in _VULGAR:
            plain.append(f" {_VULGAR[character]} ")
        elif character in _SAME:
            plain.append(_SAME[character])
        else:
            plain.append(_plain(character, after=plain[-1] if plain else ""))
    return unicodedata.normalize("NFC", "".join(plain))


def _plain(character: str, *, after: str) -> str:
    category = unicodedata.category(character)
    if category == "Nd":
        return str(unicodedata.digit(character))
    if category in ("No", "Nl"):
        return STRANGE
    if category in ("Mn", "Me", "Mc"):
        return character if after[-1:].isalpha() else STRANGE
    shown = _shown(character)
    return unicodedata.normalize("NFKC", shown) if shown else ""


_NUMBER = re.compile(r"\d+(?:[.,]\d+)*|[.,]\d+")
_WORD = re.compile(r"[^\W\d_]+(?:['\-][^\W\d_]+)*", re.UNICODE)
_SIGN = re.compile(r"->|=>|\S")


def tokenise(line: str) -> list[Token]:
    """The pieces of a prepared line in order. Numbers come without a value yet."""
    tokens: list[Token] = []
    position = 0
    while position < len(line):
        if line[position].isspace():
            position += 1
            continue
        token = _token_at(line, position, bool(tokens) and tokens[-1].end == position)
        tokens.append(token)
        position = token.end
    return tokens


def _token_at(line: str, position: int, glued: bool) -> Token:
    number = _NUMBER.match(line, position)
    if number and (number[0][0] != "," or not glued or not line[position - 1].isalnum()):
        return Token("number", number[0], position, number.end(), glued)
    word = _WORD.match(line, position)
    if word:
        return Token("word", word[0].casefold(), position, word.end(), glued)
    sign = _SIGN.match(line, position)
    end = sign.end() if sign else position + 1
    text = line[position:end]
    return Token("sign", "-" if text == "–" else text, position, end, glued)


def typed(line: str, tokens: list[Token]) -> str:
    """What stood in the line from the first of the tokens to the last."""
    return " ".join(line[tokens[0].start : tokens[-1].end].split()) if tokens else ""
