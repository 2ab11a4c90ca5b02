"""Which tables tell of a tank, in an order in which each stands behind what it points to."""

from collections.abc import Iterable
from functools import cache

from django.apps import apps
from django.conf import settings
from django.db.models import CASCADE, Field, FileField, JSONField, Model

from apps.corals.history_models import HistoryImport
from apps.lighting.models import Fixture, OfferedFixture, PhotometricFile, RayTable
from apps.outcomes.models import ClubPoolShare, PooledCurve, PoolShare
from apps.planning.models import Plan
from apps.surveys.models import Meter, MeterCheck, MeterLoan, SurveyOffer
from apps.tanks.models import Invitation, Membership, ShownTank, Tank

# Apps whose tables tell of a tank. What was taken away goes along; removed_at tells it.
STATED_BY = ("tanks", "lighting", "surveys", "corals", "outcomes", "planning")
# Others' access, open doors, who had a club's meter, and what all tanks say together stay here; so
# does the owner's agreement to share figures, which no other keeper can give.
LEFT_OUT = frozenset(
    {
        Membership,
        Invitation,
        ShownTank,
        OfferedFixture,
        MeterLoan,
        PooledCurve,
        PoolShare,
        ClubPoolShare,
        SurveyOffer,
    }
)
# What a tank's rows point to although it is its keeper's: `contents.py` says which rows of them.
KEEPERS_OWN = (RayTable, Fixture, PhotometricFile, Meter, MeterCheck)

# Their documents name rows of any other table (`keys.py`), so they come last; nothing points to
# them.
NAMING_ROWS = (HistoryImport, Plan)
# A keeper's own rows that no tank needs go into the zip of the whole account.
OWN_TABLES = (RayTable, Fixture, PhotometricFile, Meter, MeterCheck, Plan)


@cache
def tables() -> dict[type[Model], str]:
    """Return {model: the lookup from it to its tank} of all that goes with a tank.

    The lookup of what is its keeper's is "". What others point to stands before them.
    """
    models = [m for label in STATED_BY for m in apps.get_app_config(label).get_models()]
    ways = {Tank: "pk"} | dict.fromkeys(KEEPERS_OWN, "")
    for _ in models:
        for model in models:
            for field in model._meta.fields:
                owned = field.is_relation and field.remote_field.on_delete is CASCADE
                above = field.related_model if owned else None
                if above in ways and above not in KEEPERS_OWN and model not in ways:
                    further = ways[above]
                    ways[model] = field.name if further == "pk" else f"{field.name}__{further}"
    kept = in_order(model for model in ways if model not in LEFT_OUT)
    return {model: ways[model] for model in sorted(kept, key=NAMING_ROWS.__contains__)}


def in_order(models: Iterable[type[Model]]) -> list[type[Model]]:
    """Return models so that each stands behind those it points to; itself does not count."""
    left, result = list(models), []
    while left:
        ready = [
            model
            for model in left
            if not any(f.related_model in left and f.related_model != model for f in links(model))
        ]
        if not ready:
            raise ValueError(f"These tables point to each other in a ring: {left}")
        result += ready
        left = [model for model in left if model not in ready]
    return result


def table_name(model: type[Model]) -> str:
    return str(model._meta.model_name)


@cache
def links(model: type[Model]) -> tuple[Field, ...]:
    """Return the fields of a model that point to rows of other models."""
    return tuple(field for field in model._meta.concrete_fields if field.is_relation)


@cache
def people_fields(model: type[Model]) -> tuple[Field, ...]:
    """Return the fields that say who did it; whose it is, no row of a zip says."""
    return tuple(f for f in links(model) if _is_person(f) and f.null)


@cache
def row_fields(model: type[Model]) -> tuple[Field, ...]:
    """Return the fields of a model that a zip holds, but for its key.

    Whose it is is left out, and so is what stays here (`STAYS_HERE`).
    """
    stays = getattr(model, "STAYS_HERE", ())
    return tuple(
        field
        for field in model._meta.concrete_fields
        if not field.primary_key
        and field.name not in stays
        and not (field.is_relation and _is_person(field) and not field.null)
    )


@cache
def file_fields(model: type[Model]) -> tuple[FileField, ...]:
    return tuple(field for field in model._meta.concrete_fields if isinstance(field, FileField))


@cache
def document_fields(model: type[Model]) -> tuple[JSONField, ...]:
    return tuple(field for field in model._meta.concrete_fields if isinstance(field, JSONField))


@cache
def owner_field(model: type[Model]) -> Field | None:
    """Return the field that says whose a row is, or None."""
    return next((f for f in links(model) if _is_person(f) and not f.null), None)


def _is_person(field: Field) -> bool:
    return bool(field.related_model._meta.label == settings.AUTH_USER_MODEL)
