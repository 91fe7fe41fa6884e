"""What a book adopted: catalogues of methods, works and findings, and rules, from its entries."""

import csv
import json
import re

from words import CRACK_SCOPES, fold

# The part of TOML in which they are written: tables in a list, keys with texts or bare values.
LINE = re.compile(
    r"""\s*(?:\#[^\n]*\n\s*)*(?:
      \[\[(?P<table>\w+)\]\]
    | (?P<key>\w+)[ ]*=[ ]*(?:
          \'\'\'\n?(?P<block>.*?)\'\'\' | \"\"\"\n?(?P<escaped>.*?)\"\"\"
        | "(?P<text>(?:[^"\\\n]|\\.)*)" | '(?P<literal>[^'\n]*)' | (?P<bare>[^\s\#]+))
    )""",
    re.VERBOSE | re.DOTALL,
)


def toml(text):
    """Keys and lists of tables of a text."""
    top = table = {}
    for m in LINE.finditer(text):
        if m["table"]:
            table = {}
            top.setdefault(m["table"], []).append(table)
            continue
        escaped = m["text"] if m["text"] is not None else m["escaped"]
        plain = next((m[k] for k in ("block", "literal", "bare") if m[k] is not None), None)
        table[m["key"]] = plain if escaped is None else json.loads(f'"{escaped}"', strict=False)
    return top


def _rows(text):
    return csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))


def _list(text):
    return [fold(part) for part in text.split(";") if part.strip()]


class Adopted:
    """The edition on which a book was founded, with the rules that are in force now."""

    def __init__(self, live):
        adoptions = [e.body for e in live if e.kind == "adoption"]
        edition = next(b for b in adoptions if b["what"] == "edition" and b.get("founding"))
        edition = toml(edition["text"])
        rules = [b["text"] for b in adoptions if b["what"] == "rules"]
        self.rules = toml(rules[-1] if rules else edition["rules"]).get("rule", [])
        self.methods = {
            r["method"]: (_list(r["scopes"]), r["metal"]) for r in _rows(edition["methods"])
        }
        self.works = {r["work"]: r for r in _rows(edition["works"])}
        self.findings = {r["word"]: r for r in _rows(edition["findings"])}
        # Every word that a finding may be asked by: its own, other names, and the broader crack.
        self.finding_words = {
            "crack", *self.findings,
            *(name for r in self.findings.values() for name in _list(r["aliases"])),
        }

    def covers(self, component, methods, stated):
        """What an inspection covers: what its methods can see on this component, less what it
        says it left out. Without a method cracks were not looked for."""
        if not methods:
            return {s for s in stated if s not in CRACK_SCOPES}
        seen = set()
        magnetic = component != "non_magnetic_collar"
        for method in methods:
            scopes, metal = self.methods[method]
            fits = metal == "any" or (metal == "magnetic") == magnetic
            seen.update(s for s in scopes if fits or s not in CRACK_SCOPES)
        return {s for s in seen if not stated or s in stated}

    def new_generation(self, work):
        """Whether a work starts a new generation of the end."""
        return self.works[work]["generation"] == "yes"

    def voids(self, work):
        """Readings that hold no longer after a work."""
        return set(_list(self.works[work]["voids"]))

    def clears(self, work, finding):
        """Whether a work can make a finding good."""
        return work in _list(self.findings.get(finding, {}).get("cleared_by", ""))

    def moves_places(self, work):
        """Whether after a work other metal may stand at a place of the joint."""
        return "yes" in (self.works[work]["shortens"], self.works[work]["generation"])
