"""The questions of the `filter` bench, asked of a columnar engine that holds the same rows.

    python tests/bench/duckdb_peer.py BOOK FILTER_BENCH

BOOK is the book that the filter bench made, FILTER_BENCH its binary (`cargo bench --no-run --bench
filter` names it). The run projection, with its histograms as wide columns, joints, inspections,
make-ups and what is kept since inspections go into a native DuckDB file beside the book, once. Then
each question is asked of DuckDB on all cores, the bench is run for the same questions, and both
stand side by side. Needs the packages `duckdb`, `numpy` and `numba`.
"""

import os
import re
import sqlite3
import statistics
import subprocess
import sys
import time

import duckdb
import numba
import numpy as np

ROUNDS = 7
BANDS = 61
CHUNK = 250_000


@numba.njit(cache=False)
def decode(data, ends, hours):
    """Hours by band from histograms as they are stored: band, turns, hours, zigzag varints."""
    at = 0
    for row in range(len(ends)):
        while at < ends[row]:
            band = data[at]
            at += 1
            for which in range(2):
                z, shift = np.uint64(0), np.uint64(0)
                while True:
                    byte = data[at]
                    at += 1
                    z |= np.uint64(byte & 0x7F) << shift
                    if byte < 0x80:
                        break
                    shift += np.uint64(7)
                if which == 1:
                    hours[band, row] = np.int64(z >> np.uint64(1))


def numbers(rows, width):
    """Columns of whole numbers; no value is a negative one."""
    flat = np.array([-1 if x is None else x for r in rows for x in r], dtype=np.int64)
    return flat.reshape(len(rows), width).T


def export(book, target):
    """Writes the same rows into a native file of the columnar engine."""
    con = duckdb.connect(target)
    source = sqlite3.connect(f"file:{book}?mode=ro", uri=True)

    def plain(table, columns):
        select = f"SELECT {', '.join(columns)} FROM {table}"
        first = True
        cursor = source.execute(select)
        while rows := cursor.fetchmany(CHUNK):
            lists = {c.strip('"'): [r[i] for r in rows] for i, c in enumerate(columns)}
            part = {
                c: np.array(v, dtype=object)
                if any(isinstance(x, str) for x in v[:100])
                else np.array([-1 if x is None else x for x in v], dtype=np.int64)
                for c, v in lists.items()
            }
            con.register("part", part)
            verb = f"CREATE TABLE {table} AS" if first else f"INSERT INTO {table}"
            con.execute(f"{verb} SELECT * FROM part")
            con.unregister("part")
            first = False

    plain("joint", ["joint", "class", "location", "wall", "conflicted"])
    plain("since", ["scope", "joint", "at", "hours_lo", "damage_lo"])
    plain("inspection", ["joint", "at", "covers", "wall"])
    plain("makeup", ["joint", "at", "\"end\"", "torque", "target"])
    columns = ["joint", "finish", "run", "hours", "revolutions", "max_dogleg", "damage_pin",
               "damage_middle", "damage_box", "conflict"]
    cursor = source.execute(f"SELECT {', '.join(columns)}, histogram FROM joint_run")
    first = True
    while rows := cursor.fetchmany(CHUNK):
        part = dict(zip(columns, numbers([r[:-1] for r in rows], len(columns))))
        blobs = [r[-1] for r in rows]
        ends = np.cumsum(np.array([len(b) for b in blobs]))
        hours = np.zeros((BANDS, len(rows)), dtype=np.int64)
        decode(np.frombuffer(b"".join(blobs), dtype=np.uint8), ends, hours)
        part |= {f"h{b}": hours[b] for b in range(BANDS)}
        con.register("part", part)
        verb = "CREATE TABLE joint_run AS" if first else "INSERT INTO joint_run"
        con.execute(f"{verb} SELECT * FROM part")
        con.unregister("part")
        first = False
    con.execute("CHECKPOINT")
    con.close()


# Doglegs in 1e-9 deg/m: 8 and 12 deg/100ft are 262467191 and 393700787. The first lies in band 15,
# of which 0.252 is above it.
ABOVE_8 = "h15 * 0.25196854 + " + " + ".join(f"h{b}" for b in range(16, BANDS))
LAST = ("(SELECT joint, max(\"at\") AS latest FROM inspection WHERE covers & {bit} <> 0 "
        "GROUP BY joint) i ON i.joint = r.joint AND r.finish > i.latest")

