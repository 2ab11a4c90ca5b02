"""The colour of a fixture's light: its channels mixed to taste, PAR kept."""

from django.contrib.auth.decorators import login_required
from django.utils import timezone

from apps.common.htmx import render_part
from apps.common.numbers import UnreadableNumber, parse_number
from apps.lighting.mix_hanging import mixes_over
from apps.lighting.mixing import USUAL_PERCENT, asked_mix, mix_look
from apps.lighting.optic_views import own_fixture

PAGE, FRAGMENT = "lighting/fixture_mix.html", "lighting/_fixture_mix.html"


@login_required
def fixture_mix(request, pk):
    """Show a mix; `was0..` are the levels whose PAR is kept, `level0..` those asked for."""
    fixture = own_fixture(request.user, pk)
    context = {"fixture": fixture}
    if fixture.channels:
        count, problems = len(fixture.channels), []
        before = read_levels(request.GET, "was", [USUAL_PERCENT] * count, problems)
        asked = read_levels(request.GET, "level", before, problems)
        if "fresh" in request.GET:
            before = asked
        mix = asked_mix(fixture, before, asked)
        levels = [100 * level for level in mix.levels]
        context |= {
            "mix": mix_look(fixture, mix),
            "over": mixes_over(request.user, fixture, levels, now=timezone.now()),
            "problems": problems,
        }
    status = 422 if context.get("problems") else 200
    return render_part(request, PAGE, FRAGMENT, context, status=status)


def read_levels(params, name, usual, problems):
    """Return the levels asked for by name0, name1, ... [%], the usual one where none is."""
    levels = []
    for index, level in enumerate(usual):
        text = params.get(f"{name}{index}")
        if text is not None:
            try:
                level = parse_number(text, words=("%",))
            except UnreadableNumber as problem:
                problems.append(str(problem))
        levels.append(min(max(level, 0.0), 100.0))
    return levels
