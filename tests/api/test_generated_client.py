"""The whole main job by a client that a generator made from the schema the app serves.

Nobody wrote a line of that client: what it can't build or read, the schema does not say rightly.
"""

import datetime as dt
import importlib
import subprocess
import sys
from io import BytesIO

import httpx
import pytest
from django.core.signals import request_finished, request_started
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections
from django.test import Client
from knox.models import AuthToken

from apps.api.models import TokenCard
from apps.later.models import Job
from apps.later.running import run_job

NAME = "generated_reeflog"
HERE = "http://testserver"
START = dt.datetime(2026, 5, 1, 10, 0, tzinfo=dt.UTC)
DEPTHS_CM, PLACES_CM = (5, 20, 35), (10, 20, 30, 40, 50)
# What the invented meter shows at the surface under the lamps, and what of it is left a cm deeper.
SURFACE_UMOL, LEFT_A_CM = 400, 0.97
DOWN = 0.5


@pytest.fixture
def package(tmp_path, monkeypatch, db):
    """Generate the client from what a program downloads, and return how its parts are imported."""
    schema = tmp_path / "schema.json"
    schema.write_bytes(Client().get("/api/v1/schema/").content)
    config = tmp_path / "config.yaml"
    # It is run as it comes: nobody reads its layout. A picture is bytes to it, as any file is.
    pictures = "content_type_overrides: {image/jpeg: application/octet-stream}"
    config.write_text(f"post_hooks: []\n{pictures}\n")
    subprocess.run(
        [
            sys.executable, "-m", "openapi_python_client", "generate", "--meta=none",
            "--fail-on-warning", f"--path={schema}", f"--output-path={tmp_path / NAME}",
            f"--config={config}",
        ],
        check=True, capture_output=True,
    )  # fmt: skip
    monkeypatch.syspath_prepend(tmp_path)
    yield lambda part: importlib.import_module(f"{NAME}.{part}")
    for name in [name for name in sys.modules if name.split(".")[0] == NAME]:
        del sys.modules[name]


@pytest.fixture
def open_database(db):
    """Keep the test's own connection open between requests, as Django's test client does."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


class Program:
    """A program with a keeper's token and nothing but the generated client."""

    def __init__(self, package, keeper, scope):
        instance, token = AuthToken.objects.create(keeper)
        TokenCard.objects.create(token=instance, name="Main job", scope=scope)
        self.package, self.models = package, package("models")
        self.client = package("client").AuthenticatedClient(HERE, token=token)
        self.client.set_httpx_client(
            httpx.Client(
                transport=httpx.WSGITransport(get_wsgi_application()),
                base_url=HERE,
                headers={"Authorization": f"Bearer {token}"},
            )
        )

    def call(self, operation, *keys, **said):
        """Call an operation by its name in the schema and return what it answers, as an object."""
        room = operation.split("_")[0]
        answer = self.package(f"api.{room}.{operation}").sync(*keys, client=self.client, **said)
        assert not isinstance(answer, self.models.Problem), answer
        return answer

    def opened(self, address):
        return self.client.get_httpx_client().get(address).status_code


def readings(models):
    return [
        models.ReadingRequest(
            x_cm=x_cm, y_cm=y_cm, depth_cm=depth_cm, value_umol=SURFACE_UMOL * LEFT_A_CM**depth_cm
        )
        for depth_cm in DEPTHS_CM
        for x_cm in PLACES_CM
        for y_cm in PLACES_CM
    ]


def light_at(program, tank, at):
    """Return the PAR in the middle of the tank as the client reads it, with its interval."""
    points = [program.models.PointRequest(x_cm=30, y_cm=30, depth_cm=20)]
    body = program.models.PointsAskedRequest(points=points, at=at)
    return program.call("tanks_light_create", tank.id, body=body).points[0]


def surveyed_tank(program):
    """Make a tank and survey it with readings in bulk; return the tank."""
    models = program.models
    tank = program.call(
        "tanks_create",
        body=models.TankRequest(
            name="Cube", length_cm=60, width_cm=60, depth_cm=50, time_zone="Etc/UTC"
        ),
    )
    survey = program.call(
        "tanks_surveys_create",
        tank.id,
        body=models.SurveyRequest(taken_at=START, readings=readings(models)),
    )
    assert len(survey.readings) == len(DEPTHS_CM) * len(PLACES_CM) ** 2
    return tank


def browned_coral(program, tank):
    """Place a coral in the middle of the tank and note in bulk how it browned; return it."""
    models = program.models
    coral = program.call(
        "tanks_corals_create",
        tank.id,
        body=models.CoralRequest(
            name="Red plate", group=models.GroupEnum.LPS, added_on=START.date()
        ),
    )
    program.call(
        "tanks_corals_spots_create",
        tank.id,
        coral.id,
        body=models.SpotRequest(x_cm=30, y_cm=30, depth_cm=20, since=START.date()),
    )
    noted = [(9, models.Sign.WELL), (20, models.Sign.BROWNING), (27, models.Sign.BROWNING)]
    notes = program.call(
        "tanks_corals_notes_bulk_create",
        tank.id,
        coral.id,
        body=models.HealthNotesRequest(
            rows=[
                models.HealthNoteRequest(noted_on=START.date() + dt.timedelta(days=days), seen=seen)
                for days, seen in noted
            ]
        ),
    )
    assert len(notes.rows) == len(noted)
    return coral


