"""A hung fixture may be tilted, and shines as its photometric file says."""

import django.core.validators
import django.db.models.deletion
from django.db import migrations, models


def fill_rays(apps, schema_editor):
    """Work out the rays of the files that were brought before; what hangs keeps what it was."""
    from apps.lighting.optic_models import RayTable
    from apps.photics.rig.optic_fit import fit_optic
    from apps.photics.photometry.ies import read_ies

    Table = apps.get_model("lighting", "RayTable")
    for file in apps.get_model("lighting", "PhotometricFile").objects.all():
        fit = fit_optic(read_ies(file.text))
        key, rows = RayTable.packed(fit.optic)
        file.rays = Table.objects.get_or_create(key=key, defaults={"rows": rows})[0]
        file.save(update_fields=["rays"])


class Migration(migrations.Migration):

    dependencies = [
        ('lighting', '0010_group_share_blank'),
    ]

    operations = [
        migrations.CreateModel(
            name='RayTable',
            fields=[
                ('key', models.CharField(max_length=64, primary_key=True, serialize=False)),
                ('rows', models.JSONField()),
            ],
        ),
        migrations.AddField(
            model_name='hungfixture',
            name='tilt_deg',
            field=models.FloatField(default=0.0, validators=[django.core.validators.MinValueValidator(-75.0), django.core.validators.MaxValueValidator(75.0)], verbose_name='tilted by, degrees'),
        ),
        migrations.AddField(
            model_name='hungfixture',
            name='rays',
            field=models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='hangings', to='lighting.raytable'),
        ),
        migrations.AddField(
            model_name='photometricfile',
            name='rays',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='lighting.raytable'),
        ),
        migrations.AlterField(
            model_name='lightchange',
            name='reason',
            field=models.CharField(choices=[('raised', 'raised'), ('lowered', 'lowered'), ('moved', 'moved, turned or tilted'), ('level', 'level turned up or down'), ('lens', 'lens changed'), ('tubes', 'tubes replaced'), ('cleaned', 'cleaned'), ('frag', 'dimmed for a frag'), ('step', 'acclimation step'), ('hung', 'hung or taken down'), ('hours', 'hours of the day changed'), ('other', 'something else')], default='other', max_length=7, verbose_name='why'),
        ),
        migrations.AddConstraint(
            model_name='hungfixture',
            constraint=models.CheckConstraint(condition=models.Q(('tilt_deg__gte', -75.0), ('tilt_deg__lte', 75.0)), name='hung_tilt_deg_bounds'),
        ),
        migrations.RunPython(fill_rays, migrations.RunPython.noop),
    ]
