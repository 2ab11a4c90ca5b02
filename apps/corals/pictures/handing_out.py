"""A photo's file as it is handed out: to whom is each page's own to ask."""

from django.db.models.fields.files import FieldFile
from django.http import FileResponse, Http404

# Long enough to page back and forth; short enough that a reader shut out soon sees no more.
PHOTO_CACHE_SECONDS = 3600


def photo_file(file: FieldFile) -> FileResponse:
    """Return the answer that sends a photo's file, or raise Http404 where it is gone."""
    try:
        opened = file.open("rb")
    except FileNotFoundError:
        raise Http404 from None
    return FileResponse(opened, content_type="image/jpeg")


def kept_photo_file(file: FieldFile) -> FileResponse:
    """Return the same answer, kept by its one reader for an hour."""
    response = photo_file(file)
    response["Cache-Control"] = f"private, max-age={PHOTO_CACHE_SECONDS}"
    return response
