"""What every template may use without loading it: amounts, clock times, swatches, icons, workings.

Amounts are stored as whole numbers of a small unit and shown by these filters alone. Where the studio shows US measures
beside the metric, pass `us_units`: `{{ pot.dry_milligrams|grams:us_units }}`. Nothing at all (None) shows as a dash.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import template
from django.template.context import RequestContext
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from dyehouse.studio.drawing import HEX, Chips, icon_svg, swatch_svg
from dyehouse.studio.money import format_money
from recipes.dyeing import units

register = template.Library()

NOTHING = "–"


@register.filter
def grams(milligrams: Any, us: bool = False) -> str:
    """Milligrams as grams: `{{ 1250|grams }}` is 1.25 g."""
    return NOTHING if milligrams in (None, "") else units.format_grams(milligrams, us=bool(us))


@register.filter
def millilitres(microlitres: Any, us: bool = False) -> str:
    """Microlitres as millilitres: `{{ 7500|millilitres }}` is 7.5 ml."""
    return NOTHING if microlitres in (None, "") else units.format_millilitres(microlitres, us=bool(us))


@register.filter
def litres(microlitres: Any, us: bool = False) -> str:
    """Microlitres as litres, for baths."""
    return NOTHING if microlitres in (None, "") else units.format_litres(microlitres, us=bool(us))


@register.filter
def metres(millimetres: Any, us: bool = False) -> str:
    """Millimetres as metres."""
    return NOTHING if millimetres in (None, "") else units.format_metres(millimetres, us=bool(us))


@register.filter
def celsius(centi: Any, us: bool = False) -> str:
    """Hundredths of a degree Celsius as degrees."""
    return NOTHING if centi in (None, "") else units.format_celsius(centi, us=bool(us))


@register.filter
def ph(hundredths: Any) -> str:
    """Hundredths of pH: `{{ 450|ph }}` is 4.5."""
    return NOTHING if hundredths in (None, "") else units.format_ph(hundredths)


@register.filter
def depth(percent: Any) -> str:
    """A depth of shade or another share in percent: 1.5 %."""
    return NOTHING if percent in (None, "") else units.format_percent(percent)


@register.filter
def strength(mg_per_litre: Any) -> str:
    """The strength of a stock from milligrams per litre, as % w/v: `{{ 10000|strength }}` is 1 %."""
    if mg_per_litre in (None, ""):
        return NOTHING
    return f"{units.format_number(units.exact(mg_per_litre) / 10_000, 4)} %"


@register.filter
def ratio(liquor_ratio: Any) -> str:
    """A liquor ratio: 20:1."""
    return NOTHING if liquor_ratio in (None, "") else units.format_ratio(liquor_ratio)


@register.filter
def minutes(count: Any) -> str:
    """Minutes, with hours from one hour up: 1 h 23 min."""
    return NOTHING if count in (None, "") else units.format_minutes(count)


@register.filter
def money(minor: Any, currency: str) -> str:
    """Money from the smallest units of its currency: `{{ 1250|money:"EUR" }}` is 12.50 EUR."""
    return NOTHING if minor in (None, "") else format_money(int(minor), currency)


@register.filter
def signed(number: int) -> str:
    """A difference with its sign: +3, −2, and 0 without one."""
    return f"+{number}" if number > 0 else str(number).replace("-", "−")


@register.filter
def minus(number: int) -> str:
    """A count that may be below zero, with a minus sign as print has it: −2."""
    return str(number).replace("-", "−")


@register.filter
def counted(number: Any, words: str) -> str:
    """A count with its noun: `{{ 5|counted:"piece" }}` is 5 pieces; an odd plural follows a comma ("box,boxes")."""
    one, _, many = words.partition(",")
    return f"{number} {one if number == 1 else many or one + 's'}"


@register.filter
def shown_to(named: Any, user: Any) -> str:
    """The name of a colourway or a lot as somebody may see it: `{{ lot.colourway|shown_to:user }}`."""
    return str(named.shown_name(user if getattr(user, "is_authenticated", False) else None))


@register.filter
def clock(at: dt.datetime | None) -> str:
    """The time of day in the studio's zone: 14:20."""
    return NOTHING if at is None else f"{timezone.localtime(at):%H:%M}"


@register.filter
def day(at: dt.datetime | dt.date | None, today: dt.date | None = None) -> str:
    """The day in words: today, yesterday, Tuesday 3 March, or 3 March 2025 when it is not this year."""
    if at is None:
        return NOTHING
    on = timezone.localtime(at).date() if isinstance(at, dt.datetime) else at
    now = today or timezone.localdate()
    gone = (now - on).days
    if gone in (0, 1, -1):
        return {0: "today", 1: "yesterday", -1: "tomorrow"}[gone]
    if 1 < gone < 7 or on.year == now.year:
        return f"{on:%A} {on.day} {on:%B}" if abs(gone) < 7 else f"{on.day} {on:%B}"
    return f"{on.day} {on:%B %Y}"


@register.filter
def when(at: dt.datetime | None, now: dt.datetime | None = None) -> str:
    """How long ago, as people say it: 14:20, yesterday 14:20, 3 days ago, 3 March, 3 March 2025."""
    if at is None:
        return NOTHING
    local, here = timezone.localtime(at), timezone.localtime(now or timezone.now())
    gone = (here.date() - local.date()).days
    if gone == 0:
        return f"{local:%H:%M}"
    if gone == 1:
        return f"yesterday {local:%H:%M}"
    if gone == -1:
        return f"tomorrow {local:%H:%M}"
    if 1 < gone < 14:
        return f"{gone} days ago"
    return f"{local.day} {local:%B}" if local.year == here.year else f"{local.day} {local:%B %Y}"


