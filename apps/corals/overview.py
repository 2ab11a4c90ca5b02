"""How a tank's corals stand today, in two lines: their light, and how they look."""

from django.urls import reverse

from apps.common.pages_above import page_above
from apps.corals.condition import is_little_off, looks_unwell
from apps.corals.status import by_state, coral_statuses, urgency
from apps.lightmap.lightmap import tank_light
from apps.lightmap.pins import UNKNOWN, WITHIN
from apps.tanks.overview import Line, State

# So many corals are called by their names; the list has the rest.
NAMED = 3


def coral_lines(tank, now):
    """Return the Lines of a tank's living corals; none where nobody lives."""
    result = coral_statuses(tank, tank_light(tank), now)
    living = [status for status in result if status.coral.gone_on is None]
    return [band_line(tank, living), look_line(tank, living)] if living else []


def band_line(tank, living):
    """Return the Line of the corals' light against their bands."""
    return Line(
        "bands",
        "Corals’ light",
        reverse("coral_list", args=[tank.pk]),
        states=tuple(State(group.key, band_words(group)) for group in by_state(living)),
    )


def band_words(group):
    """Say how many corals are in a state, and which where that calls for something."""
    title = "no light or no band known" if group.key == UNKNOWN else group.title.lower()
    count = len(group.statuses)
    if group.key == WITHIN:
        return f"{count} within {'its' if count == 1 else 'their'} band"
    return f"{title.replace('their', 'its') if count == 1 else title}: {named(group.statuses)}"


def named(some):
    """Return the first corals' names, and how many more there are."""
    names = ", ".join(status.coral.name for status in some[:NAMED])
    return f"{names} and {len(some) - NAMED} more" if len(some) > NAMED else names


def look_line(tank, living):
    """Return the Line of how the corals looked when last noted."""
    noted = [status for status in living if status.latest_note is not None]
    unwell = sorted((s for s in noted if looks_unwell(s.latest_note)), key=urgency)
    little_off = sum(is_little_off(s.latest_note) for s in noted)
    wall = reverse("coral_wall", args=[tank.pk])
    if not noted:
        return Line("looks", "Corals’ looks", wall, words="No note yet")
    well = f"{len(noted) - len(unwell) - little_off} of {len(living)} looked well"
    if little_off:
        well += f", {little_off} a little off"
    if not unwell:
        return Line("looks", "Corals’ looks", wall, words=well, more=(last_words(noted, living),))
    links = [(look_words(s), page_above("coral_case", s.coral.pk)) for s in unwell[:NAMED]]
    return Line(
        "looks",
        "Is it the light?",
        page_above("outcome_list", tank.pk),
        words=f"{well} when last noted" if len(unwell) > NAMED else "",
        links=tuple(links),
        is_due=True,
    )


def look_words(status):
    """Say how one coral looked: "Cream staghorn: poor, clear paling, 3 days ago"."""
    return f"{status.coral.name}: {status.latest_note.in_words()}, {ago(status.days_since_note)}"


def last_words(noted, living):
    """Say when somebody last looked, and how many were never noted."""
    latest = f"Last noted {ago(min(status.days_since_note for status in noted))}"
    never = len(living) - len(noted)
    return f"{latest}; {never} never" if never else latest


def ago(days):
    """Return "today", "1 day ago", "12 days ago"."""
    return "today" if days <= 0 else f"{days} day{'' if days == 1 else 's'} ago"
