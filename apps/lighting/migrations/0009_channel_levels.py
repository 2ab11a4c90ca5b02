"""What hangs knows its channels, and the level of each."""

from django.db import migrations, models


def copy_channels(apps, schema_editor):
    """Give what hangs the channels its library tells; all at full level, so no light changes."""
    hung = apps.get_model("lighting", "HungFixture")
    for fixture in apps.get_model("lighting", "Fixture").objects.exclude(channels=[]):
        hung.objects.filter(fixture=fixture).update(channels=fixture.channels)


class Migration(migrations.Migration):
    dependencies = [("lighting", "0008_hung_zone")]

    operations = [
        migrations.AddField(
            model_name="hungfixture",
            name="channels",
            field=models.JSONField(blank=True, default=list, editable=False),
        ),
        migrations.AddField(
            model_name="hungfixture",
            name="channel_levels",
            field=models.JSONField(
                blank=True, default=dict, verbose_name="levels of its channels, %"
            ),
        ),
        migrations.RunPython(copy_channels, migrations.RunPython.noop),
    ]
