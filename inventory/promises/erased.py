"""Marks of who was erased: digests of e-mail addresses, in the database and beside it, so that nobody comes back unseen.

The list beside the database is what an older copy of the database does not undo. A digest is made with the house's own
secret, so that nobody can try out addresses on it.
"""

from __future__ import annotations

import hashlib
import hmac
from collections.abc import Iterable
from pathlib import Path

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from inventory.promises.models import ErasedMark, Person


def folded(email: str) -> str:
    """An e-mail address as it is kept and compared: without spaces, its case folded."""
    return "".join(email.split()).casefold()


def digest_of(email: str) -> str:
    """What stands for an e-mail address once it is erased."""
    return hmac.new(settings.SECRET_KEY.encode(), folded(email).encode(), hashlib.sha256).hexdigest()


def marks_file() -> Path:
    """The list beside the database, in the data folder: a digest a line."""
    return Path(settings.DATA) / "erased.txt"


def _beside() -> set[str]:
    file = marks_file()
    return set(file.read_text(encoding="ascii").split()) if file.exists() else set()


def _write_beside(digests: set[str]) -> None:
    file = marks_file()
    unfinished = file.with_suffix(".unfinished")
    unfinished.write_text("".join(f"{digest}\n" for digest in sorted(digests)), encoding="ascii")
    unfinished.replace(file)


def all_marks() -> set[str]:
    """The digests of everybody who was erased, to be asked many times. One query."""
    return _beside() | set(ErasedMark.objects.values_list("digest", flat=True))


def was_erased(email: str) -> bool:
    """Whether somebody with this address was erased; such a person does not come back by a file."""
    if not email:
        return False
    digest = digest_of(email)
    return ErasedMark.objects.filter(digest=digest).exists() or digest in _beside()


def mark(emails: Iterable[str]) -> None:
    """Keep that these addresses were erased; beside the database too, once what is being done is done."""
    digests = {digest_of(email) for email in emails if email}
    for digest in digests:
        ErasedMark.objects.get_or_create(digest=digest, defaults={"erased_at": timezone.now()})
    if digests:
        transaction.on_commit(lambda: _write_beside(_beside() | digests))


def unmark(email: str) -> None:
    """Forget the mark of somebody who came back of their own accord."""
    digest = digest_of(email)
    ErasedMark.objects.filter(digest=digest).delete()
    if digest in _beside():
        transaction.on_commit(lambda: _write_beside(_beside() - {digest}))


def came_back_unasked() -> list[Person]:
    """Who was erased and is here again, as after going back to an older copy of the house. One query at most."""
    beside = _beside()
    if not beside:
        return []
    people = (
        Person.objects.filter(erased_at=None).exclude(email="").select_related("merged_into").order_by("pk")
    )
    return [person for person in people if digest_of(person.email) in beside]
