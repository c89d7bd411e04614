"""The page a phone opens before it is let in: steps, files, and whether there is anything to trust at all."""

from __future__ import annotations

import plistlib
from pathlib import Path

import pytest
from cryptography import x509
from django.test import Client
from django.urls import reverse

from dyehouse.running.certificate import house_certificate, read_authority

pytestmark = pytest.mark.django_db

HOST = "192.168.1.20"


@pytest.fixture
def opened(settings, tmp_path: Path) -> Path:
    """A house that was opened to phones."""
    house_certificate(tmp_path, [HOST])
    settings.DATA = tmp_path
    settings.ALLOWED_HOSTS = [HOST, "testserver", "house.example"]
    settings.PHONES_HTTP, settings.PHONES_HTTPS_PORT = f"http://{HOST}:8620/", "8621"
    return tmp_path


def test_anybody_on_the_network_is_shown_the_steps_for_both_kinds_of_phone(client: Client, opened: Path):
    page = client.get(reverse("phone"), headers={"Host": f"{HOST}:8620"})
    words = page.content.decode()

    assert page.status_code == 200
    for said in (
        "Certificate Trust Settings",
        "Remove Profile",
        "CA certificate",
        "User credentials",
        "Install anyway",
    ):
        assert said in words
    assert f'data-https="https://{HOST}:8621/"' in words
    assert f"connect-src 'self' https://{HOST}:8621" in page["Content-Security-Policy"]


@pytest.mark.parametrize(
    ("agent", "iphone", "android"),
    [
        ("Mozilla/5.0 (iPhone; CPU iPhone OS 18_0 like Mac OS X)", True, False),
        ("Mozilla/5.0 (Linux; Android 15; Pixel)", False, True),
        ("something else", True, True),
    ],
)
def test_the_steps_of_the_phone_in_the_hand_are_open(
    client: Client, opened: Path, agent: str, iphone: bool, android: bool
):
    words = client.get(reverse("phone"), headers={"Host": HOST, "User-Agent": agent}).content.decode()

    assert ("open><summary>iPhone and iPad" in words) is iphone
    assert ("open><summary>Android" in words) is android


def test_a_phone_that_can_reach_the_house_by_its_name_is_led_there(client: Client, opened: Path, settings):
    settings.PHONES_NAME = "dyeroom.local"

    page = client.get(reverse("phone"), headers={"Host": HOST})

    assert 'data-by-name="https://dyeroom.local:8621/"' in page.content.decode()
    assert "https://dyeroom.local:8621" in page["Content-Security-Policy"]


def test_an_address_the_house_may_not_vouch_for_is_offered_no_https(client: Client, opened: Path):
    words = client.get(reverse("phone"), headers={"Host": "house.example"}).content.decode()

    assert "without HTTPS only" in words
    assert 'data-https=""' in words


def test_a_house_that_was_never_opened_to_phones_says_how(client: Client, settings, tmp_path: Path):
    settings.DATA, settings.PHONES_HTTPS_PORT = tmp_path, ""

    assert "started with <code>--lan</code>" in client.get(reverse("phone")).content.decode()
    assert client.get(reverse("phone-certificate"))["Location"] == reverse("phone")


def test_behind_a_proxy_with_https_of_its_own_there_is_nothing_to_trust(
    client: Client, settings, tmp_path: Path
):
    settings.DATA, settings.PHONES_HTTPS_PORT = tmp_path, ""

    words = client.get(reverse("phone"), secure=True).content.decode()

    assert "There is nothing to do here." in words
    assert "Trust the house once" not in words


def test_android_gets_the_certificate_as_a_file(client: Client, opened: Path):
    served = client.get(reverse("phone-certificate"))

    assert served["Content-Type"] == "application/x-x509-ca-cert"
    assert served["Content-Disposition"] == 'attachment; filename="dyehouse.crt"'
    assert x509.load_der_x509_certificate(served.content) == read_authority(opened)


def test_the_iphone_gets_a_profile_with_the_same_certificate_and_nothing_else(client: Client, opened: Path):
    # developer.apple.com, Device Management: CertificateRoot, TopLevel.
    served = client.get(reverse("phone-profile"))
    profile = plistlib.loads(served.content)
    [payload] = profile["PayloadContent"]

    assert served["Content-Type"] == "application/x-apple-aspen-config"
    assert (profile["PayloadType"], payload["PayloadType"]) == ("Configuration", "com.apple.security.root")
    assert x509.load_der_x509_certificate(payload["PayloadContent"]) == read_authority(opened)
    assert profile["PayloadRemovalDisallowed"] is False
    assert client.get(reverse("phone-profile")).content == served.content


def test_no_private_key_is_ever_served(client: Client, opened: Path):
    for name in ("phone", "phone-certificate", "phone-profile"):
        assert b"PRIVATE KEY" not in client.get(reverse(name), headers={"Host": HOST}).content
