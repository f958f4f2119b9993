"""Reads lines `package==version`, prints each with the version that is installed."""

import sys
from importlib.metadata import version

for line in sys.stdin:
    name = line.split("==")[0]
    print(f"{name}=={version(name.split('[')[0])}")
