"""Form widgets of the house. All are plain inputs that work without JavaScript."""

from __future__ import annotations

from typing import Any

from django import forms


class Stepper(forms.NumberInput):
    """A whole number with a minus and a plus button beside it."""

    template_name = "studio/widgets/stepper.html"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__({"inputmode": "numeric", "step": "1", **(attrs or {})})


class Segmented(forms.RadioSelect):
    """A choice of a few, all in sight, as large buttons."""

    template_name = "studio/widgets/segmented.html"
    option_template_name = "studio/widgets/segmented_option.html"


class SegmentedMany(forms.CheckboxSelectMultiple):
    """The same where several may be chosen."""

    template_name = "studio/widgets/segmented.html"
    option_template_name = "studio/widgets/segmented_option.html"


class Amount(forms.TextInput):
    """A number typed with a comma or a point, its unit written behind it: Amount("ml")."""

    template_name = "studio/widgets/amount.html"

    def __init__(self, unit: str = "", attrs: dict[str, Any] | None = None) -> None:
        super().__init__({"inputmode": "decimal", "autocomplete": "off", **(attrs or {})})
        self.unit = unit

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        context = super().get_context(name, value, attrs)
        context["widget"]["unit"] = self.unit
        return context
