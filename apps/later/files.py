"""A file that is written for a keeper behind the pages, and kept a week."""

from collections.abc import Mapping

from django.urls import reverse

from apps.accounts.models import User
from apps.later.kinds import JobAnswer
from apps.later.models import Job
from apps.later.queue import put_down, under_way


def put_down_file(name: str, *, keeper: User, arguments: Mapping[str, object]) -> Job:
    """Let a file be written; one under way is enough, and one written before goes."""
    if job := under_way(name, keeper=keeper, arguments=arguments):
        return job
    for before in Job.objects.filter(name=name, keeper=keeper, arguments=dict(arguments)):
        if before.has_ended:
            before.delete()
    return put_down(name, keeper=keeper, arguments=arguments)


def file_answer(job: Job, *, what: str, file_name: str, back: tuple[str, str]) -> JobAnswer:
    """Hand a written file over, or lead back where it is gone, as after a restore."""
    if not job.file.storage.exists(job.file.name):
        return JobAnswer(f"The {what} is no longer here. Export it again.", *back)
    words = f"The {what} is ready. It is kept here for a week."
    return JobAnswer(words, reverse("job_file", args=[job.key]), "Download", file_name)
