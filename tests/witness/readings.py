"""Readings: what an inspection or a repair read, and what holds today."""

import quantity
from records import NONE

# Readings under the names of their fields, by reading and end.
READINGS = {
    ("body_od", None): "body_od", ("body_od_max", None): "body_od_max",
    ("slip_od", None): "slip_od", ("tj_od", "pin"): "pin_od", ("tj_od", "box"): "box_od",
    ("tj_id", "pin"): "pin_id", ("shoulder", "pin"): "pin_shoulder",
    ("shoulder", "box"): "box_shoulder", ("stretch", "pin"): "pin_stretch",
    ("pin_neck", "pin"): "pin_neck", ("tong_space", "pin"): "pin_tong",
    ("tong_space", "box"): "box_tong", ("counterbore", "box"): "box_counterbore",
    ("counterbore_depth", "box"): "box_counterbore_depth", ("bevel", "pin"): "pin_bevel",
    ("bevel", "box"): "box_bevel", ("benchmark", "pin"): "pin_benchmark",
    ("benchmark", "box"): "box_benchmark", ("hardband_height", None): "hardband_height",
    ("hardband_height", "pin"): "hardband_height", ("hardband_height", "box"): "hardband_height",
    ("centre_upset", None): "centre_upset", ("bow", None): "bow",
}
# Where readings of one day differ the worse one stands: the larger of these, the smaller of others.
LARGER_IS_WORSE = {"pin_stretch", "pin_id", "pin_neck", "pin_benchmark", "box_counterbore", "bow",
                   "body_od_max"}
READING_FIELDS = sorted(set(READINGS.values())) + ["wall", "wall_thickness"]


class OfDay:
    """What was read of one thing on a day, and what sound instruments had read of it before."""

    __slots__ = ("day", "at", "pairs", "before")

    def __init__(self, day, before):
        self.day = day
        self.before = before
        self.at = -float("inf")
        self.pairs = []


class InForce:
    """Readings in force, by what was read and at which end: those of the last day on which it was
    read. Readings of one day have no order, so the worst of them stands."""

    def __init__(self, clock, fields):
        self.clock = clock
        self.nominal = fields["nominal_wall"]
        self.od = fields["od"]
        self.held = {}

    def take(self, at, readings, end=None, doubtful=False):
        """Takes in what an inspection, by instruments that are in doubt or not, or the results of
        work read."""
        day = self.clock.day(at).date()
        for r in readings:
            key, pair = self.place(r, end), (*self.pair(r), doubtful)
            if key not in self.held or self.held[key].day != day:
                self.held[key] = OfDay(day, self.soundest(key, day))
            held = self.held[key]
            held.at = max(at, held.at)
            held.pairs = [*held.pairs, pair]

    def soundest(self, key, day):
        """The worst length that instruments not in doubt read of something before a day, on the last
        day on which one did; None where none did."""
        held = self.held.get(key)
        if held is None:
            return None
        sound = [v[0] for v in held.pairs if not v[2] and v[0] is not None]
        return worst(key, sound) if held.day < day and sound else held.before

    @staticmethod
    def place(r, end=None):
        """What was read, and at which end."""
        key = (r["what"], r.get("end") or end)
        # The hardband that every joint has is the one at its box.
        return ("hardband_height", "box") if key == ("hardband_height", None) else key

    def pair(self, r):
        """A reading as a length and as a part of the nominal wall."""
        kind, value = quantity.read(r["value"], "length", "ratio")
        if kind == "length":
            return value, self.nominal and value / self.nominal
        return self.nominal and value * self.nominal, value

    def standing(self, at, readings):
        """Readings as they stand: what is worn, washed out or swollen does not come back without a
        repair, so of what reads better than it did on an earlier day, further than instruments repeat,
        the earlier reading stands. Of what is gauged to a limit only where that was out of it."""
        day, made = self.clock.day(at).date(), {}
        for r in readings:
            key = self.place(r)
            if self.pair(r)[0] is not None and (key[0] in STEEL or self.out_of_limit(key)):
                made.setdefault(key, []).append(self.pair(r)[0])
        back = {}
        for key, lengths in made.items():
            # Readings of one day have no order: each is held against the days before.
            earlier = self.soundest(key, day)
            limit = REPEATS.get(key[0], REPEATS_ELSE) * 0.0254
            if earlier is not None and better_by(key, worst(key, lengths), earlier) > limit + 1e-9:
                back[key] = earlier
        return [{**r, "value": f"{back[self.place(r)]!r} m"} if self.place(r) in back else r
                for r in readings]

    def out_of_limit(self, key):
        """Whether a limit stops the joint by what was read of something last. Limits as published: pin
        stretch 0.006 in, swelling 4 % of the body's diameter (API RP 7G), bench marks (NS-2)."""
        held = self.held.get(key)
        if held is None or any(v[0] is None for v in held.pairs):
            return False
        value = worst(key, [v[0] for v in held.pairs])
        if key == ("stretch", "pin"):
            return value > 0.006 * 0.0254 + 1e-9
        if key == ("body_od_max", None):
            return self.od is not None and value > 1.04 * self.od + 1e-9
        if key == ("benchmark", "pin"):
            return value > 3 / 16 * 0.0254 - 1e-9
        return key == ("benchmark", "box") and value < 1 / 16 * 0.0254 + 1e-9

    def forget(self, what, end):
        """Work at an end changed what was read there; work that names no end, at either."""
        for key in list(self.held):
            if key[0] == what and (end is None or key[1] in (None, end)):
                del self.held[key]

    def fields(self):
        """The fields that the readings in force give. Of several one of which nobody can compare
        nobody knows which is the worst."""
        found = {}
        for (what, end), held in self.held.items():
            at, pairs = held.at, held.pairs
            if what == "wall":
                for key, values in zip(("wall_thickness", "wall"), list(zip(*pairs))[:2]):
                    if None not in values:
                        found[key] = min(values)
                found["wall_read"] = at
            elif name := READINGS.get((what, end)) or READINGS.get((what, None)):
                worse = max if name in LARGER_IS_WORSE else min
                value = worse(v[0] for v in pairs)
                found[name] = min(value, found[name]) if name in found else value
        return found


