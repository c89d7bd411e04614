"""What a phone is told before it comes in: how to trust the house's own certificate, how to undo it, and whether it does."""

from __future__ import annotations

import plistlib
import uuid
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding
from cryptography.x509.oid import NameOID
from csp.decorators import csp_update
from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.http.request import split_domain_port
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from dyehouse.running.certificate import fingerprint_words, may_be_vouched_for, read_authority
from dyehouse.studio.access import anybody


@anybody
@require_GET
@never_cache
def phone(request: HttpRequest) -> HttpResponseBase:
    """The page that the square in the terminal leads to. It asks the HTTPS side whether this phone trusts it."""
    authority = read_authority(Path(settings.DATA))
    host = split_domain_port(request.get_host())[0]
    over_https = _https_address(host) if authority is not None else ""
    # A name outlives the address that a network hands out, so a phone that can reach it is led there.
    by_name = _https_address(settings.PHONES_NAME) if over_https and host != settings.PHONES_NAME else ""
    agent = request.headers.get("User-Agent", "")
    context = {
        "https": over_https,
        "by_name": by_name,
        "over_own_https": settings.OWN_HTTPS,
        "secure": request.is_secure(),
        "authority": _name_of(authority) if authority is not None else "",
        "fingerprint": fingerprint_words(authority) if authority is not None else "",
        "iphone": any(word in agent for word in ("iPhone", "iPad", "iPod")),
        "android": "Android" in agent,
    }

    def page(request: HttpRequest) -> HttpResponse:
        return render(request, "running/phone.html", context)

    if not over_https:
        return page(request)
    asked = [each.rstrip("/") for each in (over_https, by_name) if each]
    return csp_update({"connect-src": asked})(page)(request)


@anybody
@require_GET
def phone_certificate(request: HttpRequest) -> HttpResponse:
    """The house's public certificate as a file, as an Android phone and a computer take it."""
    authority = read_authority(Path(settings.DATA))
    if authority is None:
        return redirect("phone")
    served = HttpResponse(authority.public_bytes(Encoding.DER), content_type="application/x-x509-ca-cert")
    served["Content-Disposition"] = 'attachment; filename="dyehouse.crt"'
    return served


@anybody
@require_GET
def phone_profile(request: HttpRequest) -> HttpResponse:
    """The same as a profile, as an iPhone or iPad takes it: with a name that is found again when it is to go."""
    authority = read_authority(Path(settings.DATA))
    if authority is None:
        return redirect("phone")
    der, name = authority.public_bytes(Encoding.DER), _name_of(authority)

    def numbered(what: str) -> str:
        # The same house gives the same profile, so that taking it twice replaces it.
        return str(uuid.uuid5(uuid.NAMESPACE_OID, f"{what} {der.hex()}")).upper()

    profile = {
        "PayloadType": "Configuration",
        "PayloadVersion": 1,
        "PayloadIdentifier": "dyehouse.phone",
        "PayloadUUID": numbered("profile"),
        "PayloadDisplayName": name,
        "PayloadDescription": "Lets this phone open the dye house in the same network without a warning.",
        "PayloadRemovalDisallowed": False,
        "PayloadContent": [
            {
                "PayloadType": "com.apple.security.root",
                "PayloadVersion": 1,
                "PayloadIdentifier": "dyehouse.phone.certificate",
                "PayloadUUID": numbered("certificate"),
                "PayloadDisplayName": name,
                "PayloadCertificateFileName": "dyehouse.crt",
                "PayloadContent": der,
            }
        ],
    }
    return HttpResponse(plistlib.dumps(profile), content_type="application/x-apple-aspen-config")


def _name_of(authority: x509.Certificate) -> str:
    return str(authority.subject.get_attributes_for_oid(NameOID.COMMON_NAME)[0].value)


def _https_address(host: str) -> str:
    """Where a host of this house answers over HTTPS with the house's certificate; empty where it does not."""
    known = settings.PHONES_HTTPS_PORT and host and may_be_vouched_for(host)
    return f"https://{host}:{settings.PHONES_HTTPS_PORT}/" if known else ""
