"""Look at an installation and say what to mend."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from apps.hosting.doctor.checks import backups, examine
from apps.hosting.doctor.telling import tell


class Command(BaseCommand):
    """doctor [--backups FOLDER]"""

    help = "Look at settings, storage, mail, disk and more; fails when something is to be mended."
    # What is wrong with the settings is one of the findings.
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--backups", type=Path, metavar="FOLDER", help="Where backups lie.")

    def handle(self, *args: Any, **options: Any) -> None:
        findings = list(examine())
        if options["backups"]:
            findings.append(backups(options["backups"], timezone.now()))
        tell(findings, self.stdout)
