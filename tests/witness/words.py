"""Words: closed vocabularies, and names that no vocabulary knows."""

CLASSES = ["critical", "premium", "class_2", "class_3", "scrap"]
SCOPES = [
    "visual", "body_od", "wall", "body_cracks", "slip_cracks", "upset_cracks", "pin", "box",
    "pin_cracks", "box_cracks", "hardband", "bore", "heat_checks", "grooves",
]
METHODS = [
    "visual_tube", "od_gauge", "ultrasonic_wall", "electromagnetic", "electromagnetic_wall",
    "full_length_ultrasonic", "magnetic_slip", "ultrasonic_slip", "visual_connection",
    "blacklight_connection", "penetrant", "ultrasonic_connection", "dimensional_1",
    "dimensional_2", "dimensional_3", "heat_check", "hardband_check", "bore_check",
    "groove_check",
]
PLACES = [
    "body", "slip_area", "upset", "weld", "bore", "tool_joint", "taper", "hardband", "shoulder",
    "threads", "pin_base", "pin_nose", "counterbore", "box_back", "centre_upset", "groove",
    "joint",
]
DISPOSITIONS = [
    "run", "run_restricted", "downgrade", "dress", "reface", "hold", "shop", "out", "scrap",
]

VOCABULARIES = {
    "component": [
        "drill_pipe", "heavy_weight", "drill_collar", "non_magnetic_collar", "sub", "stabilizer",
        "jar", "motor", "measuring_tool", "bit", "pup", "other",
    ],
    "grade": ["E75", "X95", "G105", "S135"],
    "range": ["R1", "R2", "R3"],
    # Those that the books name. One size goes by several names: API Spec 7-2 gives NC50 for what
    # was 4 1/2 IF.
    "connection": ["NC50", "5 1/2 FH"],
    "class": CLASSES,
    "status": ["in_stock", "on_hire", "in_repair", "quarantine", "retired", "lost"],
    "end": ["pin", "box"],
    "scope": SCOPES,
    "method": METHODS,
    "place": PLACES,
    "work": [
        "dress", "reface", "recut", "hardband", "straighten", "coat", "cut_back",
        "new_tool_joint", "build_up", "grind",
    ],
    "event": [
        "jarring", "overpull", "stuck", "over_torque", "h2s", "fishing", "drop", "string_shot",
        "back_off", "heat", "acid", "vibration",
    ],
    "failure": [
        "washout", "twist_off", "pin_break", "box_split", "tube_crack", "collapse", "burst",
        "wear_through", "bent", "lost",
    ],
    "environment": ["air", "protected", "corrosive"],
    "run_grade": ["logged", "summary", "estimated"],
    "verdict": ["under", "over", "on_target"],
    "ruling": ["class", "quarantine", "release", "retire", "settle", "waive"],
    "disposition": DISPOSITIONS,
    "fitness": ["fit", "restricted", "not_fit"],
    "call": ["inspection", "downgrade", "repair", "quarantine", "retire"],
}

ACTIVITIES = [
    "rotating_on_bottom", "sliding", "reaming_down", "reaming_up", "rotating_off_bottom",
    "not_rotating",
]
MAKES_HOLE = {"rotating_on_bottom", "sliding"}

CRACK_SCOPES = {
    "body_cracks", "slip_cracks", "upset_cracks", "pin_cracks", "box_cracks", "heat_checks",
}


def fold(text):
    """A word for comparison: lower case, one underscore for anything between letters and digits."""
    out = []
    for c in text.strip():
        if c.isalnum():
            out.append(c.lower())
        elif out and out[-1] != "_":
            out.append("_")
    return "".join(out).strip("_")


def closed(vocabulary, text):
    """The word of a vocabulary that a text spells, or None."""
    key = fold(text)
    bare = key.replace("_", "")
    for word in VOCABULARIES[vocabulary]:
        if fold(word) == key or fold(word).replace("_", "") == bare:
            return word
    short = {"grade": {"e": "E75", "x": "X95", "g": "G105", "s": "S135"},
             "range": {"1": "R1", "2": "R2", "3": "R3", "range1": "R1", "range2": "R2",
                       "range3": "R3"}}
    return short.get(vocabulary, {}).get(bare)


def name(text):
    """A name for comparison: case and runs of blanks do not count."""
    return " ".join(text.split()).lower()


def like(pattern, text):
    """Whether a name fits a pattern with `*` (any text) and `?` (one sign)."""
    pattern, text = name(pattern), name(text)
    # Table of whether the first i signs of the pattern fit the first j of the text.
    fits = [True] + [False] * len(text)
    for sign in pattern:
        if sign == "*":
            for j in range(1, len(fits)):
                fits[j] = fits[j] or fits[j - 1]
        else:
            fits = [False] + [
                fits[j] and (sign in ("?", text[j])) for j in range(len(text))
            ]
    return fits[-1]


def serial_key(text):
    """The key under which a serial is looked up: capitals, no blanks, one kind of hyphen."""
    dashes = dict.fromkeys(map(ord, "\u2010\u2011\u2012\u2013\u2014\u2015\u2212_"), "-")
    return "".join(text.translate(dashes).split()).upper()
