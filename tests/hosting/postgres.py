"""A second database of PostgreSQL with the tables of the first, or a second server."""

import os
import shutil
import socket
import subprocess
import tempfile
from pathlib import Path

from django.db import connection

from apps.hosting.backup.moment import _program


class Cluster:
    """A server of PostgreSQL in a folder and on a port of its own, as it is installed: in sync."""

    def __enter__(self):
        self.folder = Path(tempfile.mkdtemp())
        with socket.create_server(("127.0.0.1", 0)) as probe:
            self.port = probe.getsockname()[1]
        if os.geteuid() == 0:
            shutil.chown(self.folder, "postgres")
        self.run("initdb", "-U", "reeflog", "--auth=trust")
        options = f"-c listen_addresses=127.0.0.1 -p {self.port} -k {self.folder}"
        self.run("pg_ctl", "-w", "-o", options, "-l", self.folder / "log", "start")
        return self

    def __exit__(self, *_problem):
        self.run("pg_ctl", "-m", "immediate", "stop")
        shutil.rmtree(self.folder)

    @property
    def address(self):
        """What Django's settings of a database say of it."""
        there = {"HOST": "127.0.0.1", "PORT": self.port, "USER": "reeflog", "PASSWORD": ""}
        return there | {"NAME": "postgres"}

    def crash(self):
        """Break all lines at once, as a crash does, and start anew."""
        self.run("pg_ctl", "-w", "-m", "immediate", "-l", self.folder / "log", "restart")

    def run(self, program, *words):
        """Run a program of PostgreSQL for this cluster; it refuses to be root."""
        command = [_program(program), "-D", self.folder / "cluster", *words]
        if os.geteuid() == 0:
            command = ["runuser", "-u", "postgres", "--", *command]
        subprocess.run(command, cwd=self.folder, check=True, stdout=subprocess.DEVNULL)


def filled_like(source, target, address=None):
    """Copy all tables of one database into an empty one, which may be at another address."""
    dump = [_program("pg_dump"), "--no-owner", source]
    done = subprocess.run(
        dump, env=known(connection.settings_dict), check=True, capture_output=True
    )
    load = [_program("psql"), "--no-psqlrc", "--quiet", "--set=ON_ERROR_STOP=1", target]
    there = known(address or connection.settings_dict)
    subprocess.run(load, env=there, input=done.stdout, check=True, capture_output=True)


def known(stated):
    """Return the environment by which programs of PostgreSQL reach a database."""
    where = {"PGHOST": stated["HOST"], "PGPORT": str(stated["PORT"]), "PGUSER": stated["USER"]}
    return os.environ | where | {"PGPASSWORD": stated["PASSWORD"]}
