"""Every address of the house, opened by the owner, by a helper, and by nobody."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from tests import factories
from tests.addresses import ANSWERS_OTHERWISE, WITH_PARTS

RULES = {"anybody", "helper", "owner"}
OPENED = {200, 302, 303, 405}


def walk(resolver: URLResolver, before: str = "") -> Iterator[tuple[str, URLPattern]]:
    for pattern in resolver.url_patterns:
        if isinstance(pattern, URLResolver):
            yield from walk(pattern, before + str(pattern.pattern))
        else:
            yield before + str(pattern.pattern), pattern


ADDRESSES = list(walk(get_resolver()))
NAMES = [pattern.name for _, pattern in ADDRESSES]


def address(pattern: URLPattern) -> str:
    if not pattern.pattern.converters:
        return reverse(pattern.name)
    assert pattern.name in WITH_PARTS, f"Say in tests/addresses.py how to open {pattern.name}."
    return reverse(pattern.name, kwargs=WITH_PARTS[pattern.name]())


def leads_to_sign_in(response) -> bool:
    return response.status_code == 302 and response["Location"].startswith(reverse("sign-in") + "?next=")


def test_no_two_addresses_share_a_name():
    assert sorted(NAMES) == sorted(set(NAMES))


def test_every_view_says_who_may_open_it():
    ruled = {f"/{path}": getattr(pattern.callback, "rule", None) for path, pattern in ADDRESSES}

    assert {path: rule for path, rule in ruled.items() if rule not in RULES} == {}


@pytest.mark.django_db
@pytest.mark.parametrize("pattern", [pattern for _, pattern in ADDRESSES], ids=[str(name) for name in NAMES])
def test_the_address_opens_to_whom_its_rule_says_and_to_nobody_else(pattern: URLPattern):
    factories.studio()
    where, rule = address(pattern), pattern.callback.rule
    owner, helper, nobody = Client(), Client(), Client()
    owner.force_login(factories.OwnerFactory())
    helper.force_login(factories.HelperFactory())
    opened = {ANSWERS_OTHERWISE[pattern.name]} if pattern.name in ANSWERS_OTHERWISE else OPENED

    for_nobody, for_helper, for_owner = nobody.get(where), helper.get(where), owner.get(where)

    if rule == "anybody":
        assert for_nobody.status_code in opened
        assert not leads_to_sign_in(for_nobody)
    else:
        assert leads_to_sign_in(for_nobody)
        assert leads_to_sign_in(nobody.post(where)), "posted to without signing in"
    assert for_helper.status_code == 403 if rule == "owner" else for_helper.status_code in opened
    assert for_owner.status_code in opened
