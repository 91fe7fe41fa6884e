"""Figures of runs, and of the part of a run that a window holds."""

import fields
from syntax import Band, Depths
from values import INFINITE, SOFT_VALUE, UNKNOWN_VALUE, Number
from when import FOREVER


def run_figure(record, name, window):
    """A figure of a run, or of the part of it that a window holds."""
    part = record.extra
    inside = record.begin >= window.late and record.at <= window.end
    if name in fields.OPAQUE:
        return opaque(record, name, inside)
    if inside and name in ("top_depth", "bottom_depth"):
        value = getattr(part.sums(), name)
        # Where it never turned nothing is shown.
        return UNKNOWN_VALUE if value is None else Number(value, computed=True)
    if inside:
        return bounded(part, getattr(part.sums(), name))
    if part.run.summary:
        return summary_part(record, name, window)
    start, late, end = (clip(t, record) for t in (window.start, window.late, window.end))
    if name in ("top_depth", "bottom_depth"):
        return SOFT_VALUE
    if window.uncut and record.begin < window.start:
        return Number(0.0, INFINITE, True, soft=True)
    if getattr(part.sums(), name) is None:
        # Nothing, where the joint did not turn in it; of that the program need not know.
        return Number(0.0, INFINITE, True, soft=True)
    value = getattr(part.sums(start, end), name)
    if late == start:
        return bounded(part, value)
    least = getattr(part.sums(late, end), name)
    if value is None or least is None:
        return UNKNOWN_VALUE
    return Number(min(least, value), INFINITE if part.run.estimated else value, True)


def bounded(part, value):
    """A figure of a run as it is graded: what was estimated is a lower bound."""
    if value is None:
        return UNKNOWN_VALUE
    return Number(value, INFINITE if part.run.estimated else value, True)


def clip(t, record):
    """An instant within a run."""
    return min(max(t, record.begin), record.at)


def opaque(record, name, inside):
    """A figure that the program computes: known of whole runs, within bounds of parts."""
    whole = record.fields.get(name)
    if whole is None:
        # In a part of it the joint may not have turned, and then nothing is what it had.
        return UNKNOWN_VALUE if inside else Number(0.0, INFINITE, True, soft=True)
    low, high = whole if isinstance(whole, tuple) else (whole, whole)
    if record.extra.run.estimated:
        high = INFINITE
    if inside:
        return Number(low, high, True)
    return Number(0.0, high, True, soft=True)


def summary_part(record, name, window):
    """Part of a run of which only sums are stated: its hours may lie anywhere between its ends."""
    part = record.extra
    total = getattr(part.sums(), name)
    if total is None:
        return UNKNOWN_VALUE
    if name in ("top_depth", "bottom_depth"):
        return SOFT_VALUE
    least, most = 0.0, total
    # Turns go with the hours: a summary tells one speed.
    hours = total if name == "cased_hours" else part.sums().hours
    length = (record.at - record.begin) / 1000
    if name in ("hours", "revolutions", "cased_hours") and 0 < hours <= length:
        inside = lambda a: max(0.0, clip(window.end, record) - clip(a, record)) / 1000
        rate = total / hours
        least = rate * max(0.0, hours - (length - inside(window.late)))
        most = rate * min(hours, inside(window.start))
    if part.run.estimated:
        most = INFINITE
    return Number(least, most, True)


def run_portion(record, name, portion, window):
    """Hours or turns of a run above a dogleg, or between two depths of hole."""
    if isinstance(portion, Depths):
        return run_between(record, name, portion.low.value, portion.high.value, window)
    if isinstance(portion, Band):
        return run_above(record, name, portion.low.value, window, portion.high.value)
    return run_above(record, name, portion.value, window)


def run_between(record, name, least, most, window):
    """Hours or turns between two depths, from those between which it all was."""
    whole = run_figure(record, name, window)
    if whole is UNKNOWN_VALUE:
        return Number(0.0, INFINITE)
    sums = record.extra.sums()
    top, bottom = sums.top_depth, sums.bottom_depth
    if top is None:
        return Number(0.0, whole.high, True, whole.soft)
    soft = whole.soft or any(abs(a - b) < 1e-6 for a in (top, bottom) for b in (least, most))
    inside, apart = least <= top and bottom <= most, bottom < least or most < top
    low, high = whole.low if inside else 0.0, 0.0 if apart else whole.high
    if apart and record.extra.run.estimated:
        high = INFINITE
    return Number(low, high, True, soft)


def run_above(record, name, dogleg, window, upto=FOREVER):
    """Hours or turns of a run above a dogleg and not above another, by the straight line inside a band
    up to the sharpest bend of the run."""
    part = record.extra
    sharpest = part.sums().max_dogleg

    def over(sums):
        found = sums.above(name, dogleg)
        if found is None or upto == FOREVER or sharpest is None or sharpest <= upto:
            return found
        return found - sums.above(name, upto)

    whole = over(part.sums())
    if window.uncut and record.begin < window.start < record.at:
        return Number(0.0, INFINITE, True, soft=True)
    if whole is None:
        # No bend is known: any of its hours may count, or none.
        return Number(0.0, run_figure(record, name, window).high, True)
    estimated = part.run.estimated
    if any(abs(d - sharpest) <= 1e-6 * max(d, sharpest) for d in (dogleg, upto) if d != FOREVER):
        return Number(0.0, INFINITE if estimated else whole, True, soft=True)
    if dogleg > sharpest:
        return Number(0.0, INFINITE if estimated else 0.0, True)
    if record.begin >= window.late and record.at <= window.end:
        return bounded(part, whole)
    if part.run.summary:
        most = summary_part(record, name, window).high
        least = 0.0
        if name == "hours":
            # Of the time in that bend no more lies outside the window than there is.
            inside = max(0.0, clip(window.end, record) - clip(window.late, record)) / 1000
            length = (record.at - record.begin) / 1000
            least = max(0.0, whole - (length - inside)) if whole <= length else 0.0
        return Number(least, INFINITE if estimated else min(whole, most), True)
    start, late, end = (clip(t, record) for t in (window.start, window.late, window.end))
    value, least = (over(part.sums(a, end)) for a in (start, late))
    return Number(min(least, value), INFINITE if estimated else value, True)
