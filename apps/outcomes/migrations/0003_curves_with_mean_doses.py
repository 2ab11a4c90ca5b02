from django.db import migrations


def forget_curves(apps, schema_editor):
    """Their bins lack the mean dose; the nightly batch writes all of them anew."""
    apps.get_model("outcomes", "PooledCurve").objects.all().delete()


class Migration(migrations.Migration):
    dependencies = [
        ("outcomes", "0002_pool"),
    ]

    operations = [
        migrations.RunPython(forget_curves, migrations.RunPython.noop, elidable=True),
    ]
