"""The scripts that need no page, tried by node where it is there."""

import os
import shutil
import subprocess

import pytest

from tests.paths import ROOT

TESTS = sorted((ROOT / "tests" / "js").rglob("*.test.mjs"))


def test_scripts_without_a_page():
    node = shutil.which("node")
    if not node and os.environ.get("CI") != "true":
        pytest.skip("node is not here (on Debian: apt install nodejs)")
    assert node, "CI needs node"
    assert TESTS
    done = subprocess.run(
        [node, "--test", *TESTS], capture_output=True, text=True, timeout=120, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
