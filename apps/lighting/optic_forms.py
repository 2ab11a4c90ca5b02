"""The form that brings a photometric file."""

from django import forms

from apps.lighting.optic_saving import file_turned_deg
from apps.photics.limits import PHOTOMETRY_CHARS_MAX
from apps.photics.optic_fit import fit_optic
from apps.photics.photometry_read import read_photometry
from apps.photics.photometry_text import PhotometryError

TOO_LARGE = f"The file is larger than {PHOTOMETRY_CHARS_MAX // 1_000_000} MB."


def decode(raw):
    """Return the text of a file: UTF-8, else the Windows page that old lamp files are in."""
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace")


class TextOrFile(forms.FileField):
    """A file that cleans to its text."""

    def clean(self, data, initial=None):
        file = super().clean(data, initial)
        if not file:
            return ""
        if file.size > PHOTOMETRY_CHARS_MAX:
            raise forms.ValidationError(TOO_LARGE)
        return decode(file.read())


def area(rows, label, help_text=""):
    return forms.CharField(
        label=label,
        help_text=help_text,
        required=False,
        strip=False,
        widget=forms.Textarea(attrs={"rows": rows, "spellcheck": "false", "autocomplete": "off"}),
    )


class PhotometricFileForm(forms.Form):
    """A Fixture's photometric file, chosen or pasted; cleans to its Photometry and OpticFit."""

    file = TextOrFile(label="Choose a file", required=False, allow_empty_file=True)
    text = area(8, "Or paste its text")
    tilt = area(
        3, "Tilt factors", "Only where the file names another one in its TILT= line: paste that."
    )

    def __init__(self, *args, fixture, **kwargs):
        super().__init__(*args, **kwargs)
        self.fixture = fixture

    def clean(self):
        data = super().clean()
        text = data.get("file") or data.get("text")
        if not text:
            if not self.errors:
                raise forms.ValidationError("Choose a file or paste its text.")
            return data
        try:
            self.photometry = read_photometry(text, tilt_text=data.get("tilt") or None)
        except PhotometryError as problem:
            self.add_error("file" if data.get("file") else "text", str(problem))
            return data
        turned_deg = file_turned_deg(self.photometry, self.fixture)
        self.fit = fit_optic(self.photometry, turned_deg=turned_deg)
        if self.fit is None:
            self.add_error(None, "This fixture sends no light down.")
        return data
