"""What keeps the pot pages usable without network: the service worker, and a fresh form token for what waited."""

from __future__ import annotations

import hashlib
import json
from functools import lru_cache

from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from dyehouse.studio.access import anybody

# What pages load, of all that lies in the static folders.
LOADED = ("dyehouse/css/", "dyehouse/js/", "dyehouse/img/", "fonts/", "django_htmx/htmx-2.min.js")


@anybody
@require_GET
@never_cache
def token(request: HttpRequest) -> JsonResponse:
    """Who is signed in here, and a form token that is good now; the queue on a phone asks before it sends again."""
    person = request.user
    who = person.get_username() if person.is_authenticated else ""
    return JsonResponse({"who": who, "token": get_token(request)})


@anybody
@require_GET
def service_worker(request: HttpRequest) -> HttpResponse:
    """The worker itself, served from the root so that every page is within its reach."""
    files = static_files()
    known = {
        "version": hashlib.sha256(json.dumps(files).encode()).hexdigest()[:12],
        "files": files,
        "static": settings.STATIC_URL,
        "pots": reverse("pots"),
        "kept_pages": [reverse("day"), reverse("pots")],
        "photos": settings.MEDIA_URL,
        "ends": [reverse("sign-in"), reverse("sign-out"), reverse("phone-pair")],
        "sign_in": reverse("sign-in"),
        "offline": reverse("offline"),
    }
    words = render_to_string("studio/service-worker.js", {"known": json.dumps(known)})
    served = HttpResponse(words, content_type="text/javascript; charset=utf-8")
    # Looked at afresh every time, so that a new version of the house arrives with its first page.
    served["Cache-Control"] = "no-cache"
    served["Service-Worker-Allowed"] = "/"
    return served


@anybody
@require_GET
def offline(request: HttpRequest) -> HttpResponse:
    """What stands where a page is wanted that this phone does not have."""
    return render(request, "studio/offline.html")


@lru_cache(maxsize=1)
def static_files() -> list[str]:
    """Addresses of all styles, scripts, pictures and fonts that pages load, under the names that pages use."""
    found = (
        f"{prefix}/{name}" if (prefix := getattr(storage, "prefix", "")) else name
        for finder in get_finders()
        for name, storage in finder.list([])
    )
    names = [name for name in found if name.startswith(LOADED)]
    # Modules import each other by their plain names.
    plain = [settings.STATIC_URL + name for name in names if name.startswith("dyehouse/js/")]
    return sorted({*(static(name) for name in names), *plain})