QUESTIONS = [
    ("joint fields",
     "SELECT joint FROM joint WHERE class = 'premium' AND location = 'Rig 14' AND wall < 750000000"),
    ("class and hours since an inspection",
     "SELECT j.joint FROM joint j JOIN since s ON s.joint = j.joint WHERE s.scope = 'wall' "
     "AND s.hours_lo > 4320000000 AND j.class = 'premium'"),
    ("class and hours since an inspection",
     "SELECT j.joint FROM joint j JOIN (SELECT r.joint, sum(hours) AS h FROM joint_run r JOIN "
     + LAST.format(bit=1 << 2) + " GROUP BY r.joint) s ON s.joint = j.joint WHERE s.h > 4320000000 "
     "AND j.class = 'premium'"),
    ("damage since an inspection, or in all",
     "SELECT joint FROM (SELECT r.joint, greatest(sum(damage_pin), sum(damage_middle), "
     "sum(damage_box)) AS d FROM joint_run r JOIN " + LAST.format(bit=1 << 4)
     + " GROUP BY r.joint) WHERE d > 72000000000000 UNION SELECT joint FROM joint_run GROUP BY "
     "joint HAVING greatest(sum(damage_pin), sum(damage_middle), sum(damage_box)) "
     "> 360000000000000"),
    ("hours above a dogleg",
     f"SELECT joint FROM joint_run GROUP BY joint HAVING sum({ABOVE_8}) > 72000000"),
    ("a run above two thresholds",
     "SELECT DISTINCT joint FROM joint_run WHERE max_dogleg > 262467191 AND hours > 612000000 "
     "AND conflict = 0"),
    ("a run above rare thresholds",
     "SELECT DISTINCT joint FROM joint_run WHERE max_dogleg > 393700787 AND hours > 612000000 "
     "AND conflict = 0"),
    ("scan: under-torqued make-ups",
     "SELECT DISTINCT joint FROM makeup WHERE \"end\" = 'box' AND torque < 0.68 * target"),
    ("scan: wall loss over inspections",
     "SELECT joint FROM inspection GROUP BY joint HAVING min(wall) < 750000000"),
    ("scan: long runs counted",
     "SELECT joint FROM joint_run WHERE hours > 540000000 AND conflict = 0 GROUP BY joint "
     "HAVING count(*) > 15"),
]

LINE = re.compile(r"^(.{42}) +(\d+) joints +([\d.]+) ms  by hand +([\d.]+) ms.*the command +([\d.]+) ms")


def main():
    book, bench = sys.argv[1:3]
    target = book.removesuffix(".pipelore") + ".duckdb"
    if not os.path.exists(target):
        begun = time.time()
        export(book, target + ".part")
        os.rename(target + ".part", target)
        print(f"exported in {time.time() - begun:.0f} s")
    con = duckdb.connect(target, read_only=True)
    threads = con.execute("SELECT current_setting('threads')").fetchone()[0]
    size = os.path.getsize(target) / (1 << 20)
    print(f"DuckDB {duckdb.__version__}, {threads} threads, {size:.0f} MiB")
    theirs = []
    for name, sql in QUESTIONS:
        found, times = 0, []
        for _ in range(ROUNDS):
            begun = time.perf_counter()
            found = len(con.execute(sql).fetchall())
            times.append((time.perf_counter() - begun) * 1e3)
        theirs.append((name, found, statistics.median(times)))
    con.close()
    told = subprocess.run([bench], stdout=subprocess.PIPE, text=True, check=True).stdout
    ours = {}
    for line in told.split("with statistics", 1)[0].splitlines():
        if found := LINE.match(line):
            ours[found[1].strip()] = (int(found[2]), float(found[3]), float(found[4]), float(found[5]))
    print(f"{'question':42} {'joints':>13}  {'filter':>9} {'by hand':>9} {'command':>9} {'DuckDB':>9}   DuckDB/filter")
    for name, found, taken in theirs:
        count, own, by_hand, command = ours[name]
        same = f"{count}" if count == found else f"{count}/{found}"
        print(f"{name:42} {same:>13}  {own:7.2f}ms {by_hand:7.2f}ms {command:7.2f}ms {taken:7.2f}ms   × {taken / own:.1f}")


main()
