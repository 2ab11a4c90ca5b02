"""What the light log says of a tank's forecasts so far, and of salt between cleanings."""

from django.urls import reverse
from django.utils import timezone

from apps.lightmap.check.fouling import Fouling, fouling_of
from apps.lightmap.check.scoring import running_score
from apps.lightmap.lightmap import tank_light
from apps.tanks.models import Tank


def score_words(tank: Tank) -> list[tuple[str, str]]:
    """Return (text, url) pairs for a tank's light log; none before a survey scored a forecast."""
    light = tank_light(tank)
    running = running_score(light)
    together = running.together
    if together is None:
        return []
    url = reverse("forecast_scores", args=[tank.pk])
    text = (
        f"Forecasts so far: typically {together.error_percent:.0f} % off, "
        f"{together.covered_percent:.0f} % within their interval, by {together.n} readings"
    )
    fouling = fouling_of(light, running.scores, timezone.now())
    return [(text, url), *((words, f"{url}#salt") for words in fouling_words(fouling))]


def fouling_words(fouling: Fouling) -> list[str]:
    """Return what a Fouling says in one line, in a list; [] where it shows no loss."""
    if fouling.rate is None or not fouling.rate.shows_loss:
        return []
    best, low, high = fouling.percent
    text = f"Salt and dust take about {best:.0f} % in 30 days ({low:.0f}–{high:.0f})"
    if fouling.wiped is not None:
        text += f"; wiped off now, the light would be × {fouling.wiped[0]:.2f}"
    return [text]
