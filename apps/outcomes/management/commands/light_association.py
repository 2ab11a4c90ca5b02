"""Say from a CSV file of coral-visits whether events go with the light. Needs no database."""

import csv
import json
import math
from dataclasses import asdict, fields

import numpy as np
from django.core.management.base import BaseCommand, CommandError

from apps.photics.causes.association import DIRECTIONS, light_association
from apps.photics.limits import IMPORT_BYTES_MAX, IMPORT_LINES_MAX

NEEDED = ("coral", "tank", "day", "dli_mol", "event")
# Of each visit: logged water events, the days its coral came and was last moved, who looked.
OPTIONAL = ("rival", "arrived", "moved", "keeper")
WHOLE = ("coral", "tank")
# Coral-visits of years are longer than one import of readings.
LINES_MAX, BYTES_MAX = 5 * IMPORT_LINES_MAX, 5 * IMPORT_BYTES_MAX


class Command(BaseCommand):
    help = (
        "Read coral-visits (coral, tank, day, dli_mol, event; optional rival, arrived, moved, "
        "keeper) and say whether the events go with the light each coral had."
    )
    requires_system_checks = []

    def add_arguments(self, parser):
        parser.add_argument("visits", metavar="VISITS.csv")
        parser.add_argument("--json", action="store_true", help="print one JSON object")
        parser.add_argument("--direction", choices=DIRECTIONS, default="rise")
        parser.add_argument("--seed", type=int, default=1)

    def handle(self, *args, visits, direction, seed, **options):
        if seed < 0:
            raise CommandError("--seed: must not be below zero", returncode=2)
        columns = read_visits(visits)
        rivals = columns.pop("rival")
        try:
            result = light_association(**columns, rivals=rivals, seed=seed, direction=direction)
        except ValueError as error:
            raise CommandError(f"{visits}: {error}", returncode=2) from error
        say = as_json if options["json"] else as_words
        self.stdout.write(say(result))


def read_visits(path):
    """Return the columns as arrays by name, rival None when the file has none."""
    try:
        with open(path, "rb") as file:
            content = file.read(BYTES_MAX + 1)
    except OSError as error:
        raise refused(path, 0, error.strerror.lower()) from error
    if len(content) > BYTES_MAX:
        raise refused(path, 0, f"is larger than {BYTES_MAX // 1_000_000} MB")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise refused(path, line, "is not UTF-8 text") from error
    reader = csv.reader(text.splitlines(), strict=True)
    try:
        return parsed_rows(path, reader)
    except csv.Error as error:
        raise refused(path, reader.line_num, f"is no CSV ({error})") from error


def parsed_rows(path, reader):
    """Return the columns of the rows that `reader` yields, or refuse with the line and cause."""
    header, rows, seen = None, [], {}
    for cells in reader:
        line, cells = reader.line_num, [cell.strip() for cell in cells]
        if not any(cells):
            continue
        if header is None:
            header = checked_header(path, line, [cell.lower() for cell in cells])
            continue
        if len(rows) == LINES_MAX:
            raise refused(path, line, f"more than {LINES_MAX} coral-visits")
        row = {
            name: parsed_cell(path, line, name, cells[place] if place < len(cells) else "")
            for name, place in header.items()
        }
        visit = (row["coral"], row["day"])
        if not math.isnan(row["day"]) and visit in seen:
            raise refused(
                path, line, f"coral {visit[0]} on day {visit[1]:g} is on line {seen[visit]} already"
            )
        seen[visit] = line
        rows.append(row)
    if header is None:
        raise refused(path, 1, "the file is empty")
    if not rows:
        raise refused(path, reader.line_num, "no coral-visit follows the header")
    columns = {name: np.array([row[name] for row in rows]) for name in header}
    return dict.fromkeys(OPTIONAL) | columns


def checked_header(path, line, names):
    """Return the place of each column we know, refusing a missing or doubled one."""
    for name in (*NEEDED, *OPTIONAL):
        if names.count(name) > 1:
            raise refused(path, line, f"column {name} is there twice")
        if name in NEEDED and name not in names:
            raise refused(path, line, f"column {name} is missing (needed: {', '.join(NEEDED)})")
    return {name: names.index(name) for name in (*NEEDED, *OPTIONAL) if name in names}


def parsed_cell(path, line, name, cell):
    """Return what one cell holds: a keeper's name, else a number; an empty one is missing (nan)."""
    if name == "keeper":
        return cell
    if cell == "" and name not in WHOLE:
        return math.nan
    try:
        value = int(cell) if name in WHOLE else float(cell)
    except ValueError as error:
        kind = "a whole number" if name in WHOLE else "a number"
        raise refused(path, line, f"{name} is {cell!r}, not {kind}") from error
    if name in WHOLE:
        if not -(2**63) <= value < 2**63:
            raise refused(path, line, f"{name} is too large a number")
        return value
    if not math.isfinite(value):
        raise refused(path, line, f"{name} is {cell!r}, not a finite number")
    if name in ("dli_mol", "rival") and value < 0:
        raise refused(path, line, f"{name} is {cell}, below zero")
    if name == "event" and value not in (0, 1):
        raise refused(path, line, f"event is {cell}, neither 0 nor 1")
    return value


def refused(path, line, cause):
    """Return the one-line refusal, leaving with exit code 2."""
    place = f"{path}, line {line}" if line else path
    return CommandError(f"{place}: {cause}", returncode=2)


def as_json(result):
    """Return the Association as JSON, figures that do not exist as null."""
    answer = asdict(result)

    def plain(value):
        if isinstance(value, float) and not math.isfinite(value):
            return None
        if isinstance(value, dict):
            return {key: plain(part) for key, part in value.items()}
        if isinstance(value, (list, tuple)):
            return [plain(part) for part in value]
        return value

    return json.dumps({f.name: plain(answer[f.name]) for f in fields(result)}, ensure_ascii=False)


def as_words(result):
    """Return the Association in lines for a reader."""
    lines = [f"{result.verdict.capitalize()}: {result.reason}", f"Events: {result.n_events}"]
    if math.isfinite(result.ratio_per_doubling):
        turn = "halving" if result.direction == "fall" else "doubling"
        lines += [
            f"Odds per {turn}: {result.ratio_per_doubling:.2f} "
            f"(95 % interval {result.low:.2g} to {result.high:.2g}), p {result.p_value:.3f}"
        ]
        lines += [
            f"Light {lag.weeks_before} weeks before: {lag.ratio_per_doubling:.2f} "
            f"({lag.low:.2g} to {lag.high:.2g})"
            for lag in result.lag_profile
        ]
    if math.isfinite(result.rival_ratio):
        lines.append(f"Odds per logged water event: {result.rival_ratio:.2f}")
    shown = (
        result.power_words,
        f"What would settle it: {result.settle}",
        result.method,
        *result.notes,
    )
    return "\n".join(lines + [line for line in shown if line])
