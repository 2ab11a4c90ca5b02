"""Saving a fixture with its measured rays, which lie along its length as its keeper tells it."""

from django.db import transaction

from apps.lighting.fixture_models import Fixture
from apps.lighting.optic_models import Optic, PhotometricFile, RayTable
from apps.photics.optic_fit import fit_optic, length_turned_deg
from apps.photics.photometry_write import write_ies


def file_turned_deg(photometry, fixture):
    """Return how far a Fixture's length is turned from a Photometry's 0-degree plane [degrees]."""
    sides = {"length_cm": fixture.lit_length_cm, "width_cm": fixture.lit_width_cm}
    return length_turned_deg(photometry.opening, **sides)


@transaction.atomic
def save_fixture(*, fixture):
    """Save a Fixture; where its longer side is another one now, its file's rays are turned too."""
    before = Fixture.objects.filter(pk=fixture.pk).first()
    fixture.save()
    if before is None or fixture.measured is None:
        return
    photometry = fixture.measured.photometry()
    old, new = (file_turned_deg(photometry, one) for one in (before, fixture))
    if old != new:
        fixture.measured.rays = RayTable.holding(fit_optic(photometry, turned_deg=new).optic)
        fixture.measured.save(update_fields=["rays"])


@transaction.atomic
def save_optic(*, fixture, photometry, fit):
    """Save a Photometry as the optic of a Fixture, in place of any before."""
    PhotometricFile.objects.update_or_create(
        fixture=fixture,
        defaults={
            "text": write_ies(photometry),
            "told_as": photometry.source,
            "notes": list(photometry.notes),
            "beam_deg": round(fit.beam_deg, 1),
            "misplaced": fit.misplaced,
            "rays": RayTable.holding(fit.optic),
            "upward": fit.upward,
        },
    )
    fixture.optic, fixture.beam_deg = Optic.FILE, round(fit.beam_deg, 1)
    fixture.save(update_fields=["optic", "beam_deg"])
