#!/bin/sh
# Brings the data folder up to date, then serves: start.sh [options of gunicorn]
# Looks for Python in VENV (/opt/reeflog/.venv unless said otherwise).
set -eu
venv=${VENV:-/opt/reeflog/.venv}
cd "$(dirname "$0")/../.."
export REEFLOG_DEBUG="${REEFLOG_DEBUG:-off}"
"$venv/bin/python" manage.py migrate --no-input -v0
"$venv/bin/python" manage.py collectstatic --no-input --clear -v0
# What an upgrade fits anew is ready before most keepers ask; it yields to those who do.
nice -n 19 "$venv/bin/python" manage.py warm_fields &
exec "$venv/bin/python" -m gunicorn --config reeflog/deploy/gunicorn.conf.py "$@" reeflog.wsgi
