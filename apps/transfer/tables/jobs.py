"""A tank's tables as files; those of a heavy tank are written as jobs behind the pages."""

from django.core.files.base import ContentFile
from django.http import Http404
from django.urls import reverse
from django.utils.text import slugify

from apps.accounts.models import User
from apps.later.files import UNSEEN, file_answer, put_down_file, settle_file
from apps.later.kinds import JobAnswer, JobKind
from apps.later.models import Job
from apps.later.progress import Progress, unheard
from apps.later.running import Refused, Work
from apps.lightmap.export.light_grid import takes_long
from apps.tanks.access import readable_tank
from apps.tanks.models import Tank
from apps.transfer.tables.package import write_package
from apps.transfer.tables.table import Table, followed, write_csv
from apps.transfer.tables.tables import TABLES
from apps.transfer.tables.workbook import write_workbook

WRITE = "write_tables"
WORKBOOK, PACKAGE = "tables.xlsx", "tables.zip"
# What takes about a second: 40,000 lines of lamps took 2.5 s as CSV on loaded cores.
ROWS_AT_ONCE = 15_000


def tables_of(name: str) -> tuple[Table, ...]:
    """Return the tables that a file holds; its name is that of a table, or of all in one."""
    if name in (WORKBOOK, PACKAGE):
        return TABLES
    return tuple(table for table in TABLES if f"{table.name}.csv" == name)


def is_large(name: str, tank: Tank) -> bool:
    """Whether writing a file takes more than about a second."""
    tables = tables_of(name)
    if sum(table.count(tank) for table in tables) > ROWS_AT_ONCE:
        return True
    return len(tables) > 1 and takes_long(tank)


def written(name: str, tank: Tank, progress: Progress = unheard) -> bytes:
    """Return what a file holds; `progress` hears how many of its rows are in."""
    tables = followed(tables_of(name), tank, progress)
    if name == WORKBOOK:
        return write_workbook(tables, tank)
    if name == PACKAGE:
        return write_package(tables, tank)
    return write_csv(tables[0], tank).encode()


def file_name(name: str, tank: Tank) -> str:
    return f"{slugify(tank.name) or 'tank'}-{name}"


def put_down_tables(name: str, *, tank: Tank, by: User) -> Job:
    """Let a file be written behind the page."""
    return put_down_file(WRITE, keeper=by, arguments={"tank_pk": tank.pk, "name": name})


def write_tables(work: Work, *, tank_pk: int, name: str) -> None:
    """Write a file of tables and keep it a week for its keeper."""
    try:
        tank = readable_tank(work.job.keeper, tank_pk)
    except Http404:
        raise Refused(UNSEEN) from None
    content = written(name, tank, work.progress)
    settle_file(work, ContentFile(content), f".{name.rpartition('.')[2]}")


def answer(job: Job) -> JobAnswer:
    try:
        tank = readable_tank(job.keeper, job.arguments["tank_pk"])
    except Http404:
        return JobAnswer(UNSEEN, reverse("tank_list"), "See your tanks")
    name = file_name(job.arguments["name"], tank)
    return file_answer(job, what="file", file_name=name, back=list_files(job))


def list_files(job: Job) -> tuple[str, str]:
    return reverse("tank_exports", args=[job.arguments["tank_pk"]]), "Back to Export"


WRITE_KIND = JobKind("Export tables", write_tables, answer, again=list_files)
