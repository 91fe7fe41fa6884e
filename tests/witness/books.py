"""Makes up small yards: joints, wells, runs and what was done to the joints, entered as a yard
enters them. Everything follows from the seed. All of it is invented.
"""

import os
import random
from datetime import datetime, timedelta, timezone

from yard import Site, Yard

FIRST_DAY = datetime(2024, 1, 8, tzinfo=timezone.utc)
NOW = "2026-07-01T12:00:00+00:00"
DAYS = 860

GRADES = ["G-105", "G105", "g 105", "S-135", "S135", "X-95", "E-75"]
CONNECTIONS = ["NC50", "NC 50", "nc50", "5 1/2 FH"]
LOCATIONS = ["Harrow Yard", "harrow  yard", "Rig 9", "Rig 14", "Thread Shop"]
METHODS = [
    "visual tube", "UT wall; OD gauge", "EMI; UT wall", "MPI slip; UT slip upset",
    "visual connection; dimensional 1", "visual connection; dimensional 2; blacklight",
    "visual tube; UT wall; OD gauge; MPI slip; visual connection; dimensional 2",
    "hardband check; visual connection", "",
]
TUBE_FINDINGS = ["dent 4.85 in", "slip cut 0.02 in along", "rust", "bent", "slip crack", "washout"]
END_FINDINGS = ["galled", "torn threads", "shoulder galled 10 %", "sharp threads"]
HARDBAND = ["rough hardband", "hardband flush", "hardband spalled"]
EVENTS = [
    "jarring", "overpull", "stuck", "over torque", "h2s", "drop", "string shot", "back off",
    "heat", "vibration",
]
FAILURES = ["washout", "twist off", "pin break", "box split", "bent"]


