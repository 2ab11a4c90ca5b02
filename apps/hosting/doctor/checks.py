"""What may be wrong with an installation, one thing after the other."""

import datetime as dt
import json
import secrets
import shutil
import zoneinfo
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

from django.conf import settings
from django.core import checks, mail
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.template.defaultfilters import pluralize
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from apps.common.push.keys import read_key, signed_word
from apps.hosting.backup.writing import backups_in
from apps.hosting.doctor.database import database, shared_cache, stamps
from apps.hosting.doctor.finding import Finding, look, mend, ok
from apps.later.state import jobs_state, workers

# Django's own bound for a key that is not worth warning of.
KEY_CHARS_MIN, KEY_KINDS_MIN = 50, 5
GB = 1_000_000_000
DISK_GB_MEND, DISK_GB_LOOK = 1, 5
BACKUP_AGE_MAX = dt.timedelta(days=2)
ZONES_MIN = 400
# Django's word for a proxy's header is asked below, with more to say.
OWN_WORDS = {"security.W008", "security.W009", "security.W018", "security.W020"}


def site_settings() -> Iterator[Finding]:
    if settings.DEBUG:
        yield mend("debug", "REEFLOG_DEBUG is on: say REEFLOG_DEBUG=off, for this command too.")
    said = checks.run_checks(include_deployment_checks=not settings.DEBUG)
    silenced = {*settings.SILENCED_SYSTEM_CHECKS, *OWN_WORDS}
    problems = [one for one in said if one.id not in silenced and one.level >= checks.WARNING]
    for one in problems:
        yield mend("settings", f"{one.msg} ({one.id})")
    if not problems and not settings.DEBUG:
        yield ok("settings", "Django's own checks for a served site pass.")


def secret_key() -> Iterator[Finding]:
    key = settings.SECRET_KEY
    if len(key) < KEY_CHARS_MIN or len(set(key)) < KEY_KINDS_MIN or key.startswith("debug-only"):
        yield mend(
            "secret key",
            "REEFLOG_SECRET_KEY must be 50 random characters or more: "
            "python -c 'import secrets; print(secrets.token_urlsafe(50))'",
        )
        return
    yield ok("secret key", "Long and mixed. Keep a copy where no backup lies.")
    if settings.SECRET_KEY_FALLBACKS:
        yield look("secret key", "A former key still counts: drop it 60 days after the change.")


def https() -> Iterator[Finding]:
    if not settings.HTTPS:
        yield mend("HTTPS", "REEFLOG_HTTPS is off: passwords travel in clear.")
    elif not settings.PROXY_COUNT:
        yield mend(
            "HTTPS",
            "REEFLOG_PROXY_COUNT is 0: behind a proxy that ends HTTPS say 1, "
            "or each page leads to itself for ever.",
        )
    elif settings.HSTS_SECONDS < 365 * 24 * 3600:
        yield look("HTTPS", "Once HTTPS has held for a while: REEFLOG_HSTS_SECONDS=31536000.")
    else:
        yield ok("HTTPS", "Asked for, and browsers keep to it.")


def storage() -> Iterator[Finding]:
    content = secrets.token_bytes(64)
    name = default_storage.save("doctor/probe", ContentFile(content))
    try:
        with default_storage.open(name) as file:
            is_same = file.read() == content
    finally:
        default_storage.delete(name)
    if is_same:
        yield ok("photo storage", "A file was written, read and deleted.")
    else:
        yield mend("photo storage", "What was written is not what is read.")


def disk() -> Iterator[Finding]:
    free_gb = shutil.disk_usage(settings.DATA_DIR).free / GB
    words = f"{free_gb:.1f} GB free in {settings.DATA_DIR}."
    if free_gb < DISK_GB_MEND:
        yield mend("disk", f"{words} Make room: nothing can be saved on a full disk.")
    else:
        yield (look if free_gb < DISK_GB_LOOK else ok)("disk", words)


def time_zones() -> Iterator[Finding]:
    count = len(zoneinfo.available_timezones())
    if count < ZONES_MIN:
        yield mend("time zones", f"Only {count} are known: pip install tzdata")
    else:
        yield ok("time zones", f"{count} are known.")


def mails() -> Iterator[Finding]:
    if settings.MAILS != "sent":
        yield look("mail", "None is sent: a lost password needs manage.py reset_link EMAIL.")
        return
    with closing(mail.get_connection()) as line:
        line.open()
    yield ok("mail", "The mail server lets this site in.")


