"""The question of a plan as a program sends it: the same JSON, of a tank or without.

For a tank its own water, rock and survey are taken, as on the plan's page. A fixture may name one
of the keeper's library by `fixture`; only such a one may hang and stay (`hangs_at`).
"""

from dataclasses import replace

from django.core.exceptions import ValidationError
from django.utils.timezone import now

from apps.accounts.models import User
from apps.lighting.models import Fixture
from apps.lightmap.tank_json import FieldFileError
from apps.photics.ground.lengths import CM
from apps.planning.documents import Document, document, each
from apps.planning.layout.fixtures.candidate_forms import CANDIDATES_MOST, NEW
from apps.planning.layout.forms import too_much
from apps.planning.layout.measured_tank import measured_tank
from apps.planning.layout.words import length_words
from apps.planning.layout_files.question_json import LayoutFile, question_of_data
from apps.planning.stored_layout import StoredQuestion
from apps.tanks.models import Tank


def sent_question(data: Document, *, user: User, tank: Tank | None) -> StoredQuestion:
    """Return the StoredQuestion of what was sent; raise ValidationError with the key at fault."""
    try:
        box = (tank.scene(), tank.scene_rocks()) if tank else None
        layout = question_of_data(data, box=box)
    except FieldFileError as fault:
        raise ValidationError({fault.key or "question": [fault.cause]}) from fault
    sources = sources_of(data, layout, user)
    measured = measured_tank(tank, now()) if tank else None
    question = replace(layout.question, law=measured.law) if measured else layout.question
    if problem := too_much(question, length_words(CM)):
        raise ValidationError({"limits": [problem]})
    return StoredQuestion(
        question,
        sources=sources,
        day_hours=layout.day_hours,
        price_kwh=None,
        surveyed_on=measured.surveyed_on if measured else None,
    )


def sources_of(data: Document, layout: LayoutFile, user: User) -> tuple[str, ...]:
    """Return where each candidate is from: the keeper's library, or described here."""
    rows = each(data["fixtures"], document)
    if len(rows) > CANDIDATES_MOST:
        raise ValidationError({"fixtures": [f"A plan takes {CANDIDATES_MOST} lamps at most."]})
    named = {row["name"]: row.get("fixture") for row in rows}
    own = set(Fixture.objects.owned_by(user).values_list("pk", flat=True))
    if unknown := [key for key in named.values() if key is not None and not is_in(key, own)]:
        raise ValidationError({"fixture": [f"Your library has no lamp {unknown[0]!r:.20}."]})
    candidates = layout.question.candidates
    if any(one.is_kept and named[one.name] is None for one in candidates):
        raise ValidationError({"hangs_at": ["Only a lamp of your library stays where it hangs."]})
    return tuple(NEW if named[one.name] is None else f"own:{named[one.name]}" for one in candidates)


def is_in(key: object, own: set[int]) -> bool:
    """Return whether a key that was sent is a whole number of these."""
    return isinstance(key, int) and not isinstance(key, bool) and key in own
