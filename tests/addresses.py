"""How to open the addresses that want something in their path: pattern name -> a function that makes its parts.

Every such address of the house stands here once, in the section of its room; the walk over all addresses
(tests/dyehouse/studio/test_every_address.py) fails on one that does not.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from tests import factories

WITH_PARTS: dict[str, Callable[[], dict[str, Any]]] = {}

# What the address answers to somebody who may open it, where that is not a page, a redirect or "POST only".
ANSWERS_OTHERWISE: dict[str, int] = {
    "look": 404,  # only where DEBUG is on
}

# --- Studio -----------------------------------------------------------------------------------------------------------


def _somebody() -> dict[str, Any]:
    return {"username": factories.HelperFactory().username}


WITH_PARTS |= {"person": _somebody, "person-password": _somebody, "person-may-sign-in": _somebody}
