"""The addresses of the day's page and of its end."""

from __future__ import annotations

from django.urls import path

from dyehouse.day import views

urlpatterns = [
    path("", views.day, name="day"),
    path("day/close/", views.day_close, name="day-close"),
    path("day/close/<str:code>/", views.day_close_pot, name="day-close-pot"),
]
