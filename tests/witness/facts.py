"""Holds the facts of a book against the program's: fields of joints, and records with theirs.

A filter that differs says little about where. Here the values stand side by side before any
filter is asked.
"""

import fields
import program
from records import KINDS, NONE

# Two values closer than this are one: the program rounds to its quanta.
CLOSE = 1e-5


def compare(history, asked):
    """Differences of a book, as lines: what, how often, and one example."""
    found = {}
    for where, field, joint, mine, theirs in differences(history, asked):
        found.setdefault((where, field), []).append((joint, mine, theirs))
    return [
        f"{where} {field}: {len(cases)} differ; {cases[0][0]}: witness {cases[0][1]}, "
        f"program {cases[0][2]}"
        for (where, field), cases in sorted(found.items())
    ]


def differences(history, asked):
    """Every difference: where, field, joint, the witness's value and the program's."""
    counted = {*program.JUDGED, *fields.COUNTERS}
    names = [n for n in fields.JOINT if n not in counted]
    rows = {row["introduced_by"]: row for row in asked.values(names)}
    for identity in rows.keys() ^ history.joints.keys():
        yield "book", "joints", identity, identity in history.joints, identity in rows
    for joint in history.joints.values():
        for n in names:
            theirs = program.plain(rows.get(joint.id, {}).get(n))
            if not same(joint.fields.get(n), theirs, history.clock):
                yield "joint", n, joint.id, joint.fields.get(n), theirs
    for kind in KINDS:
        if any(j.records[kind] for j in history.joints.values()):
            yield from of_kind(history, asked, kind)


def of_kind(history, asked, kind):
    """Differences in the records of a kind."""
    names = [n for n in fields.RECORDS[kind] if n not in program.TAKEN.get(kind, ())
             and n not in ("equipment", "torque_ratio")]
    for joint, r, row in program.matched(history, asked, kind, names):
        if r is None or row is None:
            yield kind, "record", joint, r and r.fields, row
            continue
        for n in names:
            mine, theirs = value(r, n), program.plain(row[n])
            if not same(mine, theirs, history.clock):
                yield kind, n, f"{joint} {r.entry.name}", mine, theirs


def value(record, name):
    """A record's value; of a run's figures the whole, as bounds where it was estimated."""
    if record.kind != "run" or name not in fields.SPLIT:
        return record.fields.get(name)
    figure = getattr(record.extra.sums(), name)
    if figure is None or name in ("top_depth", "bottom_depth"):
        return figure
    return (figure, float("inf")) if record.extra.run.estimated else figure


def same(mine, theirs, clock):
    """Whether the two say the same."""
    if mine is NONE:
        mine = None
    if mine is None or theirs is None:
        return mine is theirs
    if isinstance(mine, bool) or isinstance(theirs, bool):
        return mine == theirs
    if isinstance(mine, set):
        return mine == {w.strip() for w in theirs.replace("|", ",").split(",") if w.strip()}
    if isinstance(theirs, str) and isinstance(mine, (int, float)):
        return abs(clock.span(theirs)[0] - mine) < 2
    if isinstance(theirs, tuple):
        held = mine if isinstance(mine, tuple) else (mine, mine)
        return all(near(a, b) for a, b in zip(held, theirs))
    return mine == theirs


def near(a, b):
    """Whether two numbers are the same but for rounding."""
    infinite = float("inf") in (abs(a), abs(b))
    return a == b or not infinite and abs(a - b) <= CLOSE * max(abs(a), abs(b)) + 1e-7
