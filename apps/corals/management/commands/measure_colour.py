"""Measure the colour of a coral in a photo file, marked by numbers."""

import io
import json
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from apps.corals.decoder_lock import DecoderBusy
from apps.corals.photo_cleaning import UnusablePhoto, clean_photo, codes_of_file
from apps.corals.photos.marks import UnreadableMark, parse_region
from apps.photics.colour.coral_colour import BLUE_LIGHT, CAMERA_SD, REFLECTANCE, measure
from apps.photics.colour.scales import (
    browning_of,
    chroma_of,
    difference_of,
    hue_of,
    lightness_of,
    paleness_of,
)

BYTES_MAX = 100_000_000


class Command(BaseCommand):
    """measure_colour PHOTO --reference "box 8 58 24 82" --coral "ellipse 48 50 68 78" [--json]"""

    help = "L*, a*, b* and indices of a coral in a photo, with 90 % intervals. Needs no database."
    requires_system_checks = []

    def add_arguments(self, parser):
        parser.add_argument("photo", type=Path, help="JPEG, PNG, WebP or HEIC")
        parser.add_argument("--reference", help="box LEFT TOP RIGHT BOTTOM in percent of the photo")
        parser.add_argument(
            "--coral", action="append", default=[], help="a part of the coral; may come again"
        )
        parser.add_argument("--reference-kind", choices=sorted(REFLECTANCE), default="white")
        parser.add_argument("--light", choices=[*CAMERA_SD, BLUE_LIGHT], default="white")
        parser.add_argument("--baseline", type=Path, help="another photo with the same marks")
        parser.add_argument("--json", action="store_true")

    def handle(self, *, photo, reference, coral, reference_kind, light, baseline, **options):
        """Read, measure, tell; a photo that can't be measured ends with exit code 3."""
        try:
            marks = {
                "reference": reference and parse_region(reference, usual="box"),
                "regions": [parse_region(text, usual="ellipse") for text in coral],
            }
        except UnreadableMark as problem:
            raise CommandError(str(problem), returncode=2) from None
        how = {**marks, "reference_kind": reference_kind, "light": light}
        result = measured(photo, how)
        before = measured(baseline, how) if baseline else None
        plain = plain_values(result, before)
        self.stdout.write(json.dumps(plain, indent=1) if options["json"] else as_lines(plain))
        if not result.measured:
            raise CommandError("This photo can’t be measured.", returncode=3)


def measured(path, how):
    """Return the MeasuredColour of a photo file."""
    codes, space = read_photo(path)
    return measure(codes, space=space, **how)


def read_photo(path):
    """Return codes (h, w, 3) and ColourSpace of a file, through the gate every photo passes."""
    try:
        file = io.BytesIO(path.read_bytes())
        file.size = file.getbuffer().nbytes
        clean = clean_photo(file, bytes_max=BYTES_MAX)
    except OSError as problem:
        raise CommandError(f"{path}: {problem.strerror}.", returncode=2) from None
    except UnusablePhoto as problem:
        raise CommandError(f"{path}: {problem}", returncode=2) from None
    except DecoderBusy:
        raise CommandError("Other photos are being worked on. Try again.", returncode=2) from None
    return codes_of_file(io.BytesIO(clean.image))


def plain_values(colour, before):
    """Return a MeasuredColour as plain values."""
    problems = [{"key": p.key, "words": p.words, "remedy": p.remedy} for p in colour.problems]
    if not colour.measured:
        return {"measured": False, "problems": problems}
    lab, covariance = colour.lab, colour.covariance
    values = {
        "lightness": lightness_of(lab, covariance),
        "chroma": chroma_of(lab, covariance),
        "paleness": paleness_of(lab, covariance),
        "browning": browning_of(lab, covariance),
    }
    if before is not None and before.measured:
        values["de00"] = difference_of(lab, covariance, before.lab, before.covariance)
    plain = {"measured": True, "lab": [round(float(value), 3) for value in lab]}
    plain["hue_deg"] = round(hue_of(lab), 2)
    for name, value in values.items():
        plain[name] = {
            "value": round(value.value, 3), "low": round(value.low, 3), "high": round(value.high, 3)
        }  # fmt: skip
    return plain | {"problems": problems}


def as_lines(plain):
    """Return plain values for a reader: one line each, problems last."""
    lines = []
    for name, value in plain.items():
        if isinstance(value, dict):
            ends = f"({value['low']:.2f} to {value['high']:.2f})"
            lines.append(f"{name:<10} {value['value']:7.2f}  {ends}")
        elif name == "lab":
            lines.append("L* a* b*   " + "  ".join(f"{number:.2f}" for number in value))
    lines += [f"{problem['words']} {problem['remedy']}" for problem in plain["problems"]]
    return "\n".join(lines)
