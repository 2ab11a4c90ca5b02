"""The stretch of time a coral's page shows: all of it, or a part chosen by links."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.http import urlencode

from apps.drawing.time_axis import TimeAxis, midnight

# What is offered, where the whole is longer: days and what they are called.
SPANS = ((1096, "3 years"), (365, "1 year"), (183, "6 months"), (91, "3 months"), (31, "1 month"))
DAY = dt.timedelta(days=1)


@dataclass(frozen=True)
class Choice:
    """A link to another stretch; `key` is its mark on the page, so that a keyboard stays on it."""

    key: str
    label: str
    query: str
    chosen: bool = False


@dataclass(frozen=True)
class Stretch:
    axis: TimeAxis
    choices: tuple[Choice, ...]
    earlier: Choice | None
    later: Choice | None

    @property
    def steps(self) -> tuple[Choice, ...]:
        """Return the links along the axis that there are."""
        return tuple(step for step in (self.earlier, self.later) if step)

    @property
    def query(self) -> str:
        """Return the query that names this stretch, empty where nothing is to choose."""
        return next((choice.query for choice in self.choices if choice.chosen), "")

    @property
    def words(self) -> str:
        last = self.axis.end - dt.timedelta(seconds=1)
        return f"{self.axis.start:%-d %b %Y} to {last:%-d %b %Y}"


def stretch_within(
    chosen: Mapping[str, str], whole: TimeAxis, *, usual_days: int | None = None
) -> Stretch:
    """Return the Stretch that `chosen` ({days, until}) names within a whole TimeAxis.

    What can't be read, or is not offered, means all of it. A page that would grow shows its last
    `usual_days` when it names none, one of SPANS.
    """
    wanted = chosen.get("days", str(usual_days or ""))
    offered = [(days, label) for days, label in SPANS if days * DAY < whole.end - whole.start]
    days = next((d for d, _ in offered if str(d) == wanted), None)
    axis = whole if days is None else cut(whole, days, chosen.get("until", ""))
    until = "" if axis.end >= whole.end else f"{axis.end:%Y-%m-%d}"
    everything = "" if usual_days is None else "?days=all"
    choices = [Choice("stretch-all", "all", everything, days is None)] + [
        Choice(f"stretch-{d}", label, query(d, until), d == days) for d, label in offered
    ]
    half = dt.timedelta(days=(days or 0) // 2)
    earlier = later = None
    if days and axis.start > whole.start:
        earlier = Choice("stretch-earlier", "earlier", query(days, f"{axis.end - half:%Y-%m-%d}"))
    if days and axis.end < whole.end:
        later = Choice("stretch-later", "later", query(days, f"{axis.end + half:%Y-%m-%d}"))
    return Stretch(axis, tuple(choices) if offered else (), earlier, later)


def cut(whole: TimeAxis, days: int, until: str) -> TimeAxis:
    """Return the TimeAxis of so many days that ends on a date, held within the whole."""
    try:
        end = midnight(dt.date.fromisoformat(until), whole.end.tzinfo)
    except ValueError:
        end = whole.end
    end = min(max(end, whole.start + days * DAY), whole.end)
    return TimeAxis(end - days * DAY, end)


def query(days: int, until: str) -> str:
    return "?" + urlencode({"days": days} | ({"until": until} if until else {}))