class Book:
    """One book being made up."""

    def __init__(self, binary, folder, seed):
        self.random = r = random.Random(seed)
        self.yard = Yard(binary, folder)
        # Where the sites are, and where questions are asked: hours ahead of UTC.
        self.hours = r.choice([[0], [0], [5, 5, 0], [-6, -6, 2]])
        # How much of each trouble this book has.
        self.used = r.choice([0.0, 0.3, 0.6])
        self.holes = r.choice([0.05, 0.3, 0.6])
        self.days = r.choice([0.3, 0.7, 1.0])
        self.gaps = r.choice([0.0, 0.15, 0.3])
        self.strikes = r.choice([0, 4, 10])
        self.clashes = r.choice([0, 3, 5])
        # How many sheets of hours come from somebody else's runs.
        self.elsewhere = r.choice([0, 1, 4])
        self.sites = r.choice([1, 2, 3])
        self.size = r.randint(20, 45)
        # Few days, so that many facts fall on one.
        self.pool = sorted(r.sample(range(30, DAYS), r.choice([12, 25, 60])))
        self.serials = []
        self.strings = {}
        self.runs = []
        self.wells = {}
        self.reports = 0

    # ------------------------------------------------------------ small choices

    def chance(self, p):
        """True with a probability."""
        return self.random.random() < p

    def maybe(self, value, hole=None):
        """A value, or nothing where the book has a hole."""
        return "" if self.chance(self.holes if hole is None else hole) else value

    def day(self, after=None):
        """A day on which something happens, as a number of days from the first."""
        days = [d for d in self.pool if after is None or d >= after]
        return self.random.choice(days or [self.pool[-1]])

    def when(self, day, days=None):
        """A day as written: the day alone, or a clock time on it."""
        at = FIRST_DAY + timedelta(days=day)
        if self.chance(self.days if days is None else days):
            return at.strftime("%Y-%m-%d")
        at += timedelta(minutes=self.random.randrange(0, 1440, 5), seconds=30)
        return at.strftime("%Y-%m-%dT%H:%M:%SZ")

    def serial(self, spell=True):
        """The serial of a joint, now and then as somebody else spells it."""
        return self.spelled(self.random.choice(self.serials), spell)

    def spelled(self, serial, spell=True):
        """A serial in some spelling."""
        return serial.lower() if spell and self.chance(0.1) else serial

    def inches(self, low, high):
        """A length in inches, to a thousandth."""
        return f"{self.random.uniform(low, high):.3f} in"

    # ------------------------------------------------------------ joints and wells

    def joints(self, site):
        """Takes in certificates, some of joints that had run before."""
        r = self.random
        rows, openings = [], []
        names = ["A", "B"] if self.size > 12 else ["A"]
        for string in names:
            self.strings[string] = []
        for i in range(self.size):
            string = names[i % len(names)]
            serial = f"{string}{r.choice(['-', '-', '-'])}{i + 1:03d}"
            used = self.chance(self.used)
            kind = "drill pipe" if self.chance(0.9) else r.choice(["heavy weight", "drill collar"])
            pipe = kind == "drill pipe"
            row = {
                "Serial": serial,
                "Component": kind,
                "New": "no" if used else "yes",
                "OD [in]": "5" if pipe else "6.5",
                "Wall [in]": self.maybe("0.362" if pipe else "1.75", self.holes / 3),
                "Weight [lb/ft]": self.maybe("19.5" if pipe else "90", self.holes / 3),
                "Grade": self.maybe(r.choice(GRADES)) if pipe else "",
                "Length [ft]": f"{r.uniform(29.5, 32.5):.2f}",
                "Connection": self.maybe(r.choice(CONNECTIONS), self.holes / 2),
                "TJ OD [in]": "6 5/8" if pipe else "",
                "TJ ID [in]": self.maybe("3 1/4") if pipe else "",
                "Heat": self.maybe(r.choice(["H44", "h44", "H45", "H 46", "H47"])),
                "Pin heat": self.maybe(r.choice(["P1", "P2", "P3"])),
                "Weld lot": self.maybe(r.choice(["W1", "W2"])),
                "Mill order": self.maybe(r.choice(["M-1", "M-2"])),
                "Maker": self.maybe(r.choice(["Mill One", "mill one", "Mill Two"])),
                "Owner": self.maybe(r.choice(["Harrow", "HARROW", "Tern"])),
                "Range": self.maybe(r.choice(["R2", "2", "range 2", "3"])),
                "Coating": self.maybe(r.choice(["TK", "none stated"])),
                "Made": self.maybe(f"20{r.randint(15, 23)}-0{r.randint(1, 9)}-1{r.randint(0, 9)}"),
                "Location": self.maybe(r.choice(LOCATIONS), self.holes / 3),
                "String": string,
                "Received": self.when(r.choice([0, 0, 0, 3, 20])),
            }
            rows.append(row)
            self.serials.append(serial)
            self.strings[string].append(serial)
            if used and self.chance(0.6):
                openings.append(self.opening(serial, row["Received"]))
        if self.chance(0.5):
            # A maker repeats a number: two joints have one serial.
            rows.append({**rows[0], "Heat": "H99", "Received": self.when(5)})
        site.load("joint", rows)
        site.load("opening", openings)

    def opening(self, serial, received):
        """What a joint is said to have been through before."""
        r = self.random
        whole = {
            "Hours [h]": f"{r.uniform(100, 3000):.1f}",
            "Revolutions": str(r.randint(100000, 9000000)),
            "Footage [ft]": str(r.randint(1000, 90000)),
            "Damage": f"{r.uniform(0, 0.6):.3f}",
            "Pin makeups": str(r.randint(5, 90)),
            "Box makeups": str(r.randint(5, 90)),
        }
        some = {key: self.maybe(value, 0.4) for key, value in whole.items()}
        if not any(some.values()):
            some["Hours [h]"] = whole["Hours [h]"]
        basis = r.choice(["known", "known", "estimated"])
        return {"Serial": serial, "Date": received[:10], **some, "Basis": basis}

    def survey(self, site, well, date):
        """A hole with bends at several depths."""
        r = self.random
        depth, inclination, azimuth = 0.0, 0.0, r.uniform(0, 300)
        lines = [f"Well,{well}", f"Date,{date}", "MD [ft],Inclination [deg],Azimuth [deg]"]
        lines.append(f"0,0,{azimuth:.2f}")
        while depth < 6000:
            depth += r.choice([60, 90.5, 100, 200, 400])
            bend = r.choice([0, 0, 0.5, 1, 3, 6, 9, 12]) * r.uniform(0.2, 1)
            if self.chance(0.3):
                azimuth = min(359.0, azimuth + bend)
            else:
                inclination = max(0.0, min(60.0, inclination + r.choice([1, 1, -1]) * bend))
            lines.append(f"{depth:.1f},{inclination:.2f},{azimuth:.2f}")
        file = self.yard.write(f"survey-{self.yard.next_number()}.csv", "\n".join(lines) + "\n")
        site.load_file(file)

    # ------------------------------------------------------------ runs

    def run(self, site, name, string, day, late=False):
        """One run of a string: header, tally, and its log where there is one."""
        r = self.random
        well = r.choice(list(self.wells))
        days = r.randint(2, 6)
        start, end = day, day + days
        depth = r.choice([150, 400, 900, 1800, 3000])
        rows, hours = self.operations(depth, days * 24 * 0.9)
        kind = r.choice(["log", "log", "log", "summary", "estimated"])
        number = self.yard.next_number()
        deepest = max([row["Bit to [ft]"] for row in rows] + [depth + 300])
        tally = self.yard.csv(f"tally-{number}", self.tally(string, deepest))
        head = {
            "name": name,
            "well": r.choice([well, well, well.lower()]),
            "rig": self.maybe(r.choice(["Rig 9", "Rig 14", "rig 9"])),
            "string": self.maybe(string),
            "start": self.clock(start, 0),
            "end": self.clock(end, 0),
            "mud_weight": self.maybe("9.6 ppg"),
            "environment": self.maybe(r.choice(["protected", "corrosive", "air"])),
            "hole_diameter": self.maybe("8 1/2 in"),
            "casing_depth": self.maybe(f"{r.choice([300, 800, 1500])} ft"),
            "sour": self.maybe(r.choice(["yes", "no"]), 0.7),
            "protectors": self.maybe(r.choice(["yes", "no"]), 0.7),
            "equipment": self.maybe(r.choice(["MB-1", "MB-2; SL-1"])),
            "tally": os.path.basename(tally),
        }
        if kind == "log":
            log = self.yard.csv(f"log-{number}", rows)
            head["log"] = os.path.basename(log)
        else:
            head |= {
                "grade": kind,
                "hours": f"{hours:.1f} h",
                "rotary_speed": f"{r.randint(60, 140)} rpm",
                "depth_in": f"{depth} ft",
                "depth_out": f"{depth + r.choice([0, 90, 300])} ft",
            }
        text = "".join(f'{key} = "{value}"\n' for key, value in head.items() if value)
        swapped = kind == "log" and self.chance(0.15)
        if swapped:
            other = self.yard.csv(f"tally-{number}b", self.tally(string, deepest))
            at = self.clock(start + 1, 3)
            text += f'[[swap]]\nat = "{at}"\ntally = "{os.path.basename(other)}"\n'
        file = self.yard.write(f"run-{number}.toml", text)
        site.load_file(file)
        if not swapped:
            # Which tally a pattern of trips is about is plain only where there is one.
            self.runs.append((name, start, end))

    @staticmethod
    def clock(day, hour):
        """A clock time on a day."""
        return (FIRST_DAY + timedelta(days=day, hours=hour)).strftime("%Y-%m-%dT%H:%M:%SZ")

    def operations(self, depth, most):
        """Rows of an operating log, and their rotating hours."""
        r = self.random
        rows, total, rotating, bit = [], 0.0, 0.0, float(depth)
        for _ in range(r.randint(4, 14)):
            what = r.choice([
                "rotating on bottom", "rotating on bottom", "sliding", "reaming up",
                "rotating off bottom", "not rotating",
            ])
            hours = round(r.uniform(0.3, 9), 2)
            if total + hours + 1 > most:
                break
            turning = what not in ("sliding", "not rotating")
            to = bit
            if what in ("rotating on bottom", "sliding"):
                to = round(bit + r.uniform(5, 130), 1)
            if what == "reaming up":
                to = round(max(10.0, bit - r.uniform(20, 120)), 1)
            rows.append(self.operation(what, bit, to, hours, turning))
            if what == "reaming up":
                rows.append(self.operation("reaming down", to, bit, 0.5, True))
                total, rotating, to = total + 0.5, rotating + 0.5, bit
            bit, total, rotating = to, total + hours, rotating + (hours if turning else 0)
        if not rows:
            rows.append(self.operation("rotating on bottom", bit, bit + 30, 2.0, True))
            rotating = 2.0
        return rows, rotating

    def operation(self, what, bit, to, hours, turning):
        """One row of an operating log."""
        return {
            "Activity": what,
            "Bit from [ft]": bit,
            "Bit to [ft]": to,
            "Hours [h]": hours,
            "RPM": self.random.randint(50, 150) if turning else 0,
            "WOB [klbf]": 15 if what == "rotating on bottom" else 0,
        }

    def tally(self, string, depth):
        """A string from the bit up, longer than the hole is deep."""
        r = self.random
        joints = list(self.strings[string])
        r.shuffle(joints)
        joints = joints[: r.randint(3, max(4, len(joints)))]
        lines = [
            {"Component": "bit", "Length [ft]": 1.1, "OD [in]": 8.5, "ID [in]": 2},
            {"Component": "drill collar", "Length [ft]": 30, "OD [in]": 6.5, "ID [in]": 2.8125,
             "Weight [lb/ft]": 90, "Count": r.choice([1, 3])},
        ]
        filling = {"Component": "heavy weight", "Length [ft]": 31, "OD [in]": 5, "ID [in]": 3,
                   "Weight [lb/ft]": 49.3}
        below = int(depth / 31) - r.randint(0, 2) - len(joints) // 2
        filling["Count"] = 1 + max(0, below)
        place = r.choice([0, len(joints) // 2])
        for i, serial in enumerate(joints):
            if i == place:
                lines.append(filling)
            lines.append({
                "Serial": self.spelled(serial),
                "Length [ft]": f"{r.uniform(29.5, 32.5):.2f}" if self.chance(0.2) else "",
            })
        if self.chance(0.15):
            lines.append({"Component": "drill pipe", "Length [ft]": 31, "OD [in]": 5,
                          "ID [in]": 4.276, "Weight [lb/ft]": 19.5, "Count": 2})
        return [{"Position": i + 1, **line} for i, line in enumerate(lines)]

    # ------------------------------------------------------------ care

    def inspections(self, day):
        """Rows of inspections on a day: some joints, some readings, some findings."""
        r = self.random
        methods = r.choice(METHODS)
        instrument = self.maybe(r.choice(["UT-1", "UT-2"]))
        rows = []
        few = r.sample(self.serials, min(len(self.serials), r.choice([1, 2, 6, 12])))
        for serial in few:
            self.reports += 1
            pipe = serial
            wall = r.choice([f"{r.uniform(0.24, 0.37):.3f} in", f"{r.uniform(68, 100):.1f} %"])
            rows.append({
                "Serial": self.spelled(serial),
                "Date": self.when(day),
                "Methods": methods,
                "Report": f"R-{self.reports}",
                "Inspector": self.maybe(r.choice(["A. Reader", "a. reader", "B. Reader"])),
                "Firm": self.maybe(r.choice(["Tern Inspection", "Harrow"]), 0.5),
                "Gauge": instrument,
                "Wall": self.maybe(wall, 0.4),
                "Body OD [in]": self.maybe(f"{r.uniform(4.85, 5.0):.3f}", 0.6),
                "Pin OD [in]": self.maybe(f"{r.uniform(6.0, 6.62):.3f}", 0.5),
                "Box OD [in]": self.maybe(f"{r.uniform(6.0, 6.62):.3f}", 0.5),
                "Box shoulder [in]": self.maybe(f"{r.uniform(0.5, 0.7):.3f}", 0.7),
                "Pin stretch [in]": self.maybe(f"{r.uniform(-0.001, 0.009):.4f}", 0.6),
                "Pin tong [in]": self.maybe(f"{r.uniform(5, 9):.2f}", 0.7),
                "Hardband height [in]": self.maybe(f"{r.uniform(0.02, 0.1):.3f}", 0.8),
                "Tube findings": r.choice(TUBE_FINDINGS) if self.chance(0.12) else "",
                "Pin findings": r.choice(END_FINDINGS) if self.chance(0.15) else "",
                "Box findings": r.choice(END_FINDINGS + HARDBAND) if self.chance(0.15) else "",
                "Class": self.maybe(r.choice(["premium", "class 2", "C3", "critical"]), 0.6),
                "Paint": self.maybe(r.choice(["white band", "two white bands"]), 0.8),
                "end": "box" if pipe else "",
            })
        return rows

    def repairs(self, day):
        """Rows of repairs on a day."""
        r = self.random
        rows = []
        for serial in r.sample(self.serials, min(len(self.serials), r.choice([1, 2, 4]))):
            work = r.choice([
                "dress", "recut", "recut", "reface", "hardband", "straighten", "grind", "coat",
                "new tool joint", "cut back",
            ])
            at_end = work in ("dress", "recut", "reface", "hardband", "new tool joint", "cut back")
            end = r.choice(["pin", "box"]) if at_end else ""
            shorter = work in ("recut", "reface", "cut back")
            removed = f"{r.uniform(0.1, 1.2) if work != 'reface' else r.uniform(0.005, 0.03):.3f}"
            clears = r.choice(["galled", "torn threads", "bent", "slip cut"])
            rows.append({
                "Serial": self.spelled(serial),
                "Date": self.when(day),
                "Work": work,
                "End": end,
                "Shop": self.maybe(r.choice(["Harrow Shop", "harrow shop", "Tern Shop"])),
                "Ticket": self.maybe(f"T-{day % 7}"),
                "Removed [in]": self.maybe(removed, 0.3) if shorter else "",
                "Material": f"alloy {r.choice('AB')}" if work in ("hardband", "coat") else "",
                "Clears": clears if self.chance(0.4) else "",
                "Pin OD [in]": f"{r.uniform(6.2, 6.62):.3f}" if end == "pin"
                               and self.chance(0.3) else "",
                "Box OD [in]": f"{r.uniform(6.2, 6.62):.3f}" if end == "box"
                               and self.chance(0.3) else "",
            })
        return rows

    def makeups(self, day):
        """Rows of single make-ups on a day."""
        r = self.random
        rows = []
        for _ in range(r.choice([1, 3, 8])):
            pin, box = r.sample(self.serials, 2)
            row = {
                "Date": self.when(day),
                "Pin": self.spelled(pin),
                "Box": self.spelled(box),
                "Torque [ft.lbf]": self.maybe(str(r.randint(20000, 40000))),
                "Target [ft.lbf]": self.maybe("31000", 0.5),
                "Gauge": self.maybe(r.choice(["TG-1", "TG-2", "tg-1"])),
                "Compound": self.maybe(r.choice(["zinc", "copper"])),
                "Friction factor": self.maybe(r.choice(["1.0", "1.1"]), 0.6),
                "Times": r.choice(["", "", "2", "3"]),
                "Mate": "",
            }
            alone = r.random()
            if alone < 0.1:
                row |= {"Box": "", "Mate": "bit sub"}
            elif alone < 0.2:
                row |= {"Pin": "", "Mate": "saver sub"}
            rows.append(row)
        return rows

    def trips(self):
        """Rows of trip patterns of runs."""
        r = self.random
        rows = []
        for name, _, end in self.runs:
            if self.chance(0.5):
                rows.append({
                    "Date": self.when(end, 0.3),
                    "Run": name,
                    "Trips": r.choice([1, 2, 5]),
                    "Stand": r.choice([1, 2, 3]),
                    "Offset": r.choice(["", 0, 1]),
                    "Rotate": r.choice([0, 1]),
                    "Saver": r.choice([0, 1]),
                    "Picked up": r.choice(["yes", "no"]),
                })
        return rows

    def events(self, day):
        """Rows of events on a day."""
        r = self.random
        rows = []
        for _ in range(r.choice([1, 2])):
            rows.append({
                "Date": self.when(day),
                "Event": r.choice(EVENTS),
                "Serial": "; ".join(r.sample(self.serials, r.choice([1, 1, 3]))),
                "Pull [klbf]": self.maybe(str(r.randint(100, 400)), 0.5),
                "Blows": self.maybe(str(r.randint(1, 30)), 0.6),
                "Depth [ft]": self.maybe(str(r.randint(100, 3000)), 0.5),
            })
        return rows

    def hours_told(self, day):
        """Rows of hours that somebody else ran some joints, from a day on or told of its end alone."""
        r = self.random
        days, run = r.choice([1, 3, 9, 30]), f"S-{self.yard.next_number()}"
        begun = self.chance(0.7)
        rows = []
        for serial in r.sample(self.serials, min(len(self.serials), r.choice([1, 3, 8]))):
            rows.append({
                "Serial": self.spelled(serial),
                "Run": run,
                "From": self.when(day, 1.0) if begun else "",
                "Date": self.when(day + days, 1.0 if begun else None),
                "Rot hours [h]": f"{r.uniform(0.5, 23 * days if begun else 60):.1f}",
            })
        return rows

    # ------------------------------------------------------------ custody

    def moves(self, day):
        """Rows of moves on a day."""
        r = self.random
        row = {
            "Date": self.when(day),
            "Serial": "; ".join(r.sample(self.serials, r.choice([1, 3, 6]))),
            "Location": self.maybe(r.choice(LOCATIONS), 0.3),
            "String": self.maybe(r.choice(["A", "B", "-", "C"]), 0.7),
            "Status": self.maybe(r.choice(["in stock", "in repair", "quarantine"]), 0.7),
        }
        if not (row["Location"] or row["String"] or row["Status"]):
            row["Location"] = "Harrow Yard"
        return [row]

    def decisions(self, day):
        """Rows of decisions on a day."""
        r = self.random
        ruling = r.choice(["class", "quarantine", "release", "release", "retire"])
        row = {
            "Date": self.when(day),
            "Serial": "; ".join(r.sample(self.serials, r.choice([1, 2]))),
            "Ruling": ruling,
            "Class": r.choice(["premium", "class 2", "class 3"]) if ruling == "class" else "",
            "Reason": "as seen",
            "Authority": self.maybe("yard manager"),
        }
        return [row]

    # ------------------------------------------------------------ all of it

    def make(self):
        """Makes the book, and says where it stands."""
        r = self.random
        self.yard.now = "2024-01-02T08:00:00+00:00"
        sites = [Site(self.yard, name, r.choice(self.hours))
                 for name in ["yard", "rig", "shop"][: self.sites]]
        home = sites[0]
        self.yard.now = "2024-02-10T08:00:00+00:00"
        self.joints(home)
        home.load("instrument", [
            {"Tag": tag, "Instrument": kind, "Date": "2024-01-09", "Tolerance": "3 %"}
            for tag, kind in [("TG-1", "torque gauge"), ("TG-2", "torque gauge"),
                              ("UT-1", "ultrasonic gauge"), ("UT-2", "ultrasonic gauge"),
                              ("MB-1", "master bushing"), ("MB-2", "master bushing")]
        ])
        for well in ["Larkfield 2H", "Tern Moor 3"]:
            self.wells[well] = True
            self.survey(home, well, "2024-01-20")
        for other in sites[1:]:
            home.send(other)
        self.yard.now = "2026-06-01T08:00:00+00:00"
        work = self.work(sites)
        r.shuffle(work)
        # Runs first: trips, events and failures name them.
        for job in sorted(work, key=lambda w: w[0] != "run"):
            job[1]()
        r.choice(sites).load("makeup", self.trips())
        self.checks(home)
        for other in sites[1:]:
            other.send(home)
        self.yard.now = "2026-06-20T08:00:00+00:00"
        self.later(home)
        asked = r.choice(sites)
        if asked is not home:
            home.send(asked)
        self.yard.write("commands.sh", "\n".join(self.yard.script) + "\n")
        self.yard.now = NOW
        return asked.book, self.yard.env(r.choice(self.hours))

    def work(self, sites):
        """What is done over the years, each by some site, in some order."""
        r = self.random
        jobs = []
        day = 30
        number = 0
        while day < DAYS - 20:
            for string in self.strings:
                if self.chance(0.45):
                    number += 1
                    name, at = f"{string}-R{number}", day + r.randint(0, 3)
                    site = sites[-1] if self.chance(0.7) else sites[0]
                    jobs.append(("run", lambda s=site, n=name, t=string, d=at:
                                 self.run(s, n, t, d)))
            day += r.choice([12, 40, 90])
        for kind, make, count in [
            ("inspection", self.inspections, 14), ("repair", self.repairs, 9),
            ("makeup", self.makeups, 8), ("event", self.events, 7), ("move", self.moves, 7),
            ("decision", self.decisions, 4),
        ]:
            for _ in range(r.randint(count // 2, count)):
                site = r.choice(sites)
                at = self.day()
                jobs.append((kind, lambda s=site, k=kind, m=make, d=at: s.load(k, m(d))))
        jobs += self.hires(sites)
        for serial in self.serials:
            if self.chance(self.gaps):
                start = self.day()
                until = self.when(start + r.choice([10, 60])) if self.chance(0.8) else ""
                row = {"Serial": serial, "From": self.when(start), "Until": until}
                site = r.choice(sites)
                jobs.append(("gap", lambda s=site, w=row: s.load("gap", [w])))
        jobs += [("hours", lambda s=r.choice(sites), d=self.day(): s.load("hours", self.hours_told(d)))
                 for _ in range(self.elsewhere)]
        if self.chance(0.6):
            row = {"Serial": self.serial(), "Date": self.when(self.day()),
                   "Failure": r.choice(FAILURES), "Depth [ft]": "900"}
            jobs.append(("failure", lambda s=r.choice(sites), w=row: s.load("failure", [w])))
        if len(sites) > 1:
            jobs += self.clash(sites)
        return jobs

    def hires(self, sites):
        """Hires of a few joints, most of which come back."""
        r = self.random
        jobs = []
        for number in range(r.randint(0, 3)):
            out = self.day()
            few = "; ".join(r.sample(self.serials, r.choice([2, 5])))
            row = {"Serial": few, "Date": self.when(out), "Hire": f"H-{number}",
                   "Party": r.choice(["Rig crew", "Tern"]), "Location": self.maybe("Rig 14")}
            back = {"Serial": few, "Date": self.when(out + r.choice([9, 33])),
                    "Hire": f"H-{number}", "Location": self.maybe("Harrow Yard")}

            def both(row=row, back=back, returns=self.chance(0.7)):
                sites[0].load("hire_out", [row])
                if returns:
                    sites[0].load("hire_in", [back])
            jobs.append(("hire", both))
        return jobs

    def clash(self, sites):
        """Facts of two sites that exclude each other: one joint in two runs, in two places, read
        twice on one day."""
        r = self.random
        jobs = []
        for number in range(self.clashes):
            day, string = self.day(), r.choice(list(self.strings))
            kind = r.choice(["runs", "runs", "places", "readings"])
            serial, date = self.serial(False), self.when(day, 1.0)
            for n, (site, place) in enumerate(zip(sites, ["Rig 9", "Rig 14"])):
                if kind == "runs":
                    jobs.append(("run", lambda s=site, m=f"X{number}{n}", t=string, d=day + n:
                                 self.run(s, m, t, d)))
                elif kind == "places":
                    row = {"Serial": serial, "Date": date, "Location": place}
                    jobs.append(("move", lambda s=site, w=row: s.load("move", [w])))
                else:
                    row = {**self.inspections(day)[0], "Serial": serial, "Date": date,
                           "Wall": f"{r.uniform(70, 100):.1f} %"}
                    jobs.append(("inspection", lambda s=site, w=row: s.load("inspection", [w])))
        return jobs

    def settle(self, home):
        """Settles the first clash of two runs by a decision, now and then."""
        clash = [e["entry"] for e in home.entries("run") if e["about"].startswith("X0")]
        if len(clash) == 2 and self.chance(0.5):
            self.random.shuffle(clash)
            home.load("decision", [{
                "Date": self.when(DAYS), "Ruling": "settle", "Stands": clash[0],
                "Falls": clash[1], "Reason": "tally of the rig", "Serial": self.serials[0],
            }])

    def checks(self, site):
        """Checks of instruments, of which some fail."""
        r = self.random
        rows = []
        for tag, how in [("TG-1", "known weight"), ("TG-2", "calibration"), ("UT-1", "block"),
                         ("MB-1", "slip test"), ("MB-2", "slip test")]:
            for _ in range(r.randint(0, 3)):
                rows.append({"Tag": tag, "Date": self.when(self.day()), "How": how,
                             "Passed": r.choice(["yes", "yes", "no"])})
        site.load("check", rows)

    def later(self, home):
        """Late finds: a better survey, other marks, two joints that are one, strikes."""
        r = self.random
        if self.chance(0.4):
            self.survey(home, "Larkfield 2H", "2025-05-01")
        rows = []
        if self.chance(0.6):
            serial = self.serials[-1]
            rows.append({"Serial": serial, "Date": self.when(self.day()), "Change": "remark",
                         "New serial": f"{serial}X", "Same": ""})
        if self.chance(0.5):
            rows.append({"Serial": self.serials[-2], "Date": self.when(self.day()),
                         "Change": "alias", "New serial": f"{self.serials[-2]}Y", "Same": ""})
        if self.chance(0.4) and len(self.serials) > 12:
            rows.append({"Serial": self.serials[-3], "Date": self.when(self.day()),
                         "Change": "merge", "New serial": "", "Same": self.serials[-4]})
        home.load("identity", rows)
        self.settle(home)
        if self.chance(0.3):
            # Written for a day that lies far ahead.
            ahead = [{**row, "Date": "2062-06-01"} for row in self.inspections(700)]
            home.load("inspection", ahead)
        total = 40 + self.size
        for _ in range(self.strikes):
            home.strike(f"yard-{r.randint(self.size + 12, total + 60)}")


def make(binary, folder, seed):
    """Makes the book of a seed in a folder; says where it stands, and in which surroundings it
    is asked."""
    return Book(binary, folder, seed).make()
