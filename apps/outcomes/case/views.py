"""The cases of a tank's unhappy corals, and one coral's case."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from apps.common.htmx import go_to, render_part
from apps.common.idempotency import once
from apps.corals.access import readable_coral, writable_coral
from apps.outcomes.association.correlation import LOOKBACK_DAYS
from apps.outcomes.association.event_list import events_page
from apps.outcomes.association.page_contents import list_context
from apps.outcomes.case.calm import calm_of
from apps.outcomes.case.case_facts import FRESH_DAYS, SETTLING_DAYS, SHIFT_FACTOR
from apps.outcomes.case.check import start_check
from apps.outcomes.case.gathering import CaseBook
from apps.outcomes.case.page import case_page
from apps.outcomes.case.proof import proof_of
from apps.outcomes.case.said_once import said_once
from apps.outcomes.case.water_ranges import USUAL
from apps.tanks.access import may_write, readable_tank
from apps.tanks.kept_pages.pages import kept_page

# Cases a page gives in full; a sick tank may hold dozens, whose names fold below.
CASES_AT_FIRST = 3
# So many events stand open below the statistics; more fold.
EVENTS_OPEN = 3
RULES = {
    "fresh_days": FRESH_DAYS,
    "settling_days": SETTLING_DAYS,
    "shift_percent": round(100 * (SHIFT_FACTOR - 1)),
    "lookback_weeks": LOOKBACK_DAYS // 7,
    "usual_water": USUAL,
}


@login_required
@kept_page(readable_tank)
@require_GET
def outcome_list(request: HttpRequest, tank_pk: int) -> HttpResponse:
    """The cases first; what the statistics say of all notes folds below."""
    tank = readable_tank(request.user, tank_pk)
    context = list_context(tank, request.GET)
    if context["chosen"]:
        page = events_page(context["chosen"], request.GET.get("page"))
        context |= {
            "page": page,
            "shown": [context["outcomes"].lit(event) for event in page],
            "opens_events": len(context["chosen"]) <= EVENTS_OPEN or "page" in request.GET,
        }
    cases = CaseBook(tank, timezone.now(), context["outcomes"].book)
    unhappy = cases.unhappy
    first, rest = unhappy[:CASES_AT_FIRST], unhappy[CASES_AT_FIRST:]
    once, shown = said_once([case_page(c) for coral in first if (c := cases.case_of(coral))])
    context |= {
        "once": once,
        "cases": shown,
        "more_cases": [(coral, cases.troubles[coral.pk]) for coral in rest],
        "unhappy_count": len(unhappy),
        "mended": cases.mended,
        "calm": None
        if unhappy
        else calm_of(cases.book.corals, timezone.localtime(None, tank.zone)),
        "opens_statistics": bool({"page", "days", "until"} & set(request.GET)),
        "may_write": may_write(request.user, tank),
    }
    return render(request, "outcomes/case/outcome_list.html", context)


@login_required
@kept_page(readable_coral)
@require_GET
def coral_case(request: HttpRequest, coral_pk: int) -> HttpResponse:
    coral = readable_coral(request.user, coral_pk)
    tank = coral.tank
    cases = CaseBook(tank, timezone.now())
    case = cases.case_of(cases.book.coral_by_pk[coral.pk])
    context = {
        "tank": tank,
        "coral": coral,
        "shown": case_page(case) if case else None,
        "rules": RULES,
        "may_write": may_write(request.user, tank),
    }
    return render(request, "outcomes/case/coral_case.html", context)


@login_required
@kept_page(readable_coral)
@require_GET
def coral_case_proof(request: HttpRequest, coral_pk: int) -> HttpResponse:
    """What this tank's notes can prove; on its own, since years of notes take a moment."""
    coral = readable_coral(request.user, coral_pk)
    context = {"tank": coral.tank, "coral": coral, "proof": proof_of(coral)}
    page, part = "outcomes/case/coral_case_proof.html", "outcomes/case/_coral_case_proof.html"
    return render_part(request, page, part, context)


@login_required
@require_POST
@once()
def coral_case_check(request: HttpRequest, coral_pk: int) -> HttpResponse:
    """Start two check readings and lead to the pad; to a new survey where none was made before."""
    coral = writable_coral(request.user, coral_pk)
    survey = start_check(coral=coral, by=request.user, now=timezone.now())
    if survey is None:
        return go_to(request, reverse("survey_new", args=[coral.tank_id]))
    return go_to(request, reverse("survey_enter", args=[survey.pk]))
