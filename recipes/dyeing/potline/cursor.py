"""A place in a clause, moving over its tokens as they are understood."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass

from recipes.dyeing.potline.tokens import Token, typed


@dataclass(slots=True)
class Cursor:
    """Reads tokens left to right. Every `take_` moves on only when it finds what it looks for."""

    line: str
    tokens: list[Token]
    index: int = 0

    @property
    def at_end(self) -> bool:
        return self.index >= len(self.tokens)

    def peek(self, ahead: int = 0) -> Token | None:
        place = self.index + ahead
        return self.tokens[place] if place < len(self.tokens) else None

    def sees_word(self, among: Container[str], ahead: int = 0) -> bool:
        token = self.peek(ahead)
        return token is not None and token.kind == "word" and token.text in among

    def sees_sign(self, *signs: str) -> bool:
        token = self.peek()
        return token is not None and token.is_sign(*signs)

    def take_word(self, *words: str) -> bool:
        return self._move(self.sees_word(words))

    def take_sign(self, *signs: str) -> bool:
        return self._move(self.sees_sign(*signs))

    def take_words(self, among: Container[str]) -> int:
        """Passes over all words from here that are among these; how many they were."""
        start = self.index
        while self.sees_word(among):
            self.index += 1
        return self.index - start

    def take_phrase(self, phrase: str) -> bool:
        """Passes over the words of the phrase if all of them stand here."""
        wanted = phrase.split()
        found = all(self.sees_word((word,), ahead) for ahead, word in enumerate(wanted))
        return self._move(found, len(wanted))

    def take_number(self) -> Token | None:
        token = self.peek()
        if token is None or token.kind != "number":
            return None
        self.index += 1
        return token

    def typed_since(self, start: int) -> str:
        """What stood in the line from token `start` to here."""
        return typed(self.line, self.tokens[start : self.index])

    def _move(self, found: bool, steps: int = 1) -> bool:
        self.index += steps if found else 0
        return found
