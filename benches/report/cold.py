"""Times a command as a whole process, and counts the pages of the PDF it wrote.

usage: cold.py COMMAND ... (the argument that ends in .pdf is the file)
"""

import json
import resource
import subprocess
import sys
import time

command = sys.argv[1:]
pdf = next(argument for argument in command if argument.endswith(".pdf"))
start = time.perf_counter()
done = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True)
seconds = time.perf_counter() - start
peak_mb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
result = json.loads(done.stdout.strip().splitlines()[-1])["result"]
info = subprocess.run(["pdfinfo", pdf], check=True, stdout=subprocess.PIPE, text=True).stdout
result["pages"] = int(next(line.split()[1] for line in info.splitlines() if line.startswith("Pages:")))
print(json.dumps({"seconds": seconds, "peak_mb": peak_mb, "result": result}))
