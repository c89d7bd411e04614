"""Addresses of promises."""

from __future__ import annotations

from django.urls import path

from inventory.promises import club_views, people_views, round_views

urlpatterns = [
    path("", club_views.promises, name="promises"),
    path("today/", club_views.promises_today, name="promises-today"),
    path("people/", people_views.people_list, name="promises-people"),
    path("people/new/", people_views.person_new, name="promises-person-new"),
    path("people/alike/", people_views.same_people, name="promises-people-alike"),
    path("people/<str:code>/", people_views.person, name="promises-person"),
    path("people/<str:code>/change/", people_views.person_change, name="promises-person-change"),
    path("people/<str:code>/copy/", people_views.person_export, name="promises-person-export"),
    path("people/<str:code>/erase/", people_views.person_erase, name="promises-person-erase"),
    path("people/<str:code>/and/<str:other>/", people_views.same_person, name="promises-person-same"),
    path("clubs/new/", club_views.club_new, name="club-new"),
    path("clubs/<int:pk>/", club_views.club, name="club"),
    path("clubs/<int:pk>/change/", club_views.club_change, name="club-change"),
    path("clubs/<int:pk>/levels/new/", club_views.level_new, name="club-level-new"),
    path("clubs/levels/<int:pk>/", club_views.level, name="club-level"),
    path("clubs/<int:pk>/members/", club_views.members, name="club-members"),
    path("clubs/<int:pk>/members/new/", club_views.member_new, name="club-member-new"),
    path("clubs/members/<int:pk>/", club_views.member, name="club-member"),
    path("clubs/members/<int:pk>/change/", club_views.member_change, name="club-member-change"),
    path("clubs/members/<int:pk>/do/", club_views.member_do, name="club-member-do"),
    path("clubs/<int:pk>/rounds/new/", round_views.round_new, name="round-new"),
    path("rounds/<int:pk>/", round_views.round, name="round"),
    path("rounds/<int:pk>/change/", round_views.round_change, name="round-change"),
    path("rounds/<int:pk>/freeze/", round_views.round_freeze, name="round-freeze"),
    path("rounds/<int:pk>/late/", round_views.round_late, name="round-late"),
    path("rounds/<int:pk>/boxes/", round_views.round_boxes, name="round-boxes"),
    path("rounds/<int:pk>/boxes/out/", round_views.round_box_out, name="round-box-out"),
    path("rounds/<int:pk>/boxes/back/", round_views.round_box_back, name="round-box-back"),
]
