from django.contrib.auth.decorators import login_required
from django.http import Http404
from django.shortcuts import render

from apps.common.htmx import render_part
from apps.outcomes.comparison import EVENTS_MIN, P_CLAIM
from apps.outcomes.correlation import BEFORE_DAYS, LOOKBACK_DAYS, tank_outcomes
from apps.outcomes.events import EPISODE_DAYS, TOGETHER_DAYS
from apps.outcomes.strip import draw_strip
from apps.outcomes.weighing import weigh_tank
from apps.tanks.access import readable_tank

# What "How was this computed" tells of.
RULES = {
    "before_days": BEFORE_DAYS,
    "lookback_days": LOOKBACK_DAYS,
    "episode_days": EPISODE_DAYS,
    "together_days": TOGETHER_DAYS,
    "events_min": EVENTS_MIN,
    "p_claim": P_CLAIM,
}


@login_required
def outcome_list(request, tank_pk):
    tank = readable_tank(request.user, tank_pk)
    outcomes = tank_outcomes(tank)
    weighed = [(c, draw_strip(c.corals)) for c in outcomes.comparisons if c.n_events]
    context = {"tank": tank, "outcomes": outcomes, "weighed": weighed, "rules": RULES}
    return render(request, "outcomes/outcome_list.html", context)


@login_required
def outcome_weighing(request, tank_pk):
    """Weigh the changes of light; on its own, since years of notes take a moment."""
    tank = readable_tank(request.user, tank_pk)
    context = {"tank": tank, "weighed": weigh_tank(tank)}
    page, part = "outcomes/outcome_weighing.html", "outcomes/_outcome_weighing.html"
    return render_part(request, page, part, context)


@login_required
def outcome_detail(request, tank_pk, note_pk):
    tank = readable_tank(request.user, tank_pk)
    outcomes = tank_outcomes(tank)
    found = outcomes.event_with_note(note_pk)
    if found is None:
        raise Http404("No note of paling, bleaching or browning.")
    context = {"tank": tank, "found": found, "missing": outcomes.missing, "rules": RULES}
    return render(request, "outcomes/outcome_detail.html", context)
