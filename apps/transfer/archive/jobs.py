"""Large zips, out and in, as jobs behind the pages: a heavy tank takes half a minute."""

import tempfile
import zipfile
from contextlib import suppress

from django.core.files.base import File
from django.db import transaction
from django.urls import reverse
from django.utils.text import slugify

from apps.accounts.models import User
from apps.common.serving.row_locks import hold_row
from apps.corals.models import Photo
from apps.later.files import file_answer, put_down_file, settle_file
from apps.later.kinds import JobAnswer, JobKind
from apps.later.models import Job
from apps.later.queue import put_down, under_way
from apps.later.running import Refused, Work
from apps.tanks.models import Tank
from apps.transfer.archive.arrivals import GONE, import_arrival, keep_arrival
from apps.transfer.archive.contents import Contents
from apps.transfer.archive.form import MEMORY_BYTES, UnfitZip
from apps.transfer.archive.writing import write_account, write_tank
from apps.transfer.models import Arrival

IMPORT, EXPORT = "bring_in_zip", "write_zip"
# What takes a second here: 339 kB of rows (41 kB in their zip) came in within 0.8 s and went out
# within 0.5 s, 19.6 MB of rows, 46,700 of them (513 kB), within 30 s and 15 s.
ROWS_BYTES, PHOTO_BYTES, INNER_BYTES = 400_000, 30_000_000, 50_000
AT_ONCE_ROWS, TANKS_AT_ONCE = 2_000, 4
SEND_LATER = "One zip is still being imported. Send the next one when it is done."
CHANGED_HANDS = "This zip holds a tank that is no longer yours, or was deleted."
NOT_YOURS = "This tank is no longer yours, or was deleted."


class UnderWay(Exception):
    """A zip of the same keeper comes in right now."""


# --- In -------------------------------------------------------------------------------------
def takes_long(arrival: Arrival) -> bool:
    """Return whether a zip takes more than about a second to come in, by its list of files."""
    try:
        with arrival.file.open("rb") as file, zipfile.ZipFile(file) as archive:
            return sum(map(_seconds, archive.infolist())) > 1.0
    except (OSError, ValueError, zipfile.BadZipFile):
        return False  # which is said once it is opened


def _seconds(entry: zipfile.ZipInfo) -> float:
    """Return what a file of a zip takes to come in [s]."""
    if entry.filename.endswith(".zip"):
        return entry.file_size / INNER_BYTES
    per_second = {"rows": ROWS_BYTES, "photos": PHOTO_BYTES}.get(entry.filename.partition("/")[0])
    return entry.file_size / per_second if per_second else 0.0


def put_down_import(arrival: Arrival) -> Job:
    """Let a zip be brought in behind the pages."""
    return put_down(IMPORT, keeper=arrival.keeper, arguments={"arrival_pk": arrival.pk})


def place_zip(arrival: Arrival) -> None:
    """Keep a stored zip in place of the keeper's former one; part of a transaction.

    Raises UnderWay while another of the keeper's comes in: one zip a keeper is kept, so this one
    would take the place of that.
    """
    # Two at once: the second waits here until the first has written all.
    hold_row(User.objects, arrival.keeper_id)
    if under_way(IMPORT, keeper=arrival.keeper):
        raise UnderWay
    keep_arrival(arrival)


def bring_in_zip(work: Work, *, arrival_pk: int) -> None:
    """Store all that a zip holds, or nothing of it."""
    arrival = Arrival.objects.filter(pk=arrival_pk).first()
    if arrival is None:
        raise Refused(GONE)
    try:
        with transaction.atomic():
            result = import_arrival(arrival, work.progress)
            tanks = [one.tank.pk for one in result if one.tank is not None]
            work.settle({"tanks": tanks, "photos": sum(one.photos for one in result)})
    except UnfitZip as problem:
        raise Refused(f"{problem} Nothing was imported.") from None


def answer_import(job: Job) -> JobAnswer:
    imports = list(_arrivals(job).values_list("tank_imports__tank", flat=True))
    tanks = list(Tank.objects.present().filter(pk__in=imports))
    words = words_of(tanks, job.outcome.get("photos", 0))
    if len(tanks) == 1:
        return JobAnswer(words, reverse("tank_detail", args=[tanks[0].pk]), "See the tank")
    return JobAnswer(words, reverse("tank_list"), "See the tanks")


