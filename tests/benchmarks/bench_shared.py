"""A share page that nothing changed, again and again, as it is served: requests a core bears.

    python -m tests.benchmarks.bench_shared

Gunicorn on the loopback, debug off, one line kept open. Counted are the CPU seconds of the
server's own processes, so that other load says little. After a link is revoked the next request
has to meet a closed page.
"""

import http.client
import os
from pathlib import Path

from tests.benchmarks.scratch import scratch_rows

# Below what one network may ask for at one address.
REQUESTS = 2500
PER_CORE_LEAST = 300
TICKS_PER_S = os.sysconf("SC_CLK_TCK")


def main():
    with scratch_rows() as folder:
        from tests.serving import ServedApp

        link, path = shared_tank()
        app = ServedApp(folder / "served")
        try:
            line = http.client.HTTPConnection("127.0.0.1", app.port)
            for _ in range(20):
                ask(app, line, path)
            started = cpu_s(app)
            sizes = {ask(app, line, path) for _ in range(REQUESTS)}
            spent_s = cpu_s(app) - started
            link.revoke()
            closed = ask(app, line, path, wanted=404) > 0
            line.close()
        finally:
            app.close()
    per_core = REQUESTS / spent_s
    over = "" if per_core >= PER_CORE_LEAST else f"  BELOW {PER_CORE_LEAST}"
    print(f"share page, kept: {per_core:.0f} requests a CPU second, {1e3 / per_core:.2f} ms{over}")
    print(f"  {REQUESTS} answers of {min(sizes)} to {max(sizes)} bytes, packed")
    print(f"  once revoked, the next request meets a closed page: {'yes' if closed else 'NO'}")


def shared_tank():
    """Return a link to a tank with a map, and its path."""
    from django.urls import reverse

    from apps.sharing.models import ShareLink
    from tests.benchmarks.three_tanks import make_ordinary
    from tests.factories import make_user
    from tests.test_every_address import link_of

    link = link_of(ShareLink, tank=make_ordinary(make_user(email="shares@example.org")))
    token = link.renew_token()
    link.save()
    return link, reverse("shared_map", args=[token])


def ask(app, line, path, *, wanted=200):
    """Ask as a visitor's browser does, through a proxy; return the bytes of the answer."""
    headers = {
        "Host": f"{app.host}:{app.port}",
        "Accept-Encoding": "gzip",
        "X-Forwarded-Proto": "https",
        "X-Forwarded-For": "198.51.100.7",
    }
    line.request("GET", path, headers=headers)
    answer = line.getresponse()
    body = answer.read()
    if answer.status != wanted:
        raise RuntimeError(f"{path} answers {answer.status}, not {wanted}.")
    return len(body)


def cpu_s(app):
    """Return the CPU seconds that gunicorn and its workers have taken so far."""
    parent = app.process.pid
    children = Path(f"/proc/{parent}/task/{parent}/children").read_text().split()
    ticks = 0
    for pid in (str(parent), *children):
        # After the name, which may hold blanks: the 12th and 13th fields are user and system time.
        fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
        ticks += int(fields[11]) + int(fields[12])
    return ticks / TICKS_PER_S


if __name__ == "__main__":
    main()
