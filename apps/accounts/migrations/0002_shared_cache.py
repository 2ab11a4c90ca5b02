"""Make the cache table with the rest: `migrate` is all a new place needs."""

from django.core.management import call_command
from django.db import migrations


def make_cache_table(apps, schema_editor):
    call_command("createcachetable", database=schema_editor.connection.alias, verbosity=0)


class Migration(migrations.Migration):
    dependencies = [("accounts", "0001_keeper")]
    operations = [migrations.RunPython(make_cache_table, migrations.RunPython.noop)]
