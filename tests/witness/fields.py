"""The fields of the language, as `find --fields` lists them: what each holds.

A kind is a dimension for a number, or `count`, `text`, `flag`, `date`, `word:VOCABULARY`,
`set:VOCABULARY`. A field that is `entered` holds what somebody wrote and can be compared exactly;
others are computed, and the witness compares them only where its own value is not too close.
"""


def _fields(text):
    out = {}
    for line in text.strip().splitlines():
        kind, names = line.split(":", 1)
        kind = kind.strip().replace("=", ":")
        for name in names.split():
            out[name] = kind
    return out


JOINT = _fields("""
    word=connection: connection box_connection
    text: serial heat pin_heat box_heat weld_lot maker mill_order
    text: certificate owner coating hardband_alloy location string hire criterion not_measured paint
    text: introduced_by
    word=component: component
    word=grade: grade
    word=range: range
    word=status: status
    word=class: class tube_class pin_class box_class declared_class
    word=disposition: disposition
    word=fitness: fit
    word=open: restriction out_reason hardband unfit_because
    word=failure: failure
    flag: entered_new on_hire class_disputed out failed life_complete conflicted
    date: made entered moved wall_read inspected failed_on last_run
    length: od nominal_wall length tool_joint_od tool_joint_id wall_thickness body_od slip_od
    length: pin_od pin_id pin_shoulder pin_stretch pin_tong box_od box_shoulder box_counterbore
    length: box_tong hardband_height footage
    linear_mass: weight
    ratio: wall wall_loss
    time: wall_age inspection_age hours cased_hours
    count: open_findings pin_generation box_generation pin_makeups box_makeups
    number: revolutions damage open_turns over_limit damage_pin damage_middle damage_box
    number: over_limit_pin over_limit_middle over_limit_box
    time: compression_hours compression_pin compression_middle compression_box
    time: contact_hours contact_pin contact_middle contact_box buckled_hours
    dogleg: max_dogleg
    force: max_tension
    torque: side_work
""")

RECORDS = {
    "run": _fields("""
        text: name well rig string equipment
        date: start finish
        word=run_grade: grade
        word=environment: environment
        flag: sour protectors equipment_doubtful conflicting restriction_broken
        length: casing_depth run_footage depth_in depth_out from_bit length footage top_depth
        length: bottom_depth
        density: mud_weight
        count: joints unidentified position
        time: run_hours hours cased_hours
        number: run_revolutions revolutions damage damage_pin damage_middle damage_box over_limit
        number: over_limit_pin over_limit_middle over_limit_box open_turns
        time: compression_hours compression_pin compression_middle compression_box
        time: contact_hours contact_pin contact_middle contact_box buckled_hours
        dogleg: max_dogleg
        force: max_tension
        stress: max_bending bending_pin bending_middle bending_box
        torque: side_work
    """),
    "makeup": _fields("""
        date: date
        word=end: end
        count: generation times
        torque: torque target_torque stated_target breakout_torque
        ratio: torque_ratio
        word=verdict: verdict
        text: gauge compound mate
        flag: instrument_doubtful
        number: friction_factor
    """),
    "inspection": _fields("""
        date: date
        set=scope: covers
        set=method: method
        text: standard firm inspector report gauge criterion not_measured paint
        flag: instrument_doubtful
        word=class: class_before class tube_class pin_class box_class declared_class
        word=disposition: disposition
        count: findings
        ratio: wall wall_loss
        length: wall_thickness body_od body_od_max slip_od pin_od pin_id pin_shoulder pin_stretch
        length: pin_neck pin_tong pin_bevel pin_benchmark box_od box_shoulder box_counterbore
        length: box_counterbore_depth box_tong box_bevel box_benchmark hardband_height centre_upset
        length: bow
    """),
    "finding": _fields("""
        date: date
        word=finding: what
        word=place: place
        word=end: end
        word=disposition: disposition
        count: generation
        length: size from_pin
        ratio: share
        flag: transverse open cleared
    """),
    "repair": _fields("""
        date: date
        word=work: work
        word=end: end
        text: shop ticket
        length: removed length_after
        count: generation
    """),
    "event": _fields("""
        date: date
        word=event: what
        force: pull
        torque: torque
        count: blows
        length: depth
    """),
    "failure": _fields("""
        date: date
        word=failure: what
        word=place: place
        word=end: end
        length: from_pin depth
        text: well operation
        torque: torque
        force: pull
    """),
    "move": _fields("""
        date: date
        text: location string
        word=status: status
    """),
    "hire": _fields("""
        date: date back
        text: name party contract
        flag: still_out
    """),
    "decision": _fields("""
        date: date until
        word=ruling: ruling
        word=class: class
        word=end: end
        text: authority reason
    """),
}

