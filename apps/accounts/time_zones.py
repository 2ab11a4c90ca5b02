"""The time zones a person may pick."""

import functools
import zoneinfo


@functools.cache
def time_zone_names():
    """Return the names with a place in them, sorted, and UTC."""
    places = (n for n in zoneinfo.available_timezones() if "/" in n and "Etc" not in n)
    return [*sorted(places), "UTC"]
