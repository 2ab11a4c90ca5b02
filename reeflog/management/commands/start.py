"""Serve on this machine, ready to try: migrated, with the demo scenario when empty."""

import os
import socket

from django.contrib.auth import get_user_model
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from reeflog.demo import DEMO_EMAIL, DEMO_PASSWORD


class Command(BaseCommand):
    help = "Migrate, load the demo scenario into an empty database, and serve."

    def add_arguments(self, parser):
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *, port, **options):
        refuse_taken_port(port)
        call_command("migrate", verbosity=0)
        if not get_user_model().objects.exists():
            self.stdout.write("Loading the demo scenario ...")
            call_command("load_demo", verbosity=0)
        self.stdout.write(f"\nreeflog is at http://127.0.0.1:{port}")
        if get_user_model().objects.filter(email=DEMO_EMAIL).exists():
            self.stdout.write(f"Sign in as {DEMO_EMAIL} with the password {DEMO_PASSWORD}")
        self.stdout.write("Stop with Ctrl-C.\n\n")
        # Said above already; runserver's own banner would say it twice.
        os.environ["DJANGO_RUNSERVER_HIDE_WARNING"] = "true"
        call_command("runserver", f"127.0.0.1:{port}", use_reloader=False, verbosity=0)


def refuse_taken_port(port):
    """Stop with one line when something listens there already."""
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", port))
        except (OSError, OverflowError):
            other = port % 60000 + 1
            raise CommandError(
                f"Port {port} is in use or not allowed. Try another: make run PORT={other}"
            ) from None
