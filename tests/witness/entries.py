"""Entries of a book, as the program lists them whole."""

import json
import re
import subprocess
from datetime import timedelta, timezone
from zoneinfo import ZoneInfo

from when import Clock, read_time, to_ms


class Entry:
    """One entry: its name, kind, times and body as written."""

    __slots__ = ("name", "order", "kind", "when", "start", "end", "body")

    def __init__(self, line, clock):
        self.name = line["entry"]
        chain, number = self.name.rsplit("-", 1)
        site, _, epoch = chain.partition("/")
        # Its place among entries of one instant: by name.
        self.order = (site, int(epoch or 1), int(number))
        self.kind = line["kind"]
        self.body = line["body"]
        self.when = line["when"]
        self.start, self.end = clock.span(self.when)


def site_zone(lines):
    """The zone of the book's clock: the last that its own site stated, else the offset at which the
    book was begun."""
    site = site_of(lines[0])
    stated = [line["body"]["clock"] for line in lines
              if line["kind"] in ("epoch", "clock") and site_of(line) == site
              and line["body"].get("clock")]
    if not stated:
        return timezone(read_time(lines[0]["recorded"]).utcoffset())
    offset = re.fullmatch(r"([+-])(\d\d):(\d\d)", stated[-1])
    if not offset:
        return ZoneInfo(stated[-1])
    sign, hours, minutes = offset.groups()
    return timezone(timedelta(minutes=int(sign + "1") * (60 * int(hours) + int(minutes))))


def site_of(line):
    """The site that wrote an entry."""
    return line["entry"].rsplit("-", 1)[0].partition("/")[0]


def read(binary, book, env=None):
    """All entries of a book in the order in which they came into it, and the book's clock."""
    told = subprocess.run([binary, "--book", book, "entries", "--json"], check=True,
                          capture_output=True, env=env, encoding="utf-8")
    lines = json.loads(told.stdout)["entries"]
    clock = Clock(site_zone(lines), to_ms(read_time(env["PIPELORE_NOW"])))
    return [Entry(line, clock) for line in lines], clock
