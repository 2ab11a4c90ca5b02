#!/bin/sh
# What runs once a day: back up first, then delete what waited long enough: daily.sh [every-day]
# BACKUPS is the folder (/backups), KEEP how many stay (14), BACKUP_KEY a key file that locks them.
set -eu
python=${VENV:-/opt/reeflog/.venv}/bin/python
cd "$(dirname "$0")/../.."
export REEFLOG_DEBUG="${REEFLOG_DEBUG:-off}"

once() {
  "$python" manage.py back_up "${BACKUPS:-/backups}" --keep "${KEEP:-14}" ${BACKUP_KEY:+--encrypt "$BACKUP_KEY"}
  "$python" manage.py purge_deleted
  "$python" manage.py clearsessions
}

if [ "${1:-}" != every-day ]; then
  once
else
  # A day that failed is said in the log, and the next one is tried all the same.
  while true; do
    once || echo "daily.sh: failed" >&2
    sleep 86400
  done
fi
