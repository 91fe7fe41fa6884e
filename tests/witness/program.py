"""The program as the witness asks it: filters, and the figures that it does not compute itself."""

import json
import re
import subprocess
import tomllib
from datetime import datetime, timedelta, timezone

import quantity
from records import NONE

# Joint fields that rest on the judgement of readings and findings: taken from the program's own
# answer, for the limits of classes have witnesses of their own.
JUDGED = [
    "class", "tube_class", "pin_class", "box_class", "criterion", "class_disputed", "disposition",
    "restriction", "out", "out_reason", "not_measured", "hardband",
]
# The same of records.
JUDGED_INSPECTION = [
    "class_before", "class", "tube_class", "pin_class", "box_class", "criterion", "disposition",
    "not_measured",
]
MECHANICS = [
    "max_tension", "max_bending", "damage", "damage_pin", "damage_middle", "damage_box",
    "over_limit", "side_work",
]
DIMENSIONS = {
    "h": "time", "ft": "length", "in": "length", "%": "ratio", "klbf": "force", "ksi": "stress",
    "deg/100ft": "dogleg", "ft.lbf": "torque", "kft.lbf": "torque", "lb/ft": "linear_mass",
    "ppg": "density", "days": "time",
}


# Where these hold nothing there is nothing, and that is known.
NONE_OF_JUDGED = ["restriction", "out_reason", "not_measured"]


class Answer:
    """What `find` said: joints that match, how many are undecided, or why it was refused."""

    def __init__(self, done):
        self.code = done.returncode
        self.error = None
        self.matches = frozenset()
        self.undecided = 0
        if done.returncode != 0:
            text = done.stdout or done.stderr
            self.error = text.strip() or f"exit {done.returncode}"
            return
        answer = json.loads(done.stdout)
        self.rows = answer.get("joints", answer.get("records", []))
        found = [row.get("introduced_by") for row in self.rows]
        self.matches = frozenset(f for f in found if f)
        for note in answer["notes"]:
            count = re.match(r"([\d,]+) joints? cannot be decided", note)
            if count:
                self.undecided = int(count.group(1).replace(",", ""))


class Program:
    """The binary, asked about one book."""

    def __init__(self, binary, book, env):
        self.binary = binary
        self.book = book
        self.env = env
        self.asked = 0

    def run(self, *words):
        """Runs a command on the book."""
        self.asked += 1
        return subprocess.run(
            [self.binary, "--book", self.book, *words],
            capture_output=True, text=True, env=self.env,
        )

    def find(self, text, *more):
        """Asks a filter."""
        return Answer(self.run("find", text, "--json", "--show", "introduced_by", *more))

    def undecided(self, text):
        """Joints that a filter does not decide."""
        return self.find(text, "--undecided").matches

    def rules(self):
        """The rules in force."""
        return tomllib.loads(self.run("rules", "--text").stdout).get("rule", [])

    def judged_on(self, text):
        """What was judged of every joint on a day."""
        return self.values(JUDGED, more=["--as-of", text])

    def values(self, columns, record=None, where='serial like "*"', more=()):
        """Values of columns of every joint, or of every record of a kind, as rows."""
        names = ["introduced_by", *columns]
        how = [*(["--list", record] if record else []), *more]
        names = [n if n != "introduced_by" or not record else "joint.introduced_by" for n in names]
        done = self.run("find", where, "--json", "--show", ",".join(names), *how)
        if done.returncode != 0:
            raise RuntimeError(f"{columns}: {done.stdout}{done.stderr}")
        answer = json.loads(done.stdout)
        rows = answer.get("joints", answer.get("records"))
        for row in rows:
            row["introduced_by"] = row.pop("joint.introduced_by", row.get("introduced_by"))
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


def judge(history, program):
    """Puts the figures that the witness takes over into joints and records."""
    for row in program.values(JUDGED):
        joint = history.joints.get(row["introduced_by"])
        if joint:
            for key in JUDGED:
                joint.fields[key] = row[key]
            for key in NONE_OF_JUDGED:
                if row[key] is None:
                    joint.fields[key] = NONE
    take(history, program, "run", ["name", "start"], MECHANICS + ["restriction_broken"])
    take(history, program, "inspection", ["date", "report"], JUDGED_INSPECTION)
    take(history, program, "makeup", ["date", "end", "times", "torque", "gauge", "mate"],
         ["target_torque", "verdict"])
    take(history, program, "finding", ["date", "what", "place", "end", "size"], ["disposition"])
    for joint in history.joints.values():
        for r in joint.records["makeup"]:
            torque, target = r.fields["torque"], r.fields.get("target_torque")
            if torque is None or target is None:
                r.fields["verdict"] = None
            r.fields["torque_ratio"] = torque / target if torque and target else None


def take(history, program, kind, keys, columns):
    """Takes columns of records over; records are told apart by the fields in `keys`."""
    shown = {}
    for row in program.values(keys + columns, kind):
        shown.setdefault((row["introduced_by"], *(spelled(row[k]) for k in keys)), []).append(row)
    for joint in history.joints.values():
        for r in joint.records[kind]:
            rows = shown.get((joint.id, *(spelled_field(r, k) for k in keys)))
            if not rows:
                history.unmatched = getattr(history, "unmatched", []) + [(kind, joint.id, r)]
                continue
            row = rows.pop(0) if len(rows) > 1 else rows[0]
            for column in columns:
                value = plain(row[column])
                if isinstance(value, tuple):
                    value = value[0] if value[0] == value[1] else value
                r.fields[column] = value
            if kind == "inspection" and row["not_measured"] is None:
                r.fields["not_measured"] = NONE


def spelled(value):
    """A shown value as a key: numbers to five figures."""
    value = plain(value)
    if isinstance(value, tuple):
        return f"{value[0]:.4e}"
    return value


def spelled_field(record, key):
    """The same of a record's field."""
    value = record.fields.get(key)
    if value is NONE or value is None:
        return None
    if key in ("date", "start"):
        return when(record, key)
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return f"{value:.4e}"
    return value


def when(record, key):
    """A moment as the program shows it, by the clock of the site: midnight as the day."""
    zone = timezone(timedelta(minutes=record.entry.offset))
    shown = datetime.fromtimestamp(record.fields[key] / 1000, zone).isoformat()
    return shown[:10] if shown[11:19] == "00:00:00" else shown
