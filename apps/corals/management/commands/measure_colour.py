"""Measure the colour of a coral in a photo file, marked by numbers."""

import io
import json
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from apps.corals.photo_cleaning import UnusablePhoto, clean_photo, codes_of_file
from apps.corals.photos.marks import UnreadableMark, parse_region
from apps.corals.pictures.decoder_lock import DecoderBusy
from apps.photics.colour.coral_colour import BLUE_LIGHT, CAMERA_SD, REFLECTANCE, measure
from apps.photics.colour.looks import ComparedColour, difference_between
from apps.photics.colour.scales import (
    browning_of,
    chroma_of,
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
        parser.add_argument(
            "--reference",
            help="box LEFT TOP RIGHT BOTTOM in percent of the photo, or the card’s corners",
        )
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
        result, mark = measured(photo, how)
        plain = plain_values(result)
        if baseline and result.measured:
            before, mark_before = measured(baseline, how)
            if before.measured:
                kind = {"reference_kind": reference_kind, "light": light}
                same = bool(mark) and mark == mark_before
                plain["de00"] = plain_value(apart(result, before, kind, same_look=same))
        self.stdout.write(json.dumps(plain, indent=1) if options["json"] else as_lines(plain))
        if not result.measured:
            raise CommandError("This photo can’t be measured.", returncode=3)


def measured(path, how):
    """Return the MeasuredColour of a photo file, and its camera's mark."""
    clean = read_photo(path)
    codes, space = codes_of_file(io.BytesIO(clean.image))
    return measure(codes, space=space, **how), clean.camera_mark


def apart(result, before, kind, *, same_look):
    """Return the dE00 of two MeasuredColours as a Value; of two cameras it is less sure."""
    now, base = (
        ComparedColour(colour.lab, colour.covariance, card=colour.card, **kind)
        for colour in (result, before)
    )
    return difference_between(now, base, same_look=same_look)


def read_photo(path):
    """Return the CleanPhoto of a file, through the gate every photo passes."""
    try:
        file = io.BytesIO(path.read_bytes())
        file.size = file.getbuffer().nbytes
        return clean_photo(file, bytes_max=BYTES_MAX)
    except OSError as problem:
        raise CommandError(f"{path}: {problem.strerror}.", returncode=2) from None
    except UnusablePhoto as problem:
        raise CommandError(f"{path}: {problem}", returncode=2) from None
    except DecoderBusy:
        raise CommandError("Other photos are being measured. Try again.", returncode=2) from None


def plain_values(colour):
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
    plain = {"measured": True, "lab": [round(float(value), 3) for value in lab]}
    plain["hue_deg"] = round(hue_of(lab), 2)
    plain |= {name: plain_value(value) for name, value in values.items()}
    return plain | {"problems": problems}


def plain_value(value):
    """Return a Value as plain numbers."""
    numbers = {"value": value.value, "low": value.low, "high": value.high}
    return {name: round(number, 3) for name, number in numbers.items()}


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
