"""Runs and make-ups of joints: who stood where in the string, and what that gave."""

import hole
import quantity
from readings import shortened
from records import NONE, Record
from words import name


class InRun:
    """A joint's part in a run: enough to say what any stretch of the run gave it."""

    def __init__(self, run, stays, path, casing):
        self.run = run
        self.stays = stays
        self.path = path
        self.casing = casing
        self.cache = {}

    def sums(self, start=None, end=None):
        """Totals of a stretch of the run; of all of it without arguments."""
        key = (start, end)
        if key not in self.cache:
            found = []
            for place, length, begin, until in self.stays:
                if length is None:
                    continue
                window = (
                    max(begin, start if start is not None else begin),
                    min(until, end if end is not None else until),
                )
                found += hole.pieces(self.run.spells, place, length, self.path, self.casing, window)
            self.cache[key] = hole.Sums(found)
        return self.cache[key]


class Run:
    """A run of the book."""

    def __init__(self, entry, history):
        b = entry.body
        self.entry = entry
        self.start = history.clock.span(b["start"])[0]
        self.end = entry.end
        self.summary = not b.get("segments")
        self.estimated = b["grade"] == "estimated"
        self.stated = None
        if self.summary:
            self._from_summary(b)
        else:
            self.spells = hole.spells(b["segments"], self.start)
        self.path = self._path(b, history)
        depths = [quantity.value(b.get(k), "length") for k in ("casing_depth", "riser_depth")]
        known = [d for d in depths if d is not None]
        self.casing = max(known) if known else None
        self.tallies = [(self.start, b["tally"])]
        for swap in b.get("swaps", []):
            self.tallies.append((history.clock.span(swap["at"])[0], swap["tally"]))
        self.tallies.sort(key=lambda t: t[0])

    def _from_summary(self, b):
        hours = quantity.value(b["hours"], "time")
        speed = quantity.value(b["rotary_speed"], "frequency")
        depth_in, depth_out = (quantity.value(b[k], "length") for k in ("depth_in", "depth_out"))
        self.stated = hours * 1000
        self.spells = [hole.Spell(self.start, self.start + hours * 1000, depth_in, depth_out,
                                  hours * speed, True)]

    @staticmethod
    def _path(b, history):
        named = history.by_name.get(b.get("survey"))
        well = name(b["well"])
        surveys = [e for e in history.live
                   if e.kind == "survey" and name(e.body["well"]) == well]
        entry = named or (surveys[-1] if surveys else None)
        return hole.Path(entry.body) if entry else None

    def places(self, tally, history):
        """Joints of a tally with the distance from the bit to their pin shoulder, and length."""
        at, out = 0.0, []
        for line in tally:
            joint = history.joint(line["j"]) if line.get("j") else None
            length = quantity.value(line.get("l"), "length")
            if length is None and joint:
                length = length_at(joint, self.start, history.catalogue)
            if joint:
                out.append((joint, at, length))
            at = None if at is None or length is None else at + length * line.get("n", 1)
        return out

    def unidentified(self):
        """Drill pipe joints without a serial in the tally."""
        return sum(
            line.get("n", 1) for line in self.tallies[0][1]
            if not line.get("j") and line["p"]["component"] == "drill_pipe"
        )


def length_at(joint, at, catalogue):
    """Length of a joint at an instant: as certified, less what repairs had taken off by then; as
    certified where nobody measured that."""
    certified = length = quantity.value(joint.body.get("length"), "length")
    for r in sorted(joint.records["repair"], key=lambda r: r.key):
        if r.at <= at:
            length = shortened(length, r, catalogue)
    return certified if length is None else length


def add_runs(history):
    """Gives joints their runs, and the make-ups of runs and of single connections."""
    history.runs = {}
    for e in history.of_kind("run"):
        run = Run(e, history)
        history.runs[e.name] = run
        stays, positions = {}, {}
        for i, (begin, tally) in enumerate(run.tallies):
            later = run.tallies[i + 1 :]
            until = later[0][0] if later else float("inf")
            for n, (joint, place, length) in enumerate(run.places(tally, history)):
                stays.setdefault(joint, []).append((place, length, begin, until))
                positions.setdefault(joint, (n + 1, place, length))
        run.order = [joint for joint, *_ in run.places(run.tallies[0][1], history)]
        shared = run_fields(run, history, len(stays))
        for joint, held in stays.items():
            add_run(history, run, joint, held, positions[joint], shared)
    for e in history.of_kind("makeup"):
        add_makeups(history, e)