# Metal that wear takes and only work gives back; what else is read is gauged to a limit.
STEEL = {"wall", "body_od", "slip_od", "tj_od", "tj_id", "shoulder", "counterbore",
         "counterbore_depth", "tong_space", "pin_neck", "hardband_height", "centre_upset",
         "elevator_groove", "slip_groove"}
# Of these the larger is the worse, of others the smaller.
MORE = {("body_od_max", None), ("tj_id", "pin"), ("counterbore", "box"), ("stretch", "pin"),
        ("pin_neck", "pin"), ("benchmark", "pin"), ("bow", None)}


def worst(key, values):
    """The worst of several values."""
    return max(values) if key in MORE else min(values)


def better_by(key, read, before):
    """By how much a reading is better than the one before."""
    if key[0] == "bevel":
        return abs(read - before)
    return before - read if key in MORE else read - before


# Within how much two readings of one thing repeat, in inches (the contract's; common practice).
REPEATS = {"wall": 0.010, "tong_space": 0.125, "stretch": 0.001, "bow": 0.125}
REPEATS_ELSE = 1 / 32


def apart(one, other):
    """Whether two inspections read one thing further apart than instruments repeat."""
    for key, held in one.held.items():
        if key not in other.held:
            continue
        pick = max if READINGS.get(key) in LARGER_IS_WORSE else min
        mine, theirs = ([pick(v for v in values if v is not None) if any(values) else None
                         for values in list(zip(*ps))[:2]] for ps in (held.pairs, other.held[key].pairs))
        if None not in (mine[0], theirs[0]):
            limit = REPEATS.get(key[0], REPEATS_ELSE) * 0.0254
            if abs(mine[0] - theirs[0]) > limit + 1e-9:
                return True
        elif mine[1] != theirs[1]:
            return True
    return False


def days_of(joint, clock):
    """Its inspections, those of one day together. Work and decisions between them part the day."""
    facts = [r for kind in ("inspection", "repair", "decision") for r in joint.records[kind]]
    days, day = [], None
    for r in sorted(facts, key=lambda r: r.key):
        if r.kind != "inspection":
            day = None
            continue
        if clock.day(r.at).date() != day:
            day = clock.day(r.at).date()
            days.append([])
        days[-1].append(r)
    return days


def read_apart(joint, clock):
    """Whether two inspections of one day cannot both be right."""
    for day in days_of(joint, clock):
        seen = []
        for r in day:
            own = InForce(clock, joint.fields)
            own.take(r.at, r.extra)
            if any(apart(own, other) for other in seen):
                return True
            seen.append(own)
    return False


def take_readings(joint, catalogue, clock):
    """The latest valid readings, and what repairs did to them."""
    f = joint.fields
    force = InForce(clock, f)
    facts = sorted(joint.records["inspection"] + joint.records["repair"], key=lambda r: r.key)
    length = f["length"]
    for r in facts:
        body = r.entry.body
        if r.kind == "repair":
            end = None if r.fields["end"] is NONE else r.fields["end"]
            for what in catalogue.voids(r.fields["work"]):
                force.forget(what, end)
            length = shortened(length, r, catalogue)
            # Work of one instant has no order in time: it leaves one length.
            for done in facts:
                if done.kind == "repair" and done.at == r.at:
                    done.fields["length_after"] = length
            force.take(r.at, body.get("results", []), end)
        else:
            own = InForce(clock, f)
            r.extra = force.standing(r.at, body.get("readings", []))
            own.take(r.at, r.extra)
            force.take(r.at, r.extra, doubtful=r.fields["instrument_doubtful"])
            # Each row shows, of what it read, the worst that was read on its day so far.
            stands, mine = force.fields(), own.fields()
            r.fields |= {k: stands.get(k) for k in READING_FIELDS if k in mine}
            # A wall of which one of the day's readings cannot be compared.
            if "wall_read" in mine:
                r.fields |= {k: stands.get(k) for k in ("wall", "wall_thickness")}
            if "hardband_height" in mine:
                r.fields["hardband_height"] = mine["hardband_height"]
            if r.fields.get("wall") is not None:
                r.fields["wall_loss"] = 1 - r.fields["wall"]
    f["length"] = length
    stands = force.fields()
    for key in [*READING_FIELDS, "wall_read"]:
        f[key] = stands.get(key)
    f["wall_loss"] = None if f["wall"] is None else 1 - f["wall"]
    f["wall_age"] = None if f["wall_read"] is None else (clock.now - f["wall_read"]) / 1000


def shortened(length, repair, catalogue):
    """Length after a repair. Of an end that was cut anew nobody knows how much went unless it was
    measured; what a refacing takes goes unseen."""
    removed = repair.fields["removed"]
    if removed is None and not catalogue.new_generation(repair.fields["work"]):
        return length
    return None if None in (length, removed) else length - removed
