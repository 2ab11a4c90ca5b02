#!/bin/sh
# What a site needs done by the clock: chores.sh day|back-up|tidy|hour|for-ever
# day: back-up first, then tidy: delete what waited long enough and photo files that a crash left,
# and add up what tanks say together.
# hour: tell keepers what is newly due, where the site has an address (REEFLOG_SITE, or its first host).
# BACKUPS is the folder (/backups), KEEP how many stay (14), BACKUP_KEY a key file that locks them.
set -eu
python=${VENV:-/opt/reeflog/.venv}/bin/python
cd "$(dirname "$0")/../.."
export REEFLOG_DEBUG="${REEFLOG_DEBUG:-off}"

back_up() {
  "$python" manage.py back_up "${BACKUPS:-/backups}" --keep "${KEEP:-14}" ${BACKUP_KEY:+--encrypt "$BACKUP_KEY"}
}

tidy() {
  "$python" manage.py purge_deleted
  "$python" manage.py check_photos --remove
  "$python" manage.py clearsessions
  "$python" manage.py pool_outcomes
}

hour() {
  "$python" manage.py send_reminders
}

# A container that starts over and over makes no backup each time: with KEEP of them all old ones would go.
backed_up_today() {
  [ -n "$(find "${BACKUPS:-/backups}" -maxdepth 1 -name 'reeflog-*.tar*' -mmin -1410 2>/dev/null)" ]
}

case ${1:-} in
day)
  back_up
  tidy
  ;;
back-up) back_up ;;
tidy) tidy ;;
hour) hour ;;
for-ever)
  tidied=0
  while true; do
    # What failed is said in the log, and tried again within the hour.
    backed_up_today || reeflog/deploy/chores.sh back-up || echo "chores.sh back-up: failed" >&2
    if [ $(($(date +%s) - tidied)) -ge 84600 ]; then
      if reeflog/deploy/chores.sh tidy; then tidied=$(date +%s); else echo "chores.sh tidy: failed" >&2; fi
    fi
    reeflog/deploy/chores.sh hour || echo "chores.sh hour: failed" >&2
    sleep 3600
  done
  ;;
*)
  echo "usage: chores.sh day|back-up|tidy|hour|for-ever" >&2
  exit 2
  ;;
esac