@register.filter
def at_clock(at: dt.datetime | None, now: dt.datetime | None = None) -> str:
    """When by the clock, with the day where it is not today: at 14:05, yesterday at 23:50, on Tuesday 3 March at 14:05."""
    if at is None:
        return NOTHING
    on = day(at, timezone.localtime(now or timezone.now()).date())
    before = {"today": "", "yesterday": "yesterday ", "tomorrow": "tomorrow "}.get(on, f"on {on} ")
    return f"{before}at {clock(at)}"


@register.filter
def moment(at: dt.datetime | None) -> SafeString | str:
    """`when` in a <time> element whose title tells the exact moment."""
    if at is None:
        return NOTHING
    local = timezone.localtime(at)
    exact_text = f"{local.day} {local:%B %Y, %H:%M}"
    return format_html(
        '<time datetime="{}" title="{}">{}</time>', local.isoformat(timespec="minutes"), exact_text, when(at)
    )


@register.simple_tag
def icon(name: str, label: str = "", small: bool = False) -> SafeString:
    """One of our own line drawings. Without a label it is decoration, hidden from screen readers."""
    return icon_svg(name, label=label, small=small)


@register.simple_tag(takes_context=True)
def swatch(context: RequestContext, of: Any, size: str = "", label: str = "") -> SafeString:
    """Yarn wound on a card, in the colours of `of`: a colourway, a hex colour, or a list of them.

    size: "" (48 px), "small", "large" (fills a card), "strip" (a row). A colourway that the reader may not see yet, and
    one without colours, is drawn undyed.
    """
    chips = _chips(of, context.get("user"))
    return swatch_svg(chips, size=size, label=label)


@register.simple_tag
def chip(colour: str, label: str = "") -> SafeString:
    """The round colour mark of a dye, for its button; an empty colour draws an empty ring."""
    fill = colour if isinstance(colour, str) and HEX.fullmatch(colour) else "none"
    name = format_html(' role="img" aria-label="{}"', label) if label else mark_safe(' aria-hidden="true"')
    return format_html(
        '<svg class="chip" viewBox="0 0 20 20"{}><circle cx="10" cy="10" r="9" fill="{}" stroke="#1a2420" '
        'stroke-opacity="0.45" stroke-width="1.25"/></svg>',
        name,
        fill,
    )


def _chips(of: Any, user: Any) -> Chips:
    if isinstance(of, str):
        return [of] if of else []
    if hasattr(of, "chips"):
        may_see = getattr(of, "may_be_seen_by", None)
        signed_in = user if getattr(user, "is_authenticated", False) else None
        return list(of.chips) if may_see is None or may_see(signed_in) else []
    return list(of or [])


@register.inclusion_tag("studio/_working.html")
def working(figure: Any, summary: str = "how") -> dict[str, Any]:
    """One touch that opens how an amount was worked out. Takes a Figure or a Working; nothing for None."""
    return {"working": getattr(figure, "working", figure), "summary": summary}


ROOMS = (
    ("day", "Day", "day", ("day",)),
    ("pots", "Pots", "pot", ("pot", "pots", "lot", "wet", "before")),
    ("colourways", "Colourways", "skein", ("colourway", "colourways", "way", "redye", "notebook")),
    (
        "store",
        "Store",
        "jar",
        (
            "store",
            "base",
            "dye",
            "stock",
            "jar",
            "bottle",
            "auxiliary",
            "mill",
            "mix",
            "mixes",
            "put",
            "buying",
        ),
    ),
    (
        "shelf",
        "Shelf",
        "shelf",
        (
            "shelf",
            "labels",
            "opening",
            "printing",
            "label",
            "sheets",
            "sheet",
            "numbers",
            "count",
            "mixing",
            "long",
            "makers",
            "counts",
            "hold",
            "holds",
            "kit",
            "kits",
            "call",
            "scan",
            "trace",
            "matching",
            "match",
            "standing",
            "one",
            "putup",
            "shows",
            "costs",
        ),
    ),
    (
        "promises",
        "Promises",
        "parcel",
        (
            "promises",
            "buyer",
            "club",
            "round",
            "order",
            "orders",
            "taking",
            "product",
            "products",
            "parcel",
            "parcels",
            "dyelist",
            "weeks",
            "update",
        ),
    ),
)


@register.inclusion_tag("studio/_rooms.html", takes_context=True)
def rooms(context: RequestContext) -> dict[str, Any]:
    """The places of the day, with the one that this page belongs to marked."""
    match = getattr(context.get("request"), "resolver_match", None)
    here = (match.url_name or "").split("-")[0] if match else ""
    shown = []
    for name, words, drawing, pages in ROOMS:
        try:
            address = reverse(name)
        except NoReverseMatch:
            continue
        shown.append({"address": address, "words": words, "icon": drawing, "here": here in pages})
    return {"rooms": shown}


@register.simple_tag
def address_of(name: str, *args: Any, **kwargs: Any) -> str:
    """The address of a page, or nothing where this house has no such page."""
    try:
        return reverse(name, args=args, kwargs=kwargs)
    except NoReverseMatch:
        return ""
