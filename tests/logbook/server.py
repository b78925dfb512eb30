"""A real PostgreSQL server on loopback, in a folder of its own, run as an ordinary user."""

from __future__ import annotations

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
import time
from pathlib import Path

import psycopg

PASSWORD = "a-word-that-must-show-up-nowhere"
USER = "bench"


def programs():
    """Give the folder of the newest server that is installed, None without one."""
    folders = sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda path: path.parent.name)
    if folders:
        return folders[-1]
    found = shutil.which("initdb")
    return None if found is None else Path(found).parent


def obstacle():
    """Say why no server can be started here, or give an empty text."""
    if programs() is None:
        return "PostgreSQL is not installed (Debian package postgresql)"
    if os.getuid() == 0 and (shutil.which("setpriv") is None or not _account()):
        return "PostgreSQL refuses to run as root, and there is no other account to run it as"
    return ""


def _account():
    try:
        return pwd.getpwnam("postgres")
    except KeyError:
        return None


class Server:
    """Start with `start`, cut off with `stop`; the data stay until `remove`."""

    def __init__(self):
        self.folder = Path(tempfile.mkdtemp(prefix="benchapp-postgres-"))
        self.prefix = []
        if os.getuid() == 0:
            account = _account()
            os.chown(self.folder, account.pw_uid, account.pw_gid)
            ids = (f"--reuid={account.pw_uid}", f"--regid={account.pw_gid}", "--clear-groups")
            self.prefix = [shutil.which("setpriv"), *ids]
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self.process = None
        word = self.folder / "word"
        word.write_text(PASSWORD)
        word.chmod(0o644)
        self._run(
            "initdb",
            "--no-sync",
            "-E",
            "UTF8",
            "-A",
            "scram-sha-256",
            "-U",
            USER,
            f"--pwfile={word}",
        )

    @property
    def data(self):
        return str(self.folder / "data")

    def address(self, database):
        return f"postgresql+psycopg://{USER}@127.0.0.1:{self.port}/{database}"

    def connect(self, database="postgres"):
        return psycopg.connect(
            host="127.0.0.1",
            port=self.port,
            user=USER,
            password=PASSWORD,
            dbname=database,
            autocommit=True,
        )

    def make_database(self, name):
        with self.connect() as connection:
            connection.execute(f'CREATE DATABASE "{name}"')

    def start(self):
        options = ("-p", str(self.port), "-c", "listen_addresses=127.0.0.1")
        options += ("-c", "unix_socket_directories=", "-c", "max_connections=30")
        # The server is cut off here, never the computer: what it wrote, the system keeps.
        options += ("-c", "fsync=off")
        command = [*self.prefix, str(programs() / "postgres"), "-D", self.data, *options]
        with (self.folder / "log").open("ab") as log:
            self.process = subprocess.Popen(
                command, stdout=log, stderr=log, cwd=self.folder, env={"LC_ALL": "C"}
            )
        for _ in range(300):
            try:
                self.connect().close()
            except psycopg.OperationalError:
                time.sleep(0.1)
            else:
                return
        raise RuntimeError((self.folder / "log").read_text())

    def stop(self):
        """Stop at once, as a power cut of the server would: transactions are cut off."""
        self._run("pg_ctl", "-m", "immediate", "-w", "stop")
        self.process.wait(30)
        self.process = None

    def remove(self):
        if self.process is not None:
            self.stop()
        shutil.rmtree(self.folder, ignore_errors=True)

    def _run(self, program, *options):
        subprocess.run(
            [*self.prefix, str(programs() / program), "-D", self.data, *options],
            check=True,
            capture_output=True,
            cwd=self.folder,
            env={"LC_ALL": "C"},
        )
