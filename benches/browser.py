"""A headless browser that a bench presses keys in: chromium and chromedriver, and nothing beside."""

import json
import re
import subprocess
import time
import urllib.request


class Browser:
    """A headless browser with one page."""

    def __init__(self, profile):
        self.driver = subprocess.Popen(["chromedriver", "--port=0"], stdout=subprocess.PIPE, text=True)
        for line in self.driver.stdout:
            port = re.search(r"started successfully on port (\d+)", line)
            if port:
                break
        self.at = f"http://127.0.0.1:{port[1]}/session"
        arguments = ["--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage",
                     "--no-first-run", f"--user-data-dir={profile}"]
        told = {"capabilities": {"alwaysMatch": {"goog:chromeOptions": {"args": arguments}}}}
        self.at += "/" + self.tell("", told)["sessionId"]

    def __enter__(self):
        return self

    def __exit__(self, *_):
        urllib.request.urlopen(urllib.request.Request(self.at, method="DELETE"))
        self.driver.terminate()
        self.driver.wait()

    def tell(self, path, document):
        asked = urllib.request.Request(self.at + path, json.dumps(document).encode())
        return json.load(urllib.request.urlopen(asked))["value"]

    def below(self, method, **parameters):
        return self.tell("/goog/cdp/execute", {"cmd": method, "params": parameters})

    def value(self, expression):
        asked = {"expression": expression, "returnByValue": True, "awaitPromise": True}
        return self.below("Runtime.evaluate", **asked)["result"].get("value")

    def before(self, script):
        """Runs a script in each page before the page's own."""
        self.below("Page.addScriptToEvaluateOnNewDocument", source=script)

    def signed_in(self, book):
        """The person of a served book is signed in from here on."""
        name, _, value = book.cookie.partition("=")
        self.below("Network.setCookie", name=name, value=value, url=book.origin)

    def key(self, key, code):
        for kind in ["rawKeyDown", "keyUp"]:
            self.below("Input.dispatchKeyEvent", type=kind, key=key, code=key, windowsVirtualKeyCode=code)

    def until(self, expression):
        end = time.monotonic() + 30
        while self.value(expression) is not True:
            if time.monotonic() > end:
                raise SystemExit(f"`{expression}` did not come")
            time.sleep(0.01)

    def at_the_flame(self, book, plan):
        """Opens the bench and goes, by the switch, until the flame is on the specimen."""
        self.signed_in(book)
        self.tell("/url", {"url": f"{book.origin}/bench/{plan}/1"})
        self.until("document.body.innerText.includes('Clock: ±')")
        self.key("PageDown", 34)
        for heading in ["Ready", "Flame on specimen"]:
            time.sleep(0.5)
            self.key("PageDown", 34)
            self.until(f"document.querySelector('h1')?.innerText === '{heading}'")