def test_the_main_job_is_done_by_a_generated_client(package, open_database, owner):
    """Survey, map, light change, coral, case and share link, by nothing but the schema."""
    program = Program(package, owner, "write")
    models = program.models
    assert program.call("me_retrieve").token.scope == models.ScopeEnum.WRITE

    tank = surveyed_tank(program)
    before = light_at(program, tank, START + dt.timedelta(hours=1))
    assert before.par_umol == pytest.approx(SURFACE_UMOL * LEFT_A_CM**20, rel=0.05)
    assert before.low_umol < before.par_umol < before.high_umol

    dimmed_at = START + dt.timedelta(days=10)
    program.call(
        "tanks_light_changes_create",
        tank.id,
        body=models.LightChangeRequest(
            happened_at=dimmed_at, summary="Dimmed to half", factor=DOWN
        ),
    )
    after = light_at(program, tank, dimmed_at + dt.timedelta(hours=1))
    assert after.par_umol == pytest.approx(DOWN * before.par_umol, rel=0.05)

    coral = browned_coral(program, tank)
    case = program.call("tanks_corals_case_retrieve", tank.id, coral.id)
    assert (case.case.coral, case.case.sign) == (coral.id, models.SignEnum.DARKER)

    link = program.call(
        "tanks_share_links_create", tank.id, body=models.ShareLinkRequest(label="Club")
    )
    assert program.opened(link.address) == 200
    program.call("tanks_share_links_destroy", tank.id, link.id)
    assert program.opened(link.address) == 404


def test_a_tank_goes_out_and_in_by_a_generated_client(package, open_database, owner):
    program = Program(package, owner, "write")
    models = program.models
    tank = surveyed_tank(program)
    asked_for = models.ExportRequest(tank=tank.id)
    written = ended(program, program.call("exports_create", body=asked_for))
    zip_file = program.client.get_httpx_client().get(written.file).content
    content = program.package("types").File(payload=BytesIO(zip_file), file_name="cube.zip")
    brought = program.call("imports_create", body=models.ImportRequest(file=content))
    outcome = ended(program, brought).outcome
    made = program.call("tanks_retrieve", outcome["tanks"][0])
    assert made.id != tank.id and made.length_cm == tank.length_cm


def ended(program, job):
    """Let what works on jobs do its work, and return the job as the client reads it then."""
    run_job(Job.objects.get(key=job.key).pk)
    job = program.call("jobs_retrieve", job.key)
    assert job.state == program.models.JobStateEnum.DONE, job.problem
    return job


def test_what_a_keeper_does_by_the_week_is_done_by_a_generated_client(
    package, open_database, owner
):
    """Hand a club's meter over, tick a step of an acclimation, bring a logger's series in."""
    program = Program(package, owner, "write")
    models, tank = program.models, surveyed_tank(program)

    club = program.call("clubs_create", body=models.ClubRequest(name="Reef 04"))
    meter = program.call(
        "clubs_meters_create", club.id, body=models.ClubMeterRequest(label="Sensor")
    )
    program.call("clubs_meters_ask_create", club.id, meter.id)
    to = program.call("clubs_members_list", club.id).results[0].keeper.id
    body = models.HandOverRequest(to=to)
    handed = program.call("clubs_meters_hand_over_create", club.id, meter.id, body=body)
    assert handed.lending.held.keeper.id == owner.pk

    coral = browned_coral(program, tank)
    plan = program.call(
        "tanks_acclimations_create",
        tank.id,
        body=models.AcclimationRequest(
            coral=coral.id, target_umol=150, means=models.MeansEnum.DEPTH
        ),
    )
    step = models.AcclimationTickRequest(number=plan.next_.number, done_on=plan.next_.due_on)
    program.call("tanks_acclimations_ticks_create", tank.id, plan.id, body=step)
    ticked = program.call("tanks_acclimations_retrieve", tank.id, plan.id).ticks
    assert [tick.number for tick in ticked] == [plan.next_.number]

    series = program.call(
        "tanks_logged_series_create",
        tank.id,
        body=models.LoggedSeriesRequest(
            label="Rock", x_cm=30, y_cm=30, depth_cm=20,
            samples=[
                models.LoggedSampleRequest(at=START + dt.timedelta(hours=hour), par_umol=200)
                for hour in range(3)
            ],
        ),
    )  # fmt: skip
    file = program.package("types").File(
        payload=BytesIO(b"time;PAR\n2026-05-02 10:00;200\n2026-05-02 11:00;210\n"),
        file_name="log.csv",
    )
    read = program.call(
        "tanks_logged_series_file_create",
        tank.id,
        body=models.LogFileRequest(label="Rock", x_cm=30, y_cm=30, depth_cm=20, file=file),
    )
    assert (len(series.samples), read.kept) == (3, 2)
