"""What every template may use without loading it."""

from __future__ import annotations

from django import template

register = template.Library()
