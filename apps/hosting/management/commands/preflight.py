"""Say before an upgrade whether it can go well."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from apps.hosting.doctor.before_upgrade import look_ahead
from apps.hosting.doctor.telling import tell


class Command(BaseCommand):
    """preflight --backups FOLDER"""

    help = (
        "Look before `migrate`: versions, what it deletes, room, a fresh backup; changes nothing."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--backups", type=Path, metavar="FOLDER", help="Where backups lie.")

    def handle(self, *args: Any, **options: Any) -> None:
        tell(look_ahead(options["backups"], timezone.now()), self.stdout)
