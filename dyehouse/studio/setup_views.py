"""The page of the studio: asked once at the beginning, open to the owner ever after."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from dyehouse.studio.access import SignedInRequest, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.models import Measure, Studio, Vessel
from dyehouse.studio.regions import currency_of_countries, time_zones
from dyehouse.studio.setup import VesselNameTaken, needs_set_up, set_up_studio, skip_set_up
from dyehouse.studio.setup_forms import (
    MeasureRows,
    StudioForm,
    VesselRows,
    WaterForm,
    measure_initial,
    studio_facts,
    vessel_initial,
)


@owner
@require_http_methods(["GET", "POST"])
def set_up(request: SignedInRequest) -> HttpResponse:
    """Name, measures, vessels, scales, water and label sheet on one page; everything may stay empty."""
    studio = Studio.current()
    first_time = needs_set_up(studio)
    sent = request.POST if request.method == "POST" else None
    vessels = list(Vessel.objects.order_by("retired_at", "pk"))
    measures = list(Measure.objects.order_by("retired_at", "pk"))
    studio_form = StudioForm(sent, initial=_studio_initial(studio))
    water_form = WaterForm(sent, prefix="water", initial=_water_initial(studio))
    vessel_rows = VesselRows(
        sent,
        prefix="vessel",
        initial=[vessel_initial(vessel) for vessel in vessels],
        known=[vessel.pk for vessel in vessels],
    )
    measure_rows = MeasureRows(
        sent,
        prefix="measure",
        initial=[measure_initial(measure) for measure in measures],
        known=[measure.pk for measure in measures],
    )
    wrong = False
    if sent is not None:
        # Every form is asked, so that each shows what is wrong in it.
        valid = [form.is_valid() for form in (studio_form, water_form, vessel_rows, measure_rows)]
        wrong = not all(valid)
        if not wrong:
            try:
                set_up_studio(
                    facts=studio_facts(studio_form, water_form),
                    vessels=vessel_rows.answers(),
                    measures=measure_rows.answers(),
                )
            except VesselNameTaken as refused:
                studio_form.add_error(None, str(refused))
                wrong = True
            else:
                if not first_time:
                    messages.success(request, "What is written about the studio was kept.")
                return SeeOther("/" if first_time else reverse("set-up"))
    context = {
        "form": studio_form,
        "water": water_form,
        "vessels": vessel_rows,
        "measures": measure_rows,
        "first_time": first_time,
        "currencies": currency_of_countries(),
    }
    return render(request, "studio/set_up.html", context, status=422 if wrong else 200)


@owner
@require_POST
def skip(request: SignedInRequest) -> HttpResponse:
    """Begin at once with the defaults."""
    zone = request.POST.get("time_zone", "")
    skip_set_up(time_zone=zone if zone in time_zones() else None)
    return SeeOther("/")


def _studio_initial(studio: Studio) -> dict[str, object]:
    return {
        "name": studio.name,
        "units": studio.units,
        "country": studio.country,
        "currency": studio.currency,
        "time_zone": studio.time_zone,
        "label_sheet": studio.label_sheet,
    }


def _water_initial(studio: Studio) -> dict[str, object]:
    def hundredths(milligrams: int | None) -> int | None:
        return None if milligrams is None else milligrams * 100

    return {
        "hardness": hundredths(studio.water_hardness_mg_per_litre),
        "ph": studio.water_ph_hundredths,
        "alkalinity": hundredths(studio.water_alkalinity_mg_per_litre),
        "measured_on": studio.water_measured_on,
    }
