"""What a filter means: the truth of a tree for a joint, from its history.

Written from the contract. Whatever the book leaves open is carried as possible lives: a comparison
is decided only where all of them agree.
"""

import fields
import quantity
import syntax as s
import words
from figures import run_figure, run_portion
from folds import every, folded, percentile
from history import History
from program import JUDGED, judged
from records import NONE, RANK, Record
from truth import ANY, FALSE, TRUE, UNKNOWN, agreed, both, either, negate, of
from values import (
    INFINITE, SOFT_VALUE, UNKNOWN_VALUE, Date, Number, Several, Text, Word, Words, alternatives,
    arithmetic, choice, compare, is_unknown,
)
from when import FOREVER, Window, pieces

PLACES = ("pin", "middle", "box")
SHARED = ("heat", "tool_joint_heat", "run", "gauge", "ticket", "mill_order", "weld_lot")
SIGNED_LOW = {True: -INFINITE, False: 0.0}


class _Nowhere:
    """An entry for what is checked before any record is at hand."""

    order = ()


_NOWHERE = _Nowhere()


class SoftAnchor(Exception):
    """A record of which the witness cannot tell whether a window begins at it."""


class StrangeWord(ValueError):
    """A word that its vocabulary does not know: such a filter is an error."""


class Seen:
    """A record as a window shows it: whether it is in it, and which part of a run."""

    __slots__ = ("record", "sure", "window")

    def __init__(self, record, sure, window):
        self.record = record
        self.sure = sure
        self.window = window


