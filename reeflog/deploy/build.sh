#!/bin/sh
# The steps of an installation, in a container or on a machine: build.sh VENV
# Every file that pip installs must have the hash that requirements.txt names.
set -eu
venv=${1:?"usage: build.sh VENV"}
root=$(cd "$(dirname "$0")/../.." && pwd)
python3 -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "Python 3.11 or newer is needed." >&2; exit 1; }
python3 -m venv "$venv"
pins() { "$venv/bin/python" -m pip install --quiet --disable-pip-version-check --require-hashes -r "$root/$1"; }
pins requirements.txt
if [ "${WITH_S3:-off}" = on ]; then pins requirements-s3.txt; fi
if [ "${WITH_REDIS:-off}" = on ]; then pins requirements-redis.txt; fi
if [ "${WITH_CELERY:-off}" = on ]; then pins requirements-celery.txt; fi
# Compiled once here: where it runs, nothing can be written beside it.
"$venv/bin/python" -m compileall -q -j 0 "$root/apps" "$root/reeflog"
