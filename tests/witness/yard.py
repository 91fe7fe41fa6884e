"""Runs the program for a yard that is being made up: files, commands, and a record of both."""

import csv
import json
import os
import shlex
import subprocess
from datetime import datetime, timedelta, timezone


class Yard:
    """A folder with books, files and `commands.sh`, which repeats what was done."""

    def __init__(self, binary, folder):
        self.binary = binary
        self.folder = folder
        self.number = 0
        self.now = None
        os.makedirs(folder, exist_ok=True)
        self.script = []

    def env(self, hours):
        """Surroundings of a command at a machine whose clock runs so many hours ahead of UTC."""
        now = datetime.fromisoformat(self.now).astimezone(timezone(timedelta(hours=hours)))
        env = {**os.environ, "PIPELORE_AUTHOR": "witness", "PIPELORE_NOW": now.isoformat(),
               "TZ": "UTC"}
        env.pop("PIPELORE_BOOK", None)
        return env

    def run(self, hours, *words, may_fail=False):
        """Runs the program at such a machine."""
        env = self.env(hours)
        line = f"PIPELORE_NOW={env['PIPELORE_NOW']} {shlex.join(['pipelore', *words])}"
        self.script.append(line.replace(self.folder + "/", ""))
        done = subprocess.run([self.binary, *words], capture_output=True, encoding="utf-8", env=env)
        if done.returncode != 0 and not may_fail:
            raise RuntimeError(f"{line}\n{done.stdout}{done.stderr}")
        return done.stdout

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


class Site:
    """One site's book. Its machine's clock runs so many hours ahead of UTC."""

    def __init__(self, yard, name, hours):
        self.yard = yard
        self.name = name
        self.hours = hours
        self.book = os.path.join(yard.folder, f"{name}.pipelore")
        yard.run(hours, "new", self.book, "--site", name, "--units", "us")

    def run(self, *words, may_fail=False):
        """Runs the program on the book."""
        return self.yard.run(self.hours, "--book", self.book, *words, may_fail=may_fail)

    def load(self, kind, rows):
        """Takes in rows of one kind; what is refused stays out, what clashes is kept."""
        if rows:
            self.load_file(self.yard.csv(f"{self.name}-{kind}", rows), "--as", kind)

    def load_file(self, file, *how):
        """Takes in a file as it stands."""
        self.run("load", "--partial", "--keep-conflicts", *how, file, may_fail=True)

    def strike(self, entry):
        """Strikes an entry out."""
        self.run("strike", entry, "--reason", "written in error", may_fail=True)

    def entries(self, kind):
        """Entries of a kind."""
        return json.loads(self.run("entries", "--json", "--kind", kind))["entries"]

    def send(self, other):
        """Carries every entry that this book holds to another site's book."""
        file = os.path.join(self.yard.folder, f"bundle-{self.yard.next_number()}.jsonl")
        self.run("bundle", "out", file, "--all-sites")
        other.run("bundle", "in", file, may_fail=True)
