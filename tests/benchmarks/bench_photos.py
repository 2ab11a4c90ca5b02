"""Photos: server time and memory from upload to indexed, for 12 million pixels; and a coral's page
with three years of weekly photos, 40 corals in the tank.

Indexed is: note, photo and thumbnail stored, the row in the database, the answer sent.
"""

import resource
import statistics
import subprocess
import sys
import tempfile
import time

from tests.benchmarks.scratch import scratch_rows

ROUNDS = 5
KINDS = ("JPEG", "PNG", "WEBP", "HEIF")
WIDTH, HEIGHT = 4032, 3024
UPLOAD_MS_MAX, MEMORY_MB_MAX = 1500.0, 250.0
MARK_MS_MAX, PAGE_MS_MAX, LIST_MS_MAX = 1500.0, 400.0, 400.0
WEEKS, CORALS = 156, 40


def main():
    kind = sys.argv[1] if len(sys.argv) > 1 and sys.argv[1] in (*KINDS, "cap") else None
    if kind is None:
        # Each kind in a process of its own, so that its memory is its own.
        for name in KINDS:
            subprocess.run([sys.executable, "-m", __spec__.name, name], check=True)
        for case in CAPS:
            subprocess.run([sys.executable, "-m", __spec__.name, "cap", *case], check=True)
    with scratch_rows():
        if kind == "cap":
            cap_memory(*sys.argv[2:])
        else:
            upload_times(kind) if kind else page_times()


def tell(title, times, most):
    """Print wall and CPU time of a row; on a busy machine only the second is the program's."""
    walls, cpus = zip(*times, strict=True)
    middle = statistics.median(walls)
    verdict = "within" if middle <= most else "OVER"
    cpu = statistics.median(cpus)
    spread = f"(worst {max(walls):.0f}; CPU {cpu:.0f})"
    print(f"  {title:<38}{middle:7.0f} ms {spread}  {verdict} {most:g} ms", flush=True)


def timed(work, expected):
    """Return the wall and CPU time of a request [ms]; it must be answered as expected."""
    start, start_cpu = time.perf_counter(), time.process_time()
    answer = work()
    took = 1000 * (time.perf_counter() - start), 1000 * (time.process_time() - start_cpu)
    assert answer.status_code == expected, answer.status_code
    return took


def memory_mb():
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


# The largest photos that are taken: format, mode, width, height, and what is odd about it.
CAPS = (
    ("JPEG", "RGB", "8160", "6120", ""),
    ("JPEG", "RGB", "6320", "4740", "progressive"),
    ("PNG", "RGBA", "5770", "4330", ""),
    ("WEBP", "RGBA", "4080", "3060", ""),
    ("HEIF", "RGB", "5770", "4330", ""),
)


def cap_memory(kind, mode, width, height, odd):
    """Print what decoding a photo of the largest size takes in a process of its own."""
    from io import BytesIO

    from apps.corals.photo_cleaning import clean_photo

    told = [sys.executable, "-c", CAP_MAKER, kind, mode, width, height, odd]
    file = BytesIO(subprocess.run(told, capture_output=True, check=True).stdout)
    file.size = file.getbuffer().nbytes
    before_mb, start_cpu = memory_mb(), time.process_time()
    clean_photo(file, bytes_max=10**9)
    more_mb, cpu_s = memory_mb() - before_mb, time.process_time() - start_cpu
    verdict = "within" if more_mb <= MEMORY_MB_MAX else "OVER"
    size = f"{int(width) * int(height) / 1e6:.1f} MP {kind} {mode} {odd}".strip()
    print(f"  largest taken, {size:<28}{more_mb:5.0f} MB more, CPU {cpu_s:.1f} s  "
          f"{verdict} {MEMORY_MB_MAX:g} MB", flush=True)  # fmt: skip


CAP_MAKER = """
import io, sys
import numpy as np
import pillow_heif
from PIL import Image
pillow_heif.register_heif_opener()
kind, mode, width, height, odd = sys.argv[1:]
y, x = np.mgrid[0:int(height), 0:int(width)]
tiles = ((x // 8 + y // 8) % 256).astype(np.uint8)
picture = Image.fromarray(np.dstack([tiles, tiles // 2, 255 - tiles, tiles][: len(mode)]), mode)
out = io.BytesIO()
options = {"JPEG": {"quality": 90, "subsampling": 0, "progressive": odd == "progressive"},
           "WEBP": {"quality": 50, "method": 0}, "PNG": {"compress_level": 1},
           "HEIF": {"quality": 30}}
picture.save(out, kind, **options[kind])
sys.stdout.buffer.write(out.getvalue())
"""


