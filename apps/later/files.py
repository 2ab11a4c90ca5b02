"""A file that is written for a keeper behind the pages, and kept a week."""

from collections.abc import Mapping

from django.core.files.base import File
from django.db import transaction
from django.urls import reverse

from apps.accounts.models import User
from apps.later.kinds import JobAnswer
from apps.later.models import UNFINISHED, Job
from apps.later.queue import put_down_unless_there
from apps.later.running import Work

UNSEEN = "You can no longer see this tank."


def put_down_file(name: str, *, keeper: User, arguments: Mapping[str, object]) -> Job:
    """Let a file be written; one under way is enough, however often it is clicked for."""
    subject = " ".join(map(str, (keeper.pk, *arguments.values())))
    return put_down_unless_there(name, subject=subject, keeper=keeper, arguments=arguments)


def settle_file(
    work: Work, content: File, suffix: str, outcome: dict[str, object] | None = None
) -> None:
    """End a job with the file it wrote, which takes the place of one that was written before."""
    job = work.job
    with transaction.atomic():
        work.settle_with_file(content, suffix, outcome)
        same = Job.objects.filter(name=job.name, keeper=job.keeper, arguments=job.arguments)
        for before in same.exclude(pk=job.pk).exclude(state__in=UNFINISHED):
            before.delete()


def file_answer(job: Job, *, what: str, file_name: str, back: tuple[str, str]) -> JobAnswer:
    """Hand a written file over, or lead back where it is gone, as after a restore."""
    if not job.file.storage.exists(job.file.name):
        return JobAnswer(f"The {what} is no longer here. Export it again.", *back)
    words = f"The {what} is ready. It is kept here for a week."
    return JobAnswer(words, reverse("job_file", args=[job.key]), "Download", file_name)
