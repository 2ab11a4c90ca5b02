"""Recompute what tanks say together: run it once a night."""

import time

from django.core.management.base import BaseCommand

from apps.outcomes.models import PoolShare
from apps.outcomes.pool.clubs import recompute_clubs
from apps.outcomes.pool.pooling import recompute_pool, refresh_parts


class Command(BaseCommand):
    help = "Work out changed tanks among those whose owners agreed to pool, and add all up."

    def handle(self, *args, **options):
        begin = time.perf_counter()
        changed = refresh_parts(PoolShare.objects.all())
        curves = recompute_pool()
        of_clubs = recompute_clubs()
        total, took = PoolShare.objects.count(), time.perf_counter() - begin
        self.stdout.write(
            f"{changed} of {total} tanks changed; {curves} curves and {of_clubs} of clubs; "
            f"{took:.1f} s"
        )
