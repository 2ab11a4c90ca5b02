"""What a host is given to run it: scripts, units, container and pins, as far as tests can try them.

`.ci/run` runs the steps themselves (`reeflog/deploy/try.sh`).
"""

import os
import re
import shutil
import subprocess
import time

import pytest
import yaml

from reeflog import __version__
from tests.paths import ROOT
from tests.test_environment import manage

DEPLOY = ROOT / "reeflog" / "deploy"
SCRIPTS = sorted(DEPLOY.glob("*.sh"))
UNITS = sorted((DEPLOY / "systemd").iterdir())
PINNED = sorted(ROOT.glob("requirements*.txt"))
PIN = re.compile(r"^([A-Za-z0-9_.-]+)(?:\[\w+\])?==([^\s;]+)", re.M)


# --- Scripts and units ----------------------------------------------------------------------
@pytest.mark.parametrize("path", SCRIPTS, ids=lambda p: p.name)
def test_scripts_can_be_read_and_stop_at_what_fails(path):
    assert subprocess.run(["sh", "-n", path], capture_output=True, text=True).stderr == ""
    assert path.stat().st_mode & 0o111 and "\nset -eu\n" in path.read_text()


@pytest.mark.skipif(shutil.which("shellcheck") is None, reason="shellcheck is not installed.")
@pytest.mark.parametrize("path", SCRIPTS, ids=lambda p: p.name)
def test_shellcheck_has_no_objection(path):
    done = subprocess.run(["shellcheck", path], capture_output=True, text=True)
    assert done.returncode == 0, done.stdout


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd is not here.")
def test_systemd_understands_the_units(tmp_path):
    """With what they start in a folder of the test, since nothing is installed here."""
    home = tmp_path / "opt"
    for program in (".venv/bin/python", ".venv/bin/celery", "reeflog/deploy/start.sh"):
        (home / program).parent.mkdir(parents=True, exist_ok=True)
        (home / program).write_text("#!/bin/sh\n")
        (home / program).chmod(0o755)
    for unit in UNITS:
        text = unit.read_text().replace("/opt/reeflog", str(home))
        (tmp_path / unit.name).write_text(text)
    paths = [tmp_path / unit.name for unit in UNITS]
    done = subprocess.run(["systemd-analyze", "verify", *paths], capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")


def test_every_timer_has_its_job_and_no_job_runs_as_root():
    names = {unit.name for unit in UNITS}
    jobs = {name.removesuffix(".timer") for name in names if name.endswith(".timer")}
    done = ("back-up", "doctor", "pool", "purge", "reminders", "sessions")
    assert jobs == {f"reeflog-{one}" for one in done}
    for job in [*jobs, "reeflog", "reeflog-worker"]:
        text = (DEPLOY / "systemd" / f"{job}.service").read_text()
        assert "User=reeflog\n" in text and "ProtectSystem=strict\n" in text


@pytest.mark.parametrize("unit", UNITS, ids=lambda p: p.name)
def test_units_run_commands_that_are_there(unit):
    for command in re.findall(r"manage\.py (\w+)", unit.read_text()):
        assert command == "clearsessions" or any(ROOT.rglob(f"commands/{command}.py"))


# --- Container ------------------------------------------------------------------------------
@pytest.fixture(scope="module")
def services():
    return yaml.safe_load((DEPLOY / "compose.yaml").read_text())["services"]


def test_containers_can_write_nothing_but_their_volumes(services):
    assert all(one["read_only"] and one["cap_drop"] == ["ALL"] for one in services.values())


def test_only_the_proxy_can_be_asked_from_outside(services):
    assert [name for name, one in services.items() if "ports" in one] == ["proxy"]


def test_containers_do_what_timers_do(services):
    """But for the doctor, whom a host asks."""
    script = (DEPLOY.parents[1] / services["chores"]["command"][0]).read_text()
    timed = (unit.with_suffix(".service").read_text() for unit in UNITS if unit.suffix == ".timer")
    commands = {name for text in timed for name in re.findall(r"manage\.py (\w+)", text)}
    commands -= {"doctor"}
    assert commands == set(re.findall(r"manage\.py (\w+)", script)) and "back_up" in commands


@pytest.mark.parametrize(("hours_ago", "is_made"), [(2, False), (25, True), (None, True)])
def test_a_container_that_starts_again_makes_no_backup_of_a_day_that_has_one(
    tmp_path, hours_ago, is_made
):
    called, python = tmp_path / "called", tmp_path / "venv/bin/python"
    python.parent.mkdir(parents=True)
    python.write_text(f'#!/bin/sh\necho "$2" >> {called}\n')
    python.chmod(0o755)
    if hours_ago:
        backup = tmp_path / "reeflog-20261129-030000.tar"
        backup.touch()
        made_s = time.time() - 3600 * hours_ago
        os.utime(backup, (made_s, made_s))
    places = {"VENV": str(tmp_path / "venv"), "BACKUPS": str(tmp_path)}
    chores = subprocess.Popen([DEPLOY / "chores.sh", "for-ever"], env=os.environ | places)
    try:
        until = time.monotonic() + 20
        while time.monotonic() < until and "send_reminders" not in words_of(called):
            time.sleep(0.02)
    finally:
        chores.kill()
        chores.wait()
    assert ("back_up" in words_of(called)) is is_made
    # The rest of the day's work waits for no backup.
    assert {"purge_deleted", "pool_outcomes", "send_reminders"} <= {*words_of(called)}


def words_of(path):
    return path.read_text().split() if path.exists() else []


def test_the_image_is_built_in_two_stages_of_files_that_are_there_and_runs_as_nobody():
    text = (DEPLOY / "Containerfile").read_text()
    last = text.split("\nFROM ")[-1]
    assert text.count("\nFROM ") == 2 and "USER reeflog" in last and "HEALTHCHECK" in last
    copied = [line.split()[1:-1] for line in re.findall(r"^COPY (?!--).*", text, re.M)]
    assert [name for names in copied for name in names if not (ROOT / name).exists()] == []


def test_the_example_settings_are_settings(tmp_path):
    lines = (DEPLOY / "env.example").read_text().splitlines()
    stated = dict(line.split("=", 1) for line in lines if line and line[0] != "#")
    stated |= {"REEFLOG_SECRET_KEY": "k" * 50, "REEFLOG_DATA_DIR": str(tmp_path)}
    done = manage("check", tmp_path=tmp_path, **stated)
    assert done.returncode == 0, done.stderr


# --- Pins -----------------------------------------------------------------------------------
@pytest.mark.parametrize("path", PINNED, ids=lambda p: p.name)
def test_every_pin_has_a_hash(path):
    blocks = re.split(r"\n(?=[A-Za-z0-9])", path.read_text())
    pins = [block for block in blocks if PIN.match(block)]
    assert pins and [pin.split()[0] for pin in pins if "--hash=sha256:" not in pin] == []


def names_and_versions(text):
    return {(name.lower().replace("_", "-"), version) for name, version in PIN.findall(text)}


@pytest.mark.parametrize("path", PINNED, ids=lambda p: p.name)
def test_what_is_asked_for_is_what_is_pinned(path):
    """`make requirements` was run after the last change."""
    asked = names_and_versions(path.with_suffix(".in").read_text())
    assert asked and asked - names_and_versions(path.read_text()) == set()


def test_files_of_pins_agree():
    together = set().union(*(names_and_versions(path.read_text()) for path in PINNED))
    names = [name for name, _ in together]
    assert sorted({name for name in names if names.count(name) > 1}) == []


# --- Versions -------------------------------------------------------------------------------
def test_there_is_one_version_and_the_changelog_knows_it():
    assert f'version = "{__version__}"' in (ROOT / "pyproject.toml").read_text()
    assert re.search(rf"^## {re.escape(__version__)}\b", (ROOT / "CHANGELOG.md").read_text(), re.M)
