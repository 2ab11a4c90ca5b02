"""Copy what fixtures are into what hangs, and find out what each change told."""

from django.db import migrations

FACTS = {
    "name": "name",
    "kind": "kind",
    "lit_length_cm": "lit_length_cm",
    "lit_width_cm": "lit_width_cm",
    "own_beam_deg": "beam_deg",
    "ppf_umol_s": "ppf_umol_s",
}
SETTINGS = ("x_cm", "y_cm", "height_cm", "turn_deg", "beam_deg", "level_percent")


def fill(apps, schema_editor):
    hung = apps.get_model("lighting", "HungFixture")
    change_model = apps.get_model("lighting", "LightChange")
    for row in hung.objects.select_related("fixture"):
        for here, there in FACTS.items():
            setattr(row, here, getattr(row.fixture, there))
        row.save()
    tank, before = None, {}
    changes = change_model.objects.filter(hung__isnull=False).distinct()
    for change in changes.order_by("tank_id", "happened_at", "pk").prefetch_related("hung"):
        before = before if change.tank_id == tank else {}
        # A change taken away is not what the next one follows.
        own = {row.number: row for row in change.hung.all()}
        tell(change, own, before)
        tank, before = change.tank_id, before if change.removed_at else own


def tell(change, own, before):
    """Mark what a change told against the rows before it."""
    moved = False
    for number, row in own.items():
        old = before.get(number)
        if old is None or old.fixture_id != row.fixture_id:
            row.told = ["hung"]
        else:
            row.told = [name for name in SETTINGS if getattr(row, name) != getattr(old, name)]
        moved = moved or bool(row.told)
        row.save()
    change.tells_rig = True
    change.taken_down = sorted(set(before) - set(own))
    if before and moved and change.factor != 1:
        # Until now the factor told the whole change, which its fixtures tell by themselves now.
        note = f" (told then: light × {change.factor:g} in all)"
        change.summary = change.summary[: 200 - len(note)] + note
        change.factor = 1.0
    change.save()


class Migration(migrations.Migration):
    dependencies = [("lighting", "0004_light_change_state")]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]
