"""The studio's own things by their names, and which of them a typed name may mean."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from functools import lru_cache

from recipes.dyeing.potline import vocabulary as words
from recipes.dyeing.potline.reading import Known, KnownKind
from recipes.dyeing.potline.tokens import Token, prepare, tokenise

Name = tuple[str, ...]


def name_words(name: str) -> Name:
    """A name as it is compared: lower case, its words and numbers, a strength at its end left off."""
    pieces = [part for token in tokenise(prepare(name)) for part in token.text.replace("'", "").split("-")]
    while len(pieces) > 1 and pieces[-1] in ("stock", "solution"):
        pieces.pop()
    if len(pieces) > 2 and pieces[-1] in ("%", "percent"):
        pieces = pieces[:-2]
    return tuple(piece for piece in pieces if piece[:1].isalnum())


@dataclass(frozen=True, slots=True)
class Found:
    """What a name was found to mean; not `certain` when it is only nearly spelled so."""

    things: tuple[Known, ...] = ()
    certain: bool = True


class Bench:
    """The things that a pot line may name, ready to be looked up."""

    def __init__(self, known: Iterable[Known]) -> None:
        self.things: tuple[Known, ...] = tuple(known)
        self._names = {thing: _names_of(thing) for thing in self.things}
        self._exactly: dict[Name, list[Known]] = {}
        for thing, names in self._names.items():
            for name in names:
                self._exactly.setdefault(name, []).append(thing)
        self.words = frozenset(word for name in self._exactly for word in name)
        self._joined = sorted((name for name in self._exactly if _needs_joining(name)), key=len, reverse=True)

    def named_exactly(self, name: Name) -> list[Known]:
        return self._exactly.get(name, [])

    def find(self, name: str, kinds: Collection[KnownKind] = ()) -> Found:
        """What a typed name may mean, among all kinds or these.

        The things exactly so named; else those that hold all its words; else those begun or nearly spelled so.
        """
        wanted = name_words(name)
        if not wanted:
            return Found()
        exact = tuple(thing for thing in self.named_exactly(wanted) if not kinds or thing.kind in kinds)
        if exact:
            return Found(exact)
        among = [(thing, names) for thing, names in self._names.items() if not kinds or thing.kind in kinds]
        if len(wanted) == 1 and wanted[0] in words.BROAD_AUXILIARIES:
            broad = words.BROAD_AUXILIARIES[wanted[0]]
            meant = (t for t, names in among if t.kind == "auxiliary" and any(broad & set(n) for n in names))
            return Found(tuple(meant))
        if self.words.issuperset(wanted):
            holding = tuple(thing for thing, names in among if any(_holds(n, wanted) for n in names))
            if holding:
                return Found(holding)
        near = tuple(thing for thing, names in among if any(_near(n, wanted) for n in names))
        return Found(near, certain=False)

    def kinds_named(self, name: str) -> frozenset[KnownKind]:
        """The kinds of the things that a name certainly means."""
        found = self.find(name)
        return frozenset(thing.kind for thing in found.things) if found.certain else frozenset()

    def join_names(self, tokens: list[Token]) -> list[Token]:
        """The tokens with each name that the grammar could stumble over as one token, the longest first.

        So a number, an "and" or a hyphen within a name is no longer an amount or the start of something else. A name
        that ends in a number is left alone before a measure: "blue 25 ml" is 25 ml. A name of one word that is
        otherwise a word of the log ("clear") is a name only after a measure.
        """
        if not self._joined:
            return tokens
        joined: list[Token] = []
        index = 0
        while index < len(tokens):
            following = next((end for name in self._joined if (end := _end_of(tokens, index, name))), 0)
            if following:
                text = " ".join(token.text for token in tokens[index:following])
                first = tokens[index]
                joined.append(Token("name", text, first.start, tokens[following - 1].end, first.glued))
            else:
                joined.append(tokens[index])
            index = following or index + 1
        return joined


@lru_cache(maxsize=16)
def bench_of(known: tuple[Known, ...]) -> Bench:
    """The bench for these things; kept, because a line is read anew at every pause in typing."""
    return Bench(known)


def _names_of(known: Known) -> tuple[Name, ...]:
    found = (name_words(name) for name in (known.name, *known.other_names))
    return tuple(dict.fromkeys(name for name in found if name))


def _needs_joining(name: Name) -> bool:
    return name[0] in words.JUGS or any(not word.isalpha() or word in words.RESERVED for word in name)


def _end_of(tokens: list[Token], index: int, name: Name) -> int:
    """Where the name ends if it stands here, else 0. Signs between its words are passed over."""
    if len(name) == 1 and name[0] not in words.UNLIKELY_NAMES and not _after_measure(tokens, index):
        return 0
    for place, word in enumerate(name):
        while place and index < len(tokens) and tokens[index].kind == "sign" and tokens[index].text != "%":
            index += 1
        if index >= len(tokens) or tokens[index].text.replace("'", "") != word:
            return 0
        index += 1
    if name[-1][0].isdigit() and index < len(tokens):
        after = tokens[index]
        measured = after.text in words.MEASURES or after.text in ("fl", "fluid", "percent")
        if measured or after.glued or after.is_sign("%"):
            return 0
    return index


def _after_measure(tokens: list[Token], index: int) -> bool:
    before = tokens[index - 1] if index else None
    return before is not None and (
        before.text in words.MEASURES or before.is_word("of") or before.is_sign("%")
    )


def _holds(name: Name, wanted: Name) -> bool:
    rest = iter(name)
    return all(word in rest for word in wanted)


def _near(name: Name, wanted: Name) -> bool:
    """Whether each wanted word begins a word of the name, or differs from it by one letter."""
    rest = iter(name)
    return all(any(_begins(whole, word) or _one_letter_off(whole, word) for whole in rest) for word in wanted)


def _begins(whole: str, word: str) -> bool:
    return whole == word or (len(word) >= 3 and whole.startswith(word))


def _one_letter_off(whole: str, word: str) -> bool:
    """One letter changed, left out, added, or two neighbours swapped, in words of five letters and more."""
    shorter = min(len(whole), len(word))
    if shorter < 5 or abs(len(whole) - len(word)) > 1 or not (whole + word).isalpha():
        return False
    shared = next((place for place in range(shorter) if whole[place] != word[place]), shorter)
    rest, other = whole[shared:], word[shared:]
    changed = rest[1:] == other[1:] or rest[1:] == other or rest == other[1:]
    swapped = rest[:2] == other[:2][::-1] and rest[2:] == other[2:]
    return changed or swapped
