"""The address of the day's page."""

from __future__ import annotations

from django.urls import path

from dyehouse.day import views

urlpatterns = [path("", views.day, name="day")]
