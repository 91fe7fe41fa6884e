"""Quantities as written: a number, a unit, and what they are worth in base units.

Base units are metre, kilogram, second, degree and plain numbers. Numbers are read exactly and
become floats once, so that one quantity written in two units is one float.
"""

import re
from fractions import Fraction as F

INCH = F(254, 10000)
FOOT = F(3048, 10000)
POUND = F(45359237, 100000000)
# pound (mass) times standard gravity, 9.80665 m/s2 (NIST SP 811)
POUND_FORCE = POUND * F(980665, 100000)

# What each unit measures, and its worth. `lb` on a pipe is a mass, on a hook a force: the field
# where it stands says which, so that a name may stand for several dimensions.
UNITS = {
    "m": [("length", F(1))],
    "mm": [("length", F(1, 1000))],
    "cm": [("length", F(1, 100))],
    "in": [("length", INCH)],
    "ft": [("length", FOOT)],
    "s": [("time", F(1))],
    "ms": [("time", F(1, 1000))],
    "min": [("time", F(60))],
    "h": [("time", F(3600))],
    "day": [("time", F(86400))],
    "days": [("time", F(86400))],
    "d": [("time", F(86400))],
    "week": [("time", F(604800))],
    "weeks": [("time", F(604800))],
    "month": [("time", F(2629800))],
    "months": [("time", F(2629800))],
    "year": [("time", F(31557600))],
    "years": [("time", F(31557600))],
    "deg": [("angle", F(1))],
    "%": [("ratio", F(1, 100))],
    "ppm": [("ratio", F(1, 1000000))],
    "rpm": [("frequency", F(1, 60))],
    "deg/100ft": [("dogleg", F(1) / (100 * FOOT))],
    "deg/30m": [("dogleg", F(1, 30))],
    "deg/30 m": [("dogleg", F(1, 30))],
    "deg/m": [("dogleg", F(1))],
    "N": [("force", F(1))],
    "kN": [("force", F(1000))],
    "lbf": [("force", POUND_FORCE)],
    "klbf": [("force", 1000 * POUND_FORCE)],
    "N.m": [("torque", F(1))],
    "kN.m": [("torque", F(1000))],
    "J": [("torque", F(1))],
    "ft.lbf": [("torque", FOOT * POUND_FORCE)],
    "kft.lbf": [("torque", 1000 * FOOT * POUND_FORCE)],
    "Pa": [("stress", F(1))],
    "MPa": [("stress", F(1000000))],
    "psi": [("stress", POUND_FORCE / (INCH * INCH))],
    "ksi": [("stress", 1000 * POUND_FORCE / (INCH * INCH))],
    "kg/m": [("linear_mass", F(1))],
    "lb/ft": [("linear_mass", POUND / FOOT)],
    "kg/m3": [("density", F(1))],
    "ppg": [("density", POUND / F(3785411784, 1000000000000))],
    "": [("number", F(1)), ("ratio", F(1))],
}

NUMBER = re.compile(
    r"\s*(-)?\s*(?:(\d+)\s+(\d+)/(\d+)|(\d+)/(\d+)|(\d+\.?\d*(?:[eE][+-]?\d+)?|\.\d+))"
)


class BadQuantity(ValueError):
    """A text that is no quantity of the kind that was wanted."""


def split_number(text):
    """The number at the head of a text, exactly, and what follows it."""
    match = NUMBER.match(text)
    if not match:
        raise BadQuantity(f"no number in {text!r}")
    minus, whole, top, under, top2, under2, plain = match.groups()
    if whole is not None:
        value = F(int(whole)) + F(int(top), int(under))
    elif top2 is not None:
        value = F(int(top2), int(under2))
    else:
        value = F(plain)
    return (-value if minus else value), text[match.end() :].strip()


def meanings(unit):
    """Every dimension that a unit can have, with its worth."""
    found = UNITS.get(unit)
    if found is None:
        found = UNITS.get(unit.replace(" ", ""))
    if found is None:
        raise BadQuantity(f"unknown unit {unit!r}")
    return found


def read(text, *dimensions):
    """Dimension and value in base units of a quantity, for a place that holds one of `dimensions`.

    A plain number is a number or a ratio, as the place wants.
    """
    number, unit = split_number(text)
    for dimension, worth in meanings(unit):
        if not dimensions or dimension in dimensions:
            return dimension, float(number * worth)
    raise BadQuantity(f"{text!r} is none of {dimensions}")


# Digits behind the point with which each measure is shown, in US and in metric units.
SHOWN = {
    "depth": {"ft": 0, "m": 1}, "joint_length": {"ft": 2, "m": 2},
    "diameter": {"in": 3, "mm": 1}, "wall": {"in": 3, "mm": 2},
    "dogleg": {"deg/100ft": 1, "deg/30m": 1}, "hours": {"h": 1}, "days": {"days": 0},
    "force": {"klbf": 1, "kN": 0}, "torque": {"ft.lbf": 0, "kN.m": 2}, "work": {"kft.lbf": 0},
    "stress": {"ksi": 1, "MPa": 1}, "linear_mass": {"lb/ft": 2, "kg/m": 2},
    "density": {"ppg": 1, "kg/m3": 0}, "ratio": {"%": 1}, "turns": {"": 0}, "damage": {"": 4},
    "factor": {"": 2},
}


def half_digit(text, measure):
    """Half of the last digit with which a literal is compared by `=`, in base units: that which it
    is written with, or that with which the book shows its measure in this unit, whichever is
    smaller. Nothing where the book shows no such unit: then it means just this number."""
    number, unit = split_number(text)
    worth = meanings(unit)[0][1]
    shown = [d for u, d in SHOWN.get(measure, {}).items() if meanings(u)[0][1] == worth]
    # Small damages are shown by their exponent.
    if not shown or measure == "damage" and number < F(5, 10000):
        return 0.0
    digits = max(shown[0], decimals(text))
    # As many digits as nobody stores mean just this number.
    return 0.0 if is_finer_than_stored(text) else float(worth / (2 * F(10) ** digits))


def decimals(text):
    """How many digits a number has behind its point."""
    plain = NUMBER.match(text).group(7)
    return len((plain or "").partition(".")[2])


def is_finer_than_stored(text):
    """Whether a number is written with more digits than anything is stored with."""
    return decimals(text) >= 9


def value(text, *dimensions):
    """Value in base units, or None where nothing is written."""
    return None if text is None else read(text, *dimensions)[1]


# The unit in which each dimension is written into filters, by turns.
SPELLINGS = {
    "time": ["h", "days"],
    "dogleg": ["deg/100ft", "deg/30m"],
    "torque": ["ft.lbf", "kft.lbf", "kN.m"],
    "force": ["klbf", "kN"],
    "stress": ["ksi", "MPa"],
    "linear_mass": ["lb/ft", "kg/m"],
    "density": ["ppg", "kg/m3"],
    "ratio": ["%"],
    "number": [""],
}


def in_unit(base, dimension, unit):
    """A value in base units, in another unit."""
    for meaning, worth in meanings(unit):
        if meaning == dimension or (dimension == "number" and unit == ""):
            return base / float(worth)
    raise BadQuantity(f"{unit!r} is no unit of {dimension}")
