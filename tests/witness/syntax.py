"""The tree of a filter, how it is written, and how a text becomes one.

The ladder is that of the language: or, and, not, comparison, sum, product, primary. Every node can
write itself; a written tree reads back as the same tree.
"""

import re

import quantity


class BadFilter(ValueError):
    """A text that is no filter."""


class Node:
    """A node: named parts, compared by value, and the form in which it is written."""

    parts = ()
    form = ""

    def __init__(self, *values):
        for part, value in zip(self.parts, values):
            setattr(self, part, value)

    def __eq__(self, other):
        return type(self) is type(other) and all(
            getattr(self, p) == getattr(other, p) for p in self.parts
        )

    def __hash__(self):
        return hash(str(self))

    def __str__(self):
        return self.form.format(**{p: written(p, getattr(self, p)) for p in self.parts})

    __repr__ = __str__


def written(part, value):
    """A part of a node as it is written."""
    if part == "windows":
        return "".join(f" {w}" for w in value)
    if isinstance(value, (Depths, Band)):
        return f" {value}"
    if part in PREFIXED:
        before, behind = PREFIXED[part]
        return f"{before}{value}{behind}" if value else ""
    if part in ("negated", "of_joint"):
        return {"negated": "not ", "of_joint": "joint."}[part] if value else ""
    if part in ("pattern", "serial"):
        return quoted(value)
    if part == "by":
        several = f"({', '.join(value)})" if len(value) > 1 else "".join(value)
        return f" by {several}" if value else ""
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)


PREFIXED = {"condition": (" (", ")"), "among": (" (", ")"), "above": (" above ", ""),
            "less": (" - ", "")}


def quoted(text):
    """Text in quotes."""
    return '"' + text.replace('"', '""') + '"'


def node(name, parts, form):
    """A class of nodes."""
    return type(name, (Node,), {"parts": parts.split(), "form": form})


Compare = node("Compare", "left op right", "{left} {op} {right}")
Between = node("Between", "value low high negated", "{value} {negated}between {low} and {high}")
In = node("In", "value choices negated", "{value} {negated}in ({choices})")
Like = node("Like", "value pattern negated", "{value} {negated}like {pattern}")
# A class beside another, in the order of the trade.
Ranked = node("Ranked", "value negated side than", "{value} {negated}{side} than {than}")
IsUnknown = node("IsUnknown", "value negated", "{value} is {negated}unknown")
# any, no, every, latest, first of a record
Quantified = node("Quantified", "how record condition windows",
                  "{how} {record}{condition}{windows}")
# any or no so many of a record in a row
InARow = node("InARow", "how many record condition windows",
              "{how} {many} {record} in a row{condition}{windows}")
Due = node("Due", "call", "due for {call}")
# A rule of the rules in force, by its name.
Rule = node("Rule", "name", "{name}")
Kin = node("Kin", "serial by", "kin of {serial}{by}")
# Of all joints that a filter finds.
KinOfAll = node("KinOfAll", "filter by", "kin of ({filter}){by}")
# Two depths of hole, between which hours and turns count.
Depths = node("Depths", "low high", "between {low} and {high}")
# Two doglegs, between which they count.
Band = node("Band", "low high", "between {low} and {high}")
# A value of another joint, and what a value is over the joints that a filter finds.
OfJoint = node("OfJoint", "field serial", "{field} of {serial}")
OverJoints = node("OverJoints", "how field among", "{how} {field} over joints{among}")
CountJoints = node("CountJoints", "among", "count joints{among}")
# A field of yes or no that stands alone.
Flag = node("Flag", "field", "{field}")
# `kind` is a dimension, `number`, `text`, `flag` or `date`; `text` as written.
Literal = node("Literal", "kind value text", "{text}")
Field = node("Field", "name of_joint above windows", "{of_joint}{name}{above}{windows}")
Count = node("Count", "record condition windows", "count {record}{condition}{windows}")
Aggregate = node("Aggregate", "how field record condition windows",
                 "{how} {field} over {record}{condition}{windows}")
Pick = node("Pick", "field which record condition windows",
            "{field} of {which} {record}{condition}{windows}")
# `anchor` is a Moment or an Anchor.
Since = node("Since", "anchor", "since {anchor}")
Anchor = node("Anchor", "which record condition", "{which} {record}{condition}")
# A day, a clock time or today, less a duration.
Moment = node("Moment", "day less", "{day}{less}")
Before = node("Before", "moment", "before {moment}")
BeforeRecord = node("BeforeRecord", "anchor", "before {anchor}")
After = node("After", "moment", "after {moment}")
FromTo = node("FromTo", "first last", "from {first} to {last}")
InLast = node("InLast", "duration", "in last {duration}")
AsOf = node("AsOf", "moment", "as of {moment}")
# Of the joint, when the record spoken of was.
ThatTime = node("ThatTime", "", "at that time")


