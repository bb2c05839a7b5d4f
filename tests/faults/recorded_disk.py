"""What SQLite and the app ask of the disk, written down in order, and faults put in its way.

SQLite reaches files through a table of functions, its VFS (sqlite.org/vfs.html). Here the app's own
SQLite library is given a table of ours, by ctypes, that notes each new file, write, truncation, sync and
deletion, and hands it on. What the app does by itself (photos, copies) goes by `os.fsync`, `os.replace` and
`os.unlink`, which are noted likewise. The shared index of the WAL lies in memory and is made anew after a
cut, so it is not noted.
"""

from __future__ import annotations

import ctypes
import os
import sqlite3
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from ctypes import CFUNCTYPE, POINTER, Structure, addressof, c_char_p, c_int, c_int64, c_void_p, string_at
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

FULL, CANNOT_WRITE, CANNOT_SYNC = 13, 778, 1034  # SQLITE_FULL, SQLITE_IOERR_WRITE, SQLITE_IOERR_FSYNC
OPEN = CFUNCTYPE(c_int, c_void_p, c_void_p, c_void_p, c_int, c_void_p)
DELETE = CFUNCTYPE(c_int, c_void_p, c_char_p, c_int)
WRITE = CFUNCTYPE(c_int, c_void_p, c_void_p, c_int, c_int64)
TRUNCATE = CFUNCTYPE(c_int, c_void_p, c_int64)
SYNC = CFUNCTYPE(c_int, c_void_p, c_int)
OPEN_FOLDER = CFUNCTYPE(c_int, c_char_p, c_void_p)
SET_CALL = CFUNCTYPE(c_int, c_void_p, c_char_p, c_void_p)
GET_CALL = CFUNCTYPE(c_void_p, c_void_p, c_char_p)


class Vfs(Structure):
    """`sqlite3_vfs`, version 3."""

    _fields_ = (
        ("iVersion", c_int), ("szOsFile", c_int), ("mxPathname", c_int), ("pNext", c_void_p),
        ("zName", c_char_p), ("pAppData", c_void_p), ("xOpen", OPEN), ("xDelete", DELETE),
        *((name, c_void_p) for name in (
            "xAccess", "xFullPathname", "xDlOpen", "xDlError", "xDlSym", "xDlClose", "xRandomness", "xSleep",
            "xCurrentTime", "xGetLastError", "xCurrentTimeInt64",
        )),
        ("xSetSystemCall", SET_CALL), ("xGetSystemCall", GET_CALL), ("xNextSystemCall", c_void_p),
    )  # fmt: skip


class Methods(Structure):
    """`sqlite3_io_methods`, version 3."""

    _fields_ = (
        ("iVersion", c_int), ("xClose", c_void_p), ("xRead", c_void_p), ("xWrite", WRITE),
        ("xTruncate", TRUNCATE), ("xSync", SYNC),
        *((name, c_void_p) for name in (
            "xFileSize", "xLock", "xUnlock", "xCheckReservedLock", "xFileControl", "xSectorSize",
            "xDeviceCharacteristics", "xShmMap", "xShmLock", "xShmBarrier", "xShmUnmap", "xFetch", "xUnfetch",
        )),
    )  # fmt: skip


class Event(NamedTuple):
    """One thing asked of the disk.

    what : made, found (as SQLite opens it), folder, write, truncate, sync (a file),
        settle (a folder's names), rename, delete, answered
    data : what is written; of a file that is found or renamed, all that is in it
    """

    what: str
    path: str
    at: int = 0
    data: bytes = b""
    to: str = ""


@dataclass
class Disk:
    """The notes, and the fault that is on just now: none, "full", "no write" or "no sync"."""

    events: list[Event] = field(default_factory=list)
    fault: str = ""

    def answered(self, what: str) -> None:
        """Note that a save was told to be safe."""
        self.events.append(Event("answered", what))

    def wrote(self, path: str, data: bytes, at: int) -> int:
        if self.fault in ("full", "no write"):
            return FULL if self.fault == "full" else CANNOT_WRITE
        self.events.append(Event("write", path, at, data))
        return 0


