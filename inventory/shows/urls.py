"""Addresses of shows."""

from __future__ import annotations

from django.urls import path

from inventory.shows import count_views, views

urlpatterns = [
    path("", views.shows, name="shows"),
    path("today/", views.shows_today, name="shows-today"),
    path("new/", views.show_new, name="shows-new"),
    path("normal/", views.normal, name="shows-normal"),
    path("<int:pk>/", views.show, name="shows-show"),
    path("<int:pk>/change/", views.show_change, name="shows-change"),
    path("<int:pk>/off/", views.show_call_off, name="shows-call-off"),
    path("<int:pk>/pack/", count_views.pack, name="shows-pack"),
    path("<int:pk>/not-taken/<int:load>/", views.load_back, name="shows-not-taken"),
    path("<int:pk>/tally/", count_views.tally, name="shows-tally"),
    path("<int:pk>/back/", count_views.back, name="shows-back"),
    path("<int:pk>/again/", views.open_again, name="shows-open-again"),
    path("<int:pk>/takings/", views.show_takings, name="shows-takings"),
    path("<int:pk>/next/", views.next_time, name="shows-next"),
]
