"""The house's own certificate, looked at by OpenSSL as a phone would: whom it vouches for, how long, and who may read it."""

from __future__ import annotations

import datetime as dt
import ssl
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.x509.oid import ExtendedKeyUsageOID

from dyehouse.running import certificate
from dyehouse.running.certificate import (
    HouseCertificate,
    house_certificate,
    may_be_vouched_for,
    read_authority,
)

AT_HOME = ["192.168.1.20", "dyeroom.local", "localhost", "127.0.0.1"]
TODAY = dt.datetime.now(dt.UTC)


def hands_shake(shown: HouseCertificate, trusted: Path, name: str) -> bool:
    """Whether OpenSSL, trusting one authority alone, accepts what the server shows under this name."""
    server_side = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server_side.load_cert_chain(shown.certificate, shown.key)
    phone_side = ssl.create_default_context(cafile=str(trusted))
    to_server, to_phone = ssl.MemoryBIO(), ssl.MemoryBIO()
    server = server_side.wrap_bio(to_server, to_phone, server_side=True)
    phone = phone_side.wrap_bio(to_phone, to_server, server_hostname=name)
    for _ in range(8):
        done = 0
        for side in (phone, server):
            try:
                side.do_handshake()
                done += 1
            except ssl.SSLWantReadError:
                pass
            except ssl.SSLCertVerificationError:
                return False
            except ssl.SSLError:
                pass
        if done == 2:
            return True
    return False


def leaf_of(kept: HouseCertificate) -> x509.Certificate:
    return x509.load_pem_x509_certificate(kept.certificate.read_bytes())


@pytest.mark.parametrize("name", AT_HOME)
def test_a_phone_that_trusts_the_house_accepts_every_address_it_has(tmp_path: Path, name: str):
    kept = house_certificate(tmp_path, AT_HOME)

    assert hands_shake(kept, kept.authority, name)


def test_a_phone_that_trusts_another_house_does_not(tmp_path: Path):
    kept = house_certificate(tmp_path / "ours", AT_HOME)
    other = house_certificate(tmp_path / "theirs", AT_HOME)

    assert not hands_shake(kept, other.authority, "192.168.1.20")


def test_what_the_house_does_not_have_is_not_accepted(tmp_path: Path):
    kept = house_certificate(tmp_path, AT_HOME)

    assert not hands_shake(kept, kept.authority, "192.168.1.21")


def test_the_authority_cannot_vouch_for_a_page_out_in_the_world(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(certificate, "may_be_vouched_for", lambda address: True)

    kept = house_certificate(tmp_path, ["bank.example", "8.8.8.8", "localhost"])

    assert "bank.example" in str(leaf_of(kept).extensions)
    assert not hands_shake(kept, kept.authority, "bank.example")
    assert not hands_shake(kept, kept.authority, "8.8.8.8")


@pytest.mark.parametrize(
    ("address", "may"),
    [
        ("192.168.178.20", True),
        ("10.1.2.3", True),
        ("172.31.0.9", True),
        ("[::1]", True),
        ("fe80::1", True),
        ("dyeroom.local", True),
        ("Dyeroom.fritz.lan", True),
        ("192.0.2.2", False),
        ("8.8.8.8", False),
        ("dyeroom", False),
        ("dyeroom.example", False),
        ("local.example", False),
        (".local", False),
        ("*", False),
    ],
)
def test_only_addresses_of_a_home_are_vouched_for(address: str, may: bool):
    assert may_be_vouched_for(address) is may


def test_the_authority_is_made_once_and_the_certificate_stays_while_it_fits(tmp_path: Path):
    first = house_certificate(tmp_path, AT_HOME)
    authority, leaf = first.authority.read_bytes(), first.certificate.read_bytes()

    again = house_certificate(tmp_path, reversed(AT_HOME))

    assert again.authority.read_bytes() == authority
    assert again.certificate.read_bytes() == leaf


def test_a_new_address_brings_a_new_certificate_under_the_same_authority(tmp_path: Path):
    authority = house_certificate(tmp_path, AT_HOME).authority.read_bytes()

    moved = house_certificate(tmp_path, ["192.168.7.3", "localhost"])

    assert moved.authority.read_bytes() == authority
    assert hands_shake(moved, moved.authority, "192.168.7.3")
    assert not hands_shake(moved, moved.authority, "192.168.1.20")


def test_near_its_end_the_certificate_is_made_anew(tmp_path: Path):
    first = house_certificate(tmp_path, AT_HOME, now=TODAY)
    leaf = first.certificate.read_bytes()

    assert (
        house_certificate(tmp_path, AT_HOME, now=first.until - dt.timedelta(days=46)).certificate.read_bytes()
        == leaf
    )
    later = house_certificate(tmp_path, AT_HOME, now=first.until - dt.timedelta(days=44))

    assert later.certificate.read_bytes() != leaf
    assert later.until > first.until


def test_a_spoilt_file_is_made_anew(tmp_path: Path):
    kept = house_certificate(tmp_path, AT_HOME)
    kept.certificate.write_text("not a certificate")

    assert hands_shake(house_certificate(tmp_path, AT_HOME), kept.authority, "localhost")


def test_keys_are_for_this_user_alone(tmp_path: Path):
    kept = house_certificate(tmp_path, AT_HOME)

    for key in (kept.key, kept.authority.with_suffix(".key")):
        assert key.stat().st_mode & 0o777 == 0o600
    assert kept.key.parent.stat().st_mode & 0o077 == 0


def test_phones_find_in_it_what_they_ask_for(tmp_path: Path):
    # support.apple.com/103769 and /102028: names as SAN, EKU serverAuth, SHA-2, at most 398 days; RFC 5280 4.2.1 for a CA.
    kept = house_certificate(tmp_path, AT_HOME, now=TODAY)
    leaf, authority = leaf_of(kept), read_authority(tmp_path)
    assert authority is not None

    basic = authority.extensions.get_extension_for_class(x509.BasicConstraints)
    usage = authority.extensions.get_extension_for_class(x509.KeyUsage)
    assert basic.critical
    assert basic.value.ca
    assert usage.critical
    assert usage.value.key_cert_sign
    assert leaf.not_valid_after_utc - leaf.not_valid_before_utc <= dt.timedelta(days=397)
    assert isinstance(leaf.signature_hash_algorithm, hashes.SHA256)
    assert (
        ExtendedKeyUsageOID.SERVER_AUTH
        in leaf.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    )
    assert not leaf.extensions.get_extension_for_class(x509.BasicConstraints).value.ca
