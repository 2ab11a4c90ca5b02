"""A tank's light as a file for other programs: at once, or for a large tank behind the page."""

from django.core.files.base import ContentFile
from django.http import Http404
from django.urls import reverse
from django.utils import timezone
from django.utils.text import slugify

from apps.later.files import UNSEEN, file_answer, settle_file
from apps.later.kinds import JobAnswer, JobKind
from apps.later.models import Job
from apps.later.progress import Progress, unheard
from apps.later.running import Refused, Work
from apps.lightmap.export.grid_csv import write_csv
from apps.lightmap.export.light_grid import light_grid
from apps.lightmap.export.netcdf import write_netcdf
from apps.tanks.access import readable_tank
from apps.tanks.models import Tank

WRITE = "write_light"
CSV, NETCDF = "csv", "nc"
UNKNOWN = "This tank’s light is not known yet. Take readings first."


def written_light(tank: Tank, ending: str, progress: Progress = unheard) -> bytes | None:
    """Return the light of this moment as a file, None where nothing is known of it.

    `progress` hears how many of its points are worked out.
    """
    grid = light_grid(tank, timezone.now(), progress)
    if grid is None:
        return None
    if ending == CSV:
        return write_csv(grid).encode()
    return write_netcdf(grid, title=f"Light of {tank.name}", made_at=grid.moment)


def light_file_name(tank: Tank, ending: str) -> str:
    return f"{slugify(tank.name) or 'tank'}-light.{ending}"


def write_light(work: Work, *, tank_pk: int, ending: str) -> None:
    """Write the light of a tank and keep it a week for its keeper."""
    try:
        tank = readable_tank(work.job.keeper, tank_pk)
        content = written_light(tank, ending, work.progress)
    except Http404:
        raise Refused(UNSEEN) from None
    if content is None:
        raise Refused(UNKNOWN)
    settle_file(work, ContentFile(content), f".{ending}")


def answer(job: Job) -> JobAnswer:
    try:
        tank = readable_tank(job.keeper, job.arguments["tank_pk"])
    except Http404:
        return JobAnswer(UNSEEN, reverse("tank_list"), "See your tanks")
    name = light_file_name(tank, job.arguments["ending"])
    return file_answer(job, what="file", file_name=name, back=see_map(job))


def see_map(job: Job) -> tuple[str, str]:
    return reverse("light_map", args=[job.arguments["tank_pk"]]), "Back to the light map"


WRITE_KIND = JobKind("Export the light map", write_light, answer, again=see_map)
