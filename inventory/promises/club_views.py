"""Pages of clubs: the first page of promises, a club, its levels, its members and one membership."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.studio.access import SignedInRequest, helper, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.refusals import Refused
from dyehouse.studio.refusing import refusals_beside
from inventory.promises import clubs, memberships
from inventory.promises.club_forms import (
    ClubForm,
    LevelForm,
    MembershipChangeForm,
    MembershipForm,
    Slots,
    slots_said,
)
from inventory.promises.club_queries import club_page, levels_of, member_page, members_page
from inventory.promises.home import home_page, of_the_day
from inventory.promises.models import Club, Level, Membership, Person, Round
from inventory.promises.people import NobodyMeant, person_said
from recipes.models import Base, PutUp
from recipes.paging import page_asked


@helper
@require_GET
def promises(request: SignedInRequest) -> HttpResponse:
    """What is promised by its day, and what asks something."""
    return render(request, "promises/promises.html", {"home": home_page()})


@helper
@require_GET
def promises_today(request: SignedInRequest) -> HttpResponse:
    """The part of the day's page that is about promises; it comes after the page, which has queries enough of its own."""
    return render(request, "promises/today.html", {"today": of_the_day()})


@owner
@require_http_methods(["GET", "POST"])
def club_new(request: SignedInRequest) -> HttpResponse:
    """Write a club down."""
    form = ClubForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        with refusals_beside(form, "name"):
            club = clubs.make_club(facts=form.facts)
        if not form.errors:
            messages.success(request, f"{club} is written down. Say what its boxes hold.")
            return SeeOther(reverse("club-level-new", args=[club.pk]))
    return render(request, "promises/club_form.html", {"form": form}, status=422 if form.errors else 200)


@owner
@require_GET
def club(request: SignedInRequest, pk: int) -> HttpResponse:
    """One club: levels, rounds, who belongs, what is asked."""
    found = get_object_or_404(Club, pk=pk)
    return render(request, "promises/club.html", {"page": club_page(found)})


@owner
@require_http_methods(["GET", "POST"])
def club_change(request: SignedInRequest, pk: int) -> HttpResponse:
    """Write down what is true of a club now."""
    found = get_object_or_404(Club, pk=pk)
    names = ClubForm.base_fields
    form = ClubForm(
        request.POST if request.method == "POST" else None,
        initial={name: getattr(found, name) for name in names},
    )
    if form.is_bound and form.is_valid():
        with refusals_beside(form, "name"):
            clubs.change_club(club=found, facts=form.facts)
        if not form.errors:
            messages.success(request, "Kept.")
            return SeeOther(reverse("club", args=[pk]))
    context = {"form": form, "club": found}
    return render(request, "promises/club_form.html", context, status=422 if form.errors else 200)


@owner
@require_http_methods(["GET", "POST"])
def level_new(request: SignedInRequest, pk: int) -> HttpResponse:
    """Write down a level of a club."""
    found = get_object_or_404(Club, pk=pk)
    return _level(request, found, None)


@owner
@require_http_methods(["GET", "POST"])
def level(request: SignedInRequest, pk: int) -> HttpResponse:
    """Say afresh what a level holds, from the next round on."""
    found = get_object_or_404(Level.objects.select_related("club"), pk=pk)
    return _level(request, found.club, found)


def _level(request: SignedInRequest, club: Club, level: Level | None) -> HttpResponse:
    sent = request.POST if request.method == "POST" else None
    put_ups = list(PutUp.objects.filter(retired_at=None).select_related("base").order_by("base__name", "pk"))
    form = LevelForm(sent, currency=request.studio.currency, initial=_level_said(level))
    rows = Slots(sent, prefix="slots", form_kwargs={"put_ups": put_ups}, initial=_slots_said(level))
    if sent is not None and form.is_valid() and rows.is_valid():
        said: dict[str, Any] = {
            "name": form.cleaned_data["name"],
            "price_minor": form.cleaned_data["price_minor"],
            "extras": form.cleaned_data["extras"].splitlines(),
            "slots": slots_said(rows),
        }
        with refusals_beside(form, name=clubs.NotALevel):
            if level is None:
                clubs.make_level(club=club, **said)
            else:
                clubs.change_level(level=level, **said)
        if not form.errors:
            messages.success(request, f"{said['name']} is kept.")
            return SeeOther(reverse("club", args=[club.pk]))
    status = 422 if sent is not None else 200
    context = {"form": form, "rows": rows, "club": club, "level": level}
    return render(request, "promises/level_form.html", context, status=status)


