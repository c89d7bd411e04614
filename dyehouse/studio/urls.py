"""Signing in, people, and the page of components."""

from __future__ import annotations

from django.urls import path

from dyehouse.studio import (
    maker_views,
    setup_views,
    views_look,
    views_offline,
    views_people,
    views_phones,
    views_sign_in,
)

urlpatterns = [
    path("sign-in/", views_sign_in.sign_in, name="sign-in"),
    path("sign-out/", views_sign_in.sign_out, name="sign-out"),
    path("password/", views_sign_in.password, name="password"),
    path("people/", views_people.everybody, name="people"),
    path("people/<str:username>/", views_people.one_person, name="person"),
    path("people/<str:username>/password/", views_people.new_password, name="person-password"),
    path("people/<str:username>/may-sign-in/", views_people.may_sign_in, name="person-may-sign-in"),
    path("phones/", views_phones.phones_page, name="phones"),
    path("phones/code/", views_phones.new_code, name="phone-code"),
    path("phones/<int:pk>/end/", views_phones.end, name="phone-end"),
    path("phone/pair/", views_phones.pair, name="phone-pair"),
    path("token/", views_offline.token, name="token"),
    path("offline/", views_offline.offline, name="offline"),
    path("service-worker.js", views_offline.service_worker, name="service-worker"),
    path("set-up/", setup_views.set_up, name="set-up"),
    path("set-up/skip/", setup_views.skip, name="set-up-skip"),
    path("set-up/maker/", maker_views.makers_words, name="makers-words"),
    path("look/", views_look.look, name="look"),
]
