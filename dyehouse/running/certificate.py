"""The house's own certificate: an authority made once, which a phone is told to trust, and a short-lived certificate
for the addresses the house has now.

The authority may vouch for addresses of a private network and names under a few home endings alone (RFC 5280, 4.2.1.10),
so that a phone that trusts it is never open to a stranger's page, even if the data folder got lost.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import ipaddress
import os
import secrets
import socket
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

AUTHORITY_YEARS = 10
# Phones accept a year and a month at most from any authority that comes with them; the house keeps to it as well.
LEAF_DAYS = 396
RENEW_DAYS_BEFORE = 45
# A phone whose clock is behind, or was never set, still takes it.
BACKDATED = dt.timedelta(days=1)
NETWORKS = [
    ipaddress.ip_network(each)
    for each in (
        "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "100.64.0.0/10", "169.254.0.0/16", "127.0.0.0/8",
        "fc00::/7", "fe80::/10", "::1/128",
    )
]  # fmt: skip
ENDINGS = ("localhost", "local", "lan", "home", "home.arpa", "internal")


@dataclass(frozen=True, slots=True)
class HouseCertificate:
    """Where the files lie: what a phone is to trust, and what the server shows and keeps to itself."""

    authority: Path
    certificate: Path
    key: Path
    until: dt.datetime


def certificate_folder(data: Path) -> Path:
    """Where the certificates lie, in the data folder."""
    return data / "https"


def authority_path(data: Path) -> Path:
    """The public certificate of the house's authority; there once the house was first opened to phones."""
    return certificate_folder(data) / "house.pem"


def may_be_vouched_for(address: str) -> bool:
    """Whether the house's authority may name this address: on a private network, or under a home ending."""
    try:
        number = ipaddress.ip_address(address.strip("[]"))
    except ValueError:
        name = address.lower().rstrip(".")
        whole = not name.startswith(".") and "*" not in name
        return whole and any(name == ending or name.endswith("." + ending) for ending in ENDINGS)
    return any(number in network for network in NETWORKS)


def house_certificate(
    data: Path, addresses: Iterable[str], *, now: dt.datetime | None = None
) -> HouseCertificate:
    """The certificate for these addresses: the one that is there while it covers them and lasts, else a new one.

    Addresses that the authority may not vouch for are left out. The authority is made on the first call and kept.
    """
    at = now or dt.datetime.now(dt.UTC)
    folder = certificate_folder(data)
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    authority, authority_key = _authority(folder, at)
    wanted = sorted({each.strip("[]").lower() for each in addresses if may_be_vouched_for(each)})
    path, key_path = folder / "server.pem", folder / "server.key"
    there = _kept_leaf(path, key_path)
    if there is None or not _still_good(there, authority, wanted, at):
        there = _make_leaf(path, key_path, authority, authority_key, wanted, at)
    return HouseCertificate(
        authority=folder / "house.pem", certificate=path, key=key_path, until=there.not_valid_after_utc
    )


def fingerprint_words(authority: x509.Certificate) -> str:
    """The SHA-256 of a certificate as phones show it, to compare by eye."""
    digest = authority.fingerprint(hashes.SHA256()).hex().upper()
    return " ".join(digest[start : start + 2] for start in range(0, len(digest), 2))


def read_authority(data: Path) -> x509.Certificate | None:
    """The house's authority, None where it was never made."""
    with contextlib.suppress(OSError, ValueError):
        return x509.load_pem_x509_certificate(authority_path(data).read_bytes())
    return None


# --- The authority ---------------------------------------------------------------------------------------------------


