"""The queue protocol under 500 random afternoons of cuts, kills, lost replies and replays.

Two devices enter one survey over HTTP. A request may not arrive, its reply may be lost, the
server may die in the middle of writing, the app may be killed before it notes the answer, and an
old request may arrive once more at any time. In the end everything is sent, and the server must
hold every edit once and at each point the one that ranks highest.
"""

import json
import random
import time
import uuid
from unittest import mock

from tests.benchmarks.scratch import scratch_rows

RUNS = 500
SEED = 20260301
EDITS_MOST = 24


def main():
    with scratch_rows():
        told = run_all()
    print(
        "queue: {runs} runs, {edits} edits in {requests} requests ({cut} cut, {unheard} replies "
        "lost, {crashed} server crashes, {killed} kills, {replayed} old requests once more): "
        "{lost} lost, {doubled} doubled, {wrong} wrong at their point; {seconds:.0f} s".format(
            **told
        )
    )


class Device:
    """What store.js and sending.js do, without a browser: a queue that survives a kill."""

    def __init__(self, name, chance, told):
        self.name, self.chance, self.told = name, chance, told
        self.sequence = 0
        self.queue, self.known, self.made, self.sent_before = [], {}, [], []

    def keep(self, point, value):
        self.sequence += 1
        self.known[point] = self.known.get(point, 0) + 1
        edit = {
            "id": str(uuid.UUID(int=self.chance.getrandbits(128))), "point": point,
            "sequence": self.sequence, "revision": self.known[point], "removed": value is None,
            "x_cm": 10, "y_cm": 20, "depth_cm": 5, "value_umol": value, "spread_umol": None,
        }  # fmt: skip
        self.queue.append(edit)
        self.made.append(edit)
        self.told["edits"] += 1

    def send(self, client, url, keeper, *, calm=False):
        body = json.dumps({"keeper": keeper, "device": self.name, "edits": self.queue})
        luck = 1.0 if calm else self.chance.random()
        if luck < 0.2:
            self.told["cut"] += 1
            return
        if luck < 0.3:
            self.told["crashed"] += 1
            with mock.patch(
                "apps.surveys.entry.syncing.write_rows", side_effect=OSError("power cut")
            ):
                self.post(client, url, body)
            return
        answer = self.post(client, url, body)
        self.sent_before.append(body)
        if luck < 0.5:
            self.told["unheard"] += 1
            return
        if luck < 0.55:
            # Killed before the answer is noted: to the queue it is as if nothing had been sent.
            self.told["killed"] += 1
            return
        taken = set(answer["accepted"])
        self.queue = [edit for edit in self.queue if edit["id"] not in taken]
        for point in answer["points"]:
            self.known[point["point"]] = max(self.known.get(point["point"], 0), point["revision"])

    def replay(self, client, url):
        if self.sent_before:
            self.told["replayed"] += 1
            self.post(client, url, self.chance.choice(self.sent_before))

    def post(self, client, url, body):
        self.told["requests"] += 1
        response = client.post(url, body, content_type="application/json")
        return response.json() if response.status_code == 200 else None


def run_all(runs=RUNS):
    from django.test import Client

    from tests.factories import make_tank

    keys = (
        "edits", "requests", "cut", "unheard", "crashed", "killed", "replayed",
        "lost", "doubled", "wrong",
    )  # fmt: skip
    told = dict.fromkeys(keys, 0)
    tank = make_tank()
    client = Client(raise_request_exception=False)
    client.force_login(tank.owner)
    start = time.perf_counter()
    import logging

    # The crashes are ours; a thousand of them on the screen say nothing.
    logging.disable(logging.ERROR)
    for run in range(runs):
        one_run(random.Random(SEED + run), client, tank, told)
    logging.disable(logging.NOTSET)
    return {"runs": runs, "seconds": time.perf_counter() - start, **told}


def one_run(chance, client, tank, told):
    """Enter, send and fail at random; in the end send all in peace and compare."""
    from django.urls import reverse

    from tests.factories import make_survey

    survey = make_survey(tank, readings=[])
    url = reverse("survey_sync", args=[survey.pk])
    points = [str(uuid.UUID(int=chance.getrandbits(128))) for _ in range(8)]
    devices = [Device(name, chance, told) for name in ("one", "two")]
    for _ in range(chance.randint(6, EDITS_MOST)):
        device = chance.choice(devices)
        # A reading is taken back now and then, which is an edit too.
        device.keep(
            chance.choice(points), None if chance.random() < 0.1 else chance.randint(1, 999)
        )
        if chance.random() < 0.5:
            device.send(client, url, tank.owner_id)
        if chance.random() < 0.15:
            device.replay(client, url)
    for device in devices:
        device.send(client, url, tank.owner_id, calm=True)
    for device in devices:
        device.replay(client, url)
    compare(survey, devices, told)


def compare(survey, devices, told):
    made = {edit["id"]: (edit, device.name) for device in devices for edit in device.made}
    stored = [str(edit.client_id) for edit in survey.edits.all()]
    told["lost"] += len(set(made) - set(stored))
    told["doubled"] += len(stored) - len(set(stored))
    top = {}
    for edit, name in made.values():
        rank = edit["revision"], name
        if rank > top.get(edit["point"], ((-1, ""), None))[0]:
            top[edit["point"]] = rank, edit["value_umol"]
    wanted = {point: value for point, (_, value) in top.items() if value is not None}
    standing = [(str(r.client_id), r.value_umol) for r in survey.readings.all()]
    told["doubled"] += len(standing) - len({point for point, _ in standing})
    told["wrong"] += len(set(wanted.items()) ^ set(standing))


if __name__ == "__main__":
    main()
