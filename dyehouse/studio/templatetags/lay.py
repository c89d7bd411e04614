"""How a hank lies, on a page: `{% lay_strip lay %}` draws the strip of a recipes.dyeing.lay.Lay."""

from __future__ import annotations

from django import template
from django.utils.safestring import SafeString

from dyehouse.studio.lay_drawing import parts_of, strip_svg
from recipes.dyeing.lay import Lay

register = template.Library()


@register.simple_tag
def lay_strip(lay: Lay | None) -> SafeString:
    """The strip, said in words to those who cannot see it; nothing without a lay."""
    if lay is None:
        return SafeString("")
    return strip_svg(parts_of(lay), folded=lay.folded, label=lay.words)
