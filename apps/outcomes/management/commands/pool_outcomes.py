"""Recompute what tanks say together: run it once a night."""

import time

from django.core.management.base import BaseCommand

from apps.later.queue import has_workers
from apps.outcomes.pool.nightly import pool_all, pool_soon


class Command(BaseCommand):
    help = (
        "Work out changed tanks among those whose owners agreed to pool, and add all up. "
        "With Celery, a worker does it."
    )

    def handle(self, *args, **options):
        if has_workers():
            pool_soon()
            self.stdout.write("Handed to the workers.")
            return
        begin = time.perf_counter()
        done = pool_all()
        self.stdout.write(
            f"{done.changed} of {done.tanks} tanks changed; {done.curves} curves and "
            f"{done.curves_of_clubs} of clubs; {time.perf_counter() - begin:.1f} s"
        )
