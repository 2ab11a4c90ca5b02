"""A large table of history is added behind the page, and kept until it is all in."""

import json
from dataclasses import asdict, dataclass, replace

from django.core.exceptions import PermissionDenied, ValidationError
from django.core.files.base import ContentFile
from django.db import transaction
from django.http import Http404
from django.template.defaultfilters import pluralize
from django.urls import reverse

from apps.accounts.models import User
from apps.common.tables.reading import UnreadableTable
from apps.corals.history.recording import import_history
from apps.corals.history.table import Answers
from apps.corals.history_models import HistoryImport
from apps.later.kinds import JobAnswer, JobKind
from apps.later.models import Job
from apps.later.queue import put_down
from apps.later.running import Refused, Work
from apps.tanks.access import writable_tank
from apps.tanks.models import Tank

ADD = "add_history"
# 1,000 lines of three values each were read and added within 2 s.
LINES_AT_ONCE = 500
NOT_YOURS = "You can no longer edit this tank. Nothing was added."


@dataclass(frozen=True)
class SentTable:
    """A table as it was sent, with what its keeper said of it."""

    text: str
    answers: Answers
    source: str = ""

    @property
    def is_large(self) -> bool:
        """Whether adding it takes more than about a second."""
        return self.text.count("\n") > LINES_AT_ONCE

    def stated(self) -> bytes:
        answers = asdict(self.answers) | {"earlier": sorted(self.answers.earlier)}
        return json.dumps({"text": self.text, "answers": answers, "source": self.source}).encode()


def read_sent(stated: bytes) -> SentTable:
    """Return the SentTable that was stated."""
    document = json.loads(stated)
    answers = Answers(**document["answers"])
    # JSON knows no numbers as keys, and no sets.
    answers = replace(
        answers,
        roles={int(at): role for at, role in answers.roles.items()},
        units={int(at): unit for at, unit in answers.units.items()},
        earlier=frozenset(answers.earlier),
    )
    return SentTable(document["text"], answers, document["source"])


def put_down_table(*, tank: Tank, sent: SentTable, by: User) -> Job:
    """Let a table be added behind the page."""
    file = ContentFile(sent.stated(), name=".json")
    return put_down(ADD, keeper=by, arguments={"tank_pk": tank.pk}, file=file)


def sent_table(key: str, *, tank: Tank, by: User) -> SentTable | None:
    """Return a table that a keeper sent for a tank before; None where there is no such."""
    try:
        job = Job.objects.filter(
            name=ADD, key=key, keeper=by, arguments={"tank_pk": tank.pk}
        ).first()
        if job is None:
            return None
        with job.file.open("rb") as file:
            return read_sent(file.read())
    except (ValidationError, ValueError, FileNotFoundError):
        return None


def add_history(work: Work, *, tank_pk: int) -> None:
    """Add all of a table that can be read, or nothing of it."""
    job = work.job
    with job.file.open("rb") as file:
        sent = read_sent(file.read())
    try:
        tank = writable_tank(job.keeper, tank_pk)
        with transaction.atomic():
            added, history = import_history(
                tank=tank,
                text=sent.text,
                answers=sent.answers,
                by=job.keeper,
                source=sent.source,
                progress=work.progress,
            )
            left = len({line.number for line in (*history.bad, *history.waiting)})
            work.settle({"import_pk": added and added.pk, "left": left})
    except (Http404, PermissionDenied):
        raise Refused(NOT_YOURS) from None
    except ValidationError as problem:
        raise Refused(f"Nothing was added: {' '.join(problem.messages)}") from None
    except UnreadableTable as problem:
        raise Refused(str(problem)) from None


def answer(job: Job) -> JobAnswer:
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


ADD_KIND = JobKind("Import history", add_history, answer, again=look_again)
