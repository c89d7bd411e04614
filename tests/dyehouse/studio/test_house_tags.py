"""Amounts, times, swatches and fields as every page shows them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from html.parser import HTMLParser

import pytest
from django import forms
from django.template import Context, Template
from django.utils import timezone

from dyehouse.studio.templatetags import house
from dyehouse.studio.widgets import Amount, Segmented, Stepper
from recipes.dyeing.working import Figure, Source, Standing, Working

NOON = dt.datetime(2026, 3, 14, 12, 0, tzinfo=dt.UTC)


def shown(template: str, **context) -> str:
    return Template(template).render(Context(context))


@pytest.mark.parametrize(
    ("template", "text"),
    [
        ("{{ 1250|grams }}", "1.25 g"),
        ("{{ 100000|grams:True }}", "100 g (3.53 oz)"),
        ("{{ 7500|millilitres }}", "7.5 ml"),
        ("{{ 400000|metres }}", "400 m"),
        ("{{ 8500|celsius }}", "85 °C"),
        ("{{ 450|ph }}", "4.5"),
        ("{{ 10000|strength }}", "1 %"),
        ("{{ 500|strength }}", "0.05 %"),
        ("{{ 24|ratio }}", "24:1"),
        ('{{ 1|counted:"piece" }}', "1 piece"),
        ('{{ 5|counted:"piece" }}', "5 pieces"),
        ('{{ 2|counted:"box,boxes" }}', "2 boxes"),
    ],
)
def test_amounts_are_shown_with_their_unit(template: str, text: str):
    assert shown(template) == text


@pytest.mark.parametrize(
    "name",
    [
        "grams",
        "millilitres",
        "litres",
        "metres",
        "celsius",
        "ph",
        "depth",
        "strength",
        "ratio",
        "minutes",
        "clock",
        "when",
    ],
)
def test_what_is_not_known_is_a_dash(name: str):
    assert shown(f"{{{{ nothing|{name} }}}}", nothing=None) == "–"


@pytest.mark.parametrize(
    ("before", "text"),
    [
        (dt.timedelta(minutes=70), "10:50"),
        (dt.timedelta(hours=13), "yesterday 23:00"),
        (dt.timedelta(days=3), "3 days ago"),
        (dt.timedelta(days=40), "2 February"),
        (dt.timedelta(days=400), "7 February 2025"),
        (dt.timedelta(days=-1), "tomorrow 12:00"),
    ],
)
def test_how_long_ago_is_said_as_people_say_it(before: dt.timedelta, text: str):
    assert house.when(NOON - before, NOON) == text


def test_times_are_those_of_the_studio():
    with timezone.override("Pacific/Auckland"):
        assert house.clock(NOON) == "01:00"


@dataclass
class Secret:
    chips: tuple[str, ...] = ("#b9541f",)

    def may_be_seen_by(self, user) -> bool:
        return user is not None and user.is_owner


@dataclass
class Somebody:
    is_owner: bool
    is_authenticated: bool = True


def test_a_secret_colourway_is_drawn_undyed_to_a_helper_and_to_nobody():
    template = "{% swatch colourway %}"

    assert "#b9541f" in shown(template, colourway=Secret(), user=Somebody(is_owner=True))
    assert "#b9541f" not in shown(template, colourway=Secret(), user=Somebody(is_owner=False))
    assert "#b9541f" not in shown(template, colourway=Secret())


def test_a_working_opens_formula_numbers_result_and_source():
    working = Working(
        "Dye", "weight × depth", "500 g × 1.5 %", "7.5 g", Source("Definition", Standing.DERIVED)
    )

    for figure in (working, Figure(7500, working)):
        html = shown("{% working figure %}", figure=figure)
        for part in ("weight × depth", "500 g × 1.5 %", "7.5 g", "Definition"):
            assert part in html
    assert shown("{% working figure %}", figure=None).strip() == ""


class Shown(forms.Form):
    name = forms.CharField(help_text="As you call it.")
    pieces = forms.IntegerField(widget=Stepper, help_text="In the pot.")
    dry = forms.DecimalField(widget=Amount("g"), required=False)
    bath = forms.ChoiceField(
        choices=[("clear", "Clear"), ("tinted", "Tinted")], widget=Segmented, help_text="Look into it."
    )
    superwash = forms.BooleanField(help_text="As the mill says.")


class Elements(HTMLParser):
    def __init__(self, html: str) -> None:
        super().__init__()
        self.all: list[tuple[str, dict[str, str | None]]] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.all.append((tag, dict(attrs)))

    @property
    def ids(self) -> list[str]:
        return [attrs["id"] for _, attrs in self.all if attrs.get("id")]

    def named(self, name: str) -> list[tuple[str, dict[str, str | None]]]:
        return [(tag, attrs) for tag, attrs in self.all if attrs.get("name") == name]


@pytest.mark.parametrize("name", Shown.base_fields)
def test_help_and_error_are_tied_to_the_control(name: str):
    form = Shown({"dry": "a lot"})
    page = Elements(form[name].as_field_group())

    controls = (
        page.named(name) if name != "bath" else [element for element in page.all if element[0] == "fieldset"]
    )
    described = (controls[0][1].get("aria-describedby") or "").split()

    assert f"id_{name}_error" in described
    assert (f"id_{name}_helptext" in described) == bool(form[name].help_text)
    assert all(page.ids.count(target) == 1 for target in described)
    assert all(attrs.get("aria-invalid") == "true" for _, attrs in page.named(name))


@pytest.mark.parametrize("name", Shown.base_fields)
def test_every_control_has_a_label(name: str):
    page = Elements(Shown()[name].as_field_group())

    labelled = {attrs.get("for") for tag, attrs in page.all if tag == "label"}

    assert {attrs["id"] for _, attrs in page.named(name)} <= labelled


def test_what_may_stay_empty_is_marked():
    assert "(optional)" in Shown()["dry"].as_field_group()
    assert "(optional)" not in Shown()["name"].as_field_group()


def test_what_was_typed_is_kept_and_escaped():
    form = Shown({"name": "", "dry": '"><script>'})

    assert 'value="&quot;&gt;&lt;script&gt;"' in form["dry"].as_field_group()


def test_errors_say_what_would_be_right():
    form = Shown({"name": "", "pieces": "some", "dry": "a lot"})

    assert form.errors["name"] == ["This cannot stay empty."]
    assert form.errors["pieces"] == ["Write a whole number, such as 5."]
    assert form.errors["dry"] == ["Write a number, such as 7.5."]