def sqlite_library() -> Path | None:
    """Return the library that Python's own module has loaded; None where it is built in."""
    maps = Path("/proc/self/maps")
    lines = maps.read_text().splitlines() if maps.exists() else []
    return next((Path(line.split()[-1]) for line in lines if "libsqlite3" in line), None)


class Shim:
    """Our table of functions in front of SQLite's; it lives as long as any file opened through it."""

    def __init__(self, disk: Disk, library: Path) -> None:
        self.disk = disk
        self.sqlite = ctypes.CDLL(str(library))
        self.sqlite.sqlite3_vfs_find.restype = POINTER(Vfs)
        self.sqlite.sqlite3_vfs_register.argtypes = [c_void_p, c_int]
        self.sqlite.sqlite3_vfs_unregister.argtypes = [c_void_p]
        self.real = self.sqlite.sqlite3_vfs_find(None)
        self.real_address = addressof(self.real.contents)
        self.ours = Vfs.from_buffer_copy(self.real.contents)
        self.ours.zName = b"recorded"
        self.ours.xOpen, self.ours.xDelete = OPEN(self.open), DELETE(self.delete)
        self.paths: dict[int, str] = {}
        self.known: set[str] = set()
        self.tables: dict[int, tuple[Methods, Methods]] = {}
        self.real_of_file: dict[int, Methods] = {}
        self.real_folder = self.real.contents.xGetSystemCall(self.real_address, b"openDirectory")
        self.open_real_folder = OPEN_FOLDER(self.real_folder)
        self.open_our_folder = OPEN_FOLDER(self.open_folder)

    def stand_in_front(self) -> None:
        self.sqlite.sqlite3_vfs_register(addressof(self.ours), 1)
        self.real.contents.xSetSystemCall(
            self.real_address, b"openDirectory", ctypes.cast(self.open_our_folder, c_void_p)
        )

    def step_aside(self) -> None:
        self.sqlite.sqlite3_vfs_unregister(addressof(self.ours))
        self.real.contents.xSetSystemCall(self.real_address, b"openDirectory", self.real_folder)

    def open(self, _vfs: int, name: int, file: int, flags: int, flags_out: int) -> int:
        path = string_at(name).decode() if name else ""
        is_new = bool(path) and not os.path.exists(path)
        result: int = self.real.contents.xOpen(self.real_address, name, file, flags, flags_out)
        if result == 0 and path:
            self._note_opened(path, is_new)
            self._wrap(file, path)
        return result

    def _note_opened(self, path: str, is_new: bool) -> None:
        """Note a file that is new, or was written past SQLite, as a backup is that is unpacked.

        It is read at its first opening only: to close a file drops all locks on it that this process holds.
        """
        if is_new:
            self.disk.events.append(Event("made", path))
        elif path not in self.known:
            self.disk.events.append(Event("found", path, data=Path(path).read_bytes()))
        self.known.add(path)

    def _wrap(self, file: int, path: str) -> None:
        """Have a file that was just opened go by our functions; it begins with the address of its table."""
        first = c_void_p.from_address(file)
        assert first.value is not None
        if first.value not in self.tables:
            real = Methods.from_address(first.value)
            ours = Methods.from_buffer_copy(real)
            ours.xWrite, ours.xSync = WRITE(self.write), SYNC(self.sync)
            ours.xTruncate = TRUNCATE(self.truncate)
            self.tables[first.value] = (real, ours)
        self.real_of_file[file], ours = self.tables[first.value]
        self.paths[file] = path
        first.value = addressof(ours)

    def write(self, file: int, data: int, size: int, at: int) -> int:
        return self.disk.wrote(self.paths[file], string_at(data, size), at) or int(
            self.real_of_file[file].xWrite(file, data, size, at)
        )

    def truncate(self, file: int, size: int) -> int:
        self.disk.events.append(Event("truncate", self.paths[file], size))
        return int(self.real_of_file[file].xTruncate(file, size))

    def sync(self, file: int, flags: int) -> int:
        if self.disk.fault == "no sync":
            return CANNOT_SYNC
        result = int(self.real_of_file[file].xSync(file, flags))
        self.disk.events.append(Event("sync", self.paths[file]))
        return result

    def delete(self, _vfs: int, name: bytes, also_folder: int) -> int:
        self.disk.events.append(Event("delete", name.decode()))
        return int(self.real.contents.xDelete(self.real_address, name, also_folder))

    def open_folder(self, name: bytes, handle: int) -> int:
        """Note that the folder of a file is synced, which is all that SQLite opens folders for."""
        self.disk.events.append(Event("settle", os.path.dirname(name.decode())))
        return int(self.open_real_folder(name, handle))


