"""Countries, time zones and currencies to choose from.

Countries are ISO 3166-1 codes with the English names of the time zone database (public domain, in the tzdata package);
currencies are ISO 4217 codes.
"""

from __future__ import annotations

import zoneinfo
from functools import cache
from importlib.resources import files

# Where a currency is used first, so that a country proposes its own; the names are the usual English ones.
CURRENCIES: tuple[tuple[str, str, str], ...] = (
    ("AUD", "Australian dollar", "AU"),
    ("BRL", "Brazilian real", "BR"),
    ("CAD", "Canadian dollar", "CA"),
    ("CHF", "Swiss franc", "CH LI"),
    ("CLP", "Chilean peso", "CL"),
    ("CZK", "Czech koruna", "CZ"),
    ("DKK", "Danish krone", "DK FO GL"),
    ("EUR", "Euro", "AD AT BE BG CY DE EE ES FI FR GR HR IE IT LT LU LV MC ME MT NL PT SI SK SM VA"),
    ("GBP", "Pound sterling", "GB GG IM JE"),
    ("HUF", "Hungarian forint", "HU"),
    ("ILS", "Israeli new shekel", "IL"),
    ("INR", "Indian rupee", "IN"),
    ("ISK", "Icelandic króna", "IS"),
    ("JPY", "Japanese yen", "JP"),
    ("KRW", "South Korean won", "KR"),
    ("MXN", "Mexican peso", "MX"),
    ("NOK", "Norwegian krone", "NO SJ"),
    ("NZD", "New Zealand dollar", "NZ"),
    ("PEN", "Peruvian sol", "PE"),
    ("PLN", "Polish złoty", "PL"),
    ("RON", "Romanian leu", "RO"),
    ("SEK", "Swedish krona", "SE"),
    ("TRY", "Turkish lira", "TR"),
    ("TWD", "New Taiwan dollar", "TW"),
    ("UAH", "Ukrainian hryvnia", "UA"),
    ("USD", "US dollar", "US PR EC SV"),
    ("UYU", "Uruguayan peso", "UY"),
    ("ZAR", "South African rand", "ZA"),
)


@cache
def countries() -> tuple[tuple[str, str], ...]:
    """Every country's two letters and name, by name."""
    table = (files("tzdata") / "zoneinfo" / "iso3166.tab").read_text(encoding="utf-8")
    rows = (line.split("\t") for line in table.splitlines() if line and not line.startswith("#"))
    return tuple(sorted(((code, name) for code, name in rows), key=lambda row: row[1]))


@cache
def country_name(code: str) -> str:
    """The English name of a country, or its letters when they are not known."""
    return dict(countries()).get(code, code)


@cache
def time_zones() -> tuple[str, ...]:
    """The zones that places live by, and UTC."""
    areas = (
        "Africa/",
        "America/",
        "Antarctica/",
        "Asia/",
        "Atlantic/",
        "Australia/",
        "Europe/",
        "Indian/",
        "Pacific/",
    )
    return ("UTC", *sorted(zone for zone in zoneinfo.available_timezones() if zone.startswith(areas)))


def currency_choices() -> list[tuple[str, str]]:
    """Codes with their names, by code."""
    return [(code, f"{code} – {name}") for code, name, _ in CURRENCIES]


def currency_of_countries() -> str:
    """`DE:EUR GB:GBP …`, for the page to propose a currency once the country is chosen."""
    return " ".join(f"{country}:{code}" for code, _, where in CURRENCIES for country in where.split())
