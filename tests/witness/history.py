"""What the entries say: joints, and the records of their lives, folded from entries alone.

Nothing of a value that is not known is guessed: it is left out of a record's fields. `NONE` stands
where it is known that there is none.
"""

import quantity
from adopted import Adopted
from clashes import Clashes
from readings import days_of, read_apart, take_readings
from records import ENTRY_RANK, KINDS, NONE, Record
from runs import add_runs
from words import CLASSES, closed, fold, name, serial_key

FOREVER = float("inf")


class Joint:
    """A joint: the entry that introduced it, and everything said of it."""

    def __init__(self, entry):
        self.id = entry.name
        self.entry = entry
        self.body = entry.body
        self.serial = entry.body["serial"]
        self.aliases = {serial_key(self.serial)}
        self.entered = entry.start
        self.new = entry.body.get("new", False)
        self.opening = {}
        self.gaps = []
        # Stretches of which the hours are told and nothing else: from, to, so many of them, and
        # whether somebody told when it began.
        self.told = []
        # Where such a stretch begins no run is divided.
        self.uncut = set()
        self.records = {kind: [] for kind in KINDS}
        self.fields = {}
        self.conflicted = False

    def told_in(self, window):
        """Of the hours told of each stretch those that a window must hold, for there is no room for
        them outside it (s). Where its beginning is not told, or it is shorter than its hours, nobody
        knows when the first of them were."""
        for start, end, hours, begun in self.told:
            if not begun or hours > (end - start) / 1000:
                yield hours if window.late == -FOREVER and window.end >= end else 0.0
                continue
            before = min(max(window.late, start), end) - start
            after = end - min(max(window.end, start), end)
            yield max(0.0, hours - (before + after) / 1000)

    def unseen(self):
        """Stretches of its life of which nothing is known, in order."""
        before = [] if self.new else [(-FOREVER, self.entered)]
        return before + sorted(self.gaps)


def in_tally(history, run):
    """Joints that were in a run at some time."""
    tallies = [run.body["tally"]] + [s["tally"] for s in run.body.get("swaps", [])]
    found = [history.joint(line["j"]) for tally in tallies for line in tally if line.get("j")]
    return [j for j in found if j]


def under_way(run, clock):
    """When a run was certainly under way: by the rows of its log where only the day of its beginning or
    end is known, else from the end of the first day to the beginning of the last."""
    log = run.body.get("log") or {}
    at, until = clock.span(run.body["start"])[1], run.start
    if at > clock.span(run.body["start"])[0] and log.get("rows_from"):
        at = clock.span(log["rows_from"])[0]
    if run.end > until and log.get("rows_to"):
        until = clock.span(log["rows_to"])[0]
    return at, until


