"""Serve on this machine, ready to try: migrated, with the demo scenario when empty."""

import os
import socket

from django.conf import settings
from django.contrib.auth import get_user_model
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from reeflog.demo import DEMO_EMAIL, DEMO_PASSWORD

HERE = "127.0.0.1"
# Lamps that hang in a home are looked at from its own network, and that is how far this goes.
OPEN_TO_THE_HOUSE = """\
Every device of this network can open it, over plain HTTP: what is typed, passwords included,
can be read by others there. Entering readings without a network needs HTTPS (see DEVELOPERS.md).
"""


class Command(BaseCommand):
    help = "Migrate, load the demo scenario into an empty database, and serve."

    def add_arguments(self, parser):
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument(
            "--host", default=HERE, help="This machine's address in the home network."
        )

    def handle(self, *, port, host, **options):
        refuse_address(host, port)
        call_command("migrate", verbosity=0)
        if not get_user_model().objects.exists():
            self.stdout.write("Loading the demo scenario ...")
            call_command("load_demo", verbosity=0)
        self.stdout.write(f"\nreeflog is at http://{host}:{port}")
        if host != HERE:
            settings.ALLOWED_HOSTS.append(host)
            self.stdout.write(OPEN_TO_THE_HOUSE)
        if get_user_model().objects.filter(email=DEMO_EMAIL).exists():
            self.stdout.write(f"Sign in as {DEMO_EMAIL} with the password {DEMO_PASSWORD}")
        self.stdout.write("Stop with Ctrl-C.\n\n")
        # Who tries the app shall meet its own pages for what is missing or broken.
        settings.DEBUG = False
        # Said above already; runserver's own banner would say it twice.
        os.environ["DJANGO_RUNSERVER_HIDE_WARNING"] = "true"
        call_command("runserver", f"{host}:{port}", use_reloader=False, verbosity=0)


def refuse_address(host, port):
    """Stop with one line when the address is not this machine's or something listens there."""
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, 0))
        except OSError:
            raise CommandError(
                f"{host} is no address of this machine. Leave HOST out to serve here only."
            ) from None
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except (OSError, OverflowError):
            other = port % 60000 + 1
            raise CommandError(
                f"Port {port} is in use or not allowed. Try another: make run PORT={other}"
            ) from None
