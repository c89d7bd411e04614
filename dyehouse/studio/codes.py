"""Short codes that can be read aloud, written on a wet tag and typed with wet gloves.

A payload without 0, O, 1 and I, and a check character by ISO/IEC 7064 MOD 37,36. The check character ranges over
all 36 characters, so payloads whose check would be one of those four are not used.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable

from django.db import IntegrityError, transaction

from dyehouse.studio.models import ShortCode

ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
CLEAR = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
CONFUSED = frozenset("0O1I")
PAYLOAD_LENGTH = 4


def check_character(payload: str) -> str:
    """The ISO/IEC 7064 MOD 37,36 check character of a payload of 0-9 and A-Z.

    Hybrid system: P starts at 36; each character's value is added modulo 36 (0 counting as 36) and doubled modulo 37.
    Raises ValueError on a character outside the alphabet.
    """
    product = 36
    for character in payload:
        total = (product + ALPHABET.index(character)) % 36 or 36
        product = total * 2 % 37
    return ALPHABET[(37 - product) % 36]


def is_valid(code: str) -> bool:
    """Whether the last character is the check character of those before it."""
    if len(code) < 2 or any(character not in ALPHABET for character in code):
        return False
    return check_character(code[:-1]) == code[-1]


def tidy(typed: str) -> str:
    """A typed or scanned code as it is stored: upper case, without spaces and dashes."""
    return "".join(typed.upper().split()).replace("-", "")


def make_code(choose: Callable[[str], str] = secrets.choice) -> str:
    """One code, not yet taken. `choose` picks a character from a string; a seeded one makes the demo the same each time."""
    while True:
        payload = "".join(choose(CLEAR) for _ in range(PAYLOAD_LENGTH))
        check = check_character(payload)
        if check not in CONFUSED:
            return payload + check


def take_code(choose: Callable[[str], str] = secrets.choice) -> str:
    """A code nobody else has, taken for good."""
    while True:
        code = make_code(choose)
        try:
            with transaction.atomic():
                ShortCode.objects.create(code=code)
        except IntegrityError:
            continue
        return code


def take_codes(count: int, choose: Callable[[str], str] = secrets.choice) -> list[str]:
    """So many codes that nobody else has, taken for good in a few queries."""
    taken: list[str] = []
    while len(taken) < count:
        wanted = {make_code(choose): None for _ in range(count - len(taken))}
        known = set(ShortCode.objects.filter(code__in=wanted).values_list("code", flat=True))
        fresh = [code for code in wanted if code not in known]
        try:
            with transaction.atomic():
                ShortCode.objects.bulk_create(ShortCode(code=code) for code in fresh)
        except IntegrityError:
            # Somebody took one of them meanwhile; the next round draws others.
            continue
        taken += fresh
    return taken
