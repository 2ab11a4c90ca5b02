"""Reads a photometric file of either format, by what stands in it."""

from apps.photics.photometry.ies import read_ies, tilt_line
from apps.photics.photometry.ldt import read_ldt
from apps.photics.photometry.text import PhotometryError, lines_of


def read_photometry(text, *, tilt_text=None):
    """Return the Photometry of LM-63 or EULUMDAT text. Raises PhotometryError."""
    lines = lines_of(text)
    try:
        tilt_line(lines)
    except PhotometryError:
        if lines[0].strip().upper().startswith("IES"):
            raise
        return read_ldt_or_say_neither(text, lines)
    return read_ies(text, tilt_text=tilt_text)


def read_ldt_or_say_neither(text, lines):
    """Read EULUMDAT; for text that does not even begin like it, say what can be read."""
    heads = [line.strip() for line in lines[1:3]]
    if not all(head.isascii() and head.isdigit() for head in heads) or len(heads) < 2:
        raise PhotometryError("This is neither an LM-63 (.ies) nor a EULUMDAT (.ldt) file.")
    return read_ldt(text)
