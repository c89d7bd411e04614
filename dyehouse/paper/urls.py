"""Addresses of labels and tags."""

from __future__ import annotations

from django.urls import path

from dyehouse.paper import views

urlpatterns = [
    path("labels/", views.labels, name="labels"),
    path("labels/sheet/", views.labels_sheet, name="labels-sheet"),
    path("tag/<str:code>/", views.wet_tag, name="wet-tag"),
    path("again/<int:pk>/", views.print_again, name="labels-again"),
    path("outline/<slug:slug>/", views.sheet_outline, name="labels-outline"),
]
