"""Windows: stretches of a life, and where they begin when nobody saw their anchor."""

from datetime import datetime, timedelta, timezone

from entries import to_ms

FOREVER = float("inf")
DAY = 86_400_000
LAST = (FOREVER,)


class Window:
    """A stretch of time, from `start` up to and without `end`.

    Where the start is not known it lies between `start` and `late`. `key` is set where the stretch
    begins behind a record: records of the same instant count when they stand behind it.
    """

    __slots__ = ("start", "late", "key", "end", "never")

    def __init__(self, start=-FOREVER, end=FOREVER, key=None, late=None, never=False):
        self.start = start
        self.end = end
        self.key = key
        self.late = start if late is None else late
        # It begins at a thing that never happened.
        self.never = never

    def has(self, record):
        """Whether a record of one moment lies in it."""
        if record.at >= self.end or record.at < self.start:
            return False
        return self.key is None or record.key > self.key

    def meets(self, start, end):
        """Whether a stretch of time overlaps it by more than a moment."""
        return start < self.end and end > self.start and start < end

    def cut(self, other):
        """The part that two windows share."""
        first = max((self, other), key=lambda w: (w.start, w.key or ()))
        return Window(first.start, min(self.end, other.end), first.key,
                      max(self.late, other.late), self.never or other.never)

    def __repr__(self):
        return f"{self.start}..{self.late}->{self.end}{' never' if self.never else ''}"


class Clock:
    """Days of the book's site."""

    def __init__(self, now, offset_minutes=0):
        self.now = now
        self.zone = timezone(timedelta(minutes=offset_minutes))

    def day(self, text, less=None):
        """First instant of a moment as written, and its end."""
        if text == "today":
            start = datetime.fromtimestamp(self.now / 1000, self.zone)
            start = start.replace(hour=0, minute=0, second=0, microsecond=0)
        elif len(text) > 10:
            at = datetime.fromisoformat(text.replace("Z", "+00:00").replace(" ", "T"))
            at = at if at.tzinfo else at.replace(tzinfo=self.zone)
            return to_ms(at), to_ms(at)
        else:
            start = datetime.fromisoformat(text).replace(tzinfo=self.zone)
        if less is not None:
            start = back(start, less)
        begin = to_ms(start)
        return begin, begin + DAY


def back(day, less):
    """A day, so much earlier; months and years are those of the calendar."""
    number, _, unit = less.text.partition(" ")
    months = {"month": 1, "months": 1, "year": 12, "years": 12}.get(unit)
    if months is None or not number.isdigit():
        return day - timedelta(seconds=less.value)
    total = day.year * 12 + day.month - 1 - months * int(number)
    year, month = divmod(total, 12)
    last = (datetime(year + (month == 11), (month + 1) % 12 + 1, 1) - timedelta(days=1)).day
    return day.replace(year=year, month=month + 1, day=min(day.day, last))


def pieces(start, end, instants):
    """A stretch cut at instants: windows that begin somewhere inside each piece."""
    cuts = [start, *sorted({t for t in instants if start < t < end}), end]
    out = []
    for a, b in zip(cuts, cuts[1:]):
        # What happened at the piece's first instant lies before it.
        out.append(Window(a, late=b, key=None if a == -FOREVER else (a, *LAST)))
    return out
