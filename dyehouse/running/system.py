"""What this machine must bring before the house can run: Python's venv module, and Pango for PDFs.

Standard library only: this runs before there is an environment.
"""

from __future__ import annotations

import ctypes
import importlib.util
import os
import shutil
import subprocess
import sys
from collections.abc import Sequence

# What weasyprint opens by name when it draws a PDF, and the Debian package that brings each.
PDF_LIBRARIES = {
    "libpango-1.0.so.0": "libpango-1.0-0",
    "libpangoft2-1.0.so.0": "libpangoft2-1.0-0",
    "libharfbuzz-subset.so.0": "libharfbuzz-subset0",
}


class CannotStart(Exception):
    """The house cannot start on this machine yet; str() is the sentence that says what would help."""


def say(line: str) -> None:
    """One line of what happens, at once, beside the command's own output."""
    print(line, file=sys.stderr, flush=True)


def need_venv() -> None:
    """Python's own venv and ensurepip; Debian keeps them in a package apart."""
    if importlib.util.find_spec("venv") and importlib.util.find_spec("ensurepip"):
        return
    if debian() and may_install():
        install(["python3-venv"])
        importlib.invalidate_caches()
        if importlib.util.find_spec("ensurepip"):
            return
    fix = (
        "apt install python3-venv (as root)"
        if debian()
        else "install your system's package for Python's venv module"
    )
    raise CannotStart(
        f"Python's venv module is missing, which the environment is made with. The fix here: {fix}. Then run the same command again."
    )


def say_what_pdfs_need() -> None:
    """Where Pango is missing, install it (root on Debian, nobody at a terminal) or name the fix; the rest works without."""
    missing = missing_for_pdfs()
    if not missing:
        return
    if debian() and may_install() and install(missing) and not missing_for_pdfs():
        return
    say(pdf_sentence(missing))


def missing_for_pdfs() -> list[str]:
    """The packages (Debian's names) of the libraries for PDFs that this machine lacks; empty where all is well."""
    if not sys.platform.startswith("linux"):
        return []
    missing = []
    for library, package in PDF_LIBRARIES.items():
        try:
            ctypes.CDLL(library)
        except OSError:
            missing.append(package)
    return missing


def pdf_sentence(missing: Sequence[str]) -> str:
    """What is missing for labels, cards and other PDFs, and how this system gets it."""
    if debian():
        fix = "apt install " + " ".join(missing) + " (as root)"
    elif shutil.which("dnf"):
        fix = "dnf install pango harfbuzz (as root)"
    elif shutil.which("pacman"):
        fix = "pacman -S pango harfbuzz (as root)"
    elif shutil.which("apk"):
        fix = "apk add pango harfbuzz (as root)"
    else:
        fix = "install Pango 1.44 or newer and HarfBuzz with its subset library"
    return f"Labels and cards cannot be printed as PDF here, since Pango is missing; all else works. The fix: {fix}. Then start again."


def debian() -> bool:
    """Debian or a system made from it."""
    return os.path.exists("/etc/debian_version") and shutil.which("apt-get") is not None


def may_install() -> bool:
    """Root, and nobody at a terminal who could be asked to do it."""
    return hasattr(os, "geteuid") and os.geteuid() == 0 and not sys.stdin.isatty()


def install(packages: Sequence[str]) -> bool:
    """Install system packages with apt-get and say so; False if that failed."""
    say(f"Installing {', '.join(packages)} with apt-get (as root, nobody at a terminal).")
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    quiet = {"stdin": subprocess.DEVNULL, "stdout": subprocess.PIPE, "stderr": subprocess.STDOUT}
    command = ["apt-get", "install", "-y", "-q", "--no-install-recommends", *packages]
    # The lists may be missing (fresh images drop them) or too old, so a failure is tried once more after an update.
    for attempt in (command, ["apt-get", "update", "-q"], command):
        answer = subprocess.run(attempt, env=environment, text=True, **quiet)  # type: ignore[call-overload]
        if answer.returncode == 0 and attempt is command:
            return True
    say(
        "apt-get could not install them. Its last words:\n"
        + "\n".join(answer.stdout.strip().splitlines()[-5:])
    )
    return False
