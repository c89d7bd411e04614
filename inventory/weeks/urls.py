"""Addresses of the dye list and the weeks ahead."""

from __future__ import annotations

from django.urls import path

from inventory.weeks import views

urlpatterns = [
    path("", views.weeks, name="weeks"),
    path("lost/", views.lose, name="weeks-lose"),
    path("lost/<int:pk>/back/", views.day_back, name="weeks-back"),
    path("pot/<str:code>/day/", views.pin, name="weeks-pin"),
    path("sessions/", views.settings, name="weeks-settings"),
    path("dye-list/", views.dye_list, name="dyelist"),
    path("dye-list/plan/", views.plan, name="dyelist-plan"),
    path("dye-list/wanted/", views.wanted_new, name="dyelist-wanted"),
    path("dye-list/wanted/<int:pk>/end/", views.wanted_end, name="dyelist-wanted-end"),
    path("dye-list/yarn-and-dye/", views.needs, name="dyelist-needs"),
]
