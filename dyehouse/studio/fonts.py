"""The fonts of screen and paper come from Python packages; this serves the files we use as static files."""

from __future__ import annotations

import importlib
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from django.contrib.staticfiles.finders import BaseFinder
from django.core.files.storage import FileSystemStorage

# Named, because the finder's own `list` hides the built-in one inside the class.
Checks = list[Any]

FONT_PACKAGES = {
    "font_source_sans_pro": (
        "SourceSansPro-Regular.ttf",
        "SourceSansPro-It.ttf",
        "SourceSansPro-Semibold.ttf",
        "SourceSansPro-Bold.ttf",
    ),
    "font_source_serif_pro": ("SourceSerifPro-Regular.ttf", "SourceSerifPro-Semibold.ttf"),
}


def font_files() -> dict[str, Path]:
    """File name -> where it lies on this machine."""
    found: dict[str, Path] = {}
    for package, names in FONT_PACKAGES.items():
        folder = Path(importlib.import_module(package).__path__[0]) / "files"
        for name in names:
            found[name] = folder / name
    return found


class FontFinder(BaseFinder):
    """Offers the packaged fonts under static/fonts/."""

    def find(self, path: str, find_all: bool = False, **kwargs: Any) -> Any:
        if not path.startswith("fonts/"):
            return []
        file = font_files().get(path.removeprefix("fonts/"))
        if file is None:
            return []
        return [str(file)] if find_all else str(file)

    def list(self, ignore_patterns: Iterable[str] | None) -> Iterator[tuple[str, FileSystemStorage]]:
        for name, file in font_files().items():
            storage = FileSystemStorage(location=str(file.parent))
            storage.prefix = "fonts"  # type: ignore[attr-defined]
            yield name, storage

    def check(self, **kwargs: Any) -> Checks:
        return []
