"""Writes the derived tables of a book as Parquet, in the layout of a publication: for trials of
statements where no publication is at hand. Reads the book's file with SQLite.
"""

import os
import sqlite3

import pyarrow as pa
import pyarrow.parquet as pq

BANDS = pa.list_(pa.struct([("band", pa.int64()), ("turns", pa.int64()), ("hours", pa.int64())]))
KINDS = {"INTEGER": pa.int64(), "TEXT": pa.string(), "BLOB": pa.binary()}


def number(data, at):
    """A whole number of seven bits a byte, zigzag, and the place behind it."""
    n, shift = 0, 0
    while True:
        byte = data[at]
        at += 1
        n |= (byte & 0x7F) << shift
        shift += 7
        if byte < 0x80:
            return (n >> 1) ^ -(n & 1), at


def bands(data):
    """The bands of a histogram."""
    if data is None:
        return None
    out, at = [], 0
    while at < len(data):
        band = data[at]
        turns, at = number(data, at + 1)
        hours, at = number(data, at)
        out.append({"band": band, "turns": turns, "hours": hours})
    return out


def write(book, folder, site):
    """Writes one book's tables under a site."""
    conn = sqlite3.connect(f"file:{book}?mode=ro", uri=True)
    tables = [row[0] for row in conn.execute(
        "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")]
    for table in tables:
        columns = [(row[1], row[2]) for row in conn.execute(f'PRAGMA table_info("{table}")')]
        if table in ("entry",) or not columns:
            continue
        names = ", ".join(f'"{name}"' for name, _ in columns)
        rows = conn.execute(f'SELECT {names} FROM "{table}"').fetchall()
        arrays, fields = [], []
        for n, (name, kind) in enumerate(columns):
            values = [row[n] for row in rows]
            if name.startswith("histogram"):
                arrays.append(pa.array([bands(v) for v in values], BANDS))
            elif kind in KINDS:
                arrays.append(pa.array(values, KINDS[kind]))
            else:
                continue
            fields.append(name)
        where = os.path.join(folder, table, f"site={site}")
        os.makedirs(where, exist_ok=True)
        pq.write_table(pa.table(arrays, fields), os.path.join(where, "part-0.parquet"))
    conn.close()
    where = os.path.join(folder, "superseded")
    os.makedirs(where, exist_ok=True)
    nothing = {"site": pa.string(), "joint": pa.int64(), "introduced_by": pa.string(),
               "known_best_by": pa.string()}
    pq.write_table(pa.table([pa.array([], kind) for kind in nothing.values()], list(nothing)),
                   os.path.join(where, "part-0.parquet"))
