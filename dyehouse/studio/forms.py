"""How every form of the house looks, and the forms for signing in and for people."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.forms import PasswordChangeForm
from django.core.validators import RegexValidator
from django.forms.renderers import TemplatesSetting

from dyehouse.studio.models import User
from dyehouse.studio.widgets import Segmented


class HouseRenderer(TemplatesSetting):
    """Renders a field with its label, help and error together (templates/studio/_field.html)."""

    field_template_name = "studio/_field.html"


class SignInForm(forms.Form):
    """Whether the two belong together is asked by the view, after the throttle."""

    username = forms.CharField(
        label="Sign-in name",
        max_length=150,
        widget=forms.TextInput(
            attrs={"autocomplete": "username", "autocapitalize": "none", "autofocus": True}
        ),
        error_messages={"required": "Write your sign-in name."},
    )
    password = forms.CharField(
        max_length=500,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        error_messages={"required": "Write your password."},
    )


def _new_password(label: str = "Password") -> forms.CharField:
    return forms.CharField(
        label=label,
        max_length=500,
        strip=False,
        help_text="At least 10 characters. A few plain words in a row are good.",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        error_messages={"required": "Choose a password."},
    )


ROLES = (
    (User.Role.HELPER.value, "Helper: no prices, no secrets, no settings"),
    (User.Role.OWNER.value, "Owner: everything"),
)


class PersonForm(forms.Form):
    """What somebody is called and what they may open."""

    called = forms.CharField(
        label="Called",
        max_length=60,
        required=False,
        help_text="The name shown beside what they did. Empty: the sign-in name.",
    )
    role = forms.ChoiceField(label="Part", choices=ROLES, initial=User.Role.HELPER, widget=Segmented)


class NewPersonForm(PersonForm):
    username = forms.CharField(
        label="Sign-in name",
        max_length=150,
        validators=[
            RegexValidator(r"^[\w.@+-]+\Z", "Use letters, figures and . @ + - _ only, without spaces.")
        ],
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"}),
        error_messages={"required": "Write the name they will sign in with."},
    )
    password = _new_password()

    field_order = ("username", "called", "role", "password")


class NewPasswordForm(forms.Form):
    password = _new_password("New password")


class OwnPasswordForm(PasswordChangeForm):
    """The old password, then the new one twice."""

    error_messages: dict[str, Any] = {
        "password_incorrect": "That is not your password of today. Write the one you signed in with.",
        "password_mismatch": "The two new passwords differ. Write the same one twice.",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["old_password"].label = "Password of today"
        self.fields["new_password1"].label = "New password"
        self.fields[
            "new_password1"
        ].help_text = "At least 10 characters. A few plain words in a row are good."
        self.fields["new_password2"].label = "New password once more"
        self.fields["new_password2"].help_text = ""
        self.fields["old_password"].widget.attrs.pop("autofocus", None)
