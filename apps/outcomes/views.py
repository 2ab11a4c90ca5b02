from django.contrib.auth.decorators import login_required
from django.http import Http404
from django.shortcuts import render

from apps.outcomes.comparison import EVENTS_MIN, P_CLAIM
from apps.outcomes.correlation import BEFORE_DAYS, LOOKBACK_DAYS, tank_outcomes
from apps.outcomes.events import EPISODE_DAYS, TOGETHER_DAYS
from apps.outcomes.strip import draw_strip
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
def outcome_detail(request, tank_pk, note_pk):
    tank = readable_tank(request.user, tank_pk)
    outcomes = tank_outcomes(tank)
    found = outcomes.event_with_note(note_pk)
    if found is None:
        raise Http404("No note of paling, bleaching or browning.")
    context = {"tank": tank, "found": found, "missing": outcomes.missing, "rules": RULES}
    return render(request, "outcomes/outcome_detail.html", context)
