"""The clock at a tank that moved: one time zone until a moment, another from then on."""

import datetime as dt
import zoneinfo
from functools import lru_cache

EVER = dt.datetime.max.replace(tzinfo=dt.UTC)


class MovedZone(dt.tzinfo):
    """Zones one after the other; the move between two is a clock set once, as in autumn or spring.

    `moves` are (moment until which, zone then), ascending; `last` holds since.
    """

    def __init__(self, moves: tuple[tuple[dt.datetime, dt.tzinfo], ...], last: dt.tzinfo):
        self.moves, self.last = moves, last
        self.spans = (*moves, (EVER, last))

    def __eq__(self, other):
        return isinstance(other, MovedZone) and self.spans == other.spans

    def __hash__(self):
        return hash(self.spans)

    def __reduce__(self):
        return MovedZone, (self.moves, self.last)

    def __repr__(self):
        return " then ".join(str(zone) for _, zone in self.spans)

    def zone_at(self, moment: dt.datetime) -> dt.tzinfo:
        """Return the zone that held at an aware moment."""
        return next(zone for until, zone in self.spans if moment < until)

    def fromutc(self, moment):
        true = moment.replace(tzinfo=dt.UTC)
        local = true.astimezone(self.zone_at(true))
        shown = local.replace(tzinfo=self, fold=0)
        return shown.replace(fold=int(shown.utcoffset() != local.utcoffset()))

    def utcoffset(self, shown):
        return None if shown is None else self._in_force(shown).utcoffset()

    def dst(self, shown):
        return None if shown is None else self._in_force(shown).dst()

    def tzname(self, shown):
        return repr(self) if shown is None else self._in_force(shown).tzname()

    def _in_force(self, shown):
        """Return what the clock shows in the zone that held then.

        A time shown twice is the first one at fold 0; one that was skipped goes by the clock
        before the move at fold 0 and by the one after it at fold 1, as in any zone.
        """
        shown_by = [(until, shown.replace(tzinfo=zone)) for until, zone in self.spans]
        starts = [None, *(until for until, _ in shown_by[:-1])]
        fits = [
            local
            for start, (until, local) in zip(starts, shown_by, strict=True)
            if (start is None or local >= start) and local < until
        ]
        if fits:
            return fits[-1] if shown.fold else fits[0]
        skipped = next(
            n for n, (until, local) in enumerate(shown_by) if shown_by[n + 1][1] < until <= local
        )
        return shown_by[skipped + shown.fold][1]


@lru_cache(maxsize=1024)
def zone_of(name: str, moves: tuple[tuple[str, str], ...] = ()) -> dt.tzinfo:
    """Return the clock of a zone's name; `moves` are (until, name) as a Tank stores them."""
    last = zoneinfo.ZoneInfo(name)
    if not moves:
        return last
    read = ((dt.datetime.fromisoformat(until), zoneinfo.ZoneInfo(zone)) for until, zone in moves)
    return MovedZone(tuple(read), last)
