"""The app with what a proxy in front of it does: it ends HTTPS and says who asks.

Browsers take a page from localhost for a safe one, secure cookies included, so the way to the
proxy needs no certificate.
"""

import os
import signal
import sys
import threading

from reeflog.wsgi import application as app

# isort: split
# Django is set up only now.
from apps.later import behind

# A test of what jobs wait for need not wait as long as a host.
if "TESTS_LOOK_S" in os.environ:
    behind.LOOK_S = float(os.environ["TESTS_LOOK_S"])
    behind.wake()


def end_with_the_run():
    """A run that is over, or was killed, closes our input: then the server ends too."""
    sys.stdin.buffer.read()
    os.kill(os.getppid(), signal.SIGTERM)


threading.Thread(target=end_with_the_run, daemon=True).start()


def application(environ, start_response):
    environ["HTTP_X_FORWARDED_PROTO"] = "https"
    environ["HTTP_X_FORWARDED_FOR"] = environ["REMOTE_ADDR"]
    # Where a page came from, as its browser would say had it opened the page by HTTPS.
    for header in ("HTTP_ORIGIN", "HTTP_REFERER"):
        if environ.get(header, "").startswith("http://"):
            environ[header] = environ[header].replace("http://", "https://", 1)
    return app(environ, start_response)