# Hours of states, at places of the joint.
STATES = [
    "compression_hours", "compression_pin", "compression_middle", "compression_box",
    "contact_hours", "contact_pin", "contact_middle", "contact_box",
]
# Counters of a joint, with the figure of a run that each adds up (or takes the largest of).
COUNTERS = {
    "hours": "hours", "revolutions": "revolutions", "footage": "footage", "damage": "damage",
    "max_dogleg": "max_dogleg", "max_tension": "max_tension", "cased_hours": "cased_hours",
    "open_turns": "open_turns", "side_work": "side_work", "over_limit": "over_limit",
    "damage_pin": "damage_pin", "damage_middle": "damage_middle", "damage_box": "damage_box",
    "over_limit_pin": "over_limit_pin", "over_limit_middle": "over_limit_middle",
    "over_limit_box": "over_limit_box", "buckled_hours": "buckled_hours",
    **{name: name for name in STATES},
    "pin_makeups": None, "box_makeups": None,
}
LARGEST = {
    "max_dogleg", "max_tension", "max_bending", "bending_pin", "bending_middle", "bending_box",
}
# What stands at places on the joint, of which the worst is meant where none is named, and how its
# names at the places begin.
AT_PLACES = {
    "damage": "damage", "over_limit": "over_limit", "compression_hours": "compression",
    "contact_hours": "contact",
}

# Figures of a run that a cut of the run splits.
SPLIT = {
    "hours", "revolutions", "footage", "max_dogleg", "max_tension", "max_bending", "damage",
    "damage_pin", "damage_middle", "damage_box", "over_limit", "over_limit_pin",
    "over_limit_middle", "over_limit_box", "bending_pin", "bending_middle", "bending_box",
    "cased_hours", "open_turns", "side_work", "top_depth", "bottom_depth", "buckled_hours", *STATES,
}
# Of these the witness computes none: it takes the whole run's from the program.
OPAQUE = {
    "max_tension", "max_bending", "damage", "damage_pin", "damage_middle", "damage_box",
    "over_limit", "over_limit_pin", "over_limit_middle", "over_limit_box", "bending_pin",
    "bending_middle", "bending_box", "side_work", "buckled_hours", *STATES,
}
ALIASES = {"rotating_hours": "hours", "tj_od": "tool_joint_od", "tj_id": "tool_joint_id",
           "remaining_wall": "wall", "gauge_doubtful": "instrument_doubtful",
           "target": "target_torque", "methods": "method"}
# What moves and hires say.
CUSTODY = {"location", "string", "status", "hire", "on_hire", "moved"}
# What can be asked of a joint when a record was.
AT_THAT_TIME = [
    "class", "class", "tube_class", "declared_class", "location", "location", "string", "status",
    "status", "on_hire", "wall", "wall", "wall_thickness", "wall_loss", "body_od", "box_od",
    "open_findings", "open_findings", "pin_generation", "coating", "hardband_alloy", "failed",
]
# Texts that may hold several words or names.
SEVERAL = {"not_measured", "restriction", "out_reason", "equipment", "unfit_because"}
# Fields that are computed, so that their last digits may differ.
COMPUTED = SPLIT | set(COUNTERS) | {
    "wall_age", "inspection_age", "run_hours", "run_revolutions", "run_footage", "from_bit",
    "torque_ratio", "target_torque", "length_after", "wall_loss", "wall_thickness", "wall",
    "length",
}
# What may be below zero; an age is where something is dated later today.
SIGNED = {"wall_loss", "pin_stretch", "wall_age", "inspection_age"}


# What lengths measure, by the digits with which they are shown; those not named are small ones.
DEPTHS = {
    "footage", "casing_depth", "run_footage", "depth_in", "depth_out", "from_bit", "top_depth",
    "bottom_depth", "depth",
}
JOINT_LENGTHS = {"length", "from_pin", "length_after"}
DIAMETERS = {
    "od", "tool_joint_od", "tool_joint_id", "body_od", "body_od_max", "slip_od", "pin_od", "pin_id",
    "box_od", "box_counterbore", "pin_bevel", "box_bevel", "centre_upset",
}


def measure(record, name):
    """What a field measures; None for what is counted or no number."""
    name = ALIASES.get(name, name)
    what = kind(record, name)
    if what == "length":
        for measured, names in (("depth", DEPTHS), ("joint_length", JOINT_LENGTHS),
                                ("diameter", DIAMETERS)):
            if name in names:
                return measured
        return "wall"
    if what == "time":
        return "days" if name in ("wall_age", "inspection_age") else "hours"
    if what == "number":
        return "damage" if name.startswith("damage") else \
            "factor" if name == "friction_factor" else "turns"
    if what == "torque" and name == "side_work":
        return "work"
    return None if what == "count" else what


def scope(record):
    """Fields of a record, or of the joint."""
    return JOINT if record is None else RECORDS[record]


def kind(record, name):
    """What a field holds; None when there is no such field."""
    fields = scope(record)
    name = name.lower()
    return fields.get(name) or fields.get(ALIASES.get(name, ""))
