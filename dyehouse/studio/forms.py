"""How every form of the house looks: one field template, errors and help tied to the field."""

from __future__ import annotations

from django.forms.renderers import TemplatesSetting


class HouseRenderer(TemplatesSetting):
    """Renders a field with its label, help and error together (templates/studio/_field.html)."""

    field_template_name = "studio/_field.html"
