"""A refusal of the house is shown beside the field it is about."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django import forms

from dyehouse.studio.refusals import Refused


@contextmanager
def refusals_beside(
    form: forms.Form, field: str | None = None, **fields: type[Refused] | tuple[type[Refused], ...]
) -> Iterator[None]:
    """Run an operation; what it refuses becomes an error of the form.

    `fields` names which refusals belong beside which field (`label=JarTaken`); all others stand beside `field`, or above
    the form when it is None.
    """
    try:
        yield
    except Refused as refused:
        beside = next((name for name, kinds in fields.items() if isinstance(refused, kinds)), field)
        form.add_error(beside, str(refused))
