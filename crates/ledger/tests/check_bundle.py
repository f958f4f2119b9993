"""Checks a bundle by its written description alone: a second pair of eyes, in another language.

Usage: check_bundle.py FOLDER. Prints the head of a whole record's bundle, or what is wrong; needs
Python alone.
"""

import hashlib
import json
import pathlib
import sys

import second_verifier


def sha256(data):
    return hashlib.sha256(data).hexdigest()


def take_line(rest, begin):
    line, rest = rest.split(b"\n", 1)
    assert line.startswith(begin), f"expected {begin!r}, found {line!r}"
    return line[len(begin):], rest


def take_text(rest, begin):
    assert rest.startswith(begin), f"expected {begin!r}"
    length, rest = rest[len(begin):].split(b" ", 1)
    text, rest = rest[: int(length)], rest[int(length):]
    assert rest.startswith(b"\n"), "a text is longer than it says"
    return text, rest[1:]


def read_header(header):
    first, rest = take_line(header, b"")
    assert first == b"cinderbook entry 1", f"first line is {first!r}"
    number, rest = take_line(rest, b"number ")
    previous, rest = take_line(rest, b"previous ")
    at, rest = take_line(rest, b"at ")
    _, rest = take_text(rest, b"who ")
    _, rest = take_text(rest, b"kind ")
    _, rest = take_line(rest, b"form ")
    body, rest = take_line(rest, b"body ")
    count, rest = take_line(rest, b"evidence ")
    evidence = []
    for _ in range(int(count)):
        blob, rest = take_line(rest, b"")
        evidence.append(blob.decode())
    assert rest == b"", "something follows the evidence"
    length, digest = body.split(b" ")
    return int(number), previous.decode(), at, int(length), digest.decode(), evidence


def root_of(hashes):
    """The hash of a tree, RFC 6962, 2.1."""
    if len(hashes) < 2:
        return hashes[0] if hashes else second_verifier.sha()
    left = 1 << (len(hashes) - 1).bit_length() - 1
    return second_verifier.sha(b"\1", root_of(hashes[:left]), root_of(hashes[left:]))


def check_heads(folder, leaves, keys):
    for path in folder.iterdir() if folder.is_dir() else []:
        size, root, _ = keys.head(path.read_bytes().decode())
        assert str(size) == path.name and size <= len(leaves), f"the record ends before {size}"
        assert root_of(leaves[:size]) == root, f"the first {size} entries are not those signed"


def check(folder):
    before, at_before, number, named = "0" * 64, b"", 0, set()
    leaves, keys = [], None
    for line in (folder / "entries.jsonl").open("rb"):
        entry = json.loads(line)
        number += 1
        header, body = entry["header"].encode(), entry["body"].encode()
        found, previous, at, length, digest, evidence = read_header(header)
        assert entry["number"] == found == number, f"entry {number}: it is numbered {found}"
        assert sha256(header) == entry["hash"], f"entry {number}: its header was changed"
        assert previous == before, f"entry {number}: it follows another entry"
        assert at >= at_before, f"entry {number}: it is dated before the entry before it"
        assert (len(body), sha256(body)) == (length, digest), f"entry {number}: its body was changed"
        before, at_before = entry["hash"], at
        named.update(evidence)
        leaves.append(second_verifier.leaf(header))
        keys = keys or second_verifier.Keys(header)
        if b"\nkind 9 key-begun\n" in header:
            keys.begin(number, body)
    check_heads(folder / "heads", leaves, keys)
    for blob in sorted(named):
        path = folder / "evidence" / blob[:2] / blob
        assert path.is_file(), f"evidence {blob} is missing"
        assert sha256(path.read_bytes()) == blob, f"evidence {blob} was changed"
    head = f"{number} {before}"
    noted = (folder / "head").read_text().strip()
    assert noted == head, f"the head is {head}, but {noted} is noted"
    return head


try:
    print(check(pathlib.Path(sys.argv[1])))
except (AssertionError, ValueError, KeyError) as fault:
    sys.exit(f"broken: {fault}")
