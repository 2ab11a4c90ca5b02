"""Findings as a command says them."""

from collections.abc import Iterable

from django.core.management.base import CommandError, OutputWrapper

from apps.hosting.doctor.finding import Finding, State


def tell(findings: Iterable[Finding], out: OutputWrapper) -> None:
    """Write a line each; raise CommandError when something is to be mended."""
    count = 0
    for one in findings:
        out.write(f"{one.state:<5} {one.thing:<15} {one.words}")
        count += one.state is State.MEND
    if count:
        raise CommandError(f"{count} to mend.")
    out.write("Nothing to mend.")
