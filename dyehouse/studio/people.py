"""Who may sign in: the owner lets people in, gives them a part, and lets them go. Nobody is ever deleted, because what
they did stays under their name."""

from __future__ import annotations

from django.contrib.auth.password_validation import validate_password
from django.db import transaction

from dyehouse.studio.models import User
from dyehouse.studio.phones import end_phones_of
from dyehouse.studio.refusals import Refused


class NameTaken(Refused):
    """Somebody signs in by that name already."""


class LastOwner(Refused):
    """The house would be left without anybody who can open everything."""


@transaction.atomic
def add_person(*, username: str, called: str, role: str, password: str) -> User:
    """Let somebody sign in. Raises NameTaken, and ValidationError for a password that is too easy."""
    name = username.strip()
    if User.objects.filter(username__iexact=name).exists():
        raise NameTaken(f"Somebody signs in as {name} already. Choose another sign-in name.")
    person = User(username=name, called=called.strip(), role=role)
    validate_password(password, person)
    person.set_password(password)
    person.save()
    return person


@transaction.atomic
def change_person(*, person: User, called: str, role: str) -> User:
    """Call somebody otherwise or give them the other part. Raises LastOwner."""
    if person.is_owner and role != User.Role.OWNER:
        _keep_an_owner(person)
    person.called, person.role = called.strip(), role
    person.save(update_fields=["called", "role"])
    return person


@transaction.atomic
def give_password(*, person: User, password: str) -> User:
    """A new password, which also ends every session that the old one began, on paired phones too.

    Raises ValidationError when too easy.
    """
    validate_password(password, person)
    person.set_password(password)
    person.save(update_fields=["password"])
    end_phones_of(person=person)
    return person


@transaction.atomic
def let_go(*, person: User) -> User:
    """From now on they cannot sign in, nor come in by a phone; what they did stays under their name. Raises LastOwner."""
    if person.is_owner:
        _keep_an_owner(person)
    person.is_active = False
    person.save(update_fields=["is_active"])
    end_phones_of(person=person)
    return person


@transaction.atomic
def take_back(*, person: User) -> User:
    """They can sign in again, with the password they had."""
    person.is_active = True
    person.save(update_fields=["is_active"])
    return person


def _keep_an_owner(person: User) -> None:
    others = (
        User.objects.select_for_update(no_key=True)
        .filter(role=User.Role.OWNER, is_active=True)
        .exclude(pk=person.pk)
    )
    if not others:
        raise LastOwner(f"{person} is the only owner. Make somebody else an owner first.")