class Arithmetic(Node):
    """A sum, difference, product or quotient."""

    parts = ("op", "left", "right")

    def __str__(self):
        left, right = (f"({v})" if isinstance(v, Arithmetic) else v
                       for v in (self.left, self.right))
        return f"{left} {self.op} {right}"


class Negative(Node):
    """A figure below zero as much as another is above it."""

    parts = ("item",)

    def __str__(self):
        return f"-({self.item})" if isinstance(self.item, Arithmetic) else f"-{self.item}"


class Not(Node):
    """What does not hold."""

    parts = ("item",)

    def __str__(self):
        return f"not {tight(self.item, Not)}"


class And(Node):
    """What holds together."""

    parts = ("items",)

    def __str__(self):
        return " and ".join(tight(i, Not) for i in self.items)


class Or(Node):
    """Of which some hold."""

    parts = ("items",)

    def __str__(self):
        return " or ".join(tight(i, And, Not) for i in self.items)


LEAVES = (Compare, Between, In, Like, Ranked, IsUnknown, Quantified, InARow, Due, Rule, Kin, KinOfAll,
          Flag)


def tight(inner, *kinds):
    """A node as written where nodes of some kinds need no brackets."""
    return str(inner) if isinstance(inner, (*kinds, *LEAVES)) else f"({inner})"


# ---------------------------------------------------------------- reading

TOKEN = re.compile(
    r"""\s*(?:\#[^\n]*\n?\s*)*(?:
      (?P<date>\d{4}-\d\d-\d\d(?:[T ]\d\d:\d\d(?::\d\d)?(?:Z|[+-]\d\d:?\d\d)?)?)
    | (?P<number>\d+[ ]+\d+/\d+|\d+/\d+|\d+\.?\d*(?:[eE][+-]?\d+)?|\.\d+)
    | (?P<text>"(?:[^"]|"")*")
    | (?P<sign><=|>=|!=|[-=<>+*/(),%])
    | (?P<word>[A-Za-z_][A-Za-z0-9_.]*)
    )""",
    re.VERBOSE,
)
UNIT = re.compile(r"[ \t]*(%|[a-zA-Z]+[23]?(?:[/.](?:\d+[ ]?)?[a-zA-Z]+[23]?)*)")
NO_UNIT = {
    "or", "and", "not", "is", "like", "between", "since", "before", "after", "from", "to", "as",
    "of", "above", "over",
}
RECORD_WORDS = ["run", "makeup", "inspection", "finding", "repair", "event", "failure", "move",
                "hire", "decision"]


def record_word(word):
    """The record that a word names, in the singular or plural, or None."""
    one = word.lower().removesuffix("s")
    return one if one in RECORD_WORDS else None


