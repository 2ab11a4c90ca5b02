"""What shines on a tank today, in a line."""

from collections import Counter
from itertools import groupby

from django.urls import reverse

from apps.common.moments import day_text
from apps.lighting.day_models import Zone
from apps.lighting.history import light_history
from apps.lighting.rig_reading import rigs_after
from apps.tanks.overview import Line

# So many lamps of other levels are named one by one.
PHRASES_MAX = 3
NOT_ENTERED = "No lights entered yet."


def lamp_lines(tank, now):
    """Return the Line of a tank's lamps and day; none before the light log tells of them."""
    history = light_history(tank)
    last = next((c for c in reversed(history.changes) if c.happened_at <= now), None)
    if last is None:
        return []
    day = history.schedule_at(now)
    more = [f"Day: {day.words}"] if day else []
    on = last.happened_at.astimezone(tank.zone)
    more.append(f"Last change {day_text(on)}")
    return [
        Line(
            "lamps",
            "Lamps",
            reverse("light_change_list", args=[tank.pk]),
            words=rig_words(tank, history, now),
            more=tuple(more),
        )
    ]


def rig_words(tank, history, now):
    """Name what hangs over the display with its level: "2 × Flat puck at 60 %, Tube pair"."""
    stating = (c for c in reversed(history.changes) if c.happened_at <= now and c.rig is not None)
    last = next(stating, None)
    if last is None:
        return NOT_ENTERED
    # Read for the history already.
    rows = [row for row in rigs_after(tank).get(last.pk, ()) if row.zone == Zone.DISPLAY]
    return lamps_words(rows) or "No lamp hangs over this tank."


def lamps_words(rows):
    """Name HungFixtures with their levels: those alike together, of very many each name once."""
    alike = Counter((row.name, f"{row.light_percent:.3g}") for row in rows)
    if len(alike) > PHRASES_MAX:
        by_name = groupby(sorted(rows, key=lambda row: row.name), key=lambda row: row.name)
        return ", ".join(range_words(name, list(some)) for name, some in by_name)
    phrases = [
        f"{count} × {name} at {level}\u00a0%" if count > 1 else f"{name} at {level}\u00a0%"
        for (name, level), count in alike.items()
    ]
    return ", ".join(phrases)


def range_words(name, rows):
    """Name HungFixtures of one name with their lowest and highest level."""
    levels = [row.light_percent for row in rows]
    ends = dict.fromkeys(f"{level:.3g}" for level in (min(levels), max(levels)))
    times = f"{len(rows)} × " if len(rows) > 1 else ""
    return f"{times}{name} at {' to '.join(ends)}\u00a0%"
