"""A disk that is small enough to fill: a file system in memory, mounted where no other process sees it.

Mounting needs root. Without it the full disk is left out, and the run says so: a limit on the size of one file, which
anybody may set, kills PostgreSQL by a signal instead of refusing it room, and would prove something else.
"""

from __future__ import annotations

import ctypes
import os
import subprocess
from pathlib import Path

_NEW_MOUNTS = 0x00020000  # CLONE_NEWNS
_BLOCK = 64 * 1024


def own_mounts() -> bool:
    """From here on what this process and its children mount is theirs alone, and goes when the last of them ends."""
    if os.getuid() != 0 or ctypes.CDLL(None, use_errno=True).unshare(_NEW_MOUNTS):
        return False
    made = subprocess.run(["mount", "--make-rprivate", "/"], check=False, capture_output=True)
    return made.returncode == 0


class SmallDisk:
    def __init__(self, folder: Path, size_mb: int) -> None:
        self.folder = folder
        self.ballast = folder / "ballast"
        folder.mkdir(parents=True, exist_ok=True)
        subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={size_mb}m", "tmpfs", folder], check=True)

    def fill(self) -> None:
        """To the last byte."""
        with self.ballast.open("ab", buffering=0) as file:
            size = _BLOCK
            while size:
                try:
                    file.write(bytes(size))
                except OSError:
                    size //= 2

    def free(self) -> int:
        room = os.statvfs(self.folder)
        return room.f_bavail * room.f_frsize

    def make_room(self) -> None:
        self.ballast.unlink()

    def unmount(self) -> None:
        subprocess.run(["umount", "--lazy", self.folder], check=False)
