"""Answers that every room gives."""

from __future__ import annotations

from django.http import HttpResponseRedirect


class SeeOther(HttpResponseRedirect):
    """After a form: look at this page now, with GET whatever the form's method was (303)."""

    status_code = 303
