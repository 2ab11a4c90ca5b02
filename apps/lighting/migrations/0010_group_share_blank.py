"""A day curve's share of PAR may be left to the channels of what hangs."""

import django.core.validators
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('lighting', '0009_channel_levels'),
        ('tanks', '0003_rock_bounds'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name='daycurve',
            name='day_curve_share_percent_bounds',
        ),
        migrations.RemoveConstraint(
            model_name='runningcurve',
            name='running_curve_share_percent_bounds',
        ),
        migrations.AlterField(
            model_name='daycurve',
            name='share_percent',
            field=models.FloatField(blank=True, default=100.0, null=True, validators=[django.core.validators.MinValueValidator(0), django.core.validators.MaxValueValidator(100.0)], verbose_name='its share of PAR at full level, %'),
        ),
        migrations.AlterField(
            model_name='runningcurve',
            name='share_percent',
            field=models.FloatField(blank=True, default=100.0, null=True, validators=[django.core.validators.MinValueValidator(0), django.core.validators.MaxValueValidator(100.0)], verbose_name='its share of PAR at full level, %'),
        ),
        migrations.AddConstraint(
            model_name='daycurve',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('share_percent__gte', 0), ('share_percent__lte', 100.0)), ('share_percent__isnull', True), _connector='OR'), name='day_curve_share_percent_bounds'),
        ),
        migrations.AddConstraint(
            model_name='runningcurve',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('share_percent__gte', 0), ('share_percent__lte', 100.0)), ('share_percent__isnull', True), _connector='OR'), name='running_curve_share_percent_bounds'),
        ),
    ]
