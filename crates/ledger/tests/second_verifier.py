"""Checks bundles of reports by their written description alone: a second pair of eyes.

Usage: second_verifier.py FOLDER…  Writes one line a folder: `good …`, or `bad …` with the reason.
Needs Python alone. Sources: RFC 6962 and RFC 9162 (tree), RFC 8032 (Ed25519), C2SP signed-note and
tlog-checkpoint (signed heads and keys).
"""

import base64
import hashlib
import json
import pathlib
import sys

# Ed25519, RFC 8032, 5.1: the curve, its points in extended coordinates, and the check of 5.1.7.
P, L = 2**255 - 19, 2**252 + 27742317777372353535851937790883648493
D = -121665 * pow(121666, P - 2, P) % P
IDENTITY = (0, 1, 1, 0)

def add(one, two):
    (x1, y1, z1, t1), (x2, y2, z2, t2) = one, two
    a, b = (y1 - x1) * (y2 - x2) % P, (y1 + x1) * (y2 + x2) % P
    c, d = 2 * t1 * t2 * D % P, 2 * z1 * z2 % P
    e, f, g, h = b - a, d - c, d + c, b + a
    return e * f % P, g * h % P, f * g % P, e * h % P

def times(number, point):
    product = IDENTITY
    while number:
        product = add(product, point) if number & 1 else product
        number, point = number >> 1, add(point, point)
    return product