def run_fields(run, history, joints):
    """Fields that every joint of a run shares."""
    b = run.entry.body
    spells = run.spells
    made = sum(max(0.0, s.bit_to - s.bit_from) for s in spells if s.hole)
    f = {
        "name": b["name"], "well": b["well"], "rig": b.get("rig"), "string": b.get("string"),
        "start": run.start, "finish": run.end, "grade": b["grade"],
        "environment": b.get("environment"),
        "sour": b.get("sour"), "protectors": b.get("protectors"),
        "casing_depth": quantity.value(b.get("casing_depth"), "length"),
        "mud_weight": quantity.value(b.get("mud_weight"), "density"),
        "joints": joints, "unidentified": run.unidentified(),
        "run_hours": sum(s.end - s.start for s in spells if s.turns > 0) / 1000,
        "run_revolutions": sum(s.turns for s in spells), "run_footage": made,
    }
    bits = [bit for s in spells if s.hole for bit in (s.bit_from, s.bit_to)]
    f["depth_in"] = quantity.value(b.get("depth_in"), "length")
    f["depth_out"] = quantity.value(b.get("depth_out"), "length")
    if f["depth_in"] is None and bits:
        # From where to where it drilled.
        f["depth_in"], f["depth_out"] = min(bits), max(bits)
    tags = b.get("equipment", [])
    doubts = [history.doubtful_at(tag, at) for tag in tags for at in (run.start, run.end)]
    f["equipment_doubtful"] = any(doubts)
    return f


def add_run(history, run, joint, stays, position, shared):
    """Gives a joint one run."""
    sure = history.sure(joint, run.entry)
    part = InRun(run, stays, run.path, run.casing)
    number, place, length = position
    record = Record("run", run.entry, run.end, {
        **shared, "position": number, "from_bit": place, "length": length,
        "conflicting": not sure,
    }, begin=run.start, sure=sure)
    record.extra = part
    joint.records["run"].append(record)


def add_makeups(history, e):
    """Gives ends the make-ups of an entry."""
    b = e.body
    shared = {
        "date": e.start, "torque": quantity.value(b.get("torque"), "torque"),
        "stated_target": quantity.value(b.get("target"), "torque"),
        "breakout_torque": quantity.value(b.get("breakout"), "torque"),
        "gauge": b.get("instrument"), "compound": b.get("compound"),
        "friction_factor": quantity.value(b.get("friction_factor"), "number"),
        "instrument_doubtful": history.doubtful(b.get("instrument"), e),
        "mate": b.get("mate", NONE),
    }
    pattern = b.get("pattern")
    if pattern:
        run = history.runs.get(b.get("run"))
        if run:
            for (joint, end), times in trip(pattern, run.order).items():
                sure = history.sure(joint, run.entry)
                add_makeup(history, joint, e, end, times, shared, sure)
        return
    for end in ("pin", "box"):
        joint = history.joint(b[end]) if b.get(end) else None
        if joint:
            add_makeup(history, joint, e, end, b.get("times", 1), shared)


def add_makeup(history, joint, e, end, times, shared, sure=True):
    """Gives one end of a joint its make-ups."""
    record = Record("makeup", e, e.start, dict(shared), n=0 if end == "box" else 1, sure=sure)
    record.fields |= {
        "end": end, "times": times, "generation": history.generation(joint, end, record.key),
    }
    joint.records["makeup"].append(record)


def trip(pattern, joints):
    """Make-ups of a trip pattern, by joint and end.

    A stand of n joints breaks at every n-th connection from the bit up, moved up by `offset`; with
    `rotate` the break moves up one joint every so many trips. `saver` counts what the top box of a
    stand is made up to the saver sub each trip.
    """
    out = {}

    def add(joint, end, times):
        if times:
            out[joint, end] = out.get((joint, end), 0) + times

    stand = pattern["stand"]
    for t in range(pattern["trips"]):
        rounds = pattern.get("rotate") or 0
        offset = (pattern.get("offset") or 0) + (t // rounds if rounds else 0)
        for i, joint in enumerate(joints, 1):
            if (i - offset) % stand == 0:
                add(joint, "box", 1 + (pattern.get("saver") or 0))
                if i < len(joints):
                    add(joints[i], "pin", 1)
    if pattern.get("picked_up"):
        for joint in joints:
            add(joint, "pin", 1)
            add(joint, "box", 1)
    return out
