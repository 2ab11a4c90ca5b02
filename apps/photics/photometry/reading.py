"""Reads a photometric file of either format, by what stands in it."""

from apps.photics.photometry.distribution import Photometry
from apps.photics.photometry.ies import read_ies, tilt_line
from apps.photics.photometry.ldt import read_ldt
from apps.photics.photometry.text import PhotometryError, lines_of


def read_photometry(text: str, *, tilt_text: str | None = None) -> Photometry:
    """Return the Photometry of LM-63 or EULUMDAT text. Raises PhotometryError.

    `tilt_text`: the text of the file that a TILT=<name> line of LM-63 points to.
    """
    lines = lines_of(text)
    try:
        tilt_line(lines)
    except PhotometryError:
        if lines[0].strip().upper().startswith("IES"):
            raise
        return read_ldt_or_refuse(text, lines)
    return read_ies(text, tilt_text=tilt_text)


def read_ldt_or_refuse(text: str, lines: list[str]) -> Photometry:
    """Return EULUMDAT's Photometry; text that does not even begin like it raises which can be."""
    heads = [line.strip() for line in lines[1:3]]
    if not all(head.isascii() and head.isdigit() for head in heads) or len(heads) < 2:
        raise PhotometryError("This is neither an LM-63 (.ies) nor a EULUMDAT (.ldt) file.")
    return read_ldt(text)
