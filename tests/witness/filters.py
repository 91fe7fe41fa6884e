"""Makes up filters over the whole grammar, with literals drawn from what the book holds."""

import re

import fields
import quantity
import syntax as s
import words
from meaning import Seen, SoftAnchor, StrangeWord, wrap
from values import Choice, Date, Number, Several, Text, Word, Words
from when import Window

RECORDS = list(fields.RECORDS)
KEYWORD = re.compile(
    r"\b(and|or|not|any|no|every|latest|count|over|since|last|before|is unknown)\b"
)
PLURAL = re.compile(r"\b((?:any|no|every|count|over) (?:%s))\b" % "|".join(RECORDS))
PLACES = {"pin": "pin end", "middle": "middle", "box": "box end"}
# Other ways to say the same.
OTHERWISE = [
    (re.compile(r"\bof previous (\w+)"), r"of \1 before last", 0.4),
    (re.compile(r"\b(damage|over_limit)_(pin|middle|box)\b"),
     lambda m: f"{m[1]} at {PLACES[m[2]]}", 0.4),
    (re.compile(r"\b(compression|contact)_(pin|middle|box)\b"),
     lambda m: f"{m[1]}_hours at {PLACES[m[2]]}", 0.4),
    (re.compile(r"\bbending_(pin|middle|box)\b"),
     lambda m: f"max_bending at {PLACES[m[1]]}", 0.4),
    (re.compile(r"\b2 (\w+) in a row"), r"two \1s in a row", 0.4),
    (re.compile(r"<="), "≤", 0.1), (re.compile(r">="), "≥", 0.1), (re.compile(r"!="), "≠", 0.1),
    (re.compile(r"(\d) (h|ft|mm|%)(?=[ )]|$)"), r"\1\2", 0.1),
    (re.compile(r"\bsince last "), "since latest ", 0.1),
    (re.compile(r"\blatest "), "last ", 0.1),
]
COUNTERS = list(fields.COUNTERS)
# Anchors that people use, with the conditions that they put behind them.
ANCHORS = [
    ("inspection", "covers", "scope"), ("inspection", "covers", "scope"),
    ("inspection", None, None),
    ("repair", "work", "work"), ("repair", "end", "end"), ("repair", None, None),
    ("run", "well", None), ("run", None, None), ("event", "what", "event"), ("event", None, None),
    ("makeup", "end", "end"), ("move", "location", None), ("move", None, None),
    ("hire", None, None), ("decision", "ruling", "ruling"), ("decision", None, None),
    ("failure", None, None), ("finding", "what", None), ("finding", None, None),
]


# Classes, names and numbers of a joint, and numbers of one kind, that are compared with each other.
CLASSES = ["class", "class", "tube_class", "pin_class", "box_class", "declared_class"]
NAMES = ["heat", "maker", "owner", "location", "grade", "status", "connection", "component"]
NUMBERS = ["hours", "revolutions", "damage", "wall", "od", "length", "box_od", "pin_od", "wall_age",
           "open_findings", "pin_makeups", "max_dogleg", "cased_hours", "damage_box"]
ALIKE = [["box_od", "pin_od", "tool_joint_od", "od", "body_od"], ["hours", "cased_hours"],
         ["damage_pin", "damage_middle", "damage_box"], ["pin_makeups", "box_makeups"],
         ["wall_thickness", "nominal_wall"], ["wall_age", "inspection_age"]]


# A usual value of each dimension, for where a book has none (base units).
USUAL = {
    "time": 100_000.0, "length": 50.0, "dogleg": 0.1, "torque": 40_000.0, "force": 200_000.0,
    "stress": 5e7, "linear_mass": 29.0, "density": 1150.0, "ratio": 0.85, "number": 5.0,
}


