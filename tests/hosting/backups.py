"""Backups as somebody may have changed them."""

import hashlib
import io
import json
import tarfile

from apps.hosting.backup import form


def parts_of(path):
    """Return {name: content} of a backup that is not locked."""
    with tarfile.open(path) as tar:
        return {info.name: tar.extractfile(info).read() for info in tar}


def write_parts(path, parts):
    with tarfile.open(path, "w") as tar:
        for name, content in parts.items():
            info = tarfile.TarInfo(name)
            info.size = len(content)
            tar.addfile(info, io.BytesIO(content))
    return path


def state(parts, **words):
    """Change what the manifest says, without a signature for it."""
    manifest = json.loads(parts[form.MANIFEST]) | words
    parts[form.MANIFEST] = json.dumps(manifest).encode()


def sign(parts):
    """Let this site's own key sign the manifest as it is."""
    parts[form.SIGNATURE] = form.signature(parts[form.MANIFEST]).encode()


def restate(parts, name):
    """Make manifest and signature agree with what a file holds now."""
    members = json.loads(parts[form.MANIFEST])["members"]
    content = parts[name]
    members[name] = {"sha256": hashlib.sha256(content).hexdigest(), "bytes": len(content)}
    state(parts, members=members)
    sign(parts)
