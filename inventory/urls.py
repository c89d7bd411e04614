"""Addresses of the shelf."""

from __future__ import annotations

from django.urls import path

from inventory import views

urlpatterns = [
    path("", views.shelf, name="shelf"),
    path("place/new/", views.shelf_place_new, name="shelf-place-new"),
    path("<str:code>/away/", views.shelf_move, name="shelf-move"),
    path("<str:code>/away/<int:place>/", views.shelf_move, name="shelf-move-on"),
    path("<str:code>/count/<int:dyed>/<int:place>/", views.shelf_count, name="shelf-count"),
]
