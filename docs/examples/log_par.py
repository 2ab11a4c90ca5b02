"""Send a meter's readings at one spot to reeflog, one survey a run. Standard library only.

    REEFLOG_TOKEN=... python log_par.py https://reef.example.org 3 40 25 20 < readings.txt

Arguments: the site, the tank's number, and where the sensor is: x, y, depth [cm]. From standard
input it reads one PAR value [umol m-2 s-1] a line, as a serial sensor prints them (for one at a
serial line: `stty -F /dev/ttyUSB0 9600; head -n 20 /dev/ttyUSB0`). Their median is the reading,
their spread its spread. Run again with the same lines in the same minute, nothing is doubled.
"""

import datetime as dt
import hashlib
import json
import os
import statistics
import sys
import urllib.request


def read_values(lines: list[str]) -> list[float]:
    """Return the values of a sensor's lines; a line that is no number is left out."""
    values = []
    for line in lines:
        try:
            values.append(float(line.replace(",", ".").split()[0]))
        except (ValueError, IndexError):
            continue
    return values


def survey_of(values: list[float], x_cm: float, y_cm: float, depth_cm: float) -> dict:
    """Return the body of a survey of one reading, taken now."""
    reading = {"x_cm": x_cm, "y_cm": y_cm, "depth_cm": depth_cm}
    reading["value_umol"] = round(statistics.median(values), 1)
    if len(values) > 1:
        reading["spread_umol"] = round(statistics.stdev(values), 1)
    now = dt.datetime.now(dt.UTC).replace(second=0, microsecond=0)
    return {"taken_at": now.isoformat(), "readings": [reading]}


def send(site: str, tank: str, token: str, body: dict) -> dict:
    """Post a survey and return it as stored; raise HTTPError where it is refused."""
    data = json.dumps(body).encode()
    request = urllib.request.Request(f"{site}/api/v1/tanks/{tank}/surveys/", data)
    request.add_header("Content-Type", "application/json")
    request.add_header("Authorization", f"Bearer {token}")
    request.add_header("Idempotency-Key", hashlib.sha256(data).hexdigest())
    with urllib.request.urlopen(request, timeout=30) as answer:
        return json.load(answer)


if __name__ == "__main__":
    site, tank, *place = sys.argv[1:]
    body = survey_of(read_values(sys.stdin.readlines()), *map(float, place))
    stored = send(site.rstrip("/"), tank, os.environ["REEFLOG_TOKEN"], body)
    print(f"Stored as survey {stored['id']}: PAR {body['readings'][0]['value_umol']}")