def _level_said(level: Level | None) -> dict[str, Any]:
    if level is None:
        return {}
    extras = "\n".join(level.extras.values_list("words", flat=True))
    return {"name": level.name, "price_minor": level.price_minor, "extras": extras}


def _slots_said(level: Level | None) -> list[dict[str, Any]]:
    if level is None:
        return []
    return [
        {
            "put_ups": [str(each.put_up_id) for each in slot.put_ups.all()],
            "pieces": slot.pieces,
            "colourway_number": str(slot.colourway_number or ""),
        }
        for slot in level.slots.order_by("position").prefetch_related("put_ups")
    ]


@owner
@require_GET
def members(request: SignedInRequest, pk: int) -> HttpResponse:
    """Who belongs to a club."""
    found = get_object_or_404(Club, pk=pk)
    page = members_page(
        found, state=request.GET.get("state", ""), words=request.GET.get("for", ""), page=page_asked(request)
    )
    return render(request, "promises/members.html", {"page": page, "states": Membership.State.choices})


@owner
@require_http_methods(["GET", "POST"])
def member_new(request: SignedInRequest, pk: int) -> HttpResponse:
    """Sign somebody up for a club."""
    found = get_object_or_404(Club, pk=pk)
    levels = [each for each in levels_of(found) if each.retired_at is None]
    form = MembershipForm(
        request.POST if request.method == "POST" else None,
        levels=levels,
        bases=_bases_of(levels),
        initial={"receiver": request.GET.get("for", "")[:254]},
    )
    if form.is_bound and form.is_valid():
        people = _people_of(form)
        if people is not None:
            receiver, payer = people
            with refusals_beside(form, base=memberships.BaseNeeded, count=memberships.HowManyBoxes):
                joined = memberships.join(
                    level=form.chosen_level,
                    receiver=receiver,
                    payer=payer,
                    base=form.chosen_base,
                    who=request.user,
                    **_plain(form),
                )
            if not form.errors:
                words = "waits for a place" if joined.state == Membership.State.WAITING else "is in"
                messages.success(request, f"{receiver} {words}.")
                return SeeOther(reverse("club-member", args=[joined.pk]))
    context = {"form": form, "club": found, "full": memberships.is_full(found)}
    return render(request, "promises/member_form.html", context, status=422 if form.errors else 200)


def _bases_of(levels: list[Level]) -> list[Base]:
    bases = {
        each.put_up.base for level in levels for slot in level.slots.all() for each in slot.put_ups.all()
    }
    return sorted(bases, key=lambda base: base.name)


def _plain(form: MembershipForm) -> dict[str, Any]:
    names = ("count", "gift_note", "doubles", "prepaid_rounds", "reference")
    return {name: form.cleaned_data[name] for name in names}


def _people_of(form: MembershipForm) -> tuple[Person, Person] | None:
    """Who gets it and who pays, or None after saying beside the field who is not known."""
    found: dict[str, Person] = {}
    for name in ("receiver", "payer"):
        typed = form.cleaned_data[name]
        if name == "payer" and not typed:
            continue
        try:
            found[name] = person_said(typed)
        except NobodyMeant as unknown:
            form.add_error(name, str(unknown))
    if form.errors:
        return None
    return found["receiver"], found.get("payer", found["receiver"])


