"""Reads the entries of a book whole. The one place that knows how the program hands them out."""

import json
import os
import re
import subprocess
import tempfile
from datetime import datetime, timedelta, timezone


class Entry:
    """One entry: its name, kind, times and body as written."""

    __slots__ = ("name", "chain", "number", "kind", "start", "end", "is_day", "offset", "recorded",
                 "body", "when")

    def __init__(self, line):
        self.name = line["entry"]
        chain, number = self.name.rsplit("-", 1)
        site, _, epoch = chain.partition("/")
        self.chain = (site, int(epoch or 1))
        self.number = int(number)
        self.kind = line["kind"]
        self.offset = line["recorded_offset"]
        self.recorded = line["recorded_ms"]
        self.body = line["body"]
        self.when = line["effective"]
        self.start, self.end, self.is_day = moment(line["effective"], self.offset)

    @property
    def order(self):
        """Place among entries of one instant: by name."""
        return (*self.chain, self.number)


def moment(text, offset_minutes):
    """First instant, end and whether it is a whole day of a moment as written, in ms of UTC."""
    if re.fullmatch(r"\d{4}-\d\d-\d\d", text):
        zone = timezone(timedelta(minutes=offset_minutes))
        day = datetime.fromisoformat(text).replace(tzinfo=zone)
        return to_ms(day), to_ms(day + timedelta(days=1)), True
    at = to_ms(datetime.fromisoformat(text.replace("Z", "+00:00")))
    return at, at, False


def to_ms(time):
    """Milliseconds since 1970 of an aware time."""
    return round(time.timestamp() * 1000)


def read(binary, book, env=None):
    """All entries of a book, in the order in which they stand in it."""
    with tempfile.TemporaryDirectory() as folder:
        file = os.path.join(folder, "entries.jsonl")
        subprocess.run(
            [binary, "--book", book, "bundle", "out", file, "--all-sites"],
            check=True, capture_output=True, env=env,
        )
        with open(file, encoding="utf-8") as lines:
            rows = [json.loads(line) for line in lines]
    return [Entry(row) for row in rows if "entry" in row]
