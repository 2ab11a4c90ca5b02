"""A tank's answers, its map and its unhappy corals in a few pages, to read, print or hand over."""

from collections.abc import Mapping, Sequence

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from apps.common.reading_once import reading_once
from apps.outcomes.association.event_list import REPORT_EVENTS
from apps.outcomes.association.page_contents import answer_context, list_context
from apps.outcomes.case.gathering import CaseBook
from apps.outcomes.case.page import CasePage
from apps.outcomes.report.report_map import report_map
from apps.outcomes.report.unhappy import CaseGroup, unhappy_of
from apps.tanks.access import readable_tank
from apps.tanks.kept_pages.pages import kept_page

# Corals drawn side by side for each question.
CORALS_DRAWN = 10


@login_required
@kept_page(readable_tank)
@reading_once()
def outcome_report(request: HttpRequest, tank_pk: int) -> HttpResponse:
    """The answer first, then what it rests on; what is left out is counted, the CSVs have it."""
    tank, now = readable_tank(request.user, tank_pk), timezone.now()
    context = list_context(tank, request.GET)
    outcomes, chosen = context["outcomes"], context["chosen"]
    unhappy = unhappy_of(CaseBook(tank, now, outcomes.book))
    drawn = report_map(tank, now, request.user.units, unhappy.corals)
    context |= {
        "map": drawn,
        "unhappy": unhappy,
        "groups": numbered(unhappy.groups, drawn.numbers if drawn else {}),
        "shown": [outcomes.exposed(event) for event in chosen[:REPORT_EVENTS]],
        "left_out": max(len(chosen) - REPORT_EVENTS, 0),
        "outside": len(outcomes.events) - len(chosen),
        "living": sum(coral.gone_on is None for coral in outcomes.book.corals),
        "printed_at": now,
    }
    if outcomes.events:
        context |= answer_context(outcomes, drawn=CORALS_DRAWN)
    return render(request, "outcomes/report/outcome_report.html", context)


def numbered(
    groups: Sequence[CaseGroup], numbers: Mapping[int, int]
) -> list[tuple[CasePage, list[tuple[int | None, CasePage]]]]:
    """Return each group's first case, and all of it with their numbers on the map."""
    return [
        (group.first, [(numbers.get(page.case.coral.pk), page) for page in group.pages])
        for group in groups
    ]
