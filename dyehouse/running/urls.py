"""Addresses of what a phone is told before it comes in."""

from __future__ import annotations

from django.urls import path

from dyehouse.running import phone_views

urlpatterns = [
    path("phone/", phone_views.phone, name="phone"),
    path("phone/dyehouse.crt", phone_views.phone_certificate, name="phone-certificate"),
    path("phone/dyehouse.mobileconfig", phone_views.phone_profile, name="phone-profile"),
]