def point(data):
    sign, y = data[31] >> 7, int.from_bytes(data, "little") & (2**255 - 1)
    square = (y * y - 1) * pow(D * y * y + 1, P - 2, P) % P
    x = pow(square, (P + 3) // 8, P)
    x = x if (x * x - square) % P == 0 else x * pow(2, (P - 1) // 4, P) % P
    need((x * x - square) % P == 0 and y < P, "a point is not on the curve")
    x = x if x & 1 == sign else P - x
    return x, y, 1, x * y % P

BASE = (15112221349535400772501151409588531511454012693041857206046113283949847762202,
        46316835694926478169428394003475163141307993866256225615783033603165251855960, 1)
BASE += (BASE[0] * BASE[1] % P,)

def signed(key, text, signature):
    if len(signature) != 64 or (s := int.from_bytes(signature[32:], "little")) >= L:
        return False
    k = int.from_bytes(hashlib.sha512(signature[:32] + key + text).digest(), "little") % L
    (x1, y1, z1, _), (x2, y2, z2, _) = times(s, BASE), add(point(signature[:32]), times(k, point(key)))
    return (x1 * z2 - x2 * z1) % P == 0 and (y1 * z2 - y2 * z1) % P == 0

# The tree, RFC 9162, 2.1.
def sha(*parts):
    return hashlib.sha256(b"".join(parts)).digest()

def leaf(header):
    return sha(b"\0", header)

def up(first, second, at, last, proof):
    """Both hashes that a proof leads to: of the earlier tree (or the leaf), and of the whole."""
    for beside in proof:
        need(last > 0, "a proof is too long")
        if at & 1 or at == last:
            first, second = sha(b"\1", beside, first), sha(b"\1", beside, second)
            while not at & 1 and at:
                at, last = at >> 1, last >> 1
        else:
            second = sha(b"\1", second, beside)
        at, last = at >> 1, last >> 1
    need(last == 0, "a proof is too short")
    return first, second

def includes(hash, index, size, proof, root):
    return index < size and up(hash, hash, index, size - 1, proof)[1] == root

def continues(earlier, old, size, root, proof):
    if earlier == size:
        return not proof and old == root
    if not 0 < earlier < size:
        return False
    path = ([old] if earlier & (earlier - 1) == 0 else []) + proof
    low = (earlier & -earlier).bit_length() - 1
    need(path, "a proof is empty")
    return up(path[0], path[0], earlier - 1 >> low, size - 1 >> low, path[1:]) == (old, root)

# Entries, keys and signed heads.
def need(holds, reason):
    if not holds:
        raise ValueError(reason)

def spell(value):
    """The one spelling of a value."""
    if isinstance(value, dict):
        return "{" + ",".join(spell(key) + ":" + spell(value[key]) for key in sorted(value)) + "}"
    if isinstance(value, list):
        return "[" + ",".join(map(spell, value)) + "]"
    if isinstance(value, str):
        escaped = {'"': '\\"', "\\": "\\\\", "\n": "\\n"}
        return '"' + "".join(escaped.get(c, f"\\u{ord(c):04x}" if c < " " else c) for c in value) + '"'
    return "null" if value is None else str(int(value))

def lines(path, names):
    for text in path.read_bytes().decode().split("\n")[:-1]:
        value = json.loads(text)
        need(spell(value) == text and sorted(value) in names, f"a line of {path.name} was changed")
        yield value

def take(rest, begin, counted=False):
    need(rest.startswith(begin), f"a header has no {begin!r}")
    rest = rest[len(begin):]
    length, text = rest.split(b" ", 1) if counted else (None, None)
    line, rest = (text[:int(length)], text[int(length):]) if counted else rest.split(b"\n", 1)
    return line, rest[1:] if counted else rest

def entry(header, body):
    first, rest = take(header, b"cinderbook entry 1")
    parts = {}
    for name in (b"number", b"previous", b"at", b"who", b"kind", b"form", b"body", b"evidence"):
        parts[name.decode()], rest = take(rest, name + b" ", name in (b"who", b"kind"))
    number, files = int(parts["number"]), rest.decode().split("\n")[:-1]
    need(not first and len(files) == int(parts["evidence"]), f"entry {number} is not in the form")
    named = f"{len(body)} {hashlib.sha256(body).hexdigest()}".encode()
    need(parts["body"] == named, f"entry {number} says something else than its header names")
    return number, parts, files

class Keys:
    def __init__(self, first):
        self.name, self.keys = f"cinderbook/{hashlib.sha256(first).hexdigest()[:16]}", []

    def begin(self, number, body):
        said = json.loads(body)
        old, new, reason = said["in_place_of"], said["key"], said["reason"]
        last = self.keys[-1].hex() if self.keys else None
        need(old == last, f"entry {number}: its key takes the place of another")
        text = (f"cinderbook key 1\nbook {self.name}\nkey {new}\nin place of {old or 'none'}\n"
                f"reason {len(reason.encode())} {reason}\n").encode()
        by = [(new, said["by_new"])] + ([(old, said["by_old"])] if said["by_old"] else [])
        for key, signature in by:
            need(signed(bytes.fromhex(key), text, bytes.fromhex(signature)), f"entry {number}: not signed")
        self.keys.append(bytes.fromhex(new))

    def head(self, note):
        """Size, hash and key of a signed head."""
        text, below = note.rsplit("\n\n", 1)
        name, size, root = text.split("\n")
        need(name == self.name and str(int(size)) == size, "a signed head is of another book")
        for line in below.split("\n")[:-1]:
            by, signature = line.removeprefix("— ").split(" ")
            data = base64.b64decode(signature, validate=True)
            for key in self.keys:
                if data[:4] == sha(name.encode(), b"\n\1", key)[:4] and by == name:
                    need(signed(key, (text + "\n").encode(), data[4:]), "a signed head was changed")
                    return int(size), base64.b64decode(root, validate=True), key
        raise ValueError("a signed head bears no signature of the book's key")

def report(folder):
    first, *rest = lines(folder / "proof.jsonl", [["consistency", "form", "printed", "report"],
                                                  ["body", "header", "inclusion"]])
    need(rest and first["form"] == "cinderbook proof 1", "the proof is of another form")
    keys, entries, files, issued = Keys(rest[0]["header"].encode()), [], set(), False
    for one in rest:
        header, body = one["header"].encode(), one["body"].encode()
        number, parts, named = entry(header, body)
        need(number > (entries[-1][0] if entries else 0), f"entry {number} is out of order")
        entries.append((number, leaf(header), [bytes.fromhex(hash) for hash in one["inclusion"]]))
        files.update(named)
        if parts["kind"] == b"key-begun":
            keys.begin(number, body)
        if parts["kind"] == b"report-issued" and json.loads(body)["number"] == first["report"]:
            issued = json.loads(body)["head"]["number"] == first["printed"]["size"]
    size, root, key = keys.head((folder / "signed-head").read_bytes().decode())
    for number, hash, proof in entries:
        need(includes(hash, number - 1, size, proof, root), f"entry {number} is not in the record")
    old, proof = first["printed"], [bytes.fromhex(hash) for hash in first["consistency"]]
    need(continues(old["size"], bytes.fromhex(old["root"]), size, root, proof), "the printed head is another")
    need(issued, "the report's own entry is missing")
    public = (folder / "public-key").read_bytes().decode()
    tag = sha(keys.name.encode(), b"\n\1", key)[:4].hex()
    need(public == f"{keys.name}+{tag}+{base64.b64encode(bytes([1]) + key).decode()}\n", "the key is another")
    for name in sorted(files):
        path = folder / "evidence" / name[:2] / name
        need(path.is_file(), f"evidence {name} is missing")
        need(hashlib.sha256(path.read_bytes()).hexdigest() == name, f"evidence {name} was changed")
    return f"{size} {root.hex()}"

if __name__ == "__main__":
    for name in sys.argv[1:]:
        folder = pathlib.Path(name)
        try:
            print("good", report(folder))
        except (ValueError, KeyError, TypeError, IndexError, OSError, AttributeError) as fault:
            print("bad", str(fault).replace("\n", " "))
