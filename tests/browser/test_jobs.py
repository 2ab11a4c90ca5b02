"""The page of a job: sound on each screen, followed by scripts or by its link."""

import datetime as dt
import itertools

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.corals.models import WaterEvent
from apps.tanks.models import Tank
from tests.browser.conftest import DESK, PHONE, sign_in
from tests.browser.test_every_screen import faults_of
from tests.factories import make_job, make_tank
from tests.transfer.zips import exported

WORKED_AT = {"state": "running", "alive_at": timezone.now() + dt.timedelta(hours=1)}
STATES = {
    "under way": WORKED_AT,
    "failed": {"state": "failed", "problem": "This tank is not yours any more."},
    "done": {"state": "done"},
}


def ago(hours):
    return timezone.now() - dt.timedelta(hours=hours)


def page_of(keeper, **fields):
    job = make_job(keeper, **{"name": "write_zip", "arguments": {"tank_pk": None}} | fields)
    return job, reverse("job_page", args=[job.key])


@pytest.mark.parametrize(
    ("scheme", "size"), list(itertools.product(["light", "dark"], [PHONE, DESK])), ids=str
)
def test_it_is_sound_in_each_state(context, live_server, keeper, complaints, page, scheme, size):
    sign_in(context, live_server.url, keeper)
    page.set_viewport_size(size)
    page.emulate_media(color_scheme=scheme)
    for state, fields in STATES.items():
        page.goto(live_server.url + page_of(keeper, **fields)[1])
        page.locator("#job-state").wait_for()
        assert faults_of(page) == [] and complaints == [], state


def test_it_changes_by_itself_once_it_is_done(context, live_server, keeper, complaints, page):
    sign_in(context, live_server.url, keeper)
    job, address = page_of(keeper, **WORKED_AT)
    page.goto(live_server.url + address)
    page.locator("#job-state[data-state=running]").wait_for()
    job.state = "done"
    job.save()
    page.locator("#job-state[data-state=done]").wait_for()
    assert complaints == []


def test_without_scripts_its_link_looks_again(browser, live_server, keeper):
    context = browser.new_context(java_script_enabled=False)
    sign_in(context, live_server.url, keeper)
    page = context.new_page()
    job, address = page_of(keeper, **WORKED_AT)
    page.goto(live_server.url + address)
    job.state = "done"
    job.save()
    page.get_by_role("link", name="Refresh").click()
    assert page.locator("#job-state").get_attribute("data-state") == "done"
    context.close()


def test_a_large_zip_comes_in_by_the_page_of_its_job(
    context, live_server, keeper, complaints, page, tmp_path
):
    tank = make_tank(keeper)
    warm = {"kind": WaterEvent.Kind.TEMPERATURE, "value": 25.0, "unit": "°C"}
    WaterEvent.objects.bulk_create(
        WaterEvent(tank=tank, happened_at=ago(hours), **warm) for hours in range(2000)
    )
    path = tmp_path / "tank.zip"
    path.write_bytes(exported(tank))
    sign_in(context, live_server.url, keeper)
    page.goto(live_server.url + reverse("tank_import"))
    page.locator("input[type=file]").set_input_files(path)
    page.get_by_role("button", name="Look inside").click()
    page.get_by_role("button", name="Bring it in").click()
    page.locator("#job-state[data-state=done], #job-state[data-state=failed]").wait_for(
        timeout=60_000
    )
    page.get_by_role("link", name="See the tank").click()
    page.wait_for_url("**/tanks/*/")
    assert Tank.objects.filter(owner=keeper).count() == 2 and complaints == []
