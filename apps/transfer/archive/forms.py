"""The file a keeper brings in."""

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile


class ArrivalForm(forms.Form):
    file = forms.FileField(
        label="The zip",
        help_text="Made by reeflog, here or elsewhere, of one tank or a whole account.",
        widget=forms.FileInput(attrs={"accept": ".zip,application/zip"}),
        error_messages={"required": "Choose a zip file.", "empty": "This file is empty."},
    )

    def clean_file(self) -> UploadedFile:
        file: UploadedFile = self.cleaned_data["file"]
        if file.size > settings.ARRIVAL_BYTES_MAX:
            raise ValidationError(
                f"This zip has {file.size / 1e6:,.0f} MB; this site takes "
                f"{settings.ARRIVAL_BYTES_MAX / 1e6:,.0f}. Whoever runs it can bring it in by "
                "import_tank."
            )
        return file
