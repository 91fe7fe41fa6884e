"""Runs the program for a yard that is being made up: files, commands, and a record of both."""

import csv
import os
import shlex
import subprocess
from datetime import datetime, timedelta, timezone


class Refused(RuntimeError):
    """The program refused a command that was meant to work."""


class Site:
    """One site's book, and the files that it takes in."""

    def __init__(self, yard, name):
        self.yard = yard
        self.name = name
        self.book = os.path.join(yard.folder, f"{name}.pipelore")
        yard.run("new", self.book, "--site", name, "--units", "us")

    def load(self, kind, rows, keep=True):
        """Takes in rows of one kind. What excludes other facts is kept in conflict if `keep`."""
        if not rows:
            return
        file = self.yard.csv(f"{self.name}-{kind}", rows)
        self.load_files([file], keep, kind)

    def load_files(self, files, keep=True, kind=None):
        """Takes in files as they stand, row by row where one is refused whole."""
        how = ["--keep-conflicts"] if keep else []
        if kind:
            how += ["--as", kind]
        self.yard.run("--book", self.book, "load", "--partial", *how, *files, may_fail=True)

    def enter(self, kind, **fields):
        """Enters one fact."""
        given = [f"{key}={value}" for key, value in fields.items() if value not in (None, "")]
        self.yard.run(
            "--book", self.book, "enter", "--keep-conflicts", kind, *given, may_fail=True
        )

    def strike(self, entry):
        """Strikes an entry out."""
        self.yard.run(
            "--book", self.book, "strike", entry, "--reason", "written in error", may_fail=True
        )

    def send(self, other):
        """Carries every entry that this book holds to another site's book."""
        file = os.path.join(self.yard.folder, f"bundle-{self.yard.next_number()}.jsonl")
        self.yard.run("--book", self.book, "bundle", "out", file, "--all-sites")
        self.yard.run("--book", other.book, "bundle", "in", file, may_fail=True)


class Yard:
    """A folder with books, files and `commands.sh`, which repeats what was done."""

    def __init__(self, binary, folder, offset_hours=0):
        self.binary = binary
        self.folder = folder
        # The clock of the machine, as every entry and question of this yard sees it.
        self.zone = timezone(timedelta(hours=offset_hours))
        self.number = 0
        self.refusals = []
        os.makedirs(folder, exist_ok=True)
        self.env = {**os.environ, "PIPELORE_AUTHOR": "witness"}
        self.env.pop("PIPELORE_BOOK", None)
        self.script = open(os.path.join(folder, "commands.sh"), "w", encoding="utf-8")
        self.script.write("export PIPELORE_AUTHOR=witness\n")

    def at(self, now):
        """Sets the clock by which entries are written from now on (ISO 8601)."""
        now = datetime.fromisoformat(now.replace("Z", "+00:00")).astimezone(self.zone).isoformat()
        self.env["PIPELORE_NOW"] = now
        self.script.write(f"export PIPELORE_NOW={now}\n")

    def next_number(self):
        """A number for a file's name."""
        self.number += 1
        return self.number

    def write(self, name, text):
        """Writes a file of the yard, and says where it is."""
        path = os.path.join(self.folder, name)
        with open(path, "w", encoding="utf-8") as file:
            file.write(text)
        return path

    def csv(self, name, rows):
        """Writes rows of named values as a CSV file, and says where it is."""
        titles = list(dict.fromkeys(key for row in rows for key in row))
        path = os.path.join(self.folder, f"{name}-{self.next_number()}.csv")
        with open(path, "w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, titles, restval="")
            writer.writeheader()
            writer.writerows(rows)
        return path

    def run(self, *words, may_fail=False):
        """Runs the program. A refusal is kept to be looked at, or is an error."""
        self.script.write(shlex.join(["pipelore", *words]).replace(self.folder + "/", "") + "\n")
        done = subprocess.run(
            [self.binary, *words], capture_output=True, text=True, env=self.env
        )
        if done.returncode != 0 or "refused" in done.stderr:
            self.refusals.append((words, done.stderr))
        if done.returncode != 0 and not may_fail:
            raise Refused(f"{shlex.join(words)}\n{done.stdout}{done.stderr}")
        return done.stdout

    def close(self):
        """Ends the record of commands."""
        self.script.close()
