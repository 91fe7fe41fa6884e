"""The program as the witness asks it: filters, and the figures that it does not compute itself."""

import json
import subprocess

import quantity
from fields import STATES
from records import NONE

# Joint fields that rest on the judgement of readings and findings: taken from the program's own
# answer, for the limits of classes have witnesses of their own.
JUDGED = [
    "class", "tube_class", "pin_class", "box_class", "criterion", "class_disputed", "disposition",
    "restriction", "out", "out_reason", "not_measured", "hardband", "fit", "unfit_because",
]
# Where these hold nothing there is nothing, and that is known.
NONE_OF_JUDGED = {"restriction", "out_reason", "not_measured", "unfit_because"}
# The same of records, by kind, and figures of mechanics.
TAKEN = {
    "run": ["max_tension", "max_bending", "damage", "damage_pin", "damage_middle", "damage_box",
            "over_limit", "over_limit_pin", "over_limit_middle", "over_limit_box", "bending_pin",
            "bending_middle", "bending_box", "side_work", "buckled_hours", *STATES,
            "restriction_broken"],
    "inspection": ["class_before", "class", "tube_class", "pin_class", "box_class", "criterion",
                   "disposition", "not_measured"],
    "makeup": ["target_torque", "verdict"], "finding": ["disposition"],
}
# What tells records of a joint apart.
KEYS = {
    "run": ["name", "start"], "inspection": ["date", "report"],
    "makeup": ["date", "end", "times", "torque", "gauge", "mate"],
    "finding": ["date", "what", "place", "end", "size"],
    "repair": ["date", "work", "end", "ticket"], "event": ["date", "what", "pull", "depth"],
    "failure": ["date", "what"], "move": ["date", "string"], "hire": ["date", "name"],
    "decision": ["date", "ruling", "class"],
}


class Answer:
    """What `find` said: joints that match and joints that are undecided, or why it was refused."""

    def __init__(self, holds, open_):
        self.error = None
        if "error" in holds:
            self.error = "\n".join([holds["error"]["message"], *holds["error"]["detail"]])
            return
        self.matches, self.open = (
            frozenset(row["introduced_by"] for row in told["joints"]) for told in (holds, open_)
        )


class Program:
    """The binary, asked about one book."""

    def __init__(self, binary, book, env):
        self.words = [binary, "--book", book, "--json"]
        self.env = env

    def find(self, texts, *more):
        """What is said of each of several filters."""
        done = subprocess.run([*self.words, "find", "-", *more], input="\n".join(texts),
                              capture_output=True, env=self.env, encoding="utf-8")
        decoder, at, told = json.JSONDecoder(), 0, []
        while at < len(done.stdout):
            answer, at = decoder.raw_decode(done.stdout, at)
            told.append(answer)
            at += 1
        if len(told) != len(texts):
            raise RuntimeError(f"{len(texts)} filters, {len(told)} answers\n{done.stderr}")
        return told

    def ask(self, texts):
        """Answers of filters."""
        show = ("--show", "introduced_by")
        return list(map(Answer, self.find(texts, *show), self.find(texts, "--undecided", *show)))

    def values(self, columns, record=None, more=()):
        """Values of columns of every joint, or of every record of a kind, as rows."""
        joint = "joint.introduced_by" if record else "introduced_by"
        how = ["--list", record] if record else []
        told, = self.find(["true"], "--show", ",".join([joint, *columns]), *how, *more)
        rows = told["records" if record else "joints"]
        for row in rows:
            row["introduced_by"] = row.pop(joint)
        return rows


def plain(shown):
    """A value as shown: None, text, flag, or bounds in base units."""
    if shown is None or isinstance(shown, (str, bool)):
        return shown
    if isinstance(shown, dict):
        unit = shown.get("unit", "")
        worth = float(quantity.meanings(unit)[0][1]) if unit else 1.0
        low = shown["value"] * worth
        if shown.get("bound") == "at least":
            return (low, float("inf"))
        return (low, shown.get("at_most", shown["value"]) * worth)
    return (float(shown), float(shown))


def judged(row):
    """What was judged of a joint."""
    return {k: NONE if row[k] is None and k in NONE_OF_JUDGED else row[k] for k in JUDGED}


def judge(history, program):
    """Puts the figures that the witness takes over into joints and records."""
    for row in program.values(JUDGED):
        if row["introduced_by"] in history.joints:
            history.joints[row["introduced_by"]].fields.update(judged(row))
    for kind, columns in TAKEN.items():
        for _, r, row in matched(history, program, kind, columns):
            if r and row:
                take(r, row, columns)
    for joint in history.joints.values():
        for r in joint.records["makeup"]:
            torque, target = r.fields["torque"], r.fields.get("target_torque")
            if torque is None or target is None:
                r.fields["verdict"] = None
            r.fields["torque_ratio"] = torque / target if torque and target else None


def take(record, row, columns):
    """Takes columns of a record over."""
    for column in columns:
        value = plain(row[column])
        if isinstance(value, tuple) and value[0] == value[1]:
            value = value[0]
        if value is None and column in NONE_OF_JUDGED:
            value = NONE
        record.fields[column] = value


def matched(history, program, kind, columns):
    """Joint and record of a kind with the row in which the program shows it; None where there is
    no such record or no such row."""
    keys, shown = KEYS[kind], {}
    for row in program.values(list(dict.fromkeys(keys + columns)), kind):
        of_row = [plain(row[k]) for k in keys]
        of_row = [v[0] if isinstance(v, tuple) else v for v in of_row]
        shown.setdefault(row["introduced_by"], []).append((of_row, row))
    for joint in history.joints.values():
        rows = shown.get(joint.id, [])
        for r in joint.records[kind]:
            of_record = [spelled_field(r, k, history.clock) for k in keys]
            at = [n for n, (of_row, _) in enumerate(rows) if all(map(alike, of_row, of_record))]
            yield joint.id, r, rows.pop(at[0])[1] if at else None
    for joint, rows in shown.items():
        for _, row in rows:
            yield joint, None, row


def alike(a, b):
    """Whether two values are one, numbers to five figures."""
    numbers = all(isinstance(x, float) for x in (a, b))
    return abs(a - b) <= 1e-5 * max(abs(a), abs(b)) if numbers else a == b


def spelled_field(record, key, clock):
    """A record's field as the program shows it; a number in base units."""
    value = record.fields.get(key)
    if value is NONE or value is None:
        return None
    if key in ("date", "start"):
        # As the program shows a moment: midnight as the day.
        shown = clock.day(value).isoformat()
        return shown[:10] if shown[11:19] == "00:00:00" else shown
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return float(value)
    return value
