"""What is worked out of a coral, over REST: the light it got over time, and its case."""

import datetime as dt

from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from apps.api.answers.coral_serializers import (
    CaseAnswerSerializer,
    CasesSerializer,
    CoralLightSerializer,
    StretchAskedSerializer,
)
from apps.api.answers.light_views import OfTankLight
from apps.api.filtering import refuse_unknown
from apps.corals.coral.timeline import light_steps
from apps.corals.models import Coral
from apps.drawing.time_axis import TimeAxis, midnight
from apps.lightmap.lightmap import tank_light
from apps.outcomes.case.gathering import Case, CaseBook
from apps.outcomes.case.page import case_page

# A year of light, where no stretch is named; each step of it is worked out.
USUAL_STRETCH = dt.timedelta(days=365)
STEPS_MAX = 1000
CASES_MAX = 50


class OfCoralAnswer(OfTankLight):
    """An answer about one coral of a tank that the user may read."""

    @property
    def coral(self) -> Coral:
        corals = Coral.objects.present().filter(tank=self.tank).select_related("tank")
        return get_object_or_404(corals.prefetch_related("spots"), pk=self.kwargs["coral_pk"])


class CoralLightView(OfCoralAnswer):
    """The light at a coral's own spot over time, in steps between changes, with its interval."""

    serializer_class = CoralLightSerializer

    @extend_schema(parameters=[StretchAskedSerializer])
    def get(self, request: Request, tank_pk: int, coral_pk: int) -> Response:
        coral = self.coral
        refuse_unknown(request, {"since", "until"})
        query = self.checked(StretchAskedSerializer, request.query_params.dict())
        axis, light = stretch_of(coral, query), tank_light(self.tank)
        if len(light.steps_between(axis.start, axis.end)) > STEPS_MAX:
            too_long = f"More than {STEPS_MAX} steps. Ask for a shorter stretch."
            raise ValidationError({"since": [too_long]})
        band = coral.band(light.history.full_hours_at(axis.end))
        steps = [lit_step(step) for step in light_steps(coral, light, axis)]
        return self.answer(
            CoralLightSerializer,
            {"band_low_umol": band.low_umol, "band_high_umol": band.high_umol, "steps": steps},
        )


def stretch_of(coral: Coral, query: dict) -> TimeAxis:
    """Return the whole days of a query, none before a coral came; raise ValidationError."""
    zone = coral.tank.zone
    now = timezone.now().astimezone(zone)
    end = midnight(query["until"] + dt.timedelta(days=1), zone) if "until" in query else now
    end = min(end, now)
    start = midnight(query.get("since", (end - USUAL_STRETCH).date()), zone)
    start = max(start, midnight(coral.added_on, zone))
    if start >= end:
        raise ValidationError({"since": ["It begins after it ends, or the coral came later."]})
    return TimeAxis(start, end)


def lit_step(step: object) -> dict:
    """Return a LightStep by the names of the answer; no numbers where its light is not known."""
    light = step.light
    names = ("par_umol", "low_umol", "high_umol", "dli_mol", "measured")
    known = {name: getattr(light, name) for name in names} if light else dict.fromkeys(names)
    return known | {
        "start": step.start,
        "end": step.end,
        "spot": step.spot.pk if step.spot else None,
        "survey": light.survey_pk if light and light.measured else None,
        "beyond_readings": light.extrapolated if light else None,
    }


class CoralCaseView(OfCoralAnswer):
    """A coral's case: what was seen, what it comes to, how sure that is, and the next step.

    `case` is null where no trouble was ever noted.
    """

    serializer_class = CaseAnswerSerializer

    def get(self, request: Request, tank_pk: int, coral_pk: int) -> Response:
        refuse_unknown(request, set())
        coral = self.coral
        book = CaseBook(self.tank, timezone.now())
        known = book.book.coral_by_pk.get(coral.pk)
        case = book.case_of(known) if known else None
        return self.answer(CaseAnswerSerializer, {"case": shown_case(case) if case else None})


class TankCasesView(OfTankLight):
    """The cases of all corals that still looked unwell when last noted, the most urgent first."""

    serializer_class = CasesSerializer

    def get(self, request: Request, tank_pk: int) -> Response:
        refuse_unknown(request, set())
        book = CaseBook(self.tank, timezone.now())
        cases = [case for coral in book.unhappy[:CASES_MAX] if (case := book.case_of(coral))]
        data = {"count": len(book.unhappy), "cases": [shown_case(case) for case in cases]}
        return self.answer(CasesSerializer, data)


def shown_case(case: Case) -> dict:
    """Return a Case by the names of the answer."""
    page, facts, judgement = case_page(case), case.facts, case.judgement
    return {
        "coral": case.coral.pk,
        "sign": facts.sign.value,
        "first_on": facts.first_on,
        "last_on": facts.last_on,
        "notes": facts.notes,
        "finding": judgement.finding.value,
        "sureness": judgement.sureness.name.lower(),
        "speaks_for": list(judgement.for_it),
        "speaks_against": list(judgement.against_it),
        "sentence": page.sentence,
        "next_step": {"key": page.step.key, "sentence": page.step.words},
        "place_in_band": facts.place or None,
        "light_before": case.light,
        "light_now": case.light_now,
    }
