"""A second database of PostgreSQL with the tables of the first."""

import os
import subprocess

from django.db import connection

from apps.hosting.backup.moment import _program


def filled_like(source, target):
    """Copy all tables of one database into an empty one."""
    stated = connection.settings_dict
    known = {"PGHOST": stated["HOST"], "PGPORT": str(stated["PORT"]), "PGUSER": stated["USER"]}
    given = os.environ | known | {"PGPASSWORD": stated["PASSWORD"]}
    dump = [_program("pg_dump"), "--no-owner", source]
    script = subprocess.run(dump, env=given, check=True, capture_output=True).stdout
    load = [_program("psql"), "--no-psqlrc", "--quiet", "--set=ON_ERROR_STOP=1", target]
    subprocess.run(load, env=given, input=script, check=True, capture_output=True)
