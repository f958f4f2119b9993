"""A book that is served on loopback, with a session of its person, and where a figure is kept; for the
benches without a peer."""

import http.client
import os
import pathlib
import re
import subprocess
import sys
import time
import urllib.parse

ROOT = pathlib.Path(__file__).resolve().parent.parent
PERSON = "Odalys Fenn"
# The day after the demo's: what is calibrated there is calibrated still.
CLOCK = dict(os.environ, CINDERBOOK_CLOCK="2026-03-06T09:00:00Z")
CLIMATE = {"temperature-from": "22", "temperature-to": "24", "humidity-from": "48", "humidity-to": "52",
           "from": "2026-03-03 08:00", "until": "2026-03-06 08:00"}


def release(place):
    """The program that the command line names at a place; otherwise the release, built now."""
    if len(sys.argv) > place:
        return pathlib.Path(sys.argv[place]).resolve()
    subprocess.run(["cargo", "build", "--release", "--quiet", "--workspace", "--bins"], cwd=ROOT, check=True)
    return ROOT / "target/release/cinderbook"


def kept(name, lines):
    """Prints a table, and puts it into RESULTS.md in place of the last one of its name."""
    table = "\n".join([*lines, ""])
    print(table)
    results = ROOT / "benches/RESULTS.md"
    text = re.sub(rf"\n## {name}\n.*?(?=\n## |\Z)", "", results.read_text(), flags=re.S).rstrip("\n")
    results.write_text(f"{text}\n\n{table}")


def demo(program, folder):
    """Makes the demo's book in a folder."""
    told(program, "--quiet", "demo", folder)


def told(program, *words):
    """What a program says on its standard output."""
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.DEVNULL, "text": True}
    return subprocess.run([program, *words], check=True, env=CLOCK, **pipes).stdout


def drawn_up(program, folder):
    """Draws up a plan of one specimen more in the demo's book, which is not served; its number."""
    plan = (ROOT / "crates/app/src/demo/plan.toml").read_text()
    plan = plan.replace('"EQUIPMENT"', '"NB-1", "CB-2", "TC-4", "SW-3"')
    plan = plan.replace('confirmation-holds = "4 h"\n', "")
    (folder / "plan.toml").write_text(plan)
    said = told(program, "--as", PERSON, "--book", folder / "book", "plan", "new", folder / "plan.toml")
    return int(said.strip().removeprefix("P-"))


class Served:
    """The book of a folder as pages, and a session. `opened_s`: how long it took to open."""

    def __init__(self, program, folder):
        began = time.perf_counter()
        words = ["--book", folder / "book", "serve", "--listen", "127.0.0.1:0", "--link", PERSON]
        pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.STDOUT, "text": True, "env": CLOCK}
        self.server = subprocess.Popen([program, *words], **pipes)
        link = None
        for line in self.server.stdout:
            link = link or re.match(r"http://(\S+?)(/link/\S+)", line)
            if line.startswith("The book is open"):
                break
        self.opened_s = time.perf_counter() - began
        self.origin, self.cookie = "http://" + link[1], ""
        self.connection = http.client.HTTPConnection(link[1])
        answer = self.post(link[2], dict.fromkeys(["password", "again"], "three words and a lamp"))
        self.cookie = answer.getheader("set-cookie").split(";")[0]

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.server.terminate()
        self.server.wait()

    def page(self, path):
        """The seconds it took, the answer and its text."""
        began = time.perf_counter()
        self.connection.request("GET", path, headers={"cookie": self.cookie})
        answer = self.connection.getresponse()
        body = answer.read()
        return time.perf_counter() - began, answer, body.decode("utf-8", "replace")

    def post(self, path, form, kind="application/x-www-form-urlencoded"):
        """Sends a form, which must be taken; the answer."""
        body = form if isinstance(form, bytes) else urllib.parse.urlencode(form)
        heads = {"content-type": kind, "cookie": self.cookie, "origin": self.origin}
        self.connection.request("POST", path, body, heads)
        answer = self.connection.getresponse()
        said = answer.read().decode("utf-8", "replace")
        if answer.status != 303:
            raise SystemExit(f"{path} was answered {answer.status}: {said}")
        return answer

    def made_ready(self, plan):
        """Does what is missing before the flame of a plan."""
        for what in ["1", "layer"]:
            self.post(f"/plans/{plan}", {"act": "conditioned", "what": what, **CLIMATE})
        for act in ["cautions", "readiness"]:
            self.post(f"/plans/{plan}", {"act": act})
