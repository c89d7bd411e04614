"""The colours can be read, and no page goes round the content security policy."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.conf import settings

CSS = settings.SOURCE / "dyehouse" / "static" / "dyehouse" / "css"
SCRIPTS = sorted((settings.SOURCE / "dyehouse" / "static" / "dyehouse" / "js").glob("*.js"))
TEMPLATES = sorted((settings.SOURCE / "templates").rglob("*.html"))


def luminance(colour: str) -> float:
    """WCAG 2.2, relative luminance of #rrggbb."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def tokens() -> tuple[dict[str, str], dict[str, str]]:
    """The colours as they are, and as they are for somebody who asks for more contrast."""
    usual, more = (CSS / "tokens.css").read_text(encoding="utf-8").split("@media (prefers-contrast: more)")
    found = [dict(re.findall(r"--([\w-]+):\s*(#[0-9a-f]{6})", part)) for part in (usual, more)]
    return found[0], {**found[0], **found[1]}


# WCAG 2.2 SC 1.4.3 and 1.4.11; the values were computed outside with a published contrast calculator's formula.
@pytest.mark.parametrize(
    ("colour", "ratio", "text", "control"),
    [
        ("#767676", 4.54, True, True),
        ("#777777", 4.48, False, True),
        ("#949494", 3.03, False, True),
        ("#959595", 2.995, False, False),
    ],
)
def test_contrast_is_reckoned_as_the_guidelines_do(colour: str, ratio: float, text: bool, control: bool):
    reckoned = contrast(colour, "#ffffff")

    assert reckoned == pytest.approx(ratio, abs=0.006)
    assert (reckoned >= 4.5, reckoned >= 3) == (text, control)


TEXT = [
    *[
        (ink, ground)
        for ink in ("ink", "ink-soft", "accent")
        for ground in ("paper", "sheet", "well", "accent-wash")
    ],
    *[(ink, ground) for ink in ("ink", "danger") for ground in ("paper", "sheet", "danger-wash")],
    *[(ink, ground) for ink in ("ink", "ink-soft", "warn") for ground in ("paper", "sheet", "warn-wash")],
    ("danger", "well"),
    ("on-accent", "accent"),
    ("on-accent", "accent-deep"),
]
CONTROLS = [
    (line, ground) for line in ("line", "accent", "danger", "warn") for ground in ("paper", "sheet", "well")
]


@pytest.mark.parametrize("which", [0, 1], ids=["usual", "more contrast"])
@pytest.mark.parametrize(("ink", "ground"), TEXT)
def test_text_can_be_read(which: int, ink: str, ground: str):
    colours = tokens()[which]

    assert contrast(colours[ink], colours[ground]) >= 4.5


@pytest.mark.parametrize("which", [0, 1], ids=["usual", "more contrast"])
@pytest.mark.parametrize(("line", "ground"), CONTROLS)
def test_the_edges_of_controls_can_be_seen(which: int, line: str, ground: str):
    colours = tokens()[which]

    assert contrast(colours[line], colours[ground]) >= 3


def test_the_styles_of_every_page_stay_small_and_so_do_those_of_one_page_alone():
    head = (settings.SOURCE / "templates" / "studio" / "_head.html").read_text(encoding="utf-8")
    sizes = {file.name: file.stat().st_size for file in CSS.glob("*.css")}
    everywhere = {name for name in sizes if f"css/{name}" in head}

    assert sum(sizes[name] for name in everywhere) < 30 * 1024
    assert all(sizes[name] < 8 * 1024 for name in sizes.keys() - everywhere)


def test_colours_are_named_once():
    for file in CSS.glob("*.css"):
        if file.name not in {"tokens.css", "print.css"}:
            named = set(re.findall(r"#[0-9a-fA-F]{3,8}\b", file.read_text(encoding="utf-8")))
            assert named <= {"#fff"}, f"{file.name} names {named}"


# Sheets for paper are drawn by our own process and never sent to a browser.
PAGES = [file for file in TEMPLATES if "paper" not in file.relative_to(settings.SOURCE / "templates").parts]
FORBIDDEN = {
    "a style attribute": r"\sstyle\s*=",
    "a style element": r"<style\b",
    "a script inside the page": r"<script(?![^>]*\bsrc=)[^>]*>\s*\S",
    "an event attribute": r"<[^>]*\son\w+\s*=",
    "hx-on": r"\bhx-on\b",
    "computed hx values": r"hx-(vals|headers)\s*=\s*[\"']\s*(js|javascript):",
    "a javascript: address": r"javascript:",
    "another site": r"(src|href)\s*=\s*[\"'](https?:)?//",
}


@pytest.mark.parametrize("file", PAGES, ids=lambda file: str(file.relative_to(settings.SOURCE / "templates")))
def test_a_page_keeps_the_policy(file: Path):
    text = file.read_text(encoding="utf-8")

    found = [what for what, pattern in FORBIDDEN.items() if re.search(pattern, text)]

    assert found == []


@pytest.mark.parametrize("file", SCRIPTS, ids=lambda file: file.name)
def test_a_script_keeps_the_policy(file: Path):
    text = file.read_text(encoding="utf-8")

    assert not re.search(r"\beval\(|new Function\(|setAttribute\(\s*[\"']style|document\.write", text)


def known_classes() -> set[str]:
    sheets = "\n".join(file.read_text(encoding="utf-8") for file in CSS.glob("*.css"))
    return set(re.findall(r"\.([a-z][\w-]*)", sheets))


@pytest.mark.parametrize("file", PAGES, ids=lambda file: str(file.relative_to(settings.SOURCE / "templates")))
def test_a_page_uses_classes_that_exist(file: Path):
    text = re.sub(r"\{%.*?%\}|\{\{.*?\}\}", " * ", file.read_text(encoding="utf-8"))
    used = {name for value in re.findall(r'class="([^"]*)"', text) for name in value.split()}

    unknown = {name for name in used if re.fullmatch(r"[a-z][\w-]*[a-z0-9]", name)} - known_classes()

    assert unknown == set(), (
        f"These are in no style sheet; use what /look/ shows, or data attributes for scripts: {unknown}"
    )
