"""Make the two typefaces of the site from packages of the npm registry; run by `make fonts`.

A serif for headings, a humanist sans with figures of one width for text: each cut down to the
signs of Western European languages, the axes that the site uses, and woff2. With them goes a
style sheet whose stand-in faces have the measures of the real ones, so that a page set in a
device's own type breaks its lines at the same places. Both faces are under the SIL Open Font
License, whose text lies beside them. The results are in the repository: nothing but this script
needs `npm` and fonttools.
"""

import subprocess
import tarfile
import tempfile
from dataclasses import dataclass
from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont
from fontTools.varLib import instancer

STATIC = Path(__file__).resolve().parent.parent / "static"
FONTS, SHEET = STATIC / "fonts", STATIC / "css" / "fonts.css"

# Latin with its accents, dashes, quotes, primes, arrows, minus, euro, raised and lowered figures.
SIGNS = [
    *range(0x20, 0x7F), *range(0xA0, 0x100), 0x131, 0x152, 0x153, 0x2009, 0x2013, 0x2014, 0x2018,
    0x2019, 0x201C, 0x201D, 0x2022, 0x2026, 0x2032, 0x2033, 0x2070, *range(0x2074, 0x208F), 0x20AC,
    0x2191, 0x2193, 0x2212,
]  # fmt: skip

# How often each letter, and the gap between words, stands in a hundred of English text.
LETTERS = dict(zip("etaoinshrdlcumwfgypbvk ", (
    10.2, 7.5, 6.6, 6.2, 5.8, 5.7, 5.3, 5.0, 4.9, 3.5, 3.3, 2.3, 2.3, 2.0, 1.9, 1.8, 1.7, 1.6, 1.6,
    1.2, 0.8, 0.6, 18.2), strict=True))  # fmt: skip

# Widths [thousandths of the size] of the same in the faces that every system has or imitates,
# from Adobe's metrics of the 14 standard faces (Helvetica, Times Bold), which Arial, Times New
# Roman and the Liberation faces share.
SANS = dict(zip("etaoinshrdlcumwfgypbvk ", (
    556, 278, 556, 556, 222, 556, 500, 556, 333, 556, 222, 500, 556, 833, 722, 278, 556, 500, 556,
    556, 500, 500, 278), strict=True))  # fmt: skip
SERIF_BOLD = dict(zip("etaoinshrdlcumwfgypbvk ", (
    444, 333, 500, 500, 278, 556, 389, 556, 444, 556, 278, 444, 556, 833, 722, 333, 500, 500, 556,
    556, 500, 556, 250), strict=True))  # fmt: skip


@dataclass(frozen=True)
class Face:
    name: str
    package: str
    file: str
    axes: dict[str, float | tuple[float, float]]
    weight: str
    stand_ins: tuple[str, ...]
    stand_in_widths: dict[str, int]


FACES = (
    Face("Reef Text", "@fontsource-variable/source-sans-3@5.3.1",
         "source-sans-3-latin-wght-normal.woff2", {"wght": (400, 700)}, "400 700",
         ("Arial", "Helvetica", "Liberation Sans", "Arimo"), SANS),
    Face("Reef Head", "@fontsource-variable/literata@5.3.0",
         "literata-latin-opsz-normal.woff2", {"wght": 600, "opsz": 28}, "600",
         ("Times New Roman Bold", "Times Bold", "Liberation Serif Bold", "Tinos Bold"), SERIF_BOLD),
)  # fmt: skip


def fetched(face: Face, folder: Path) -> Path:
    """Fetch a face's package; return the folder of its files."""
    packed = subprocess.run(["npm", "pack", "--silent", face.package], cwd=folder, check=True,
                            capture_output=True, text=True).stdout.split()[-1]  # fmt: skip
    own = folder / packed.removesuffix(".tgz")
    with tarfile.open(folder / packed) as archive:
        archive.extractall(own, filter="data")
    return own / "package"


def cut_down(face: Face, source: Path) -> TTFont:
    """Return a face with the signs, axes and features that the site uses."""
    options = subset.Options(
        layout_features=["kern", "liga", "ccmp", "locl", "mark", "mkmk", "tnum", "lnum"],
        hinting=False,
        name_IDs=[0, 1, 2, 3, 4, 5, 6, 13, 14],
    )
    cutter, font = subset.Subsetter(options), TTFont(source, recalcTimestamp=False)
    cutter.populate(unicodes=SIGNS)
    cutter.subset(font)
    font = instancer.instantiateVariableFont(font, face.axes)
    # A face that was changed may not go by the name that its makers keep for theirs.
    for record in (1, 3, 4, 6):
        own = face.name.replace(" ", "-") if record == 6 else face.name
        font["name"].setName(own, record, 3, 1, 0x409)
    font.flavor = "woff2"
    return font


def mean_width(widths: dict[str, int]) -> float:
    """Return the mean width of English text from the widths of its letters."""
    return sum(part * widths[letter] for letter, part in LETTERS.items()) / sum(LETTERS.values())


def rules(face: Face, font: TTFont, file: str) -> str:
    """Return the style rules of a face and of its stand-in with the same measures."""
    em, names = font["head"].unitsPerEm, font.getBestCmap()
    widths = {letter: font["hmtx"][names[ord(letter)]][0] * 1000 / em for letter in LETTERS}
    scale = mean_width(widths) / mean_width(face.stand_in_widths)
    up, down = (abs(value) / em / scale for value in (font["hhea"].ascent, font["hhea"].descent))
    local = ", ".join(f'local("{name}")' for name in face.stand_ins)
    return f"""
@font-face {{
  font-family: "{face.name}";
  src: url("../fonts/{file}") format("woff2");
  font-weight: {face.weight};
  font-display: optional;
}}
@font-face {{
  font-family: "{face.name} stand-in";
  src: {local};
  font-weight: {face.weight};
  size-adjust: {scale:.1%};
  ascent-override: {up:.1%};
  descent-override: {down:.1%};
  line-gap-override: 0%;
}}
"""


def main() -> None:
    FONTS.mkdir(exist_ok=True)
    sheet = "/* Made by `make fonts`. Optional: a page that is shown keeps its type. */\n"
    with tempfile.TemporaryDirectory() as scratch:
        for face in FACES:
            package = fetched(face, Path(scratch))
            file = f"{face.name.lower().replace(' ', '-')}.woff2"
            font = cut_down(face, package / "files" / face.file)
            font.save(FONTS / file)
            licence = f"{font['name'].getDebugName(0)}\n\n{(package / 'LICENSE').read_text()}"
            (FONTS / file.replace(".woff2", "-licence.txt")).write_text(licence)
            sheet += rules(face, font, file)
            print(f"{file}: {(FONTS / file).stat().st_size} bytes")
    SHEET.write_text(sheet)


if __name__ == "__main__":
    main()