def push() -> Iterator[Finding]:
    if not settings.PUSH_KEY:
        return
    # A push service would refuse what this signs, were the key none.
    signed_word(
        "https://push.example.org/", key=read_key(settings.PUSH_KEY), contact=settings.CONTACT
    )
    if not settings.HTTPS:
        yield mend("push", "Browser reminders need HTTPS: turn on REEFLOG_HTTPS.")
    elif not settings.CONTACT:
        services = "some push services refuse messages without a contact"
        yield look("push", f"Set REEFLOG_CONTACT: {services}.")
    else:
        keep = "Keep it: with a new key, keepers must add every browser again."
        yield ok("push", f"The key works. {keep}")


def static_files() -> Iterator[Finding]:
    manifest = Path(settings.STATIC_ROOT) / "staticfiles.json"
    if settings.DEBUG:
        return
    if not manifest.exists():
        yield mend("static files", "Not collected: python manage.py collectstatic --no-input")
        return
    collected = json.loads(manifest.read_text())["paths"]
    folders = [Path(folder) for folder in settings.STATICFILES_DIRS]
    files = ((folder, file) for folder in folders for file in folder.rglob("*") if file.is_file())
    absent = [file for folder, file in files if str(file.relative_to(folder)) not in collected]
    if absent:
        yield mend("static files", "Of an older version: python manage.py collectstatic --no-input")
    else:
        yield ok("static files", "Collected.")


def offline_worker() -> Iterator[Finding]:
    host = settings.ALLOWED_HOSTS[0].lstrip(".*") or "localhost"
    client = Client(raise_request_exception=False, headers={"host": host})
    answer = client.get(reverse("service_worker"), secure=True)
    if answer.status_code != 200 or "javascript" not in answer["Content-Type"]:
        yield mend("offline worker", "It can't be made: run collectstatic, then look at the log.")
    elif not settings.HTTPS:
        yield mend("offline worker", "Browsers start it by HTTPS alone: readings need a network.")
    else:
        yield ok("offline worker", "Made: readings and notes can be entered without a network.")


def jobs() -> Iterator[Finding]:
    """Whether what is done behind the pages gets done."""
    try:
        count = workers()
    except Exception as problem:
        name = type(problem).__name__
        broker = f"Can’t reach the broker in REEFLOG_CELERY_BROKER ({name})"
        yield mend("jobs", f"{broker}; jobs are waiting.")
        return
    state = jobs_state(timezone.now())
    if count == 0:
        start = "Start reeflog-worker.service or celery -A reeflog worker."
        yield mend("jobs", f"No worker is running. {start}")
    elif state.stuck:
        jobs_have = "1 job has" if state.stuck == 1 else f"{state.stuck} jobs have"
        what = "Is the app running?" if count is None else "See the workers’ log."
        yield mend("jobs", f"{jobs_have} waited over ten minutes. {what}")
    elif state.failed:
        jobs_failed = f"{state.failed} job{pluralize(state.failed)} failed in the last week"
        yield look("jobs", f"{jobs_failed}. See the log.")
    else:
        yield ok("jobs", f"Jobs waiting: {state.waiting}, running: {state.running}.")


CHECKS: tuple[Callable[[], Iterator[Finding]], ...] = (
    site_settings,
    secret_key,
    https,
    database,
    stamps,
    shared_cache,
    jobs,
    storage,
    disk,
    time_zones,
    mails,
    push,
    static_files,
    offline_worker,
)


def examine() -> Iterator[Finding]:
    """Yield what every check says; one that breaks says so itself."""
    for check in CHECKS:
        try:
            yield from check()
        except Exception as problem:
            thing = check.__name__.replace("_", " ")
            yield mend(thing, f"Could not be looked at: {type(problem).__name__}: {problem}")


def backups(folder: Path, now: dt.datetime, age_max: dt.timedelta = BACKUP_AGE_MAX) -> Finding:
    """Say how old the newest backup of a folder is, and mend one that is older than it may be."""
    newest = max(backups_in(folder), key=lambda path: path.name, default=None)
    if newest is None:
        return mend("backups", f"There is none in {folder}.")
    made = dt.datetime.fromtimestamp(newest.stat().st_mtime, dt.UTC)
    words = f"The newest, {newest.name}, is {(now - made).total_seconds() / 3600:.0f} h old."
    return (mend if now - made > age_max else ok)("backups", words)
