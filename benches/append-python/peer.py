"""2 000 durable appends by Python's sqlite3: the same settings and rows as the book's."""

import json
import pathlib
import sqlite3
import tempfile
import time

APPENDS = 2000

with tempfile.TemporaryDirectory(dir="target") as folder:
    path = pathlib.Path(folder) / "bare.sqlite"
    connection = sqlite3.connect(path, isolation_level=None)
    connection.executescript(
        """PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON;
        CREATE TABLE entry (number INTEGER PRIMARY KEY, previous BLOB, at INTEGER NOT NULL,
            who TEXT NOT NULL, kind TEXT NOT NULL, form INTEGER NOT NULL, body BLOB NOT NULL,
            evidence BLOB NOT NULL, hash BLOB NOT NULL) STRICT"""
    )
    reason = "the tube was bent when it fell from the bench; " + "x" * 400
    began = time.perf_counter()
    for number in range(1, APPENDS + 1):
        body = f'{{"equipment":"B-1","reason":"{number:06} {reason}"}}'.encode()
        connection.execute("BEGIN IMMEDIATE")
        connection.execute(
            "INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (number, b"\x07" * 32, 1_772_438_400_000_000, "Ana Ruiz", "equipment-withdrawn", 1,
             body, b"", b"\x09" * 32),
        )
        connection.execute("COMMIT")
    seconds = time.perf_counter() - began
    connection.close()

print(json.dumps({"seconds": seconds, "result": {"entries": APPENDS}}))
