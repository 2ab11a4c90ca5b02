"""Turning an answer into what hangs: fixtures of the library, and the rows of a light change."""

from django.db import transaction
from django.utils.timezone import now

from apps.lighting.change.address import light_change_address
from apps.lighting.models import Fixture, HungFixture, LightChange
from apps.lighting.rig import rig_in_force
from apps.planning.layout_documents import asked_from_json

# An output known better than this, high over low, was told; a wider one is a guess from watts.
TOLD_RATIO = 1.3


def hanging_address(*, plan, layout, user):
    """Return the address of the light-change form filled with a Layout of a plan's tank.

    A fixture that hangs already moves; others that hang are marked to be taken down. Generic
    kinds are put into the keeper's library first, so that they can hang.
    """
    asked = asked_from_json(plan.asked)
    result = {
        number: library_fixture(
            user=user, source=asked.sources[number], candidate=asked.question.candidates[number]
        )
        for number in (layout.choice.main, layout.choice.fill)
        if number is not None
    }
    hanging = list(rig_in_force(plan.tank, now()))
    rows = [row_of(spot, result[number], hanging) for number, spot in spots(layout)]
    return light_change_address(
        plan.tank_id,
        rows,
        summary=f"Hung as planned: {plan.name}",
        reason=LightChange.Reason.HUNG,
        unit=user.units,
        down=hanging,
    )


def spots(layout):
    """Yield (candidate, (x, y, height, beam, level)) of each fixture, the main kind first."""
    choice = layout.choice
    for x, y in layout.places_cm:
        yield choice.main, (x, y, layout.height_cm, choice.beam_deg, layout.level)
    for x, y in layout.fill_places_cm:
        yield choice.fill, (x, y, layout.fill_height_cm, choice.fill_beam_deg, layout.fill_level)


def row_of(spot, fixture, hanging):
    """Return the HungFixture of one spot, taking over one of its kind out of `hanging`."""
    x, y, height, beam, level = spot
    same = next((row for row in hanging if row.fixture_id == fixture.pk), None)
    if same is not None:
        hanging.remove(same)
    where = {"x_cm": x, "y_cm": y, "height_cm": height}
    return HungFixture(
        fixture=fixture,
        number=same.number if same else None,
        **{name: place_cm(value, getattr(same, name, None)) for name, value in where.items()},
        turn_deg=0.0,
        beam_deg=None if beam == fixture.beam_deg else beam,
        level_percent=round(100.0 * level),
        loss_percent=same.loss_percent if same else None,
    )


def place_cm(planned_cm, hanging_cm):
    """Return a planned place to the tenth of a mm; as it hangs where that is the same."""
    rounded = round(planned_cm, 2)
    same = hanging_cm is not None and round(hanging_cm, 2) == rounded
    return hanging_cm if same else rounded


@transaction.atomic
def library_fixture(*, user, source, candidate):
    """Return the keeper's own Fixture for a candidate; a new one where they have none like it."""
    own = Fixture.objects.owned_by(user)
    kind, _, key = source.partition(":")
    fixture = own.filter(pk=key).first() if kind == "own" else None
    if fixture is None:
        output = candidate.output
        told = output.high_umol_s / output.low_umol_s < TOLD_RATIO
        facts = {
            "name": candidate.name,
            "kind": candidate.kind,
            "lit_length_cm": candidate.panel_x_cm,
            "lit_width_cm": candidate.panel_y_cm,
            "watts": candidate.watts,
            "ppf_umol_s": output.ppf_umol_s if told else None,
        }
        fixture = own.filter(**facts).first()
        if fixture is None:
            fixture = Fixture(owner=user, beam_deg=candidate.beams_deg[0], **facts)
            fixture.full_clean()
            fixture.save()
    return fixture
