"""The words that techniques are told in at the pot: verbs with their slugs, and what may stand beside them."""

from __future__ import annotations

from fractions import Fraction

from recipes.dyeing.potline.vocabulary import words_of

VERBS: dict[str, str] = {
    word: slug
    for slug, said in {
        "dip": "dip dipped dipping dip-dye dip-dyed",
        "hand_paint": "paint painted painting handpaint handpainted handpainting hand-paint hand-painted",
        "speckle": "speckle speckled speckling sprinkled",
        "wrap": "wrap wrapped wrapping",
        "steam": "steam steamed steaming",
        "hold": "hold held holding",
        "enter": "enter entered entering",
        "lift": "lift lifted lifting",
        "resist": "resist resisted",
        "glaze": "glaze glazed glazing",
        "overdye": "overdye overdyed overdyeing over-dye over-dyed",
        "immersion": "immersion immersed",
        "low_immersion": "low-immersion",
    }.items()
    for word in said.split()
}
PHRASES: dict[str, str] = {
    "dip dye": "dip",
    "dip dyed": "dip",
    "hand paint": "hand_paint",
    "hand painted": "hand_paint",
    "hand painting": "hand_paint",
    "low immersion": "low_immersion",
    "low water immersion": "low_immersion",
    "full immersion": "immersion",
    "over dye": "overdye",
    "over dyed": "overdye",
}
#: Verbs that stand before an amount and tell how it was put on.
PUT_ON = ("hand_paint", "speckle", "glaze", "overdye")
BEFORE_VERBS = words_of("and then now ok okay so just i i've we we've have ive also the lightly")
#: Words that say nothing more than the verb does.
FILLERS = words_of(
    "the it them everything all over on now again well tightly lightly gently too also yarn up for"
)
HANKS = words_of("hank hanks skein skeins mini minis one")
OUT_OR_IN = {"enter": ("in", "into"), "lift": ("out", "up")}
SECONDS = words_of("s sec secs second seconds")
MINUTES = words_of("min mins minute minutes")
HOURS = words_of("h hr hrs hour hours")
INTO_BATH = ("the bath", "the pot", "the dyebath", "bath", "pot", "the dye", "the steamer", "the water")
PARTS_OF_HANK = frozenset((Fraction(1, 2), Fraction(1, 3), Fraction(2, 3), Fraction(1, 4), Fraction(3, 4)))
