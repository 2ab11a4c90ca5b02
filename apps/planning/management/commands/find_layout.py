"""Find layouts of fixtures for a question in a file, and write the answers to a file."""

import json
from pathlib import Path
from typing import ClassVar

from django.core.management.base import BaseCommand, CommandError, CommandParser

from apps.lightmap.tank_json import FieldFileError
from apps.planning.layout_files.answers_json import find_layouts
from apps.planning.layout_files.question_json import read_layout_file


class Command(BaseCommand):
    """find_layout QUESTION.json [--out ANSWERS.json]"""

    help = "Layouts of fixtures that give zones of a tank their light. Needs no database."
    requires_system_checks: ClassVar[list[str]] = []

    def add_arguments(self, parser: CommandParser) -> None:
        """Name the files."""
        parser.add_argument("question", help="the tank, its zones, fixtures and limits, JSON")
        parser.add_argument("--out", help="where to write; the screen when left out")

    def handle(self, **options: str) -> None:
        """Read, search, write; a fault in a file ends with one line and exit code 2."""
        try:
            layout = read_layout_file(options["question"])
            text = json.dumps(find_layouts(layout.question), indent=1) + "\n"
            self.put(options["out"], text)
        except FieldFileError as fault:
            raise CommandError(str(fault), returncode=2) from fault

    def put(self, path: str, text: str) -> None:
        """Write the answers to a file, or to the screen when there is no path."""
        if not path:
            self.stdout.write(text, ending="")
            return
        try:
            Path(path).write_text(text, encoding="utf-8")
        except OSError as problem:
            raise FieldFileError(path, 1, problem.strerror or "cannot be written") from problem