class History:
    """All joints of a book and their records, as they stand now."""

    def __init__(self, entries, clock, until=None):
        """`until` is the instant before which facts count, for a history of earlier."""
        self.clock = clock
        self.entries = entries
        struck = struck_out(entries)
        # What is dated after today does not count.
        tomorrow = clock.moment("today")[1]
        then = tomorrow if until is None else until
        live = [e for e in entries if e.name not in struck and e.start < tomorrow]
        # Two joints that proved to be one were one before anybody knew.
        self.merges = [e for e in live if e.kind == "identity" and e.body["change"] == "merge"]
        self.fallen = {
            name_
            for e in live if e.kind == "decision" and e.body.get("ruling") == "settle"
            for name_ in e.body.get("falls", [])
        }
        # A run counts from its beginning on, though its entry is of its end. What was settled later
        # was so all the time, and so was an instrument that failed a later check.
        begun = lambda e: clock.span(e.body["start"])[0] if e.kind == "run" else e.start
        live = [e for e in live if begun(e) < then or e.kind == "check"]
        self.live = sorted(
            (e for e in live if e.name not in self.fallen), key=lambda e: (e.start, e.order)
        )
        self.catalogue = Adopted(self.live)
        self.by_name = {e.name: e for e in self.live}
        self.joints = {e.name: Joint(e) for e in self.live if e.kind == "joint"}
        self.merged = {}
        self._identities()
        self.checks = {}
        for e in self.of_kind("check"):
            self.checks.setdefault(name(e.body["tag"]), []).append(e)
        self.clashes = Clashes(self).found()
        self._lives()

    def of_kind(self, *kinds):
        return [e for e in self.live if e.kind in kinds]

    def joint(self, reference):
        """The joint that an entry names, after merges; None if it is no more."""
        entry = reference.rsplit("@", 1)[1]
        while entry in self.merged:
            entry = self.merged[entry]
        return self.joints.get(entry)

    def joints_of(self, body):
        """The joints that an entry names in its list."""
        found = [self.joint(r) for r in body.get("joints", [])]
        return list(dict.fromkeys(j for j in found if j))

    # ------------------------------------------------------------ identity

    def _identities(self):
        for e in self.merges:
            joint, same = (e.body[key].rsplit("@", 1)[1] for key in ("joint", "same"))
            if joint in self.joints and same in self.joints:
                self.merged[same] = joint
        for e in self.of_kind("identity"):
            joint = e.body["joint"].rsplit("@", 1)[1]
            if e.body["change"] != "merge" and joint in self.joints:
                self.joints[joint].aliases.add(serial_key(e.body["serial"]))
                if e.body["change"] == "remark":
                    self.joints[joint].serial = e.body["serial"]
        for same, joint in self.merged.items():
            gone = self.joints.pop(same, None)
            if gone and joint in self.joints:
                self.joints[joint].aliases |= gone.aliases
        for e in self.of_kind("opening"):
            joint = self.joint(e.body["joint"])
            if joint:
                joint.opening = {
                    key: stated for key, stated in e.body.items() if isinstance(stated, dict)
                }
        for e in self.of_kind("gap"):
            since, until = e.body.get("since"), e.body.get("until")
            end = self.clock.span(until)[1] if until else FOREVER
            hours = quantity.value(e.body.get("hours"), "time") or 0.0
            stretch = (e.start, end)
            if since:
                # One of which only the end is told began no later than its hours before it.
                stretch = (min(self.clock.span(since)[0], e.end - hours * 1000), e.end)
            for joint in self.joints_of(e.body):
                if since:
                    joint.uncut.add(stretch[0])
                left = hours
                if "hours" in e.body:
                    left = self._not_in_runs(joint, e, stretch, hours)
                    if left is None:
                        # The book has the very run of which they are told.
                        continue
                joint.gaps.append(stretch)
                if left:
                    joint.told.append((*stretch, left, since != e.when))

    def _not_in_runs(self, joint, e, stretch, hours):
        """What is left of hours told of a stretch, where some may be hours of a run of the book; None
        where all are. A joint is in one run at a time."""
        begun = e.body.get("since") != e.when
        for run in self.of_kind("run"):
            start, end = self.clock.span(run.body["start"])[0], run.end
            if joint not in in_tally(self, run):
                continue
            same = e.body.get("run") and name(e.body["run"]) == name(run.body["name"])
            if same and start < stretch[1] and end > stretch[0]:
                return None
            at, until = under_way(run, self.clock)
            overlap = min(until, stretch[1]) - max(at, stretch[0])
            if begun and overlap > 0:
                hours = max(0.0, hours - overlap / 1000)
            elif not begun and (overlap > 0 or same and end <= stretch[0]):
                hours = 0.0
        return hours

    def sure(self, joint, entry):
        """Whether an entry is out of conflict for a joint."""
        return entry.name not in self.clashes.get(joint.id, ())

    # ------------------------------------------------------------ lives

    def _lives(self):
        for joint in self.joints.values():
            joint.conflicted = joint.id in self.clashes
            self._certificate(joint)
        self._care()
        self._custody()
        self._decisions()
        self._ends()
        add_runs(self)
        for joint in self.joints.values():
            for records in joint.records.values():
                records.sort(key=lambda r: r.key)
            take_readings(joint, self.catalogue, self.clock)
            # The worse reading stands, so that nothing else depends on it.
            joint.fields["conflicted"] |= read_apart(joint, self.clock)
            self._summary(joint)

    def _certificate(self, joint):
        b, f = joint.body, joint.fields
        length = lambda key: quantity.value(b.get(key), "length")
        f |= {
            "serial": joint.serial, "introduced_by": joint.id, "component": b["component"],
            "od": length("od"), "nominal_wall": length("wall"),
            "weight": quantity.value(b.get("weight"), "linear_mass"), "length": length("length"),
            "tool_joint_od": length("tj_od"), "tool_joint_id": length("tj_id"),
            "entered": joint.entered, "entered_new": joint.new, "conflicted": joint.conflicted,
            "coating": b.get("coating"), "hardband_alloy": b.get("hardband"),
            "life_complete": joint.new and not joint.gaps,
        }
        if f["nominal_wall"] is None and f["od"] is not None and length("id") is not None:
            f["nominal_wall"] = (f["od"] - length("id")) / 2
        for key in ("heat", "pin_heat", "box_heat", "weld_lot", "maker", "mill_order",
                    "certificate", "owner"):
            f[key] = b.get(key)
        for key in ("grade", "range", "connection", "box_connection"):
            vocabulary = key.removeprefix("box_")
            f[key] = b.get(key) and (closed(vocabulary, b[key]) or " ".join(b[key].split()))
        if not f["box_connection"]:
            # The box has that of the pin.
            f["box_connection"] = NONE
        f["made"] = self.clock.span(b["made"])[0] if b.get("made") else None

    def _care(self):
        for e in self.of_kind("inspection"):
            joint = self.joint(e.body["joint"])
            if joint:
                self._inspection(joint, e)
        for e in self.of_kind("repair"):
            joint = self.joint(e.body["joint"])
            if joint:
                b = e.body
                applied = {"hardband": "hardband_alloy", "coat": "coating"}.get(b["work"])
                if applied and b.get("material"):
                    joint.fields[applied] = b["material"]
                joint.records["repair"].append(Record("repair", e, e.start, {
                    "date": e.start, "work": b["work"], "end": b.get("end", NONE),
                    "shop": b.get("shop"), "ticket": b.get("ticket"),
                    "removed": quantity.value(b.get("removed"), "length"),
                }))
        for e in self.of_kind("event"):
            b = e.body
            for joint in self.joints_of(b):
                joint.records["event"].append(Record("event", e, e.start, {
                    "date": e.start, "what": b["what"],
                    "pull": quantity.value(b.get("pull"), "force"),
                    "torque": quantity.value(b.get("torque"), "torque"),
                    "blows": b.get("count"), "depth": quantity.value(b.get("depth"), "length"),
                }))
        for e in self.of_kind("failure"):
            joint, b = self.joint(e.body["joint"]), e.body
            if joint:
                run = self.by_name.get(b.get("run"))
                joint.records["failure"].append(Record("failure", e, e.start, {
                    "date": e.start, "what": b["what"], "place": b.get("place"),
                    "end": b.get("end", NONE),
                    "from_pin": quantity.value(b.get("at"), "length"),
                    "well": run.body["well"] if run else b.get("well"),
                    "depth": quantity.value(b.get("depth"), "length"),
                    "torque": quantity.value(b.get("torque"), "torque"),
                    "pull": quantity.value(b.get("pull"), "force"),
                    "operation": b.get("operation"),
                }))

    def _inspection(self, joint, e):
        b = e.body
        f = {
            "date": e.start,
            "covers": self.catalogue.covers(
                joint.fields["component"], b.get("methods", []), b.get("covers", [])
            ),
            "method": set(b.get("methods", [])),
            "declared_class": b.get("declared", NONE), "paint": b.get("paint", NONE),
            "findings": len(b.get("findings", [])), "gauge": b.get("instrument"),
        }
        for key in ("standard", "firm", "inspector", "report"):
            f[key] = b.get(key)
        f["instrument_doubtful"] = self.doubtful(b.get("instrument"), e)
        joint.records["inspection"].append(Record("inspection", e, e.start, f))
        for n, line in enumerate(b.get("findings", [])):
            joint.records["finding"].append(Record("finding", e, e.start, {
                "date": e.start, "what": fold(line["what"]), "place": line.get("place"),
                "end": line.get("end", NONE),
                "size": quantity.value(line.get("size"), "length", "ratio"),
                "share": quantity.value(line.get("share"), "ratio"),
                "transverse": line.get("transverse"),
                "from_pin": quantity.value(line.get("at"), "length"),
            }, n))

    def doubtful(self, tag, entry):
        """Whether an instrument failed its last check before an entry, or its next one after."""
        return self.doubtful_at(tag, entry.start)

    def doubtful_at(self, tag, at):
        """The same of an instant."""
        checks = self.checks.get(name(tag or ""), [])
        before = max((c.start for c in checks if c.start < at), default=None)
        after = min((c.start for c in checks if c.start >= at), default=None)
        # Of several checks of one moment a failed one counts.
        return any(not c.body["passed"] for c in checks if c.start in (before, after))

    def _custody(self):
        facts = self.of_kind("move", "hire_out", "hire_in", "decision", "failure")
        facts.sort(key=lambda e: (e.start, ENTRY_RANK[e.kind], e.order))
        for joint in self.joints.values():
            b = joint.body
            joint.fields |= {
                "location": b.get("location"), "string": b.get("string"), "status": "in_stock",
                "hire": NONE, "on_hire": False, "moved": None, "failed": False,
                "failed_on": None, "failure": NONE,
            }
            joint.open_hires = {}
            # Whether a decision keeps it from going out.
            joint.aside = False
        for e in facts:
            body = e.body
            named = self.joints_of(body)
            if e.kind == "failure":
                named = [j for j in [self.joint(body["joint"])] if j]
            for joint in named:
                getattr(self, f"_{e.kind}")(joint, e, body)
        for joint in self.joints.values():
            joint.fields["status"] = self._held(joint, joint.fields["status"])

    def _set(self, joint, e, **values):
        """What an entry says of a joint from then on. What one in conflict says nobody knows,
        until another says it."""
        sure = self.sure(joint, e)
        joint.fields |= {key: value if sure else None for key, value in values.items()}

    def _move(self, joint, e, b):
        f = joint.fields
        if b.get("location"):
            self._set(joint, e, location=b["location"])
        if b.get("string"):
            self._set(joint, e, string=NONE if b["string"] == "-" else b["string"])
        if b.get("status"):
            self._set(joint, e, status=b["status"])
        self._set(joint, e, moved=e.start)
        # The move itself, if it was made, says what it says.
        string = f["string"] if not b.get("string") else \
            NONE if b["string"] == "-" else b["string"]
        joint.records["move"].append(Record("move", e, e.start, {
            "date": e.start, "location": b.get("location") or f["location"],
            "string": string,
            "status": self._held(joint, b.get("status") or f["status"]),
        }, sure=self.sure(joint, e)))

    @staticmethod
    def _held(joint, status):
        """A joint that failed is not in stock, whatever was written of it."""
        return "quarantine" if joint.fields["failed"] and status == "in_stock" else status

    def _hire_out(self, joint, e, b):
        self._set(joint, e, hire=b["hire"], on_hire=True, status="on_hire", moved=e.start)
        if b.get("location"):
            self._set(joint, e, location=b["location"])
        record = Record("hire", e, e.start, {
            "date": e.start, "name": b["hire"], "party": b["party"],
            "contract": b.get("contract"), "back": None, "still_out": True,
        }, sure=self.sure(joint, e))
        joint.records["hire"].append(record)
        joint.open_hires[name(b["hire"])] = record

    def _hire_in(self, joint, e, b):
        record = joint.open_hires.pop(name(b["hire"]), None)
        if record:
            record.fields |= {"back": e.start, "still_out": False}
            record.sure = record.sure and self.sure(joint, e)
        self._set(joint, e, hire=NONE, on_hire=False, moved=e.start)
        # Coming home undoes no decision.
        if not joint.aside:
            self._set(joint, e, status="in_stock")
        if joint.open_hires:
            # It was out twice: from which it is back nobody knows.
            joint.fields |= {"on_hire": None, "hire": None, "status": None}
        if b.get("location"):
            self._set(joint, e, location=b["location"])

    def _decision(self, joint, e, b):
        ruling = b["ruling"]
        if ruling in ("quarantine", "retire"):
            joint.aside = True
            self._set(joint, e, status={"retire": "retired"}.get(ruling, ruling))
        elif ruling == "release":
            joint.aside = False
            self._set(joint, e, status="on_hire" if joint.open_hires else "in_stock")
            if joint.fields["hire"] is None:
                joint.fields["status"] = None

    def _failure(self, joint, e, b):
        joint.fields |= {"failed": True, "failed_on": e.start, "failure": b["what"]}
        if b["what"] == "lost":
            self._set(joint, e, status="lost")

    def _decisions(self):
        for e in self.of_kind("decision"):
            b = e.body
            for joint in self.joints_of(b):
                until = b.get("until")
                joint.records["decision"].append(Record("decision", e, e.start, {
                    "date": e.start, "ruling": b["ruling"], "class": b.get("class", NONE),
                    "end": b.get("end", NONE), "authority": b.get("authority"),
                    "reason": b.get("reason"),
                    "until": self.clock.span(until)[0] if until else None,
                }, sure=self.sure(joint, e)))

    # ------------------------------------------------------------ ends

    def _ends(self):
        """Numbers the generations of ends, and gives make-ups and findings theirs."""
        for joint in self.joints.values():
            joint.cuts = {"pin": [], "box": []}
            for r in sorted(joint.records["repair"], key=lambda r: r.key):
                end = r.fields["end"]
                if end is NONE:
                    r.fields["generation"] = NONE
                    continue
                if self.catalogue.new_generation(r.fields["work"]):
                    joint.cuts[end].append(r.key)
                r.fields["generation"] = len(joint.cuts[end]) + 1
            for r in joint.records["finding"]:
                end = r.fields["end"]
                r.fields["generation"] = NONE if end is NONE else self.generation(joint, end, r.key)
            for end in ("pin", "box"):
                joint.fields[f"{end}_generation"] = len(joint.cuts[end]) + 1

    @staticmethod
    def generation(joint, end, key):
        """Generation of an end at a place in the joint's life."""
        return 1 + sum(1 for cut in joint.cuts[end] if cut < key)

    # ------------------------------------------------------------ what stands today

    def _summary(self, joint):
        f = joint.fields
        inspections = joint.records["inspection"]
        f["inspected"] = inspections[-1].at if inspections else None
        f["inspection_age"] = (self.clock.now - f["inspected"]) / 1000 if inspections else None
        f["declared_class"] = NONE
        for day in days_of(joint, self.clock):
            given = [r.fields["declared_class"] for r in day]
            given = [c for c in given if c is not NONE]
            if given:
                # Of those of one day the worst stands.
                f["declared_class"] = max(given, key=CLASSES.index)
        paint = [r.fields["paint"] for r in inspections if r.fields["paint"] is not NONE]
        f["paint"] = paint[-1] if paint else None
        runs = [r for r in joint.records["run"]]
        f["last_run"] = runs[-1].at if runs else None
        for r in joint.records["finding"]:
            cleared = any(self._clears(repair, r) for repair in joint.records["repair"])
            r.fields["cleared"] = cleared
            r.fields["open"] = not cleared
        f["open_findings"] = sum(1 for r in joint.records["finding"] if r.fields["open"])

    def _clears(self, repair, finding):
        ends = (repair.fields["end"], finding.fields["end"])
        words = [fold(w) for w in repair.entry.body.get("clears", [])]
        if repair.key < finding.key:
            return False
        # What is cut off an end takes its findings with it.
        anew = ends[0] is not NONE and repair.fields["generation"] != finding.fields["generation"]
        if ends[0] == ends[1] and anew:
            return True
        same_end = ends[0] is NONE or ends[1] is NONE or ends[0] == ends[1]
        if not words:
            words = [finding.fields["what"]] if self.catalogue.clears(
                repair.fields["work"], finding.fields["what"]) else []
        return same_end and finding.fields["what"] in words

    def find(self, serial):
        """Joints that carry a serial, or carried it."""
        text, _, entry = serial.partition("@")
        key = serial_key(text)
        found = [j for j in self.joints.values() if key in j.aliases]
        return [j for j in found if not entry or j.id == entry]


def struck_out(entries):
    """Names of entries that are struck out; a strike that is struck out itself strikes nothing."""
    strikes = {}
    for e in entries:
        if e.kind == "strike":
            strikes.setdefault(e.body["entry"], []).append(e.name)

    def stands(name_):
        return not any(stands(strike) for strike in strikes.get(name_, []))

    return {name_ for name_ in strikes if not stands(name_)}
