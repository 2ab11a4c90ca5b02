"""What makes the entry pages installable: the manifest, and the worker that starts them offline."""

import hashlib
import json
from pathlib import Path

from django.contrib.staticfiles import finders
from django.http import HttpResponse, JsonResponse
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.cache import never_cache

# Everything the pages that work without a network load.
FILES = (
    "css/fonts.css", "css/variables.css", "css/base.css", "css/layout.css", "css/forms.css",
    "css/blocks.css", "css/print.css", "fonts/reef-text.woff2", "fonts/reef-head.woff2",
    "css/surveys/entry/survey_enter.css", "css/corals/notes/coral_round.css", "img/mark.svg",
    "img/mark-192.png",
    "js/page.js", "js/drafts.js", "js/lengths.js", "js/marker.js", "js/marks.js",
    "js/surveys/entry/desk.js", "js/surveys/entry/drawing.js", "js/surveys/entry/keeping.js",
    "js/surveys/entry/keys.js", "js/surveys/entry/nearby.js", "js/surveys/entry/offline.js",
    "js/surveys/entry/points.js", "js/surveys/entry/screen.js", "js/surveys/entry/sending.js",
    "js/surveys/entry/store.js", "js/surveys/entry/survey_enter.js",
    "js/corals/notes/coral_round.js", "js/corals/notes/notes.js",
)  # fmt: skip
WORKER = "js/service_worker.js"
PAPER, DEEP = "#f5f1e8", "#0f4c55"


@never_cache
def service_worker(request):
    """The worker's script; any change of a kept file changes it, so that devices fetch anew."""
    # The names that pages and modules ask for; a served app has hashes in them.
    names = sorted(static(name) for name in FILES)
    shells = {"survey": reverse("entry_shell"), "round": reverse("round_shell")}
    kept = {"version": _version(names), "shells": shells, "files": names}
    script = f"const KEPT = {json.dumps(kept)};\n{_text(WORKER)}"
    return HttpResponse(script, content_type="text/javascript; charset=utf-8")


def _version(names):
    together = hashlib.sha256(" ".join(names).encode())
    for name in FILES:
        together.update(Path(finders.find(name)).read_bytes())
    return together.hexdigest()[:16]


def _text(name):
    return Path(finders.find(name)).read_text()


def manifest(request):
    """What a phone needs to keep the entry page on its home screen."""
    icons = [
        {"src": static(f"img/mark-{size}.png"), "sizes": f"{size}x{size}", "type": "image/png"}
        for size in (192, 512)
    ]
    app = {
        "name": "reeflog: enter readings",
        "short_name": "reeflog",
        "start_url": reverse("entry_shell"),
        "scope": "/",
        "display": "standalone",
        "background_color": PAPER,
        "theme_color": DEEP,
        "icons": [*icons, {"src": static("img/mark.svg"), "sizes": "any", "type": "image/svg+xml"}],
    }
    return JsonResponse(app, content_type="application/manifest+json")
