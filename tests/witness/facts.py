"""Holds the facts of a book against the program's: fields of joints, and records with theirs.

A filter that differs says little about where. Here the values stand side by side before any
filter is asked.
"""

import fields
import program
from entries import moment
from records import KINDS, NONE

# What tells records of a joint apart.
KEYS = {
    "run": ["name", "start"], "inspection": ["date", "report"],
    "makeup": ["date", "end", "times", "torque", "gauge", "mate"],
    "finding": ["date", "what", "place", "end", "size"],
    "repair": ["date", "work", "end", "ticket"], "event": ["date", "what", "pull", "depth"],
    "failure": ["date", "what"], "move": ["date", "string"], "hire": ["date", "name"],
    "decision": ["date", "ruling", "class"],
}
TAKEN = {
    "run": {*program.MECHANICS, "restriction_broken", "equipment"},
    "makeup": {"target_torque", "verdict", "torque_ratio"},
    "inspection": {*program.JUDGED_INSPECTION}, "finding": {"disposition"},
}
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
            if not same(joint.fields.get(n), theirs, history.offset):
                yield "joint", n, joint.id, joint.fields.get(n), theirs
    for kind in KINDS:
        if any(j.records[kind] for j in history.joints.values()):
            yield from of_kind(history, asked, kind)


def of_kind(history, asked, kind):
    """Differences in the records of a kind."""
    names = [n for n in fields.RECORDS[kind] if n not in TAKEN.get(kind, ())]
    shown = {}
    rows = asked.values(list(dict.fromkeys(names + KEYS[kind])), kind)
    for row in rows:
        key = (row["introduced_by"], *(program.spelled(row[k]) for k in KEYS[kind]))
        shown.setdefault(key, []).append(row)
    total = sum(len(j.records[kind]) for j in history.joints.values())
    if total != len(rows):
        yield kind, "count", "book", total, len(rows)
    for joint in history.joints.values():
        for r in joint.records[kind]:
            key = (joint.id, *(program.spelled_field(r, k) for k in KEYS[kind]))
            held = shown.get(key)
            if not held:
                yield kind, "record", joint.id, key, None
                continue
            row = held.pop(0) if len(held) > 1 else held[0]
            for n in names:
                mine, theirs = value(r, n), program.plain(row[n])
                if not same(mine, theirs, history.offset):
                    yield kind, n, f"{joint.id} {r.entry.name}", mine, theirs


def value(record, name):
    """A record's value; of a run's figures the whole, as bounds where it was estimated."""
    if record.kind != "run" or name not in fields.SPLIT:
        return record.fields.get(name)
    figure = getattr(record.extra.sums(), name)
    if figure is None or name in ("top_depth", "bottom_depth"):
        return figure
    return (figure, float("inf")) if record.extra.run.estimated else figure


def same(mine, theirs, offset):
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
        return abs(moment(theirs, offset)[0] - mine) < 2
    if isinstance(theirs, tuple):
        held = mine if isinstance(mine, tuple) else (mine, mine)
        return all(near(a, b) for a, b in zip(held, theirs))
    return mine == theirs


def near(a, b):
    """Whether two numbers are the same but for rounding."""
    infinite = float("inf") in (abs(a), abs(b))
    return a == b or not infinite and abs(a - b) <= CLOSE * max(abs(a), abs(b)) + 1e-7
