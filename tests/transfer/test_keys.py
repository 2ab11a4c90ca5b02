"""Every document is told whether it names rows, and every table whether it goes along."""

from django.db.models import JSONField

from apps.transfer.archive.dictionary import dictionary
from apps.transfer.archive.keys import WITH_KEYS, replaced
from apps.transfer.archive.tables import NAMING_ROWS, in_order, links, row_fields, tables

# Documents of numbers and words: measures, levels, colours, marks of devices.
NO_KEYS = {
    "acclimation.rig", "coralsize.marks", "daycurve.points", "fixture.channels",
    "healthnote.also_seen", "healthnote.sent_photos", "hungfixture.channel_levels",
    "hungfixture.channels", "hungfixture.told", "lightchange.taken_down", "loggedseries.samples",
    "metercheck.pairs", "otherversion.said", "photocolour.card_error", "photocolour.covariance",
    "photocolour.marks", "photocolour.problem_keys", "photometricfile.notes", "raytable.rows",
    "readingedit.burst", "readingedit.row", "runningcurve.points", "survey.levels",
    "survey.plan_asked", "surveyrevision.rows", "tank.braces", "tank.earlier_zones",
    "tank.outline_cm",
}  # fmt: skip


def test_every_document_says_whether_it_names_rows():
    documents = {
        f"{model._meta.model_name}.{field.name}"
        for model in tables()
        for field in row_fields(model)
        if isinstance(field, JSONField)
    }
    naming = {f"{model._meta.model_name}.{name}" for model, name in WITH_KEYS}
    assert documents == NO_KEYS | naming and not NO_KEYS & naming


def test_tables_stand_behind_what_they_point_to():
    order = list(tables())
    for at, model in enumerate(order):
        for link in links(model):
            if link.related_model in order and link.related_model is not model:
                assert order.index(link.related_model) < at, (model, link.name)
    assert set(order[-len(NAMING_ROWS) :]) == set(NAMING_ROWS)
    assert {model for model, _ in WITH_KEYS} == set(NAMING_ROWS)
    assert set(in_order(order)) == set(order)


def test_every_quantity_has_its_unit_in_the_dictionary():
    unitless = {"1", ""}
    for columns in dictionary(tables()).values():
        for name, words in columns.items():
            if name.endswith(("_cm", "_umol", "_deg", "_percent", "_hours")):
                assert words.get("unit", "") not in unitless, name
            assert words["type"] and words["means"]


def test_names_of_parts_stay():
    said = {"own:1": ["own:1", {"x": "own:1"}]}
    assert replaced(said, str.upper) == {"own:1": ["OWN:1", {"x": "OWN:1"}]}
