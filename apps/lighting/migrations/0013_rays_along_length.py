"""Turn the rays of files brought before 0011, which laid them along the fixture unseen.

A file may call length what its keeper calls width: the longer sides belong together.
"""

from django.db import migrations


def turn_rays(apps, schema_editor):
    from apps.lighting.optic_models import RayTable
    from apps.photics.rig.optic_fit import fit_optic
    from apps.photics.photometry.ies import read_ies

    Table = apps.get_model("lighting", "RayTable")
    Hung = apps.get_model("lighting", "HungFixture")
    for file in apps.get_model("lighting", "PhotometricFile").objects.select_related("fixture"):
        photometry = read_ies(file.text)
        file_long = photometry.opening.along_cm - photometry.opening.across_cm
        if file_long * (file.fixture.lit_length_cm - file.fixture.lit_width_cm) >= 0:
            continue
        unturned = RayTable.packed(fit_optic(photometry).optic)[0]
        if file.rays_id != unturned:
            continue
        key, rows = RayTable.packed(fit_optic(photometry, turned_deg=90.0).optic)
        file.rays = Table.objects.get_or_create(key=key, defaults={"rows": rows})[0]
        file.save(update_fields=["rays"])
        # What was hung since 0011 took the wrong rays along.
        Hung.objects.filter(fixture=file.fixture, rays_id=unturned).update(rays=file.rays)


class Migration(migrations.Migration):

    dependencies = [
        ('lighting', '0012_entry_years'),
    ]

    operations = [
        migrations.RunPython(turn_rays, migrations.RunPython.noop),
    ]