class Meaning:
    """The meaning of filters in one book."""

    def __init__(self, history, program):
        self.history = history
        self.clock = history.clock
        self.rules = {r["name"]: r for r in history.catalogue.rules}
        self.rule_trees = {}
        self.program = program
        self.past = {}
        self.kin_sets = {}
        self.all_joints = {}

    def decide(self, tree, joint):
        """Set of outcomes of a filter for a joint."""
        return self.truth(tree, joint, None)

    def check(self, node, record=None):
        """Refuses words that no vocabulary knows, anywhere in a tree."""
        seen = record and Seen(Record(record, _NOWHERE, 0, {}), True, None)
        if isinstance(node, (s.Compare, s.In)):
            value = node.left if isinstance(node, s.Compare) else node.value
            kind = self.kind(value, seen) or "text"
            for literal in [node.right] if isinstance(node, s.Compare) else node.choices:
                own = isinstance(literal, s.Field) and self.kind(literal, seen) == kind
                if kind.partition(":")[0] in ("word", "set") and not own:
                    self.value(literal, None, seen, kind)
        for part in node.parts:
            inner = getattr(node, part)
            within = node.record if part == "condition" else record
            within = None if part in ("among", "filter") else within
            for child in inner if isinstance(inner, list) else [inner]:
                if isinstance(child, s.Node):
                    self.check(child, within)

    # ------------------------------------------------------------ conditions

    def truth(self, node, joint, seen):
        """Set of outcomes of a condition; `seen` is the record whose condition it is."""
        try:
            return getattr(self, f"_{type(node).__name__.lower()}")(node, joint, seen)
        except SoftAnchor:
            return ANY

    def _or(self, node, joint, seen):
        found = FALSE
        for item in node.items:
            found = either(found, self.truth(item, joint, seen))
            if found == TRUE:
                break
        return found

    def _and(self, node, joint, seen):
        found = TRUE
        for item in node.items:
            found = both(found, self.truth(item, joint, seen))
            if found == FALSE:
                break
        return found

    def _not(self, node, joint, seen):
        return negate(self.truth(node.item, joint, seen))

    def _compare(self, node, joint, seen):
        kind = self.kind(node.left, seen) or self.kind(node.right, seen)
        left = self.value(node.left, joint, seen, kind)
        right = self.value(node.right, joint, seen, kind)
        if isinstance(right, Number) and isinstance(node.right, s.Literal):
            right.half = quantity.half_digit(node.right.text, self.measure(node.left, seen))
        return compare(left, node.op, right)

    def _between(self, node, joint, seen):
        kind = self.kind(node.value, seen)
        value = self.value(node.value, joint, seen, kind)
        low, high = (self.value(n, joint, seen, kind) for n in (node.low, node.high))
        # Of one life at a time: a value within bounds is compared with both ends at once.
        found = agreed(
            both(compare(v, ">=", low), compare(v, "<=", high)) for v in alternatives(value)
        )
        return negate(found) if node.negated else found

    def _in(self, node, joint, seen):
        kind = self.kind(node.value, seen)
        value = self.value(node.value, joint, seen, kind)
        choices = [self.value(c, joint, seen, kind) for c in node.choices]
        outcomes = []
        for v in alternatives(value):
            found = FALSE
            for c in choices:
                found = either(found, compare(v, "=", c))
            outcomes.append(found)
        found = agreed(outcomes)
        return negate(found) if node.negated else found

    def _like(self, node, joint, seen):
        value = self.value(node.value, joint, seen, None)
        outcomes = []
        for v in alternatives(value):
            if v is UNKNOWN_VALUE:
                outcomes.append(UNKNOWN)
            elif v is SOFT_VALUE:
                outcomes.append(ANY)
            elif v is NONE:
                outcomes.append(FALSE)
            else:
                text = v.word if isinstance(v, Word) else v.text
                outcomes.append(of(words.like(node.pattern, text)))
        found = agreed(outcomes)
        return negate(found) if node.negated else found

    def _ranked(self, node, joint, seen):
        kind = self.kind(node.value, seen)
        value = self.value(node.value, joint, seen, kind)
        than = words.CLASSES.index(self.value(node.than, joint, seen, kind).word)
        side = words.CLASSES[than + 1:] if node.side == "worse" else words.CLASSES[:than]
        # Nothing is worse than the worst, or better than the best, whatever it is.
        outcomes = [FALSE if not side else UNKNOWN if v is UNKNOWN_VALUE
                    else ANY if v is SOFT_VALUE else of(v is not NONE and v.word in side)
                    for v in alternatives(value)]
        found = agreed(outcomes)
        return negate(found) if node.negated else found

    def _isunknown(self, node, joint, seen):
        found = is_unknown(self.value(node.value, joint, seen, None))
        return negate(found) if node.negated else found

    def _flag(self, node, joint, seen):
        return compare(self.value(node.field, joint, seen, None), "=", True)

    # ------------------------------------------------------------ rules and kin

    def _due(self, node, joint, seen):
        found = FALSE
        for rule in self.rules.values():
            if rule["call"] == node.call:
                found = either(found, self._rule_holds(rule, joint))
        return found

    def _rule(self, node, joint, seen):
        return self._rule_holds(self.rules[node.name], joint)

    def _rule_holds(self, rule, joint):
        if rule["name"] not in self.rule_trees:
            self.rule_trees[rule["name"]] = self.rule_tree(rule)
        return self.truth(self.rule_trees[rule["name"]], joint, None)

    def rule_tree(self, rule):
        """A rule of a rules file as one condition."""
        texts = [rule[key] for key in ("for", "when", "filter") if key in rule]
        texts += [f"({rule['value']}) {op} ({rule[key]})"
                  for key, op in (("above", ">"), ("below", "<")) if key in rule]
        return s.And([s.parse(text, self.rules) for text in texts])

    def _kin(self, node, joint, seen):
        key = (words.serial_key(node.serial), tuple(node.by))
        if key not in self.kin_sets:
            self.kin_sets[key] = self.kin(node)
        return of(joint.id in self.kin_sets[key])

    def kin(self, node):
        """Joints that share something with a joint."""
        found = set()
        for sister in self.history.find(node.serial):
            for by in node.by or SHARED:
                mine = self.shared(sister, by)
                found.update(j.id for j in self.history.joints.values()
                             if j is not sister and mine & self.shared(j, by))
        return found

    def _kinofall(self, node, joint, seen):
        holds = {j.id: self.truth(node.filter, j, None) for j in self.history.joints.values()}
        if any(h not in (TRUE, FALSE, UNKNOWN) for h in holds.values()):
            return ANY
        if holds[joint.id] == TRUE:
            return FALSE
        certain, perhaps = (
            any(self.is_kin(joint, j, node.by) for j in self.history.joints.values()
                if j is not joint and among(holds[j.id]))
            for among in (lambda h: h == TRUE, lambda h: h != FALSE))
        if holds[joint.id] != FALSE:
            # It may be one of those; that nothing links it to others is not said of it.
            return UNKNOWN if certain or perhaps else UNKNOWN | FALSE
        return TRUE if certain else UNKNOWN if perhaps else FALSE

    def is_kin(self, joint, other, by):
        """Whether two joints share something."""
        return any(self.shared(joint, b) & self.shared(other, b) for b in by or SHARED)

    def shared(self, joint, by):
        """What a joint may share, by kind of kinship."""
        f, records = joint.fields, joint.records
        if by == "tool_joint_heat":
            return {words.name(f[k]) for k in ("pin_heat", "box_heat") if f[k]}
        if by in ("heat", "mill_order", "weld_lot"):
            return {words.name(f[by])} if f[by] else set()
        if by == "run":
            return {r.entry.name for r in records["run"]}
        if by == "neighbour":
            return self.beside(joint)
        kind, field = {"gauge": ("makeup", "gauge"), "ticket": ("repair", "ticket")}[by]
        return {words.name(r.fields[field]) for r in records[kind] if r.fields[field]}

    def beside(self, joint):
        """Pairs of places beside each other in the runs of a joint, each named by its lower one."""
        out = set()
        for r in joint.records["run"]:
            at = r.fields["position"]
            out |= {(r.entry.name, at), (r.entry.name, at - 1)}
        return out

    # ------------------------------------------------------------ values

    def kind(self, node, seen):
        """What a value holds: the kind of its field; None for what says nothing of it."""
        if isinstance(node, s.Flag):
            node = node.field
        if isinstance(node, s.Field):
            record = None if node.of_joint or seen is None else seen.record.kind
            return (record and fields.kind(record, node.name)) or fields.kind(None, node.name)
        if isinstance(node, s.Pick):
            return fields.kind(node.record, node.field.name)
        if isinstance(node, (s.OfJoint, s.OverJoints)):
            return fields.kind(None, node.field.name)
        return None

    def measure(self, node, seen):
        """What a number measures; of arithmetic, what its first figure does."""
        if isinstance(node, s.Arithmetic):
            return self.measure(node.left, seen) or self.measure(node.right, seen)
        if isinstance(node, s.Negative):
            return self.measure(node.item, seen)
        if isinstance(node, (s.Pick, s.Aggregate)):
            return fields.measure(node.record, node.field.name)
        if isinstance(node, (s.OfJoint, s.OverJoints)):
            return fields.measure(None, node.field.name)
        if isinstance(node, s.Field):
            record = None if node.of_joint or seen is None else seen.record.kind
            own = record and fields.kind(record, node.name)
            return fields.measure(record if own else None, node.name)
        return None

    def value(self, node, joint, seen, kind):
        """The value of a node. `kind` is what it is compared with: it tells words from fields."""
        if isinstance(node, (s.Flag, s.Rule)):
            node = node.field if isinstance(node, s.Flag) else s.Field(node.name, False, None, [])
        if isinstance(node, s.Field) and self.kind(node, seen) is None or (
            isinstance(node, s.Field) and kind and kind.partition(":")[0] in ("word", "set")
            and self.kind(node, seen) != kind
        ):
            return self.word(node.name, kind)
        if isinstance(node, s.Literal):
            return self.literal(node, kind)
        return getattr(self, f"_v_{type(node).__name__.lower()}")(node, joint, seen)

    def literal(self, node, kind):
        """A literal as a value."""
        if node.kind == "flag":
            return node.value
        if node.kind == "date":
            return Date(*self.clock.moment(node.value))
        if node.kind == "text":
            if kind and kind.partition(":")[0] in ("word", "set"):
                return self.word(node.value, kind)
            return Text(node.value)
        # What is stored has fewer digits than that: it may lie on either side.
        return Number(node.value, computed=quantity.is_finer_than_stored(node.text))

    def word(self, text, kind):
        """A word as a filter writes it."""
        what, _, vocabulary = (kind or "text").partition(":")
        if what == "text":
            return Text(text)
        found = words.closed(vocabulary, text) if vocabulary in words.VOCABULARIES else text
        strange = vocabulary == "finding" and \
            words.fold(text) not in self.history.catalogue.finding_words
        if found is None or strange:
            raise StrangeWord(f"{text} is no {vocabulary}")
        return Word(found, vocabulary)

    def _v_arithmetic(self, node, joint, seen):
        kind = self.kind(node.left, seen)
        left = self.value(node.left, joint, seen, kind)
        if isinstance(left, Date) and isinstance(node.right, s.Literal):
            return Date(*self.clock.moment(node.left.value, node.right))
        return arithmetic(node.op, left, self.value(node.right, joint, seen, kind))

    def _v_negative(self, node, joint, seen):
        return arithmetic("-", Number(0.0), self.value(node.item, joint, seen, None))

    # ------------------------------------------------------------ other joints

    def _v_ofjoint(self, node, joint, seen):
        other, = self.history.find(node.serial)
        return self.value(node.field, other, None, None)

    def joints_among(self, node):
        """Joints that a filter finds, or may find, each with what is said of it."""
        for other in self.history.joints.values():
            holds = TRUE if node.among is None else self.truth(node.among, other, None)
            if holds != FALSE:
                yield other, holds

    def _v_countjoints(self, node, joint, seen):
        return self.of_all(node, self.count_joints)

    def _v_overjoints(self, node, joint, seen):
        return self.of_all(node, self.over_joints)

    def of_all(self, node, work):
        """What is so of all joints, worked out once."""
        key = str(node)
        if key not in self.all_joints:
            self.all_joints[key] = work(node)
        return self.all_joints[key]

    def count_joints(self, node):
        """How many joints a filter finds."""
        found = [holds for _, holds in self.joints_among(node)]
        soft = any(h not in (TRUE, FALSE, UNKNOWN) for h in found)
        return Number(sum(h == TRUE for h in found), len(found), soft=soft)

    def over_joints(self, node):
        """A value over the joints that a filter finds; one of which it is not known may be any."""
        lowest = SIGNED_LOW[node.field.name in fields.SIGNED]
        sure, maybe, soft = [], [], False
        for other, holds in self.joints_among(node):
            v = self.value(node.field, other, None, None)
            if not isinstance(v, Number):
                soft = soft or v is SOFT_VALUE
                v = Number(lowest, INFINITE)
            soft = soft or v.soft or holds not in (TRUE, UNKNOWN)
            (sure if holds == TRUE else maybe).append(v)
        if node.how.startswith("percentile"):
            found = percentile(int(node.how.split()[1]), sure, maybe)
        else:
            found = folded(node.how, sure, maybe, False, lowest)
        if isinstance(found, Number):
            return Number(found.low, found.high, True, soft)
        return SOFT_VALUE if soft else found

    def _v_field(self, node, joint, seen):
        own = None if seen is None or node.of_joint else fields.kind(seen.record.kind, node.name)
        if own and not node.windows:
            return self.record_field(seen, node.name, node.above)
        name = fields.ALIASES.get(node.name, node.name)
        if node.windows and isinstance(node.windows[0], s.ThatTime):
            return self.at_that_time(joint, name, seen)
        if node.above:
            return self.portion(joint, name, node.above, self.windows(joint, node.windows))
        if name in fields.COUNTERS:
            return self.counter(joint, name, self.windows(joint, node.windows))
        if node.windows:
            return self.then(joint, name, node.windows)
        return wrap(joint.fields.get(name), fields.kind(None, name), name)

    def record_field(self, seen, name, above=None):
        """A field of a record; of a run that a window cuts, what lies inside."""
        name = fields.ALIASES.get(name, name)
        record = seen.record
        if record.kind == "run" and above:
            return run_portion(record, name, above, seen.window)
        if record.kind == "run" and name in fields.SPLIT:
            return run_figure(record, name, seen.window)
        return wrap(record.fields.get(name), fields.kind(record.kind, name), name)

    def then(self, joint, name, windows):
        """A field of the joint as it was on a day."""
        return self.before(joint, name, self.span(windows[0].moment)[1])

    def before(self, joint, name, end):
        """A field of the joint as it was just before an instant."""
        if end not in self.past:
            self.past[end] = self.at(end)
        held = self.past[end].get(joint.id)
        if held is None:
            return UNKNOWN_VALUE
        return wrap(held.get(name), fields.kind(None, name), name)

    def at_that_time(self, joint, name, seen):
        """A field of the joint when a record was; a run when it began. What was written for that
        instant counts."""
        if seen.record.kind is None or seen.record.entry is _NOWHERE:
            return SOFT_VALUE
        moves = joint.records["move"] + joint.records["hire"]
        if name in fields.CUSTODY and not all(r.sure for r in moves):
            # What a fact set that proved to be in conflict later is not known, and the program does
            # not tell which fact set what.
            return SOFT_VALUE
        return self.before(joint, name, seen.record.begin + 1)

    def at(self, end):
        """Fields of every joint just before an instant."""
        past = History(self.history.entries, self.clock, end)
        held = {j.id: j.fields for j in past.joints.values()}
        for row in self.program.values(JUDGED, more=["--as-of", self.clock.day(end - 1).isoformat()]):
            if row["introduced_by"] in held:
                held[row["introduced_by"]].update(judged(row))
        return held

    # ------------------------------------------------------------ windows

    def span(self, moment):
        """First instant and end of a moment of a filter."""
        return self.clock.moment(moment.day, moment.less)

    def windows(self, joint, nodes):
        """The stretches that windows may mean, one for each life that may be the real one."""
        found = [Window()]
        # As on a day is asked of anchors too.
        past = min((self.span(n.moment)[1] for n in nodes if isinstance(n, s.AsOf)), default=FOREVER)
        for node in nodes:
            found = [a.cut(b) for a in found for b in self.window(joint, node, past)]
        # What begins somewhere in a stretch may begin behind its own end, and then holds nothing.
        return [part for window in found for part in window.in_order()]

    def window(self, joint, node, past=FOREVER):
        """The stretches that one window may mean; of anchors those before `past`."""
        if isinstance(node, s.Since):
            if isinstance(node.anchor, s.Anchor):
                return self.anchored(joint, node.anchor, past)
            return [Window(start=self.span(node.anchor)[0])]
        if isinstance(node, s.BeforeRecord):
            return self.before_record(joint, node.anchor)
        if isinstance(node, s.Before):
            return [Window(end=self.span(node.moment)[0])]
        if isinstance(node, s.After):
            return [Window(start=self.span(node.moment)[1])]
        if isinstance(node, s.FromTo):
            return [Window(self.span(node.first)[0],
                           self.span(node.last)[1])]
        if isinstance(node, s.InLast):
            return [Window(start=self.clock.moment("today", node.duration)[0])]
        return [Window(end=self.span(node.moment)[1])]

    def anchored(self, joint, anchor, past):
        """Where a window may begin that begins at a record."""
        records = joint.records[anchor.record]
        last = anchor.which == "last"
        found, edge = [], None
        book = of_the_book(anchor.condition)
        records = [r for r in records if r.at < past]
        for record in reversed(records) if last else records:
            sure = record.sure or book
            seen = Seen(record, sure, Window())
            holds = TRUE if anchor.condition is None else self.truth(anchor.condition, joint, seen)
            if holds not in (TRUE, FALSE, UNKNOWN):
                raise SoftAnchor
            if holds != FALSE:
                found.append(behind(record))
            if holds == TRUE and sure:
                edge = record
                break
        instants = [r.at for kind in RANK for r in joint.records[kind]]
        for start, end in joint.unseen():
            # What nobody saw may have been the anchor, unless a known one hides it.
            if edge is not None and last:
                start = max(start, edge.at)
            if edge is not None and not last:
                end = min(end, edge.begin)
            end = min(end, self.clock.now, past)
            if start < end:
                found += pieces(start, end, instants, start in joint.uncut)
        if edge is None:
            found.append(Window())
        return found

    def before_record(self, joint, anchor):
        """Where a window may end that ends before a record; before a run is before it began."""
        last = anchor.which == "last"
        run = anchor.record == "run"
        place = lambda r: (r.begin, INFINITE) if run else r.key[:3]
        book = of_the_book(anchor.condition)
        found, edge = [], None
        for r in sorted(joint.records[anchor.record], key=place, reverse=last):
            seen = Seen(r, r.sure or book, Window())
            holds = TRUE if anchor.condition is None else self.truth(anchor.condition, joint, seen)
            if holds not in (TRUE, FALSE, UNKNOWN):
                raise SoftAnchor
            if holds != FALSE:
                found.append(Window(end=place(r)[0], stop=place(r)))
            if holds == TRUE and seen.sure:
                edge = place(r)[0]
                break
        if edge is None or any(end > edge if last else start < edge
                               for start, end in joint.unseen()):
            # There may be none, or one that nobody saw: how much the program makes of that it says.
            raise SoftAnchor
        return found

    def seen(self, joint, kind, window, condition=None):
        """Records of a kind in a window, oldest first; runs with the part that lies in it."""
        out = []
        book = of_the_book(condition)
        for r in joint.records[kind]:
            if kind == "run":
                if window.start < r.at and r.begin < window.end and window.start < window.end \
                        and r.begin < r.at:
                    out.append(Seen(r, r.sure or book, window))
            elif window.has(r):
                out.append(Seen(r, r.sure or book, window))
        return out

    @staticmethod
    def blind(joint, window):
        """Whether a window holds time of which nothing is known."""
        return any(window.meets(a, b) for a, b in joint.unseen())

    # ------------------------------------------------------------ records

    def _quantified(self, node, joint, seen):
        windows = self.windows(joint, node.windows)
        return agreed(self.quantified(node, joint, window) for window in windows)

    def quantified(self, node, joint, window):
        """A quantifier in one stretch."""
        held = self.seen(joint, node.record, window, node.condition)
        tested = [
            (x, TRUE if node.condition is None else self.truth(node.condition, joint, x))
            for x in held
        ]
        blind = self.blind(joint, window)
        if node.how in ("latest", "previous", "first"):
            return self.latest(node.how, tested, joint, window)
        if node.how == "every":
            return every(tested, blind)
        found = UNKNOWN if blind else FALSE
        for x, holds in tested:
            found = either(found, holds if x.sure else both(holds, UNKNOWN))
        return negate(found) if node.how == "no" else found

    def latest(self, how, tested, joint, window):
        """The condition of the latest, previous or first record of a stretch."""
        last = how != "first"
        found, edge, seen, sure = [], None, 0, 0
        skipped = 1 if how == "previous" else 0
        for x, holds in reversed(tested) if last else tested:
            # Of the one before the latest, one must come later, and not more than one surely does.
            if seen >= skipped:
                found.append(holds)
            seen += 1
            sure += x.sure
            if sure > skipped:
                edge = x.record
                break
        if self.hidden(last, edge, joint, window):
            return UNKNOWN
        return agreed(found if edge is not None else [FALSE, *found])

    def _inarow(self, node, joint, seen):
        windows = self.windows(joint, node.windows)
        found = agreed(self.in_a_row(node, joint, window) for window in windows)
        return negate(found) if node.how == "no" else found

    def in_a_row(self, node, joint, window):
        """Whether so many records follow each other that all meet the condition."""
        held = [(x, self.truth(node.condition, joint, x))
                for x in self.seen(joint, node.record, window, node.condition)]
        worst = self.longest(joint, held, lambda h: h == TRUE, True) >= node.many
        best = self.longest(joint, held, lambda h: bool(h & TRUE), True) >= node.many
        may = self.longest(joint, held, lambda h: h != FALSE, False) >= node.many
        may_not = self.longest(joint, held, lambda h: not h & FALSE, False) < node.many
        blind = self.blind(joint, window)
        found = (TRUE if best else 0) | (FALSE if may_not and not blind else 0)
        if not worst and (blind or may):
            found |= UNKNOWN
        return found

    @staticmethod
    def longest(joint, held, fits, certain):
        """How many at most follow each other that fit: for certain with none between them, seen or
        unseen, that may not; else with none between them that surely does not."""
        longest = row = 0
        before = None
        for x, holds in held:
            unseen = certain and before is not None and any(
                end > before and start < x.record.begin for start, end in joint.unseen())
            if unseen or (not fits(holds) and (certain or x.sure)):
                row = 0
            if fits(holds) and (x.sure or not certain):
                row += 1
            longest, before = max(longest, row), x.record.at
        return longest

    @staticmethod
    def hidden(last, edge, joint, window):
        """Whether a record that nobody saw may stand before or behind the known one."""
        for start, end in joint.unseen():
            if edge is not None and last:
                start = max(start, edge.at)
            if edge is not None and not last:
                # Facts of one instant follow each other by name: an unseen one of it may be before.
                end = min(end, edge.begin + (start < edge.begin))
            if window.meets(start, end):
                return True
        return False

    def _v_count(self, node, joint, seen):
        return choice([self.count(node, joint, w) for w in self.windows(joint, node.windows)])

    def count(self, node, joint, window):
        """How many records a stretch holds; of make-ups, how often."""
        low = high = 0
        soft = False
        for x in self.seen(joint, node.record, window, node.condition):
            holds = TRUE if node.condition is None else self.truth(node.condition, joint, x)
            times = x.record.fields.get("times", 1) if node.record == "makeup" else 1
            if holds != FALSE:
                high += times
            if holds == TRUE and x.sure:
                low += times
            soft = soft or holds not in (TRUE, FALSE, UNKNOWN)
        if self.blind(joint, window):
            high = INFINITE
        return Number(low, high, soft=soft)

    def _v_aggregate(self, node, joint, seen):
        return choice([self.fold(node, joint, w) for w in self.windows(joint, node.windows)])

    def fold(self, node, joint, window):
        """sum, max, min or mean over records of a stretch."""
        signed = node.field.name in fields.SIGNED
        sure, maybe, soft = [], [], False
        for x in self.seen(joint, node.record, window, node.condition):
            holds = TRUE if node.condition is None else self.truth(node.condition, joint, x)
            if holds == FALSE:
                continue
            soft = soft or holds not in (TRUE, UNKNOWN)
            v = self.record_field(x, node.field.name, node.field.above)
            if v is NONE:
                continue
            if v is UNKNOWN_VALUE:
                least = SIGNED_LOW[signed] if node.how in ("sum", "mean") else -INFINITE
                v = Number(least, INFINITE)
            soft = soft or v.soft
            (sure if holds == TRUE and x.sure else maybe).append(v)
        blind = self.blind(joint, window)
        found = folded(node.how, sure, maybe, blind, SIGNED_LOW[signed])
        if isinstance(found, Number):
            found.computed = True
            found.soft = soft
        return SOFT_VALUE if soft and not isinstance(found, Number) else found

    def _v_pick(self, node, joint, seen):
        found = []
        for window in self.windows(joint, node.windows):
            found += self.picked(node, joint, window)
        return choice(found)

    def picked(self, node, joint, window):
        """The field of the latest (or first) record that fits, in each life that may be."""
        last = node.which != "first"
        held = self.seen(joint, node.record, window, node.condition)
        found, edge, seen, sure = [], None, 0, 0
        skipped = 1 if node.which == "previous" else 0
        for x in reversed(held) if last else held:
            holds = TRUE if node.condition is None else self.truth(node.condition, joint, x)
            if holds == FALSE:
                continue
            if holds not in (TRUE, UNKNOWN):
                return [SOFT_VALUE]
            if seen >= skipped:
                found.append(self.record_field(x, node.field.name, node.field.above))
            seen += 1
            sure += holds == TRUE and x.sure
            if sure > skipped:
                edge = x.record
                break
        if edge is None or self.hidden(last, edge, joint, window):
            found.append(UNKNOWN_VALUE)
        return found

    # ------------------------------------------------------------ counters

    def counter(self, joint, name, windows):
        """An accumulated figure of the joint in the stretches that windows may mean."""
        add = self.makeups if name in ("pin_makeups", "box_makeups") else self.accumulated
        return choice([add(joint, name, w) for w in windows])

    def accumulated(self, joint, name, window):
        """Hours and the like: what runs gave, and what the joint brought with it."""
        if name.startswith(tuple(fields.AT_PLACES.values())) and not self.places_stay(joint, name):
            return Number(0.0, INFINITE, soft=True)
        if name in fields.AT_PLACES:
            places = [self.accumulated(joint, f"{fields.AT_PLACES[name]}_{p}", window)
                      for p in PLACES]
            return self.worst(self.brought(joint, name, window), places)
        parts = [self.brought(joint, name, window)]
        for x in self.seen(joint, "run", window):
            v = run_figure(x.record, name, window)
            if v is UNKNOWN_VALUE:
                v = Number(0.0, INFINITE)
            parts.append(v if x.sure else Number(0.0, v.high, v.computed, v.soft))
        if name == "hours":
            parts += [Number(least, INFINITE) for least in joint.told_in(window) if least]
        return self.total(joint, window, parts, name in fields.LARGEST)

    def places_stay(self, joint, name):
        """Whether the three places of a joint are the same metal in all its runs. Where its length
        changed they are not, and the witness does not follow damage along the body. A collar has one
        figure of its body, in the middle, however long a tally says it is."""
        lengths = {round(x or 0, 6) for x in
                   [joint.fields["length"], *(r.fields["length"] for r in joint.records["run"])]}
        if joint.fields["component"] == "drill_collar" and name == "damage_middle":
            lengths = {}
        shorter = any(self.history.catalogue.moves_places(r.fields["work"])
                      or r.fields["removed"] is not None for r in joint.records["repair"])
        return len(lengths) < 2 and not shorter

    @staticmethod
    def worst(brought, places):
        """What the place has that has most. What was stated of a life before the book is of its
        worst place, and nobody knows which that was."""
        low = max(max(p.low for p in places), brought.low + min(p.low for p in places))
        high = max(p.high for p in places)
        return Number(low, high, True, any(p.soft for p in places))

    @staticmethod
    def total(joint, window, parts, largest):
        """Parts added up, or the largest of them, with what gaps leave open."""
        join = (lambda xs: max(xs, default=0.0)) if largest else sum
        low, high = join([p.low for p in parts]), join([p.high for p in parts])
        if any(window.meets(a, b) for a, b in joint.gaps):
            high = INFINITE
        soft = any(p.soft for p in parts)
        return Number(low, high, True, soft)

    def brought(self, joint, name, window):
        """What a joint brought with it, as far as a stretch holds it."""
        if joint.new or not window.meets(-FOREVER, joint.entered):
            return Number(0.0)
        whole_of = next((w for w, at in fields.AT_PLACES.items()
                         if name != w and name.startswith(at + "_")), None)
        place = whole_of is not None
        stated = joint.opening.get(whole_of or name)
        if stated is None or name in fields.LARGEST:
            return Number(0.0, INFINITE)
        kind, text = next(iter(stated.items()))
        value = quantity.read(text)[1]
        whole = window.late == -FOREVER and window.end >= joint.entered
        high = value if kind == "known" else INFINITE
        return Number(value if whole and not place else 0.0, high, True)

    def makeups(self, joint, name, window):
        """Make-ups of the present generation of an end."""
        end = name[:3]
        cuts = [k for k in joint.cuts[end] if k[0] < window.end]
        began = cuts[-1] if cuts else None
        parts = [Number(0.0)]
        if began is None:
            parts = [self.brought(joint, name, window)]
        elif joint.entered > began[0]:
            parts = [self.brought(joint, name, window)]
        for r in joint.records["makeup"]:
            if r.fields["end"] == end and window.has(r) and (began is None or r.key > began):
                parts.append(Number(r.fields["times"] if r.sure else 0, r.fields["times"]))
        if began is not None:
            window = window.cut(Window(start=began[0]))
        found = self.total(joint, window, parts, False)
        found.computed = False
        return found

    def portion(self, joint, name, portion, windows):
        """Hours or turns above a dogleg, or between two depths."""
        return choice([self.portion_in(joint, name, portion, w) for w in windows])

    def portion_in(self, joint, name, portion, window):
        brought = self.brought(joint, name, window)
        parts = [Number(0.0, brought.high)]
        for x in self.seen(joint, "run", window):
            v = run_portion(x.record, name, portion, window)
            if v is UNKNOWN_VALUE:
                v = Number(0.0, INFINITE)
            parts.append(v if x.sure else Number(0.0, v.high, True, v.soft))
        return self.total(joint, window, parts, False)