class Maker:
    """Makes filters for one book."""

    def __init__(self, history, meaning, random):
        self.history = history
        self.meaning = meaning
        self.random = random
        self.joints = list(history.joints.values())
        self.records = {
            kind: [r for j in self.joints for r in j.records[kind]] for kind in RECORDS
        }
        self.past_days = [self.day_near() for _ in range(4)]

    def chance(self, p):
        """True with a probability."""
        return self.random.random() < p

    def pick(self, items):
        """One of some items."""
        return self.random.choice(items)

    def weighted(self, *pairs):
        """One of several makers, each with its weight."""
        makers, weights = zip(*pairs)
        return self.random.choices(makers, weights)[0]

    # ------------------------------------------------------------ conditions

    def filter(self):
        """A whole filter."""
        while True:
            found = self.condition(2)
            if found is not None:
                return found

    def condition(self, depth):
        """A condition about a joint."""
        roll = self.random.random()
        if depth and roll < 0.30:
            items = [i for i in (self.condition(depth - 1) for _ in range(2)) if i is not None]
            if len(items) == 2:
                return self.pick([s.And, s.And, s.Or])(items)
        if depth and roll < 0.38:
            inner = self.condition(depth - 1)
            return inner and s.Not(inner)
        asked = [
            (self.joint_field, 22), (self.quantified, 26), (self.counted, 12), (self.folded, 12),
            (self.in_a_row, 5),
            (self.picked, 12), (self.counter, 18), (self.above, 7), (self.unknown, 4),
            (self.arithmetic, 4), (self.kin, 3), (self.rule, 3), (self.as_of, 4),
            (self.ranked, 3), (self.other_joints, 5), (self.two_fields, 4),
        ]
        return self.weighted(*asked)()

    def joint_field(self):
        """A comparison of a field of the joint."""
        name = self.pick(list(fields.JOINT))
        if name in COUNTERS:
            return self.counter(False)
        if name in ("serial", "introduced_by", "certificate", "hardband_alloy"):
            name = "heat"
        values = [v for v in (self.joint_value(name) for _ in range(6)) if v is not None]
        field = s.Field(name, False, None, [])
        return self.comparison(field, fields.JOINT[name], name, values)

    def joint_value(self, name):
        """A value that some joint has."""
        value = wrap(self.pick(self.joints).fields.get(name), fields.JOINT[name], name)
        return value if isinstance(value, (Number, Word, Text, Date, Words, bool)) else None

    def comparison(self, node, kind, name, values):
        """A comparison of a value with a literal of its kind."""
        what, _, vocabulary = kind.partition(":")
        if what == "flag" and isinstance(node, s.Field) and self.chance(0.3):
            return s.Flag(node)
        if what == "flag":
            return s.Compare(node, self.pick(["=", "=", "!="]), flag(self.chance(0.5)))
        if what in ("word", "set"):
            return self.word_comparison(node, what, vocabulary, values)
        if what == "text":
            return self.text_comparison(node, values)
        if what == "date":
            return self.date_comparison(node, values)
        return self.number_comparison(node, kind, name, values)

    def word_comparison(self, node, what, vocabulary, values):
        known = [w for v in values for w in spellings(v)]
        if vocabulary == "open":
            choices = sorted(set(known))
        else:
            listed = words.VOCABULARIES.get(vocabulary) or []
            if vocabulary == "finding":
                listed = [w for w in self.history.catalogue.findings if w != "crack"]
            choices = [w for w in known if w in listed] * 3 + list(listed)
        if not choices:
            return None
        choices = [c for c in choices if words.fold(c) != "unknown"]
        if vocabulary != "open" and self.chance(0.03):
            choices = [self.pick(choices) + "x"]
        if self.chance(0.2) and what == "word":
            some = list(dict.fromkeys(self.pick(choices) for _ in range(3)))
            return s.In(node, [word(w) for w in some], self.chance(0.3))
        return s.Compare(node, self.pick(["=", "=", "=", "!="]), word(self.pick(choices)))

    def text_comparison(self, node, values):
        if not values:
            return None
        values = [Text(v.word) if isinstance(v, Word) else v for v in values]
        text = self.pick(values).text
        if self.chance(0.3):
            text = self.pick([text.lower(), text.upper(), text.replace(" ", "  ")])
        if self.chance(0.15):
            return s.Like(node, self.pick([text[:3] + "*", "*" + text[-2:], "?" + text[1:]]),
                          self.chance(0.2))
        if self.chance(0.15):
            other = self.pick(values).text
            return s.In(node, [quote(text), quote(other)], self.chance(0.2))
        return s.Compare(node, self.pick(["=", "=", "!="]), quote(text))

    def date_comparison(self, node, values):
        day = self.day_of(self.pick(values).start) if values and self.chance(0.7) \
            else self.day_near()
        literal = s.Literal("date", day, day)
        if self.chance(0.15):
            less = s.Literal("time", 0.0, f"{self.random.randint(1, 900)} days")
            less.value = quantity.read(less.text)[1]
            literal = s.Arithmetic("-", s.Literal("date", "today", "today"), less)
        return s.Compare(node, self.pick(["=", "<", "<=", ">", ">=", "!="]), literal)

    def number_comparison(self, node, kind, name, values):
        dimension = "number" if kind == "count" else kind
        numbers = [x for v in values for x in finite(v)]
        numbers = [n for n in numbers if abs(n) > 1e-9] or [USUAL.get(dimension, 3.0)]
        base = self.pick(numbers)
        whole = kind == "count"
        op = self.pick(["<", "<=", ">", ">=", ">", "<"] + (["=", "!="] if whole or self.chance(0.2) else []))
        literal = self.literal(base, dimension, whole, op in ("=", "!="))
        if self.chance(0.1):
            low, high = sorted([literal, self.literal(base, dimension, whole)],
                               key=lambda x: x.value)
            return s.Between(node, low, high, self.chance(0.2))
        return s.Compare(node, op, literal)

    def literal(self, base, dimension, whole, equal=False):
        """A literal near a value, or as the value would be written, in some unit."""
        if whole:
            number = max(0, round(base) + self.pick([-1, 0, 0, 1]))
            return s.Literal("number", float(number), str(number))
        units = quantity.SPELLINGS.get(dimension)
        if dimension == "length":
            units = ["in", "mm"] if abs(base) < 0.6 else ["ft", "m"]
        if dimension == "torque" and abs(base) > 1e6:
            units = ["kft.lbf"]
        unit = self.pick(units)
        value = quantity.in_unit(base, dimension, unit)
        if not equal:
            value *= self.pick([1.0, 0.5, 0.9, 1.1, 1.5]) * self.random.uniform(0.98, 1.02)
        text = f"{value:.3g}"
        if unit == "in" and value > 0 and self.chance(0.3):
            whole, parts = divmod(round(value * 32), 32)
            text = f"{whole} {parts}/32" if whole else f"{parts}/32"
        if "e" in text:
            text = f"{value:.12f}".rstrip("0").rstrip(".") or "0"
        text = f"{text} {unit}".strip()
        return s.Literal("number" if not unit else dimension, quantity.read(text)[1], text)

    # ------------------------------------------------------------ records

    def record(self):
        """A kind of record, common ones more often."""
        return self.weighted(
            ("run", 30), ("inspection", 22), ("makeup", 16), ("repair", 10), ("event", 8),
            ("finding", 7), ("move", 5), ("decision", 4), ("hire", 3), ("failure", 2),
        )

    def record_condition(self, record, depth=1):
        """A condition about a record."""
        if depth and self.chance(0.35):
            items = [i for i in (self.record_condition(record, depth - 1) for _ in range(2))
                     if i is not None]
            if len(items) == 2:
                return self.pick([s.And, s.And, s.Or])(items)
        if depth and self.chance(0.06):
            inner = self.record_condition(record, 0)
            return inner and s.Not(inner)
        if self.chance(0.06):
            found = self.joint_field()
            if isinstance(found, s.Compare) and isinstance(found.left, s.Field):
                found.left.of_joint = True
                return found
            return None
        if record == "run" and self.chance(0.12):
            return self.run_above()
        if self.chance(0.1):
            return self.at_that_time()
        if record in ("inspection", "decision") and self.chance(0.05):
            return self.beside(s.Field("class", False, None, []))
        names = [n for n in fields.RECORDS[record] if n not in self.left_out(record)]
        name = self.pick(names)
        field = s.Field(name, False, None, [])
        if self.chance(0.05):
            return s.IsUnknown(field, self.chance(0.4))
        if record == "makeup" and self.chance(0.15):
            right = s.Arithmetic("*", s.Literal("ratio", 0.9, "90 %"),
                                 s.Field("target_torque", False, None, []))
            return s.Compare(s.Field("torque", False, None, []), self.pick(["<", ">"]), right)
        return self.comparison(field, fields.RECORDS[record][name], name,
                               self.record_values(record, name))

    def at_that_time(self):
        """A field of the joint when the record was."""
        name = self.pick(fields.AT_THAT_TIME)
        node = s.Field(name, False, None, [s.ThatTime()])
        values = [v for v in (self.joint_value(name) for _ in range(6)) if v is not None]
        if self.chance(0.05):
            return s.IsUnknown(node, self.chance(0.4))
        return self.comparison(node, fields.JOINT[name], name, values)

    @staticmethod
    def left_out(record):
        """Fields that are not asked for: texts that say what other fields do."""
        return {"run": {"equipment"}, "inspection": {"not_measured", "criterion", "standard"},
                "finding": {"generation"}, "repair": {"generation"},
                "decision": {"reason"}, "failure": {"operation"}}.get(record, set())

    def record_values(self, record, name, above=None):
        """Values that some records have."""
        held = self.records[record]
        found = []
        for _ in range(6):
            if held:
                v = self.meaning.record_field(Seen(self.pick(held), True, Window()), name, above)
                if isinstance(v, (Number, Word, Text, Date, Words, bool)):
                    found.append(v)
        return found

    def run_above(self):
        """Hours or turns of a run above a dogleg."""
        name = self.pick(["hours", "revolutions"])
        literal = self.portion()
        field = s.Field(name, False, literal, [])
        return self.number_comparison(field, fields.RECORDS["run"][name], name,
                                      self.record_values("run", name, literal))

    def portion(self):
        """A dogleg to count above, or two depths to count between."""
        if self.chance(0.5):
            return self.dogleg()
        if self.chance(0.4):
            low, high = sorted([self.dogleg(), self.dogleg()], key=lambda d: d.value)
            return low if high.value - low.value < 1e-9 else s.Band(low, high)
        low = self.pick([0, 250, 500, 1000, 2000, 3000])
        limits = (low, low + self.pick([50, 300, 1000, 4000, 15000]))
        return s.Depths(*(s.Literal("length", quantity.read(f"{d} ft")[1], f"{d} ft")
                          for d in limits))

    def dogleg(self):
        """A dogleg to count above."""
        unit = self.pick(["deg/100ft", "deg/30m"])
        text = f"{self.pick([0.5, 1, 2, 3, 3.3, 5, 8])} {unit}"
        return s.Literal("dogleg", quantity.read(text)[1], text)

    def maybe_condition(self, record, p=0.8):
        """A condition about a record, or none."""
        return self.record_condition(record) if self.chance(p) else None

    def quantified(self):
        """any, no, every, latest or first of a record."""
        record = self.record()
        how = self.weighted(("any", 40), ("no", 20), ("every", 15), ("latest", 14), ("first", 7),
                            ("previous", 8))
        condition = self.maybe_condition(record)
        if how in ("every", "latest", "previous", "first") and condition is None:
            condition = self.record_condition(record, 0)
            if condition is None:
                return None
        return s.Quantified(how, record, condition, self.windows())

    def in_a_row(self):
        """Records that follow each other."""
        record = self.record()
        condition = self.record_condition(record, self.pick([0, 1]))
        if condition is None:
            return None
        return s.InARow(self.pick(["any", "any", "no"]), self.pick([2, 2, 3]), record, condition,
                        self.windows(0.4))

    def counted(self):
        """A count compared with a number."""
        record = self.record()
        node = s.Count(record, self.maybe_condition(record, 0.6), self.windows())
        return self.number_comparison(node, "count", "count", [self.evaluated(node)])

    def folded(self):
        """A sum, largest, smallest or mean compared with a number."""
        record = self.weighted(("run", 45), ("inspection", 25), ("makeup", 20), ("repair", 6),
                               ("event", 4))
        names = [n for n, kind in fields.RECORDS[record].items()
                 if kind.partition(":")[0] in ("length", "time", "number", "dogleg", "torque",
                                               "force", "ratio", "count", "stress")]
        names = [n for n in names if n not in ("top_depth", "bottom_depth", "generation")]
        how = self.pick(["sum", "max", "max", "min", "mean"])
        above = None
        name = self.pick(names)
        if record == "run" and self.chance(0.15):
            name, above = self.pick(["hours", "revolutions"]), self.portion()
        node = s.Aggregate(how, s.Field(name, False, above, []), record,
                           self.maybe_condition(record, 0.4), self.windows())
        kind = fields.RECORDS[record][name]
        if kind == "count" and how == "mean":
            kind = "number"
        return self.number_comparison(node, kind, name, [self.evaluated(node)])

    def picked(self):
        """A field of the latest or first record compared with a value."""
        record = self.record()
        names = [n for n in fields.RECORDS[record] if n not in self.left_out(record)]
        name = self.pick(names)
        node = s.Pick(s.Field(name, False, None, []), self.pick(["latest", "latest", "first", "previous"]),
                      record, self.maybe_condition(record, 0.4), self.windows(0.3))
        if self.chance(0.08):
            return s.IsUnknown(node, self.chance(0.4))
        return self.comparison(node, fields.RECORDS[record][name], name,
                               self.record_values(record, name))

    # ------------------------------------------------------------ figures of the joint

    def counter(self, windows=True):
        """An accumulated figure compared with a number."""
        name = self.pick(COUNTERS + ["hours", "hours", "damage", "pin_makeups"])
        held = self.windows(0.8) if windows else []
        if name.endswith("_makeups"):
            # Of make-ups of a generation only the beginning of a stretch can be asked.
            held = [w for w in held if isinstance(w, s.Since)][:1]
        node = s.Field(name, False, None, held)
        return self.number_comparison(node, fields.JOINT[name], name, [self.evaluated(node)])

    def above(self):
        """Hours or turns above a dogleg."""
        name = self.pick(["hours", "revolutions"])
        node = s.Field(name, False, self.portion(), self.windows(0.5))
        return self.number_comparison(node, fields.JOINT[name], name, [self.evaluated(node)])

    def unknown(self):
        """Whether a field is unknown."""
        return s.IsUnknown(s.Field(self.pick(list(fields.JOINT)), False, None, []),
                           self.chance(0.4))

    def ranked(self):
        """A class beside another, or that of a record or day."""
        field = s.Field(self.pick(CLASSES), False, None, [])
        if self.chance(0.2):
            field.windows = [s.AsOf(s.Moment(self.pick(self.past_days), None))]
        return self.beside(field)

    def beside(self, value):
        """A class compared by its place in the order."""
        than = s.Field(self.pick(words.CLASSES), False, None, [])
        return s.Ranked(value, self.chance(0.3), self.pick(["worse", "better"]), than)

    def other_joints(self):
        """A value compared with that of another joint, or with what all of some joints have."""
        roll = self.pick(["one", "one", "fold", "fold", "percentile", "count"])
        if roll == "count":
            node = s.CountJoints(self.among())
            return self.number_comparison(node, "count", "count", [self.evaluated(node)])
        if roll == "one":
            other = self.pick(self.joints)
            if len(self.history.find(other.serial)) > 1:
                return None
            name = self.pick([*NAMES, *NUMBERS])
            left, right = (s.Field(name, False, None, []) for _ in range(2))
            op = self.pick(["=", "=", "!="]) if name in NAMES else self.pick(["<", "<=", ">", ">="])
            return s.Compare(left, op, s.OfJoint(right, other.serial))
        name = self.pick(NUMBERS)
        how = self.pick(["sum", "max", "min", "mean"]) if roll == "fold" else \
            f"percentile {self.pick([1, 10, 50, 80, 90, 99])} of"
        node = s.OverJoints(how, s.Field(name, False, None, []), self.among())
        if self.chance(0.5):
            return self.number_comparison(node, fields.JOINT[name], name, [self.evaluated(node)])
        if self.chance(0.3):
            node = s.Arithmetic("*", s.Literal("number", 0.5, "0.5"), node)
        return s.Compare(s.Field(name, False, None, []), self.pick(["<", ">", ">="]), node)

    def among(self):
        """Which joints are meant."""
        return None if self.chance(0.25) else self.condition(0)

    def two_fields(self):
        """A field beside another of its kind, a value of a record beside that of the one before."""
        roll = self.pick(["fields", "change", "negative"])
        if roll == "fields":
            one, other = (s.Field(n, False, None, [])
                          for n in self.random.sample(self.pick(ALIKE), 2))
            return s.Compare(one, self.pick(["<", "<=", ">", ">="]), other)
        if roll == "negative":
            name = self.pick(NUMBERS)
            field = s.Field(name, False, None, [])
            found = self.number_comparison(field, fields.JOINT[name], name,
                                           [self.evaluated(field)])
            if isinstance(found, s.Compare) and found.op not in ("=", "!="):
                return s.Compare(s.Negative(field), found.op, s.Negative(found.right))
            return found
        record, name = self.pick([("inspection", "wall"), ("inspection", "box_od"),
                                  ("run", "hours"), ("run", "max_dogleg"), ("makeup", "torque")])
        condition = self.maybe_condition(record, 0.3)
        before, last = (s.Pick(s.Field(name, False, None, []), which, record, condition, [])
                        for which in ("previous", self.pick(["latest", "first"])))
        node = s.Arithmetic("-", before, last)
        return self.number_comparison(node, fields.RECORDS[record][name], name,
                                      [self.evaluated(node)])

    def arithmetic(self):
        """A sum or quotient of figures compared with a number."""
        roll = self.pick(["quotient", "difference", "sum", "product"])
        hours = s.Field("hours", False, None, [])
        if roll == "quotient":
            node, kind = s.Arithmetic("/", hours, s.Count("run", None, [])), "time"
        elif roll == "difference":
            node, kind = s.Arithmetic("-", s.Field("box_od", False, None, []),
                                      s.Field("od", False, None, [])), "length"
        elif roll == "sum":
            node, kind = s.Arithmetic("+", s.Count("inspection", None, []),
                                      s.Count("repair", None, [])), "count"
        else:
            node, kind = s.Arithmetic("*", s.Literal("number", 2.0, "2"), hours), "time"
        return self.number_comparison(node, kind, "hours", [self.evaluated(node)])

    def kin(self):
        """Kin of some joint, or of all that a filter finds."""
        by = self.pick([[], ["heat"], ["run"], ["gauge"], ["ticket"], ["mill_order", "weld_lot"],
                        ["tool_joint_heat"], ["neighbour"]])
        if self.chance(0.4):
            found = self.joint_field()
            return found and s.KinOfAll(found, by)
        joint = self.pick(self.joints)
        if len(self.history.find(joint.serial)) > 1:
            return None
        return s.Kin(joint.serial, by)

    def rule(self):
        """A rule by its name, or a call."""
        if self.chance(0.6) and self.meaning.rules:
            return s.Rule(self.pick(list(self.meaning.rules)))
        return s.Due(self.pick(words.VOCABULARIES["call"]))

    def as_of(self):
        """A field of the joint on a day."""
        name = self.pick(["class", "location", "status", "string", "tube_class"])
        day = self.pick(self.past_days)
        node = s.Field(name, False, None, [s.AsOf(s.Moment(day, None))])
        values = [v for v in (self.joint_value(name) for _ in range(6)) if v is not None]
        return self.comparison(node, fields.JOINT[name], name, values)

    def evaluated(self, node):
        """The value of a node for some joint, to draw a literal from."""
        try:
            return self.meaning.value(node, self.pick(self.joints), None, None)
        except (StrangeWord, SoftAnchor):
            return None

    # ------------------------------------------------------------ windows

    def windows(self, p=0.65):
        """Windows: most often one, now and then two."""
        if not self.chance(p):
            return []
        if self.chance(0.06):
            days = sorted(self.day_near() for _ in range(2))
            if days[0] < days[1]:
                return [s.Since(s.Moment(days[0], None)), s.Before(s.Moment(days[1], None))]
        if self.chance(0.06):
            # Behind a record, and before a day or of late.
            end = self.weighted((self.before, 3), (self.until, 2), (self.in_last, 2), (self.after, 1))
            return [self.since_record(), end()]
        return [self.window()]

    def window(self):
        """One window."""
        return self.weighted(
            (self.since_record, 45), (self.since_day, 14), (self.before, 10), (self.after, 10),
            (self.before_record, 9),
            (self.from_to, 10), (self.in_last, 9), (self.until, 2),
        )()

    def before_record(self):
        return s.BeforeRecord(self.since_record().anchor)

    def since_record(self):
        record, field, vocabulary = self.pick(ANCHORS)
        condition = None
        if field and self.chance(0.9):
            kind = fields.RECORDS[record][field]
            condition = self.comparison(s.Field(field, False, None, []), kind, field,
                                        self.record_values(record, field))
        elif self.chance(0.1):
            condition = self.record_condition(record, 0)
        if mentions_joint(condition):
            condition = None
        which = "first" if self.chance(0.12) else "last"
        return s.Since(s.Anchor(which, record, condition))

    def since_day(self):
        return s.Since(self.moment())

    def before(self):
        return s.Before(self.moment())

    def after(self):
        return s.After(self.moment())

    def until(self):
        return s.AsOf(self.moment())

    def from_to(self):
        days = sorted(self.day_near() for _ in range(2))
        return s.FromTo(*(s.Moment(d, None) for d in days))

    def in_last(self):
        text = self.pick([f"{self.random.randint(10, 900)} days", "2 years", "6 months"])
        return s.InLast(s.Literal("time", quantity.read(text)[1], text))

    def moment(self):
        """A day, a clock time on it, or so long before today."""
        if self.chance(0.06):
            return s.Moment(self.day_near() + self.pick(["T06:30", "T18:00:00Z"]), None)
        if self.chance(0.15):
            text = f"{self.random.randint(10, 900)} days"
            return s.Moment("today", s.Literal("time", quantity.read(text)[1], text))
        return s.Moment(self.day_near(), None)

    def day_near(self):
        """A day on which something happened, or one beside it."""
        held = self.records[self.pick(RECORDS)] or self.records["run"]
        if not held:
            return "2025-01-01"
        record = self.pick(held)
        at = self.pick([record.at, record.begin])
        return self.day_of(at + self.pick([0, 0, 0, 1]) * 86_400_000)

    def day_of(self, ms):
        """The day of an instant at the site."""
        return str(self.meaning.clock.day(ms).date())


