"""Which survey a light rests on, in words."""

import datetime as dt

NOT_MEASURED = "not measured: calculated from the lamps’ output"
COUNT_WORDS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


def day_words(moment: dt.datetime, zone: dt.tzinfo) -> str:
    """Return a moment's date at the tank: 3 May 2026."""
    local = moment.astimezone(zone)
    return f"{local.day} {local:%b %Y}"


def count_words(count: int, noun: str) -> str:
    """Return "one light change", "12 light changes"."""
    number = COUNT_WORDS[count] if count < len(COUNT_WORDS) else str(count)
    return f"{number} {noun}" if count == 1 else f"{number} {noun}s"


def provenance_words(
    zone: dt.tzinfo,
    *,
    surveyed_at: dt.datetime,
    changes_since: int,
    measured_later: bool,
    predicted_since: dt.datetime | None,
    measured: bool = True,
    **_: object,
) -> str:
    """Say which survey a light rests on and how many changes lie between; see TankLight."""
    if not measured:
        return NOT_MEASURED
    day, changes = day_words(surveyed_at, zone), count_words(changes_since, "light change")
    if measured_later:
        return f"worked back from the survey of {day}, over {changes}"
    if predicted_since:
        since = day_words(predicted_since, zone)
        return f"predicted since {since} from the survey of {day}, over {changes}"
    return f"measured {day}, {changes} since"
