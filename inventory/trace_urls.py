"""Addresses of finding and tracing."""

from __future__ import annotations

from django.urls import path

from inventory import trace_views

urlpatterns = [
    path("find/", trace_views.find_all, name="find"),
    path("trace/mill-lot/<int:pk>/", trace_views.trace_mill_lot, name="trace-mill-lot"),
    path("trace/jar/<int:pk>/", trace_views.trace_jar, name="trace-jar"),
    path("trace/bottle/<int:pk>/", trace_views.trace_bottle, name="trace-bottle"),
    path("trace/mix/<str:code>/", trace_views.trace_mix, name="trace-mix"),
    path("trace/<str:code>/", trace_views.trace_code, name="trace"),
]
