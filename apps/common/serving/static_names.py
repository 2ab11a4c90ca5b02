"""Static names of a served app, with each file's hash in them."""

from whitenoise.storage import CompressedManifestStaticFilesStorage

# Our own modules: other packages' scripts name files that are not there, in comments.
MODULES = "js/*.js"
IMPORT = r'(?P<matched>\bfrom "(?P<url>\.[^"]+)")'


class HashedNamesStorage(CompressedManifestStaticFilesStorage):
    """Hashes what modules import too, so that a page never runs one new module with one old."""

    patterns = (
        *CompressedManifestStaticFilesStorage.patterns,
        (MODULES, ((IMPORT, 'from "%(url)s"'),)),
    )
