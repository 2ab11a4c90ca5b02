"""A large table of the water log is read and added behind the page, and kept until it is all in."""

import datetime as dt
import json
from collections.abc import Mapping
from dataclasses import dataclass, replace

from django.core.files.base import ContentFile
from django.db import transaction
from django.template.defaultfilters import pluralize
from django.urls import reverse

from apps.accounts.models import User
from apps.common.tables.reading import UnreadableTable
from apps.corals.water.importing import ParsedEvents, parse_events
from apps.corals.water.logging import add_water_events, new_water_events
from apps.later.kinds import JobAnswer, JobKind
from apps.later.models import Job
from apps.later.progress import Progress, unheard
from apps.later.queue import put_down
from apps.later.running import Refused, Work
from apps.tanks import sent_tables
from apps.tanks.models import Tank
from apps.tanks.sent_tables import begun

CHECK, ADD = "check_water", "add_water"
# What takes about a second: 19,990 lines of readings took 4.0 s of a core to be looked at, 6.1 s to
# be added, beside other work; alone 1.5 s and 2.9 s passed.
READ_AT_ONCE_LINES, ADDED_AT_ONCE_LINES = 8_000, 4_000
FIRST_LINES, BAD_LINES_SHOWN = 10, 100


@dataclass(frozen=True)
class SentLines:
    """Lines as they were sent, with what their keeper said of them."""

    text: str
    first_number: int = 1
    dates: str = ""
    sheet_words: str = ""
    # What `preview` made of them, once they were read.
    preview: Mapping[str, object] | None = None
    # Of what was added before these were left: how many, and how many stood there already.
    counts: Mapping[str, int] | None = None

    def is_long(self, *, to_add: bool) -> bool:
        """Whether reading them, or adding what they say, takes more than about a second."""
        most = ADDED_AT_ONCE_LINES if to_add else READ_AT_ONCE_LINES
        return self.text.count("\n") >= most

    def parsed(self, tank: Tank, progress: Progress = unheard) -> ParsedEvents:
        """Return what they say; raises UnreadableTable with a sentence."""
        return parse_events(
            self.text,
            tank=tank,
            first_number=self.first_number,
            dates=self.dates,
            progress=progress,
        )

    def stated(self) -> ContentFile:
        return ContentFile(json.dumps(vars(self)).encode(), name=".json")


def preview(parsed: ParsedEvents, tank: Tank) -> dict[str, object]:
    """Return what the page shows before anything is added; all of it may stand in JSON."""
    events = parsed.thinned.events
    new = new_water_events(tank, events)
    seen = {id(event) for event in new}
    return {
        "good": len(parsed.good),
        "bad": len(parsed.bad),
        "days": parsed.thinned.days,
        "unfinished": parsed.thinned.unfinished,
        "unread": list(parsed.unread),
        "first_good": [
            {
                "happened_at": event.happened_at.isoformat(),
                "words": event.in_words(),
                "could_hurt": event.could_hurt,
                "is_new": id(event) in seen,
            }
            for event in events[:FIRST_LINES]
        ],
        "kept_count": len(events),
        "new_count": len(new),
        "known_count": len(events) - len(new),
        "bad_shown": [
            {"number": line.number, "text": line.text, "problem": line.problem}
            for line in parsed.bad[:BAD_LINES_SHOWN]
        ],
        "bad_more": max(len(parsed.bad) - BAD_LINES_SHOWN, 0),
        "text": parsed.good_text(),
        "bad_text": parsed.bad_text(),
        "dates": parsed.dates,
    }


def with_moments(shown: Mapping[str, object]) -> dict[str, object]:
    """Return a preview with its moments as such, as a template dates them."""
    rows = [
        row | {"happened_at": dt.datetime.fromisoformat(row["happened_at"])}
        for row in shown["first_good"]
    ]
    return dict(shown) | {"first_good": rows}


def left_of(parsed: ParsedEvents, *, added: int) -> SentLines:
    """Return the lines that could not be read, below their header."""
    counts = {"added": added, "known": len(parsed.thinned.events) - added, "left": len(parsed.bad)}
    text = "\n".join(filter(None, [parsed.header, parsed.bad_text()]))
    return SentLines(text, dates=parsed.dates, counts=counts)


def put_down_lines(name: str, *, tank: Tank, sent: SentLines, by: User) -> Job:
    """Let lines be read, or added, behind the page."""
    return put_down(name, keeper=by, arguments={"tank_pk": tank.pk}, file=sent.stated())


def sent_before(key: str, *, tank: Tank, by: User) -> tuple[Job, SentLines] | None:
    """Return lines that a keeper sent for a tank before, with their job; None where none are."""
    return sent_tables.sent_before((CHECK, ADD), read_sent, key=key, tank=tank, by=by)


def read_sent(stated: bytes) -> SentLines:
    """Return the SentLines that were stated."""
    return SentLines(**json.loads(stated))


def check_water(work: Work, *, tank_pk: int) -> None:
    """Read lines, and keep what their page shows before anything of them is added."""
    tank, sent = begun(work, read_sent, tank_pk=tank_pk)
    shown = preview(_read(sent, tank, work), tank)
    with transaction.atomic():
        work.settle_with_file(
            replace(sent, preview=shown).stated(),
            ".json",
            {"lines": shown["good"] + shown["bad"], "new": shown["new_count"]},
        )


def add_water(work: Work, *, tank_pk: int) -> None:
    """Add all lines that can be read, and keep the others to be mended."""
    tank, sent = begun(work, read_sent, tank_pk=tank_pk)
    parsed = _read(sent, tank, work)
    with transaction.atomic():
        added = add_water_events(
            tank=tank, events=parsed.thinned.events, by=work.job.keeper, progress=work.progress
        )
        left = left_of(parsed, added=added)
        work.settle_with_file(left.stated(), ".json", dict(left.counts or {}))


def _read(sent: SentLines, tank: Tank, work: Work) -> ParsedEvents:
    try:
        return sent.parsed(tank, work.progress)
    except UnreadableTable as problem:
        raise Refused(str(problem)) from None


def answer_check(job: Job) -> JobAnswer:
    lines, new = job.outcome["lines"], job.outcome["new"]
    words = f"Read {lines:,} line{pluralize(lines)}: {new:,} new entr{pluralize(new, 'y,ies')}."
    return JobAnswer(f"{words} Nothing is added yet.", look_again(job)[0], "See the table")


def added_words(counts: Mapping[str, int]) -> str:
    """Say how many entries were added, and how many were already there."""
    words = f"Added {counts['added']:,} to the water log."
    return words + (f" {counts['known']:,} already there." if counts["known"] else "")


def answer_add(job: Job) -> JobAnswer:
    words, left = added_words(job.outcome), job.outcome["left"]
    if not left:
        log = reverse("water_event_list", args=[job.arguments["tank_pk"]])
        return JobAnswer(words, log, "See the log")
    lines = f"{left:,} line{pluralize(left)}"
    return JobAnswer(f"{words} {lines} can’t be read yet.", look_again(job)[0], "Fix them")


def look_again(job: Job) -> tuple[str, str]:
    """Lead back to the lines as they were sent, or to those that are left of them."""
    page = reverse("water_event_import", args=[job.arguments["tank_pk"]])
    return f"{page}?sent={job.key}", "Back to the table"


WATER_JOBS = {
    CHECK: JobKind("Check a water log", check_water, answer_check, again=look_again),
    ADD: JobKind("Import a water log", add_water, answer_add, again=look_again),
}