@contextmanager
def recorded(library: Path) -> Iterator[Disk]:
    """Note what is asked of the disk while the block runs; every file must be closed at its end."""
    disk = Disk()
    shim = Shim(disk, library)
    shim.stand_in_front()
    with noted_calls(disk):
        try:
            yield disk
        finally:
            shim.step_aside()


@contextmanager
def noted_calls(disk: Disk) -> Iterator[None]:
    """Note what the app itself syncs, names and deletes. A file's content counts from its sync on.

    Only files are renamed: of a folder all names in it would move, which `after_a_cut.py` does not know.
    """
    sync, replace, unlink, mkdir, rmdir = os.fsync, os.replace, os.unlink, os.mkdir, os.rmdir

    def noted_sync(handle: int) -> None:
        if disk.fault == "no sync":
            raise OSError(5, os.strerror(5))
        sync(handle)
        path = os.readlink(f"/proc/self/fd/{handle}")
        if stat.S_ISDIR(os.fstat(handle).st_mode):
            disk.events.append(Event("settle", path))
        else:
            disk.events += [Event("made", path, data=Path(path).read_bytes()), Event("sync", path)]

    def noted_replace(source: str | Path, target: str | Path) -> None:
        content = Path(source).read_bytes()
        replace(source, target)
        disk.events.append(Event("rename", str(source), data=content, to=str(target)))

    def note_gone(path: str | Path, dir_fd: int | None) -> None:
        folder = "" if dir_fd is None else os.readlink(f"/proc/self/fd/{dir_fd}")
        disk.events.append(Event("delete", os.path.join(folder, str(path))))

    def noted_unlink(path: str | Path, *, dir_fd: int | None = None) -> None:
        unlink(path, dir_fd=dir_fd)
        note_gone(path, dir_fd)

    def noted_rmdir(path: str | Path, *, dir_fd: int | None = None) -> None:
        rmdir(path, dir_fd=dir_fd)
        note_gone(path, dir_fd)

    def noted_mkdir(path: str | Path, mode: int = 0o777) -> None:
        mkdir(path, mode)
        disk.events.append(Event("folder", str(path)))

    os.fsync, os.replace, os.mkdir = noted_sync, noted_replace, noted_mkdir
    os.unlink, os.rmdir = noted_unlink, noted_rmdir  # type: ignore[assignment]  # bytes are paths too
    try:
        yield
    finally:
        os.fsync, os.replace, os.mkdir, os.unlink, os.rmdir = sync, replace, mkdir, unlink, rmdir


def version_of(library: Path) -> str:
    """Return which SQLite a library is."""
    loaded = ctypes.CDLL(str(library))
    loaded.sqlite3_libversion.restype = c_char_p
    return bytes(loaded.sqlite3_libversion()).decode()


def is_pythons_own(library: Path) -> bool:
    """Tell whether a library is the one Python's module works with."""
    return version_of(library) == sqlite3.sqlite_version