def spelled(text, random):
    """A filter as somebody else writes it: capitals, plurals, blanks, a remark behind it."""
    parts = text.split('"')
    for i in range(0, len(parts), 2):
        if random.random() < 0.3:
            parts[i] = KEYWORD.sub(lambda m: m[0].upper(), parts[i])
        if random.random() < 0.3:
            parts[i] = PLURAL.sub(r"\1s", parts[i])
        if random.random() < 0.2:
            parts[i] = parts[i].replace(" and ", "\tand  ").replace(" = ", "=")
        for said, otherwise, p in OTHERWISE:
            if random.random() < p:
                parts[i] = said.sub(otherwise, parts[i])
    return '"'.join(parts) + random.choice(["", "", "", "  # asked at the desk"])


def spellings(value):
    """The words by which a value may be asked for."""
    if isinstance(value, Words):
        return sorted(value.words)
    if isinstance(value, Several):
        return [value.text, *(part.strip() for part in value.text.split(","))]
    return [value.word]


def finite(value):
    """Finite bounds of a value."""
    if isinstance(value, Choice):
        return [x for v in value.values for x in finite(v)]
    if isinstance(value, Number):
        return [x for x in (value.low, value.high) if abs(x) != float("inf")]
    return []


def flag(value):
    """true or false."""
    return s.Literal("flag", value, "true" if value else "false")


def word(text):
    """A word; one that is no bare name goes in quotes."""
    bare = text.replace("_", "").isalnum() and not text[0].isdigit()
    # A word that is the name of a field, too, goes in quotes.
    if bare and text.lower() not in s.NO_UNIT and text.lower() not in fields.JOINT:
        return s.Field(text, False, None, [])
    return quote(text)


def quote(text):
    """A text literal."""
    return s.Literal("text", text, s.quoted(text))


def mentions_joint(node):
    """Whether a condition asks something of the joint."""
    return node is not None and ("joint." in str(node) or "at that time" in str(node))
