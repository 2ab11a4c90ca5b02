"""A large table of history is read and added behind the page, and kept until it is all in."""

from dataclasses import replace

from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.db import transaction
from django.template.defaultfilters import pluralize
from django.urls import reverse

from apps.accounts.models import User
from apps.common.tables.reading import UnreadableTable
from apps.corals.history.preview import preview
from apps.corals.history.reading import read_history
from apps.corals.history.recording import import_history, read_to_add
from apps.corals.history.sent import SentTable, read_sent
from apps.corals.history_models import HistoryImport
from apps.later.kinds import JobAnswer, JobKind
from apps.later.models import Job
from apps.later.queue import put_down, put_down_unless_there
from apps.later.running import Refused, Work
from apps.tanks import sent_tables
from apps.tanks.models import Tank
from apps.tanks.sent_tables import begun

CHECK, ADD = "check_history", "add_history"


def put_down_table(name: str, *, tank: Tank, sent: SentTable, by: User) -> Job:
    """Let a table be read, or added, behind the page."""
    file = ContentFile(sent.stated(), name=".json")
    return put_down(name, keeper=by, arguments={"tank_pk": tank.pk}, file=file)


def check_again(added: Job, sent: SentTable) -> Job:
    """Let what a job that adds left of a table be read behind the page, once for all who look."""
    subject = f"left of {added.key}"
    checks = Job.objects.filter(name=CHECK, subject=subject, keeper=added.keeper)
    if (checked := checks.filter(state=Job.State.DONE).order_by("-pk").first()) is not None:
        return checked
    return put_down_unless_there(
        CHECK,
        subject=subject,
        keeper=added.keeper,
        arguments=added.arguments,
        file=ContentFile(sent.stated(), name=".json"),
    )


def sent_before(key: str, *, tank: Tank, by: User) -> tuple[Job, SentTable] | None:
    """Return a table that a keeper sent for a tank before, with its job; None where none is."""
    return sent_tables.sent_before((CHECK, ADD), read_sent, key=key, tank=tank, by=by)


def check_history(work: Work, *, tank_pk: int) -> None:
    """Read a table, and keep what its page shows before anything of it is added."""
    tank, sent = begun(work, read_sent, tank_pk=tank_pk)
    try:
        history = read_history(sent.text, tank=tank, answers=sent.answers, progress=work.progress)
    except UnreadableTable as problem:
        raise Refused(str(problem)) from None
    read = replace(sent, preview=preview(history, tank))
    with transaction.atomic():
        work.settle_with_file(
            ContentFile(read.stated()),
            ".json",
            {
                "lines": len(history.table.lines),
                "new": len(history.new),
                "asks": bool(history.problem),
            },
        )


def answer_check(job: Job) -> JobAnswer:
    lines, new = job.outcome["lines"], job.outcome["new"]
    words = f"Read {lines:,} line{pluralize(lines)}: {new:,} new entr{pluralize(new, 'y,ies')}."
    if job.outcome["asks"]:
        words = f"Read {lines:,} line{pluralize(lines)}. Answer one question first."
    return JobAnswer(f"{words} Nothing is added yet.", look_again(job)[0], "See the table")


def add_history(work: Work, *, tank_pk: int) -> None:
    """Add all of a table that can be read, or nothing of it."""
    tank, sent = begun(work, read_sent, tank_pk=tank_pk)
    try:
        table = read_to_add(tank=tank, text=sent.text, answers=sent.answers, progress=work.progress)
        with transaction.atomic():
            added, history = import_history(
                tank=tank,
                table=table,
                by=work.job.keeper,
                source=sent.source,
                progress=work.progress,
            )
            if history.problem:
                raise Refused(history.problem)
            left = len({line.number for line in (*history.bad, *history.waiting)})
            work.settle({"import_pk": added and added.pk, "left": left})
    except ValidationError as problem:
        raise Refused(f"Nothing was added: {' '.join(problem.messages)}") from None
    except UnreadableTable as problem:
        raise Refused(str(problem)) from None


def answer_add(job: Job) -> JobAnswer:
    added = HistoryImport.objects.filter(pk=job.outcome["import_pk"]).first()
    words = (
        f"Added {added.in_words()}." if added else "Nothing new was found, so nothing was added."
    )
    left = job.outcome["left"]
    if not left:
        return JobAnswer(words, _page(job), "See all imports")
    lines = f"{left:,} line{pluralize(left)}"
    return JobAnswer(f"{words} {lines} can’t be read yet.", *look_again(job))


def look_again(job: Job) -> tuple[str, str]:
    """Lead back to the table as it was sent."""
    return f"{_page(job)}?sent={job.key}", "Back to the table"


def _page(job: Job) -> str:
    return reverse("history_import", args=[job.arguments["tank_pk"]])


HISTORY_JOBS = {
    CHECK: JobKind("Check a table", check_history, answer_check, again=look_again),
    ADD: JobKind("Import history", add_history, answer_add, again=look_again),
}
