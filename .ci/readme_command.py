"""Print the shell command that stands under a heading of the README, its parts joined by `&&` one a line."""

import re
import sys
from pathlib import Path

heading = sys.argv[1]
readme = (Path(__file__).parent.parent / "README.md").read_text(encoding="utf-8")
found = re.search(rf"^## {re.escape(heading)}\n.*?^```sh\n(.*?)^```", readme, re.DOTALL | re.MULTILINE)
if found is None:
    sys.exit(f"README.md has no command under '{heading}'")
for part in found.group(1).replace("\\\n", " ").split("&&"):
    print(" ".join(part.split()))  # noqa: T201
