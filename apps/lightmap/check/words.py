"""What the light log says of a tank's forecasts so far, and of salt between cleanings."""

from django.template.defaultfilters import floatformat, pluralize
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html

from apps.common.units import percent_words
from apps.lightmap.check.fouling import Fouling, fouling_of
from apps.lightmap.check.scoring import running_score
from apps.lightmap.lightmap import tank_light
from apps.tanks.models import Tank

NO_PAIR = (
    "Not known yet. It takes two surveys with the same lamps in the same place and no guessed "
    "change between them; log each wipe as “cleaned”."
)


def score_words(tank: Tank) -> list[tuple[str, str]]:
    """Return (text, url) pairs for a tank's light log; none before a survey scored a forecast."""
    light = tank_light(tank)
    running = running_score(light)
    together = running.together
    if together is None:
        return []
    url = reverse("forecast_scores", args=[tank.pk])
    text = (
        f"Forecasts so far: {percent_words(together.covered_percent)} of {together.n} readings "
        "fell in the predicted range (goal 90 %)"
    )
    fouling = fouling_of(light, running.scores, timezone.now())
    return [(text, url), *((words, f"{url}#salt") for words in fouling_words(fouling))]


def fouling_verdict(fouling: Fouling) -> str:
    """Say what a Fouling's surveys show, in HTML: nothing yet, a loss, or none."""
    if fouling.rate is None:
        return NO_PAIR
    count = fouling.rate.surveys
    by_surveys = f"by {count} survey{pluralize(count)} against the one before."
    if not fouling.shows_loss:
        most = floatformat(fouling.most_percent, 0)
        chances = "No loss shows: 9 times in 10 it is at most"
        return f"{chances} {most}\u00a0% in 30 days, {by_surveys}"
    best, low, high = (floatformat(percent, 0) for percent in fouling.percent)
    return format_html(
        "Between cleanings the light falls by about <strong>{}\u00a0% in 30 days</strong> "
        "({}–{}), {}",
        best, low, high, by_surveys,
    )  # fmt: skip


def fouling_words(fouling: Fouling) -> list[str]:
    """Return what a Fouling says in one line, in a list; [] where it shows no loss."""
    if not fouling.shows_loss:
        return []
    best, low, high = fouling.percent
    text = f"Salt and dust take about {percent_words(best)} in 30 days ({low:.0f}–{high:.0f})"
    if fouling.wiped is not None:
        text += f"; wiped now, the light would be × {fouling.wiped[0]:.2f}"
    return [text]
