"""What every test may count on: plain static files, a photos folder of its own, a browser where there is one."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from pathlib import Path

import pytest
from xdist.remote import Producer
from xdist.scheduler import LoadScopeScheduling

from dyehouse.running.system import missing_for_pdfs, pdf_sentence
from dyehouse.running.testing import strict
from tests.plugins.ledger import flush_past_the_guard  # noqa: F401 - a fixture for every test
from tests.plugins.tables import django_db_modify_db_settings  # noqa: F401 - a fixture for every test

CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
CHROMIUM_FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
# These walk through one house, which takes its time to open: they stay in one process, with `--dist loadgroup`.
IN_ONE_HOUSE = ("tests/browser/test_counting_round.py", "tests/browser/test_offline_phone.py")
FOR_WANT_OF = pytest.StashKey[list[str]]()


def find_chromium() -> str | None:
    """The Chromium that DYEHOUSE_CHROMIUM names, else one on the PATH."""
    named = os.environ.get("DYEHOUSE_CHROMIUM")
    if named:
        return named if Path(named).exists() else None
    return next((found for name in CHROMIUM_NAMES if (found := shutil.which(name))), None)


def on_postgres() -> bool:
    """Whether this run's database is PostgreSQL."""
    return bool(os.environ.get("DATABASE_URL"))


def pytest_configure(config: pytest.Config) -> None:
    from django.conf import settings

    # Playwright keeps an event loop in the thread that the live server's fixtures also use.
    os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
    folder = Path(tempfile.mkdtemp(prefix="dyehouse-test-files-"))
    config.add_cleanup(lambda: shutil.rmtree(folder, ignore_errors=True))
    for name in ("photos", "static"):
        (folder / name).mkdir()
    settings.MEDIA_ROOT = folder / "photos"
    settings.STATIC_ROOT = folder / "static"
    # Names without a fingerprint, so that no page needs collected files; the running house's own test has them.
    settings.STORAGES = {
        **settings.STORAGES,
        "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
    }
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.DATABASES["default"].setdefault("TEST", {})
    Path(settings.DATA).mkdir(parents=True, exist_ok=True)


class OneHouseTogether(LoadScopeScheduling):
    """Hands out the tests one by one, but those of one house together and first."""

    def _split_scope(self, nodeid: str) -> str:
        return "one house" if nodeid.startswith(IN_ONE_HOUSE) else nodeid


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Producer) -> OneHouseTogether | None:
    return OneHouseTogether(config, log) if config.getvalue("dist") == "loadgroup" else None


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    wants = {
        "browser": None if find_chromium() else "no Chromium on this machine and DYEHOUSE_CHROMIUM names none"
    }
    wants["postgres"] = None if on_postgres() else "this run's database is not PostgreSQL"
    for item in items:
        for marker, reason in wants.items():
            if reason and item.get_closest_marker(marker):
                item.add_marker(pytest.mark.skip(reason=reason))
    if wants["browser"] and any(item.get_closest_marker("browser") for item in items):
        config.stash.setdefault(FOR_WANT_OF, []).append(f"Browser tests skipped: {wants['browser']}.")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Item):
    """A machine without Pango skips what draws a PDF, visibly; in CI it fails."""
    try:
        return (yield)
    except OSError as error:
        missing = missing_for_pdfs() if "cannot load library" in str(error) else []
        if not missing or strict():
            raise
        pytest.skip(pdf_sentence(missing))


def pytest_terminal_summary(terminalreporter, exitstatus: int, config: pytest.Config) -> None:
    stats = terminalreporter.stats
    for line in config.stash.get(FOR_WANT_OF, []):
        terminalreporter.write_line(line, yellow=True)
    counts = {
        "passed": len(stats.get("passed", [])) + len(stats.get("xfailed", [])),
        "failed": sum(len(stats.get(name, [])) for name in ("failed", "error", "xpassed")),
        "skipped": len(stats.get("skipped", [])),
    }
    if named := os.environ.get("DYEHOUSE_TEST_COUNTS"):
        Path(named).write_text(json.dumps(counts), encoding="utf-8")


def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    if session.config.stash.get(FOR_WANT_OF, []) and strict() and exitstatus in (0, 5):
        session.exitstatus = 1


@pytest.fixture(scope="session")
def chromium_path() -> str:
    """Where this machine's Chromium is."""
    found = find_chromium()
    if found is None:
        pytest.skip("no Chromium on this machine")
    return found


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict, chromium_path: str) -> dict:
    return {**browser_type_launch_args, "executable_path": chromium_path, "args": CHROMIUM_FLAGS}