@owner
@require_GET
def member(request: SignedInRequest, pk: int) -> HttpResponse:
    """One membership: what it is, its boxes, its past, and what may be done with it."""
    page = member_page(pk)
    if page is None:
        raise Http404
    return render(request, "promises/member.html", {"page": page})


@owner
@require_http_methods(["GET", "POST"])
def member_change(request: SignedInRequest, pk: int) -> HttpResponse:
    """Another level, base, number of boxes, receiver."""
    found = get_object_or_404(
        Membership.objects.select_related("club", "level", "base", "receiver", "payer"), pk=pk
    )
    levels = [each for each in levels_of(found.club) if each.retired_at is None or each.pk == found.level_id]
    frozen = _frozen_round(found)
    form = MembershipChangeForm(
        request.POST if request.method == "POST" else None,
        levels=levels,
        bases=_bases_of(levels),
        initial=_member_said(found),
    )
    if frozen is None:
        del form.fields["also_in"]
    if form.is_bound and form.is_valid():
        people = _people_of(form)
        if people is not None:
            with refusals_beside(
                form,
                base=memberships.BaseNeeded,
                count=memberships.HowManyBoxes,
                level=memberships.LevelElsewhere,
            ):
                memberships.change(
                    membership=found,
                    who=request.user,
                    level=form.chosen_level,
                    base=form.chosen_base,
                    receiver=people[0],
                    payer=people[1],
                    also_in=frozen if form.cleaned_data.get("also_in") else None,
                    why=form.cleaned_data["why"],
                    **_plain(form),
                )
            if not form.errors:
                messages.success(request, "Kept, with the day and what it was before.")
                return SeeOther(reverse("club-member", args=[pk]))
    context = {"form": form, "club": found.club, "membership": found, "frozen": frozen}
    return render(request, "promises/member_form.html", context, status=422 if form.errors else 200)


def _member_said(membership: Membership) -> dict[str, Any]:
    return {
        "receiver": membership.receiver.email or membership.receiver.code,
        "payer": (membership.payer.email or membership.payer.code) if membership.is_gift else "",
        "gift_note": membership.gift_note,
        "level": str(membership.level_id),
        "base": str(membership.base_id or ""),
        "count": membership.count,
        "doubles": membership.doubles,
        "prepaid_rounds": membership.prepaid_rounds,
        "reference": membership.reference,
    }


def _frozen_round(membership: Membership) -> Round | None:
    """The frozen round, still to ship, in which the membership has a box."""
    today = timezone.localdate()
    return (
        Round.objects.filter(
            frozen_at__isnull=False,
            ships_on__gte=today,
            boxes__membership=membership,
            boxes__withdrawn_at=None,
        )
        .select_related("club")
        .order_by("-number")
        .first()
    )


DEEDS: dict[str, tuple[Callable[..., Membership], str]] = {
    "offer": (memberships.offer_place, "They have a place from the next round on."),
    "pause": (memberships.pause, "Paused. Boxes of a frozen round stay until they are taken out there."),
    "resume": (memberships.resume, "It goes on with the next round."),
    "end": (memberships.end, "Ended. Boxes of a frozen round stay until they are taken out there."),
    "skip": (memberships.skip, "It skips this round."),
    "skip_not": (memberships.skip_not, "It does not skip after all."),
}


@owner
@require_POST
def member_do(request: SignedInRequest, pk: int) -> HttpResponse:
    """Pause, go on, end, offer a place, skip a round or not after all."""
    found = get_object_or_404(Membership, pk=pk)
    deed = DEEDS.get(request.POST.get("do", ""))
    if deed is None:
        raise Http404
    do, done = deed
    more: dict[str, Any] = {}
    if do in (memberships.skip, memberships.skip_not):
        number = request.POST.get("round", "")
        more["round"] = get_object_or_404(Round, pk=int(number) if number.isdecimal() else 0)
    try:
        do(membership=found, who=request.user, why=request.POST.get("why", "")[:300], **more)
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, done)
    return SeeOther(reverse("club-member", args=[pk]))
