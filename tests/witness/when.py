"""The clock of the book's site, and windows: stretches of a life, and where they begin when nobody
saw their anchor. Instants are milliseconds of UTC since 1970."""

import re
from datetime import datetime, timedelta

FOREVER = float("inf")
LAST = (FOREVER,)


class Clock:
    """The civil clock of the book's site, and the present time."""

    def __init__(self, zone, now):
        self.zone = zone
        self.now = now

    def day(self, ms):
        """Civil time of an instant."""
        return datetime.fromtimestamp(ms / 1000, self.zone)

    def span(self, text):
        """First instant and end of a moment as written; a day is a whole day of this clock."""
        if re.fullmatch(r"\d{4}-\d\d-\d\d", text):
            return self.whole(datetime.fromisoformat(text))
        at = read_time(text)
        at = to_ms(at if at.tzinfo else at.replace(tzinfo=self.zone))
        return at, at

    def whole(self, day):
        """First instant and end of a day."""
        ends = (day, day + timedelta(days=1))
        return tuple(to_ms(t.replace(tzinfo=self.zone)) for t in ends)

    def moment(self, text, less=None):
        """First instant and end of a moment of a filter: a day or `today`, less a duration."""
        if text != "today" and less is None:
            return self.span(text)
        day = self.day(self.now) if text == "today" else datetime.fromisoformat(text)
        day = day.replace(hour=0, minute=0, second=0, microsecond=0, tzinfo=None)
        return self.whole(day if less is None else back(day, less))


def read_time(text):
    """A clock time as written."""
    return datetime.fromisoformat(text.replace("Z", "+00:00").replace(" ", "T"))


def to_ms(time):
    """An aware time as an instant."""
    return round(time.timestamp() * 1000)


def back(day, less):
    """A day, so much earlier; months and years are those of the calendar."""
    number, _, unit = less.text.partition(" ")
    months = {"month": 1, "months": 1, "year": 12, "years": 12}.get(unit)
    if months is None or not number.isdigit():
        return day - timedelta(seconds=less.value)
    year, month = divmod(day.year * 12 + day.month - 1 - months * int(number), 12)
    last = (datetime(year + (month == 11), (month + 1) % 12 + 1, 1) - timedelta(days=1)).day
    return day.replace(year=year, month=month + 1, day=min(day.day, last))


class Window:
    """A stretch of time, from `start` up to and without `end`.

    Where the start is not known it lies between `start` and `late`. `key` is set where the stretch
    begins behind a record: records of the same instant count when they stand behind it. `stop` is
    set where it ends before one: records of that instant count when they stand before it.
    """

    __slots__ = ("start", "late", "key", "end", "stop", "uncut")

    def __init__(self, start=-FOREVER, end=FOREVER, key=None, late=None, stop=None, uncut=False):
        self.stop = stop
        # Whether nobody worked out how much of a run was before its start.
        self.uncut = uncut
        self.start = start
        self.end = end
        self.key = key
        self.late = start if late is None else late

    def has(self, record):
        """Whether a record of one moment lies in it."""
        if record.at < self.start or (record.at >= self.end if self.stop is None
                                      else record.key >= self.stop):
            return False
        return self.key is None or record.key > self.key

    def meets(self, start, end):
        """Whether a stretch of time overlaps it by more than a moment."""
        return max(start, self.start) < min(end, self.end)

    def in_order(self):
        """The window as it is where it begins before it ends, and empty where it may begin later."""
        if not self.start < self.end < self.late:
            return [self]
        before = Window(self.start, self.end, self.key, self.end, self.stop, self.uncut)
        return [before, Window(self.end, self.end)]

    def cut(self, other):
        """The part that two windows share."""
        first = max((self, other), key=lambda w: (w.start, w.key or ()))
        last = min((self, other), key=lambda w: w.end)
        return Window(first.start, last.end, first.key, max(self.late, other.late), last.stop,
                      first.uncut)

    def __repr__(self):
        return f"{self.start}..{self.late}->{self.end}"


def pieces(start, end, instants, uncut=False):
    """A stretch cut at instants: windows that begin somewhere inside each piece."""
    cuts = [start, *sorted({t for t in instants if start < t < end}), end]
    # What happened at a piece's first instant lies before it.
    return [Window(a, late=b, key=None if a == -FOREVER else (a, *LAST), uncut=uncut and a == start)
            for a, b in zip(cuts, cuts[1:])]
