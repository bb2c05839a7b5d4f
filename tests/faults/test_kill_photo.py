"""Killed while photos are kept: a file that bears a name is whole, and one that was told of is there."""

from __future__ import annotations

import hashlib
import random
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from webapp.store.photo_files import PHOTO_FOLDER

KILLS = 6
KEEPER = """
import sys
from pathlib import Path
from webapp.store.photo_files import keep_photo
count = 0
while True:
    count += 1
    picture = f"picture {sys.argv[2]} {count} ".encode() * 40_000
    print(keep_photo(Path(sys.argv[1]), picture, picture[:900]), flush=True)
"""


@pytest.mark.parametrize("kill", range(KILLS))
def test_a_kill_leaves_no_half_photo_under_a_photos_name(tmp_path: Path, kill: int) -> None:
    chance = random.Random(kill)
    with subprocess.Popen(
        [sys.executable, "-c", KEEPER, str(tmp_path), str(kill)], stdout=subprocess.PIPE, text=True
    ) as keeper:
        assert keeper.stdout is not None
        told = [keeper.stdout.readline().strip() for _ in range(1 + chance.randrange(20))]
        for _ in range(chance.randrange(200_000)):
            pass  # a moment that no clock chooses
        keeper.send_signal(signal.SIGKILL)
        told += [line.strip() for line in keeper.stdout if line.endswith("\n")]
    folder = tmp_path / PHOTO_FOLDER
    named = {path.stem: path.read_bytes() for path in folder.glob("*.jpg") if "-" not in path.stem}
    assert {name: hashlib.sha256(content).hexdigest() for name, content in named.items()} == {
        name: name for name in named
    }
    assert set(told) <= set(named)
    assert all((folder / f"{name}-small.jpg").stat().st_size == 900 for name in named)
