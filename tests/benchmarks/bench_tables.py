"""Tables in and out of a heavy tank, and how long the request takes that does it [s of CPU].

python -m tests.benchmarks.bench_tables

In: a look at each kind of import, then its lines added. Out: the Export page and its files. What
a job does instead says so, with what the job takes.
"""

import datetime as dt
import re
import time

from tests.benchmarks.scratch import scratch_rows

DAY = dt.date(2015, 1, 1)
SIGNS = (
    "good",
    "pale at the tips",
    "rtn",
    "polyps closed",
    "slightly browned",
    "stn from the base",
)


def main():
    with scratch_rows():
        from django.conf import settings
        from django.test import Client

        from tests.benchmarks.three_tanks import make_heavy
        from tests.factories import make_survey, make_user

        settings.JOBS = "at-once"
        owner = make_user()
        tank = make_heavy(owner)
        client = Client()
        client.force_login(owner)
        at = f"/tanks/{tank.pk}"
        survey = make_survey(tank, readings=[])
        into_survey, into_water = f"/surveys/{survey.pk}/import/", f"{at}/water/import/"
        client.get("/tanks/")
        tell(client, "history, 4,000 lines", f"{at}/history/", {"text": history(4_000)})
        tell(client, "survey, 1,000 readings", into_survey, survey_table(1_000))
        tell(client, "  added", into_survey, survey_table(1_000) | {"import": "1"})
        for lines in (2_000, 5_000, 19_000):
            tell(client, f"water log, {lines:,} lines", into_water, {"text": water(lines)})
            added = {"text": water(lines), "import": "1"}
            tell(client, "  added", into_water, added)
        tell(client, "a probe, 19,000 lines", into_water, {"text": probe(19_000)})
        tell(client, "Export page", f"{at}/export/")
        page = client.get(f"{at}/export/").content.decode()
        for file in sorted(set(re.findall(rf'href="({at}/export/[\w.]+)"', page))):
            tell(client, file.rpartition("/")[2], file)


def tell(client, what, address, data=None):
    """Print what a request takes; what it leaves to a job is done within it here."""

    from apps.later.models import Job

    jobs = Job.objects.exclude(keeper=None).count()
    start = time.process_time()
    response = client.get(address) if data is None else client.post(address, data)
    content = response.getvalue()
    took = time.process_time() - start
    is_job = Job.objects.exclude(keeper=None).count() > jobs
    size = f"{len(content) / 1000:,.0f} kB" if data is None else ""
    print(f"{what:28s}{took:6.2f}  {response.status_code} {size} {'by a job' if is_job else ''}")


def history(lines):
    rows = (
        f"{DAY + dt.timedelta(days=k)};{8 + k % 9 / 10:.1f};{25 + k % 8 / 10:.1f};{50 + k % 30};"
        f"{8 + k // 400};{SIGNS[k % 6]};{SIGNS[k // 3 % 6] if k % 2 else ''};"
        f"{'water change 20 %' if k % 7 == 0 else ''}"
        for k in range(lines)
    )
    head = "Date;Alk (dKH);Temp °C;Light %;Hours;Frag 1;Frag 2;Notes"
    return "\n".join([head, *rows])


def survey_table(lines):
    rows = (f"{k * 37 % 480};{k * 11 % 95};{k * 7 % 75};{50 + k % 400}" for k in range(lines))
    text = "\n".join(["x;y;depth;par", *rows])
    return {"text": text, "unit": "cm", "how": "add"}


def water(lines):
    kinds = (("alkalinity", "dKH"), ("temperature", "°C"), ("salinity", "ppt"))
    rows = (
        f"{DAY + dt.timedelta(days=k // 6)} {8 + k % 6}:00;{kinds[k % 3][0]};{8 + k % 9 / 10:.1f};"
        f"{kinds[k % 3][1]}"
        for k in range(lines)
    )
    return "\n".join(["date;kind;value;unit", *rows])


def probe(lines):
    begin = dt.datetime(2026, 1, 1)
    rows = (
        f"{begin + dt.timedelta(minutes=15 * k):%Y-%m-%d %H:%M};{25 + k % 8 / 10:.1f}"
        for k in range(lines)
    )
    return "\n".join(["date;temperature (°C)", *rows])


if __name__ == "__main__":
    main()
