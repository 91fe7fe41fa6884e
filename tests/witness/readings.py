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
LARGER_IS_WORSE = {"pin_stretch", "box_counterbore", "bow", "body_od_max", "box_bevel", "pin_bevel"}


READING_FIELDS = sorted(set(READINGS.values())) + ["wall", "wall_thickness"]


def read_into(fields, readings, end, nominal):
    """Puts readings into fields: of several of one kind the lowest."""
    for r in readings:
        if r["what"] == "wall":
            kind, value = quantity.read(r["value"], "length", "ratio")
            ratio = value if kind == "ratio" else nominal and value / nominal
            thick = value if kind == "length" else nominal and value * nominal
            for key, v in (("wall", ratio), ("wall_thickness", thick)):
                if v is not None:
                    fields[key] = min(v, fields.get(key, v))
            continue
        key = READINGS.get((r["what"], r.get("end") or end)) or READINGS.get((r["what"], None))
        if key:
            value = quantity.read(r["value"], "length")[1]
            worse = max if key in LARGER_IS_WORSE else min
            fields[key] = worse(value, fields.get(key, value))
    if "wall" in fields:
        fields["wall_loss"] = 1 - fields["wall"]


def take_readings(joint, catalogue, now):
    """The latest valid readings, and what repairs did to them."""
    f, nominal = joint.fields, joint.fields["nominal_wall"]
    held = {}
    facts = sorted(joint.records["inspection"] + joint.records["repair"], key=lambda r: r.key)
    length = f["length"]
    for r in facts:
        if r.kind == "repair":
            end = None if r.fields["end"] is NONE else r.fields["end"]
            for what in catalogue.voids(r.fields["work"]):
                void(held, what, end)
            removed = r.fields["removed"]
            if catalogue.shortens(r.fields["work"]) and length is not None:
                length -= removed or 0
            r.fields["length_after"] = length
            results = {}
            read_into(results, r.entry.body.get("results", []), end, nominal)
        else:
            results = {k: r.fields[k] for k in READING_FIELDS if k in r.fields}
        for key, value in results.items():
            hold(held, key, value, r)
    f["length"] = length
    for key in READING_FIELDS:
        f.setdefault(key, None)
    for key, (value, r) in held.items():
        f[key] = value
        if key in ("wall", "wall_thickness"):
            f["wall_read"] = r.at
    f["wall_loss"] = None if f.get("wall") is None else 1 - f["wall"]
    f["wall_age"] = None if f.get("wall_read") is None else (now - f["wall_read"]) / 1000


def void(held, what, end):
    ends = [end] if end else [None]
    for (reading, of_end), key in READINGS.items():
        if reading == what and (of_end in ends or of_end is None):
            held.pop(key, None)
    if what == "wall":
        for key in ("wall", "wall_thickness"):
            held.pop(key, None)


def hold(held, key, value, record):
    """Takes a reading over; of two that one moment gives the worse one stands."""
    before = held.get(key)
    if before and before[1].at == record.at and before[1].kind == record.kind:
        worse = max if key in LARGER_IS_WORSE else min
        value = worse(value, before[0])
    held[key] = (value, record)
