"""Signing in, people, and the page of components."""

from __future__ import annotations

from django.urls import path

from dyehouse.studio import setup_views, views_look, views_people, views_sign_in

urlpatterns = [
    path("sign-in/", views_sign_in.sign_in, name="sign-in"),
    path("sign-out/", views_sign_in.sign_out, name="sign-out"),
    path("password/", views_sign_in.password, name="password"),
    path("people/", views_people.everybody, name="people"),
    path("people/<str:username>/", views_people.one_person, name="person"),
    path("people/<str:username>/password/", views_people.new_password, name="person-password"),
    path("people/<str:username>/may-sign-in/", views_people.may_sign_in, name="person-may-sign-in"),
    path("set-up/", setup_views.set_up, name="set-up"),
    path("set-up/skip/", setup_views.skip, name="set-up-skip"),
    path("look/", views_look.look, name="look"),
]
