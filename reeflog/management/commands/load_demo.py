"""Write the demo scenario into the database."""

from django.core.management.base import BaseCommand, CommandError

from reeflog.demo import DEMO_EMAIL, DEMO_PASSWORD, demo_keeper, load_demo, remove_demo


class Command(BaseCommand):
    help = "Load the demo scenario: an invented keeper with two tanks. Its password is public."

    def add_arguments(self, parser):
        parser.add_argument(
            "--replace",
            action="store_true",
            help="delete the demo keeper with everything in their tanks first",
        )

    def handle(self, *, replace, verbosity, **options):
        if demo_keeper():
            if not replace:
                raise CommandError("The demo is loaded already. To load it again, use --replace.")
            remove_demo()
        load_demo()
        if verbosity:
            self.stdout.write(f"Loaded. Sign in as {DEMO_EMAIL} with the password {DEMO_PASSWORD}")
