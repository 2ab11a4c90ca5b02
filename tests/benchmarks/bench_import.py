"""Time to read and check long tables: 10,000 lines, and the refusal of 100,000."""

import os
import statistics
import time

import django

LINES, ROUNDS, SECONDS_MAX = 10_000, 5, 2.0
TOO_MANY, REFUSED_MAX = 100_000, 0.2


def main():
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "reeflog.settings")
    django.setup()
    from apps.common.tables.reading import UnreadableTable
    from apps.surveys.models import Survey
    from apps.surveys.tables.importing import parse_table
    from apps.tanks.models import Tank

    survey = Survey(tank=Tank(name="Cube", length_cm=60, width_cm=60, depth_cm=50))

    def read(lines):
        text = "x,y,depth,par\n" + "".join(
            f"{i % 60},{i % 50},{i % 40},{i % 900}\n" for i in range(lines)
        )
        start = time.perf_counter()
        try:
            good = len(parse_table(text, survey=survey, unit="cm").good)
        except UnreadableTable as problem:
            return time.perf_counter() - start, str(problem)
        return time.perf_counter() - start, good

    took = [read(LINES) for _ in range(ROUNDS)]
    assert all(good == LINES for _, good in took)
    middle = statistics.median(seconds for seconds, _ in took)
    print(f"import, {LINES:,} lines read and checked: {middle:.2f} s (at most {SECONDS_MAX:g} s)")
    seconds, told = read(TOO_MANY)
    print(f"{TOO_MANY:,} lines: {seconds:.3f} s (at most {REFUSED_MAX:g} s): {told}")


if __name__ == "__main__":
    main()
