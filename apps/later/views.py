"""The page of a job that a keeper waits for: how far it is, then what came of it."""

import uuid

from django.contrib.auth.decorators import login_required
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_GET

from apps.common.htmx import render_part
from apps.later.about import TANKS
from apps.later.kinds import JobAnswer, kind_of
from apps.later.models import Job
from apps.later.progress import read_progress

PAGE, FRAGMENT = "later/job_page.html", "later/_job_state.html"


@login_required
@require_GET
def job_page(request: HttpRequest, key: uuid.UUID) -> HttpResponse:
    """Show a keeper's own job; nobody else learns of it."""
    job = get_object_or_404(Job, key=key, keeper=request.user)
    kind = kind_of(job)
    progress = None if job.has_ended else read_progress(str(job.key))
    context = {
        "job": job,
        "tank": next(iter(TANKS.collect(job)), None),
        "title": kind.title,
        "progress": progress,
        "parts": progress and progress[2] and f"{progress[0]:,} of {progress[1]:,} {progress[2]}",
        "percent": progress and 100 * progress[0] // max(progress[1], 1),
        "answer": answer_of(job),
        "again": kind.again(job) if kind.again and job.state == Job.State.FAILED else None,
    }
    return render_part(request, PAGE, FRAGMENT, context)


@login_required
@require_GET
def job_file(request: HttpRequest, key: uuid.UUID) -> FileResponse:
    """Hand its keeper what a job made."""
    return written_file(get_object_or_404(Job, key=key, keeper=request.user))


def written_file(job: Job) -> FileResponse:
    """Return the file that a job made, or raise Http404 where it made none that may be seen."""
    answer = answer_of(job)
    if answer is None or not answer.file_name or not job.file:
        raise Http404
    try:
        file = job.file.open("rb")
    except FileNotFoundError:
        raise Http404 from None
    return FileResponse(file, as_attachment=True, filename=answer.file_name)


def answer_of(job: Job) -> JobAnswer | None:
    """Return what came of a job that is done and has something to say."""
    answer = kind_of(job).answer
    return answer(job) if answer and job.state == Job.State.DONE else None