def of_the_book(condition):
    """Whether a condition asks which runs are in conflict: that is asked of what is written, in
    which such runs stand whether or not they took place."""
    if not isinstance(condition, s.Node):
        return False
    if isinstance(condition, s.Field) and condition.name == "conflicting":
        return True
    parts = (getattr(condition, part) for part in condition.parts)
    return any(of_the_book(v) for part in parts for v in (part if isinstance(part, list) else [part]))


def behind(record):
    """The stretch behind a record, of a run behind its end. What the same entry says of the joint
    is not behind it."""
    return Window(start=record.at, key=(*record.key[:3], INFINITE))


def wrap(raw, kind, name):
    """A field's raw value as a value to compare."""
    if raw is NONE:
        return NONE
    if raw is None:
        return UNKNOWN_VALUE
    what, _, vocabulary = kind.partition(":")
    if what == "text":
        if name == "criterion":
            return Word(raw, name)
        return Several(raw) if name in fields.SEVERAL else Text(raw)
    if what == "word":
        if name in fields.SEVERAL:
            return Several(raw)
        return Word(raw, vocabulary)
    if what == "set":
        return Words(raw)
    if what == "flag":
        return raw
    if what == "date":
        return Date(raw, raw)
    if isinstance(raw, tuple):
        return Number(*raw, computed=True)
    return Number(float(raw), computed=name in fields.COMPUTED)
