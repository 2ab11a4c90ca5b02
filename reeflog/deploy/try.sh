#!/bin/sh
# What the image does, without a container: builds, starts, asks whether it is ready, backs up, stops.
# try.sh FOLDER, an empty folder that may be deleted afterwards.
set -eu
folder=${1:?"usage: try.sh FOLDER"}
here=$(cd "$(dirname "$0")" && pwd)
[ -x "$folder/venv/bin/gunicorn" ] || "$here/build.sh" "$folder/venv"
mkdir -p "$folder/data" "$folder/backups"
python="$folder/venv/bin/python"
port=$("$python" -c 'import socket; s = socket.create_server(("127.0.0.1", 0)); print(s.getsockname()[1])')
REEFLOG_SECRET_KEY=$("$python" -c 'import secrets; print(secrets.token_urlsafe(50))')
export REEFLOG_SECRET_KEY REEFLOG_DEBUG=off REEFLOG_ALLOWED_HOSTS=reef.example.org REEFLOG_PROXY_COUNT=1
export REEFLOG_DATA_DIR="$folder/data" VENV="$folder/venv" BIND="127.0.0.1:$port" WEB_CONCURRENCY=1
"$here/start.sh" >"$folder/log" 2>&1 &
server=$!
trap 'kill $server 2>/dev/null || true' EXIT
"$python" "$here/ask.py" --wait 90 "http://127.0.0.1:$port/ready/" || { tail -20 "$folder/log" >&2; exit 1; }
"$python" "$here/../../manage.py" doctor
BACKUPS="$folder/backups" KEEP=2 "$here/chores.sh" day
"$here/chores.sh" hour
kill $server
wait $server || true
trap - EXIT
"$python" "$here/../../manage.py" restore "$folder"/backups/reeflog-*.tar
