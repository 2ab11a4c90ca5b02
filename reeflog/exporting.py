"""All a tank holds as one zip file: its rows as JSON, table by table, and its photos."""

import zipfile

from django.apps import apps
from django.core import serializers
from django.db.models import CASCADE

from apps.corals.models import Photo, SentPhoto
from apps.lighting.models import Fixture, PhotometricFile, RayTable
from apps.outcomes.models import PooledCurve
from apps.surveys.models import Meter
from apps.tanks.models import Invitation, Membership, Tank

# Apps whose tables tell of a tank. What was taken away goes along; removed_at tells it.
STATED_BY = ("tanks", "lighting", "surveys", "corals", "outcomes", "planning")
# Others' names, open doors and what all tanks say together stay here.
LEFT_OUT = {Membership, Invitation, PooledCurve}
# What a tank's rows point to although it is its keeper's.
POINTED_TO = {
    Fixture: "hangings__change__tank",
    PhotometricFile: "fixture__hangings__change__tank",
    RayTable: "hangings__change__tank",
    Meter: "surveys__tank",
}
GUIDE = """One tank of a reeflog. rows/ holds its tables, one JSON file each: a list of rows with
their number (pk) and fields. Lengths are in cm, times in UTC. photos/ holds the photos named by
"image" and "thumbnail" of rows/photo.json. Fields that name people hold bare numbers.
"""


def tables():
    """Return {model: the lookup from it to its tank} of all that goes with a tank."""
    models = [m for label in STATED_BY for m in apps.get_app_config(label).get_models()]
    ways = {Tank: "pk"} | POINTED_TO
    for _ in models:
        for model in models:
            for field in model._meta.fields:
                owned = field.is_relation and field.remote_field.on_delete is CASCADE
                if owned and field.related_model in ways and model not in ways:
                    further = ways[field.related_model]
                    ways[model] = field.name if further == "pk" else f"{field.name}__{further}"
    return {model: way for model, way in ways.items() if model not in LEFT_OUT}


def write_export(tank, out):
    """Write the zip of a tank to a file open for writing; returns (rows, photos, photos lost)."""
    rows = photos = lost = 0
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("read-me.txt", GUIDE)
        for model, way in tables().items():
            result = list(model.objects.filter(**{way: tank.pk}).distinct().order_by("pk"))
            stays = getattr(model, "STAYS_HERE", ())
            fields = [f.name for f in model._meta.get_fields() if f.name not in stays]
            text = serializers.serialize("json", result, indent=1, fields=fields)
            archive.writestr(f"rows/{model._meta.model_name}.json", text)
            rows += len(result)
        waiting = SentPhoto.objects.filter(tank=tank, photo=None)
        for photo in [*Photo.objects.filter(note__coral__tank=tank), *waiting]:
            for file in (photo.image, photo.thumbnail):
                try:
                    # A JPEG is packed already.
                    with file.open("rb") as kept:
                        archive.writestr(f"photos/{file.name}", kept.read(), zipfile.ZIP_STORED)
                    photos += 1
                except FileNotFoundError:
                    lost += 1
    return rows, photos, lost