def look_again(job: Job) -> tuple[str, str]:
    """Lead back to the zip as long as it waits."""
    arrival = _arrivals(job).exclude(file="").first()
    if arrival is None:
        return reverse("tank_import"), "Import a zip"
    return reverse("tank_import_preview", args=[arrival.key]), "Back to the zip"


def _arrivals(job: Job):
    return Arrival.objects.filter(pk=job.arguments["arrival_pk"], keeper=job.keeper)


def words_of(tanks: list[Tank], photos: int) -> str:
    """Say which tanks came in, and whether photos did: a photo has files, which nobody counts."""
    what = tanks[0].name if len(tanks) == 1 else f"{len(tanks)} tanks"
    return f"Imported {what}{', photos included' if photos else ''}."


# --- Out ------------------------------------------------------------------------------------
def is_large(contents: Contents) -> bool:
    """Return whether a zip of such contents takes more than about a second."""
    count = 0
    for rows in contents.values():
        count += rows.count()
        if count > AT_ONCE_ROWS:
            return True
    weight = 0
    for photo in contents[Photo].exclude(image="").iterator():
        # One that is lost weighs nothing.
        with suppress(FileNotFoundError):
            weight += photo.image.size
        if weight > PHOTO_BYTES:
            return True
    return False


def put_down_export(keeper: User, tank: Tank | None = None) -> Job:
    """Let the zip of a tank, or of the whole account, be written; of each a keeper has one here."""
    arguments = {"tank_pk": tank.pk if tank else None}
    return put_down_file(EXPORT, keeper=keeper, arguments=arguments)


def write_zip(work: Work, *, tank_pk: int | None) -> None:
    """Write a zip and keep it a week for its keeper."""
    job = work.job
    with tempfile.SpooledTemporaryFile(max_size=MEMORY_BYTES) as out:
        if tank_pk is None:
            with tempfile.SpooledTemporaryFile(max_size=MEMORY_BYTES) as scratch:
                tanks = write_account(job.keeper, out, scratch, work.progress)
        else:
            tanks = [tank_pk]
            write_tank(_own_tank(job), out, work.progress)
        out.seek(0)
        settle_file(work, File(out), ".zip", {"tanks": tanks})


def _own_tank(job: Job) -> Tank:
    tank = Tank.objects.present().filter(pk=job.arguments["tank_pk"], owner=job.keeper).first()
    if tank is None:
        raise Refused(NOT_YOURS)
    return tank


def answer_export(job: Job) -> JobAnswer:
    name = "reeflog account"
    if job.arguments["tank_pk"] is None and not _are_own(job.outcome.get("tanks"), job.keeper):
        return JobAnswer(CHANGED_HANDS, reverse("account_export"), "Export it again")
    if job.arguments["tank_pk"] is not None:
        # One that they deleted since is theirs still.
        own = Tank._base_manager.filter(pk=job.arguments["tank_pk"], owner=job.keeper)
        if (tank := own.first()) is None:
            return JobAnswer(NOT_YOURS, *list_tanks(job))
        name = tank.name
    file_name = f"{slugify(name) or 'tank'}.zip"
    return file_answer(job, what="zip", file_name=file_name, back=list_tanks(job))


def _are_own(tanks: list[int] | None, keeper: User) -> bool:
    """Return whether a keeper has all of these tanks still; never where it isn't known which."""
    # Those that they deleted since are theirs still.
    own = Tank._base_manager.filter(pk__in=tanks or [], owner=keeper)
    return tanks is not None and own.count() == len(tanks)


def list_tanks(job: Job) -> tuple[str, str]:
    return reverse("tank_list"), "Back to the tanks"


ARCHIVE_JOBS = {
    IMPORT: JobKind("Import a zip", bring_in_zip, answer_import, again=look_again),
    EXPORT: JobKind("Export a zip", write_zip, answer_export, again=list_tanks),
}