def upload_times(kind):
    """Print how long an upload of one kind takes, and the memory it takes on top of the app's."""
    from django.test import Client, override_settings
    from django.urls import reverse

    from tests.factories import make_coral, make_tank

    tank = make_tank()
    client = Client()
    client.force_login(tank.owner)
    coral = make_coral(tank)
    with tempfile.TemporaryDirectory() as folder, override_settings(MEDIA_ROOT=folder):
        client.get(reverse("coral_detail", args=[coral.pk]))
        sent, before_mb = large_file(kind), memory_mb()
        times = [timed(lambda: upload(client, coral, sent, kind), 302) for _ in range(ROUNDS)]
        peak_mb = memory_mb()
        assert coral.notes.count() == ROUNDS
        tell(f"upload to indexed, 12 MP {kind}", times, UPLOAD_MS_MAX)
        verdict = "within" if peak_mb - before_mb <= MEMORY_MB_MAX else "OVER"
        print(f"    memory: {peak_mb - before_mb:.0f} MB on top of {before_mb:.0f}, "
              f"peak {peak_mb:.0f}  {verdict} {MEMORY_MB_MAX:g} MB")  # fmt: skip
        if kind == "JPEG":
            photo = coral.notes.first().photos.get()
            url = reverse("photo_detail", args=[photo.key])
            times = [timed(lambda: client.post(url, MARKS), 302) for _ in range(ROUNDS)]
            tell("marks to colour, 2000 px", times, MARK_MS_MAX)


def page_times():
    """Print how long a coral's page of three years takes, and the list of corals."""
    from django.test import Client
    from django.urls import reverse

    from tests.factories import make_tank

    tank = make_tank()
    client = Client()
    client.force_login(tank.owner)
    coral = three_years(tank)
    for title, url, most in (
        ("coral page, 3 years weekly", reverse("coral_detail", args=[coral.pk]), PAGE_MS_MAX),
        (f"list of {CORALS} corals", reverse("coral_list", args=[tank.pk]), LIST_MS_MAX),
    ):
        size_kb = len(client.get(url).content) / 1000
        times = [timed(lambda url=url: client.get(url), 200) for _ in range(ROUNDS)]
        tell(f"{title} ({size_kb:.0f} kB)", times, most)


MARKS = {
    "reference_kind": "white", "light": "white", "reference": "10 10 40 40",
    "regions": "ellipse 50 30 90 90", "whole": "", "scale": "", "scale_cm": "",
}  # fmt: skip


def large_file(kind):
    """Return a photo of 12 million pixels as a phone sends it, with grain that packs badly."""
    told = [sys.executable, "-c", MAKER, kind, str(WIDTH), str(HEIGHT)]
    return subprocess.run(told, capture_output=True, check=True).stdout


MAKER = """
import io, sys
import numpy as np
import pillow_heif
from PIL import Image
pillow_heif.register_heif_opener()
kind, width, height = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
rng = np.random.default_rng(1)
small = rng.integers(0, 256, (height // 24, width // 24, 3), dtype=np.uint8)
picture = np.asarray(Image.fromarray(small).resize((width, height), Image.Resampling.BICUBIC))
noisy = np.clip(picture + rng.normal(0, 4, picture.shape), 0, 255).astype(np.uint8)
out = io.BytesIO()
options = {"JPEG": {"quality": 90}, "WEBP": {"quality": 85, "method": 0},
           "PNG": {"compress_level": 1}, "HEIF": {"quality": 50}}
Image.fromarray(noisy).save(out, kind, **options[kind])
sys.stdout.buffer.write(out.getvalue())
"""


def upload(client, coral, content, kind):
    from django.core.files.uploadedfile import SimpleUploadedFile
    from django.urls import reverse

    file = SimpleUploadedFile(f"photo.{kind.lower()}", content)
    typed = {"seen": "well", "strength": 2, "noted_on": coral.tank.today(), "photo": file}
    return client.post(reverse("note_new", args=[coral.pk]), typed)


def three_years(tank):
    """Return a coral with weekly notes, photos and colours of three years, among CORALS."""
    import datetime as dt

    import numpy as np

    from apps.corals.models import Photo, PhotoColour
    from tests.factories import make_coral, make_light_change, make_note, make_survey

    today = tank.today()
    for n in range(CORALS - 1):
        make_note(make_coral(tank, name=f"Frag {n}"))
    make_survey(tank)
    for months in range(0, 36, 2):
        make_light_change(
            tank, happened_at=dt.datetime.now(tz=tank.zone) - dt.timedelta(days=30 * months)
        )
    coral = make_coral(tank, name="Old one", since=today - dt.timedelta(days=7 * WEEKS))
    rng = np.random.default_rng(1)
    for week in range(WEEKS):
        note = make_note(coral, noted_on=today - dt.timedelta(days=7 * week), seen="well")
        photo = Photo.objects.create(note=note, image="x.jpg", thumbnail="y.jpg",
                                     width_px=2000, height_px=1500)  # fmt: skip
        lab = np.array([60, 5, 26]) + rng.normal(0, 1.5, 3)
        PhotoColour.objects.create(
            photo=photo, reference_kind="white", light="white", lightness=lab[0], a_star=lab[1],
            b_star=lab[2], covariance=np.diag([4.0, 2.0, 3.0]).ravel().tolist(),
        )  # fmt: skip
    return coral


if __name__ == "__main__":
    main()
