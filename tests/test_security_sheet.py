"""What docs/asvs.md says of all code at once: programs, ways out, cryptography, scripts."""

import ast
import re

import pytest

from tests.paths import ROOT
from tests.sources import SOURCES, expect_none, place_of, tree_of

PYTHON = [*SOURCES, *sorted((ROOT / "reeflog").rglob("*.py"))]
SCRIPTS = sorted((ROOT / "static" / "js").rglob("*.js"))


def imported(tree):
    """Yield the full name of all that a module imports, wherever in it."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def importers(*packages):
    """Return the places of the modules that import one of these packages or from it."""
    inside = tuple(f"{name}." for name in packages)
    return {
        place_of(path)
        for path in PYTHON
        if any(f"{name}.".startswith(inside) for name in imported(tree_of(path)))
    }


# --- Programs (1.2.5) -----------------------------------------------------------------------
STARTS = {"run", "Popen", "call", "check_call", "check_output"}
OF_OS = re.compile(r"system|popen|exec[lv]\w*|spawn\w+|posix_spawnp?|startfile")


def shell_problems(tree):
    """Yield (line, call) of what starts a program in another way than from a list."""
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module in ("os", "subprocess", "pty"):
            # By another name it would pass the rest.
            yield from ((node.lineno, alias.name) for alias in node.names if starts(alias.name))
        if not isinstance(node, ast.Call):
            continue
        name = ast.unparse(node.func) if isinstance(node.func, ast.Attribute | ast.Name) else ""
        if not re.fullmatch(r"[\w.]+", name):
            continue
        keywords = {word.arg for word in node.keywords}
        if re.match(r"os\.", name) and OF_OS.fullmatch(name[3:]):
            yield node.lineno, name
        elif name.startswith(("subprocess.", "asyncio.create_subprocess", "pty.")):
            first = node.args[0] if node.args else None
            if name[11:] not in STARTS or "shell" in keywords or not isinstance(first, ast.List):
                yield node.lineno, name


def starts(name):
    return name in STARTS or OF_OS.fullmatch(name)


def test_programs_start_from_lists_without_a_shell():
    expect_none(
        [f"{place_of(p)}:{n} {call}" for p in PYTHON for n, call in shell_problems(tree_of(p))]
    )
    assert importers("subprocess") == {
        "apps/common/tables/workbook.py",
        "apps/hosting/backup/moment.py",
        "reeflog/make_fonts.py",
    }


@pytest.mark.parametrize(
    "code",
    [
        "subprocess.run('ls ' + name)", "subprocess.run(['ls'], shell=True)", "os.system(name)",
        "subprocess.run(command)", "subprocess.getoutput('ls')", "os.popen('ls')",
        "from subprocess import run", "from os import system", "os.execvp('ls', names)",
    ],
)  # fmt: skip
def test_a_program_started_otherwise_is_seen(code):
    assert [*shell_problems(ast.parse(code))]


# --- Ways out (1.3.6, 13.2.4) ---------------------------------------------------------------
WAYS_OUT = (
    "aiohttp", "asyncio", "boto3", "botocore", "celery", "django.core.mail", "ftplib",
    "http.client", "httpx", "imaplib", "kombu", "paramiko", "redis", "requests", "smtplib",
    "socket", "ssl", "storages", "telnetlib", "urllib.request", "urllib3", "websockets", "xmlrpc",
)  # fmt: skip
# Who may open a line to somewhere, and where to.
OPENERS = {
    # To where a browser said, within bounds: tests/common/push, tests/sharing/test_push.py.
    "apps/common/push/delivery.py",
    # To the mail server of the settings.
    "apps/hosting/data_requests/asking.py",
    "apps/hosting/doctor/checks.py",
    "apps/sharing/reminding/digest.py",
    "apps/sharing/reminding/rounds.py",
    "apps/transfer/account/leaving.py",
    # To the broker of the settings.
    "apps/later/celery_queue.py",
    # To this machine: is it well, and is a port free?
    "reeflog/deploy/ask.py",
    "reeflog/management/commands/start.py",
}


def test_only_these_modules_open_lines_to_elsewhere():
    assert importers(*WAYS_OUT) == OPENERS


# --- Cryptography (11.1.2) ------------------------------------------------------------------
CRYPTOGRAPHY = (
    "allauth.account.forms.default_token_generator", "allauth.mfa", "cryptography",
    "django.contrib.auth.hashers", "django.contrib.auth.tokens", "django.core.signing",
    "django.utils.crypto", "hashlib", "hmac", "jwt", "knox", "pyrage", "secrets", "ssl",
)  # fmt: skip


def test_the_inventory_of_cryptography_names_every_module():
    rows = re.findall(r"(?m)^\| .*$", (ROOT / "docs" / "cryptography.md").read_text())
    named = {name for row in rows for name in re.findall(r"`([\w/]+\.py)`", row)}
    used = importers(*CRYPTOGRAPHY)
    assert (sorted(used - named), sorted(named - used)) == ([], [])


def test_chance_that_can_be_foreseen_draws_no_secret():
    # How long a job waits after its process was busy.
    assert importers("random") == {"apps/later/behind.py"}


# --- Scripts (3.2.2, 3.5.5) -----------------------------------------------------------------
MARKUP = re.compile(
    r"\b(innerHTML|outerHTML|insertAdjacentHTML|document\.write(ln)?|createContextualFragment"
    r"|setHTML(Unsafe)?|srcdoc|DOMParser|new Function|eval)\b|set(Timeout|Interval)\(\s*[\"'`]"
)
# The one place without htmx that takes markup: parts of a page of the server, from its own address.
OWN_SWAP = {"static/js/sharing/shared_map.js": ["DOMParser"]}


def test_scripts_write_text_as_text():
    seen = {place_of(p): [m[0] for m in MARKUP.finditer(p.read_text())] for p in SCRIPTS}
    assert {place: words for place, words in seen.items() if words} == OWN_SWAP


@pytest.mark.parametrize(
    "code",
    ["a.innerHTML = b", "document.write(b)", "eval(b)", "setTimeout('b', 1)", "new Function(b)"],
)
def test_a_script_that_writes_markup_is_seen(code):
    assert MARKUP.search(code)


def test_markup_that_is_swapped_in_runs_no_words_as_code():
    base = (ROOT / "templates" / "base.html").read_text()
    assert '"allowEval":false' in base
    pages = sorted((ROOT / "templates").rglob("*.html"))
    code = re.compile(r"\bhx-on\b|hx-(vals|headers)=[\"']js:|\bhx-ext\b")
    expect_none([place_of(p) for p in pages if code.search(p.read_text())])


def test_pasting_is_left_to_the_browser():
    """But where a table is pasted: a page without a password."""
    hears = {place_of(p) for p in SCRIPTS if re.search(r"[\"']paste[\"']|onpaste", p.read_text())}
    assert hears == {"static/js/surveys/tables/readings.js"}


def test_no_script_takes_messages_of_other_windows():
    heard = re.compile(r"postMessage|onmessage|[\"']message[\"']")
    expect_none([place_of(p) for p in SCRIPTS if heard.search(p.read_text())])