class Parser:
    """Reads one text. Whether a name is a field, a word or a rule is left to the checker."""

    def __init__(self, text, rules=()):
        self.text = text
        self.at = 0
        self.rules = set(rules)
        self.tokens = []
        self.place = 0
        self._split()

    def _split(self):
        while self.text[self.at :].strip():
            match = TOKEN.match(self.text, self.at)
            if not match:
                rest = self.text[self.at :].strip()
                if rest.startswith("#"):
                    break
                raise BadFilter(f"cannot read {rest[:20]!r}")
            self.at = match.end()
            kind = match.lastgroup
            token = match.group(kind)
            if kind == "number":
                unit = UNIT.match(self.text, self.at)
                token = (token, self._unit(unit))
            self.tokens.append((kind, token))

    def _unit(self, match):
        if not match:
            return ""
        word = match.group(1)
        behind = self.text[match.end() :]
        if word.lower() in NO_UNIT:
            return ""
        if word.lower() == "in" and re.match(r"\s*(\(|last\b)", behind):
            return ""
        self.at = match.end()
        return word

    # -------------------------------------------------------- tokens

    def peek(self, ahead=0):
        """The token at hand: kind, and the text (words in lower case)."""
        at = self.place + ahead
        if at >= len(self.tokens):
            return (None, None)
        kind, token = self.tokens[at]
        return (kind, token.lower() if kind == "word" else token)

    def take(self, *words):
        """Takes the next token if it is one of some words or signs."""
        if self.peek()[0] in ("word", "sign") and self.peek()[1] in words:
            self.place += 1
            return self.tokens[self.place - 1][1].lower()
        return None

    def need(self, *words):
        """Takes a token that must come."""
        got = self.take(*words)
        if got is None:
            raise BadFilter(f"expected {' or '.join(words)}, found {self.peek()[1]!r}")
        return got

    def next(self):
        """Takes any token."""
        if self.place >= len(self.tokens):
            raise BadFilter("the filter ends too soon")
        self.place += 1
        return self.tokens[self.place - 1]

    # -------------------------------------------------------- the ladder

    def filter(self):
        """The whole text as a condition."""
        node = self.either()
        if self.place < len(self.tokens):
            raise BadFilter(f"did not expect {self.peek()[1]!r}")
        return node

    def either(self):
        items = [self.both()]
        while self.take("or"):
            items.append(self.both())
        return items[0] if len(items) == 1 else Or(items)

    def both(self):
        items = [self.negation()]
        while self.take("and"):
            items.append(self.negation())
        return items[0] if len(items) == 1 else And(items)

    def negation(self):
        return Not(self.negation()) if self.take("not") else self.comparison()

    def comparison(self):
        left = self.sum()
        op = self.take("=", "!=", "<", "<=", ">", ">=")
        if op:
            return Compare(left, op, self.sum())
        if self.take("is"):
            negated = bool(self.take("not"))
            self.need("unknown")
            return IsUnknown(left, negated)
        negated = False
        if self.peek()[1] == "not" and self.peek(1)[1] in ("between", "in", "like", "worse", "better"):
            self.take("not")
            negated = True
        if self.take("between"):
            low = self.sum()
            self.need("and")
            return Between(left, low, self.sum(), negated)
        if self.peek()[1] == "in" and self.peek(1)[1] == "(":
            self.take("in")
            self.need("(")
            choices = [self.sum()]
            while self.take(","):
                choices.append(self.sum())
            self.need(")")
            return In(left, choices, negated)
        if self.take("like"):
            return Like(left, unquoted(self.next()[1]), negated)
        if side := self.take("worse", "better"):
            self.need("than")
            return Ranked(left, negated, side, self.sum())
        if isinstance(left, Field) and not left.windows and not left.above:
            if left.name in self.rules:
                return Rule(left.name)
            return Flag(left)
        return left

    def sum(self):
        node = self.product()
        while op := self.take("+", "-"):
            node = Arithmetic(op, node, self.product())
        return node

    def product(self):
        node = self.primary()
        while op := self.take("*", "/"):
            node = Arithmetic(op, node, self.primary())
        return node

    def primary(self):
        kind, token = self.peek()
        if kind == "sign" and token == "(":
            self.take("(")
            node = self.either()
            self.need(")")
            return node
        if kind == "sign" and token == "-":
            self.take("-")
            return Negative(self.primary())
        if kind == "number":
            return self.quantity()
        if kind == "text":
            text = unquoted(self.next()[1])
            return Literal("text", text, quoted(text))
        if kind == "date" or token == "today":
            return Literal("date", self.next()[1], token)
        if kind == "word":
            return self.named()
        raise BadFilter(f"expected a value, found {token!r}")

    def quantity(self):
        """A number and its unit."""
        number, unit = self.next()[1]
        text = f"{number} {unit}".strip()
        dimension, value = quantity.read(text)
        if unit == "":
            dimension = "number"
        return Literal(dimension, value, text)

    def named(self):
        """What begins with a word."""
        word = self.peek()[1]
        follows = self.peek(1)[1]
        record = record_word(follows) if isinstance(follows, str) else None
        if word in ("any", "no") and self.peek(1)[0] == "number":
            self.next()
            many = int(self.next()[1][0])
            record = record_word(self.next()[1])
            self.need("in"), self.need("a"), self.need("row")
            return InARow(word, many, record, *self.condition_and_windows())
        if word in ("any", "no", "every", "latest", "last", "previous", "first") and record:
            self.next()
            how = "latest" if word == "last" else word
            return Quantified(how, *self.of_record())
        if word == "count" and follows in ("joints", "joint"):
            self.next(), self.next()
            return CountJoints(self.among())
        if word == "percentile" and self.peek(1)[0] == "number":
            self.next()
            how = f"percentile {self.next()[1][0]} of"
            self.need("of")
            field = self.source()
            self.need("over"), self.need("joints", "joint")
            return OverJoints(how, field, self.among())
        if word == "count" and record:
            self.next()
            return Count(*self.of_record())
        if word in ("sum", "max", "min", "mean") and isinstance(follows, str):
            self.next()
            field = self.source()
            self.need("over")
            if self.take("joints", "joint"):
                return OverJoints(word, field, self.among())
            return Aggregate(word, field, *self.of_record())
        if word == "due" and follows == "for":
            self.next(), self.next()
            return Due(self.next()[1].lower())
        if word == "kin" and follows == "of":
            self.next(), self.next()
            if self.take("("):
                filter_ = self.either()
                self.need(")")
                return KinOfAll(filter_, self.shared())
            serial = unquoted(self.next()[1])
            return Kin(serial, self.shared())
        if word in ("true", "false"):
            self.next()
            return Literal("flag", word == "true", word)
        field = self.source()
        if self.peek()[1] == "of" and self.peek(2)[1] == "before":
            self.next()
            record = record_word(self.next()[1])
            self.need("before"), self.need("last")
            return Pick(field, "previous", record, *self.condition_and_windows())
        if self.peek()[1] == "of" and self.peek(1)[1] in ("latest", "last", "previous", "first"):
            self.next()
            which = self.next()[1].lower()
            which = "latest" if which == "last" else which
            return Pick(field, which, *self.of_record())
        if self.peek()[1] == "of" and self.peek(1)[0] == "text":
            self.next()
            return OfJoint(field, unquoted(self.next()[1]))
        field.windows = self.windows()
        return field

    def among(self):
        """Which joints are meant; all of them where nothing stands there."""
        if not self.take("("):
            return None
        filter_ = self.either()
        self.need(")")
        return filter_

    def shared(self):
        """What kin must share."""
        if not self.take("by"):
            return []
        if not self.take("("):
            return [self.next()[1].lower()]
        words = [self.next()[1].lower()]
        while self.take(","):
            words.append(self.next()[1].lower())
        self.need(")")
        return words

    def source(self):
        """A field, with `above` or depths where it has them."""
        word = self.next()[1]
        of_joint = word.lower().startswith("joint.")
        name = word.split(".", 1)[1] if of_joint else word
        above = self.quantity() if self.take("above") else self.depths()
        return Field(name.lower(), of_joint, above, [])

    def depths(self):
        """Two depths behind a field, where a comparison follows them."""
        place = self.place
        if self.take("between"):
            low = self.quantity()
            self.need("and")
            high = self.quantity()
            kinds = {"length": Depths, "dogleg": Band}
            if high.kind in kinds and \
                    self.peek()[1] in ("<", "<=", ">", ">=", "=", "!=", "over", "since"):
                return kinds[high.kind](low, high)
        self.place = place
        return None

    def of_record(self):
        """A record with its condition and windows."""
        return (record_word(self.next()[1]), *self.condition_and_windows())

    def condition_and_windows(self):
        """What follows a record."""
        condition = None
        if self.take("("):
            condition = self.either()
            self.need(")")
        return condition, self.windows()

    def windows(self):
        """Windows, as many as follow."""
        out = []
        while True:
            word = self.peek()[1]
            if word == "since":
                self.next()
                out.append(Since(self.anchor()))
            elif word == "before" and self.peek(1)[1] in ("last", "latest", "first"):
                self.next()
                out.append(BeforeRecord(self.anchor()))
            elif word in ("before", "after"):
                self.next()
                out.append((Before if word == "before" else After)(self.moment()))
            elif word == "from":
                self.next()
                first = self.moment()
                self.need("to")
                out.append(FromTo(first, self.moment()))
            elif word == "in" and self.peek(1)[1] in ("last", "latest"):
                self.next(), self.next()
                out.append(InLast(self.quantity()))
            elif word == "at" and self.peek(1)[1] == "that":
                self.next(), self.next(), self.need("time")
                out.append(ThatTime())
            elif word == "as" and self.peek(1)[1] == "of":
                self.next(), self.next()
                out.append(AsOf(self.moment()))
            else:
                return out

    def anchor(self):
        """A record or a day."""
        if which := self.take("last", "latest", "first"):
            record = record_word(self.next()[1])
            condition = None
            if self.take("("):
                condition = self.either()
                self.need(")")
            return Anchor("first" if which == "first" else "last", record, condition)
        return self.moment()

    def moment(self):
        """A day, less a duration."""
        day = self.next()[1]
        return Moment(day if day[0].isdigit() else day.lower(),
                      self.quantity() if self.take("-") else None)


def unquoted(token):
    """A text without its quotes."""
    if not isinstance(token, str) or not token.startswith('"'):
        raise BadFilter(f"expected a text in quotes, found {token!r}")
    return token[1:-1].replace('""', '"')


def parse(text, rules=()):
    """The tree of a text."""
    return Parser(text, rules).filter()
