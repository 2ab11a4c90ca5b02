"""Calls made up from the API's own schema, right ones and wrong ones, on a keeper's data.

No call may be a crash, nor be answered by a status the schema doesn't name. `make test`
sends one or two to every operation, `make soak` thousands.
"""

import collections
import contextlib
import itertools
import os
import re

import pytest
import requests
import schemathesis
from django.db import transaction
from django.test import Client
from django.urls import resolve
from drf_spectacular.generators import SchemaGenerator
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from hypothesis.errors import Unsatisfiable
from knox.models import AuthToken
from rest_framework.views import APIView
from schemathesis import GenerationMode

from tests.test_every_address import Rows, key_of

# So few make one right call to each operation, and a wrong one where it takes a body.
CASES = int(os.environ.get("API_CASES", "1"))
HERE, JSON = "http://testserver", "application/json"
# One in so many keeps the made-up keys in its path and body; the others get keys of rows.
KEEPS_ITS_KEYS = 5
# Keys of rows that a body may name, by how an address that has such rows begins.
NAMED = {
    "meter": "meters/", "fixture": "fixtures/", "coral": "corals/", "survey": "surveys/",
    "tank": "tanks/", "day_curve": "days/", "light_change": "light/",
}  # fmt: skip
UNHURRIED = settings(
    deadline=None, database=None, derandomize=True, phases=[Phase.generate],
    suppress_health_check=list(HealthCheck),
)  # fmt: skip


@pytest.fixture
def unhurried(monkeypatch):
    """Let one keeper ask thousands of times a minute."""
    monkeypatch.setattr(APIView, "throttle_classes", [])


class Caller:
    """Sends made-up cases with a keeper's token, each to the same rows."""

    def __init__(self, tank):
        self.rows, self.count = Rows(tank), itertools.count()
        # A crash is an answer like others, and is counted.
        self.client = Client(raise_request_exception=False)
        self.token = AuthToken.objects.create(tank.owner)[1]
        self.keys = {name: self.rows.by_start[start]().pk for name, start in NAMED.items()}
        self.answers, self.crashes, self.undocumented = collections.Counter(), {}, set()

    def keys_of(self, operation):
        """Return the keys of rows that stand for the words in the operation's path."""
        keys = {"tank_pk": self.rows.tank.pk, "coral_pk": self.rows.coral.pk}
        keys |= {"club_pk": self.rows.club.pk, "acclimation_pk": self.rows.acclimation.pk}
        keys |= {"survey_pk": self.keys["survey"], "number": 1}
        keys["kind"] = "note"
        keys |= {"plan_pk": self.rows.linked_plan.pk}
        of_club = "/clubs/" in operation.path
        keys["meter_pk"] = (self.rows.club_meter if of_club else self.rows.meter).pk
        if "{id}" in operation.path:
            name = resolve(re.sub(r"{\w+}", "1", operation.path)).url_name
            keys["id"] = self.rows.of_api[name.removesuffix("-detail")]().pk
        if "{key}" in operation.path:
            of_photo = "/photos/" in operation.path
            row = self.rows.of_api["api-photo" if of_photo else "api-job"]()
            keys["key"] = str(key_of(row))
        return keys

    def send(self, case, keys):
        if next(self.count) % KEEPS_ITS_KEYS:
            case.path_parameters = {k: keys.get(k, v) for k, v in case.path_parameters.items()}
            if isinstance(case.body, dict):
                case.body |= {k: v for k, v in self.keys.items() if k in case.body}
        # The token is who asks; a made-up session beside it would be asked first.
        case.cookies = {}
        sent = requests.Request(**case.as_transport_kwargs(base_url=HERE)).prepare()
        path, kind = sent.url.removeprefix(HERE), sent.headers.get("Content-Type", JSON)
        with transaction.atomic():
            answer = self.client.generic(
                sent.method, path, sent.body or b"", kind,
                headers={"Authorization": f"Token {self.token}"},
            )  # fmt: skip
            transaction.set_rollback(True)
        self.answers[answer.status_code // 100] += 1
        if answer.status_code >= 500:
            self.crashes[sent.method, case.operation.path] = (path, sent.body)
        elif str(answer.status_code) not in case.operation.definition.raw["responses"]:
            self.undocumented.add((sent.method, case.operation.path, answer.status_code))


def sent_to(operation, mode, caller, count):
    """Send `count` cases of one operation, all right by its schema or all wrong."""
    keys, cases = caller.keys_of(operation), operation.as_strategy(generation_mode=mode)
    if mode.is_negative:
        # The first case is the plainest, which is hardly wrong: here it is nothing, and not sent.
        wrong = cases
        count, cases = count + 1, st.integers(0, 2**31).flatmap(lambda n: wrong if n else st.none())

    @settings(UNHURRIED, max_examples=count)
    @given(case=cases)
    def send(case):
        if case is not None:
            caller.send(case, keys)

    send()


def sendings(operations):
    """Yield (operation, mode, count) of all that is sent."""
    each = -(-CASES // (2 * len(operations)))
    for operation in operations:
        yield operation, GenerationMode.POSITIVE, each
        if operation.body or each > 1:
            yield operation, GenerationMode.NEGATIVE, each


def test_no_made_up_call_is_a_crash(tank, unhurried):
    schema = SchemaGenerator().get_schema(request=None, public=True)
    loaded = schemathesis.openapi.from_dict(schema)
    operations = [result.ok() for result in loaded.get_all_operations()]
    caller = Caller(tank)
    for operation, mode, count in sendings(operations):
        with contextlib.suppress(Unsatisfiable):
            sent_to(operation, mode, caller, count)
    print(f"{caller.answers.total()} calls, answered {dict(sorted(caller.answers.items()))}")
    assert caller.crashes == {} and caller.undocumented == set()
    # Were all refused at the door, this would prove nothing.
    assert caller.answers[2] > 0.2 * caller.answers.total() and caller.answers[4]