def _authority(folder: Path, at: dt.datetime) -> tuple[x509.Certificate, ec.EllipticCurvePrivateKey]:
    path, key_path = folder / "house.pem", folder / "house.key"
    with contextlib.suppress(OSError, ValueError):
        made = x509.load_pem_x509_certificate(path.read_bytes())
        key = _read_key(key_path)
        if made.public_key() == key.public_key() and made.not_valid_after_utc > at + dt.timedelta(
            days=LEAF_DAYS
        ):
            return made, key
    key = ec.generate_private_key(ec.SECP256R1())
    # Two houses in one street must be told apart in a phone's list.
    name = f"Dyehouse {socket.gethostname().split('.')[0][:30]} {secrets.token_hex(2)}"
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])
    limits: list[x509.GeneralName] = [x509.DNSName(ending) for ending in ENDINGS]
    limits += [x509.IPAddress(network) for network in NETWORKS]
    made = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(at - BACKDATED)
        .not_valid_after(at + dt.timedelta(days=365 * AUTHORITY_YEARS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_key_usage(key_cert_sign=True, crl_sign=True), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(x509.NameConstraints(permitted_subtrees=limits, excluded_subtrees=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    _write(key_path, _key_bytes(key))
    _write(path, made.public_bytes(serialization.Encoding.PEM))
    return made, key


# --- The server's own ------------------------------------------------------------------------------------------------


def _kept_leaf(path: Path, key_path: Path) -> x509.Certificate | None:
    with contextlib.suppress(OSError, ValueError):
        leaf = x509.load_pem_x509_certificate(path.read_bytes())
        if leaf.public_key() == _read_key(key_path).public_key():
            return leaf
    return None


def _still_good(
    leaf: x509.Certificate, authority: x509.Certificate, wanted: list[str], at: dt.datetime
) -> bool:
    try:
        leaf.verify_directly_issued_by(authority)
    except (ValueError, TypeError, InvalidSignature):
        return False
    names = leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    has = {str(number) for number in names.get_values_for_type(x509.IPAddress)}
    has |= set(names.get_values_for_type(x509.DNSName))
    lasts = leaf.not_valid_before_utc <= at < leaf.not_valid_after_utc - dt.timedelta(days=RENEW_DAYS_BEFORE)
    return lasts and has == set(wanted)


def _make_leaf(
    path: Path,
    key_path: Path,
    authority: x509.Certificate,
    authority_key: ec.EllipticCurvePrivateKey,
    wanted: list[str],
    at: dt.datetime,
) -> x509.Certificate:
    key = ec.generate_private_key(ec.SECP256R1())
    leaf = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Dyehouse")]))
        .issuer_name(authority.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(at - BACKDATED)
        .not_valid_after(at - BACKDATED + dt.timedelta(days=LEAF_DAYS))
        .add_extension(x509.SubjectAlternativeName([_general_name(each) for each in wanted]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_key_usage(digital_signature=True), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(authority_key.public_key()), critical=False
        )
        .sign(authority_key, hashes.SHA256())
    )
    _write(key_path, _key_bytes(key))
    _write(path, leaf.public_bytes(serialization.Encoding.PEM))
    return leaf


def _general_name(address: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(address))
    except ValueError:
        return x509.DNSName(address)


def _key_usage(**allowed: bool) -> x509.KeyUsage:
    nothing = dict.fromkeys(
        (
            "digital_signature", "content_commitment", "key_encipherment", "data_encipherment",
            "key_agreement", "key_cert_sign", "crl_sign", "encipher_only", "decipher_only",
        ),
        False,
    )  # fmt: skip
    return x509.KeyUsage(**{**nothing, **allowed})


# --- Files -----------------------------------------------------------------------------------------------------------


def _read_key(path: Path) -> ec.EllipticCurvePrivateKey:
    key = serialization.load_pem_private_key(path.read_bytes(), password=None)
    if not isinstance(key, ec.EllipticCurvePrivateKey):
        raise ValueError(f"{path} is no key of the house's kind.")
    return key


def _key_bytes(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )


def _write(path: Path, content: bytes) -> None:
    """Write a file that only this user of the machine may read, whole or not at all."""
    fresh = path.with_name(path.name + ".new")
    fresh.unlink(missing_ok=True)
    descriptor = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "wb") as handle:
        handle.write(content)
        handle.flush()
        os.fsync(handle.fileno())
    fresh.replace(path)
