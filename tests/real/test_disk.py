"""A disk that takes no more, or may only be read: the daemon says so, acknowledges nothing, and goes on by itself.

With the broker inside, so that the nodes' acknowledgements show what was promised. A file system of 3 MB where one can
be mounted, and everywhere a limit on the size of files (setrlimit(2)), which makes every write fail alike. An orderly
`mount -o remount,ro` is refused while a daemon has its store open; what really happens is that the system finds an
error on the disk, and then takes no writing any more: ext4 can be told to find one.
"""

import contextlib
import os
import resource
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from brokers import Publisher, free_port, until
from killing import DaemonProcess, listening_port

from hivemon.model import Quantity, Stream
from hivemon.store import Store
from hivemon.store.copies import copy_store

CONFIG = """
[[yard]]
id = "orchard"
latitude = 51.2
longitude = 3.4
timezone = "Europe/Brussels"

[store]
path = "{path}"

[embedded]
port = {port}

[pages]
on = false
"""


class SmallDisk:
    """A file system of its own in memory."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._filler = folder / "filler"
        mount(folder)

    def fill(self, _pid: int) -> None:
        """Leave not a byte."""
        with self._filler.open("ab", buffering=0) as file, contextlib.suppress(OSError):
            while True:
                file.write(bytes(4096))

    def free(self, _pid: int) -> None:
        self._filler.unlink()

    def close(self) -> None:
        subprocess.run(["umount", self.folder], check=True)


class LimitedFiles:
    """A limit on the size of the daemon's files."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def fill(self, pid: int) -> None:
        written = max(path.stat().st_size for path in self.folder.glob("hivemon.db*"))
        resource.prlimit(pid, resource.RLIMIT_FSIZE, (written, resource.RLIM_INFINITY))

    def free(self, pid: int) -> None:
        resource.prlimit(pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))

    def close(self) -> None:
        """Nothing is left to undo."""


def mount(folder: Path, *options: str) -> None:
    command = ["mount", "-t", "tmpfs", "-o", ",".join(("size=3m", *options)), "tmpfs", folder]
    subprocess.run(command, check=True, capture_output=True)


def can_mount() -> bool:
    """Root of a machine can; root of a container often cannot."""
    return (
        os.geteuid() == 0
        and not subprocess.run(
            ["unshare", "--mount", "mount", "-t", "tmpfs", "tmpfs", "/mnt"], check=False, capture_output=True
        ).returncode
    )


KINDS = [LimitedFiles, SmallDisk] if can_mount() else [LimitedFiles]


@pytest.fixture(params=KINDS)
def disk(request, tmp_path):
    folder = tmp_path / "disk"
    folder.mkdir()
    made = request.param(folder)
    yield made
    made.close()


@pytest.fixture
def daemon(disk, tmp_path):
    port = free_port()
    config = tmp_path / "hivemon.toml"
    config.write_text(CONFIG.format(path=disk.folder / "hivemon.db", port=port))
    process = DaemonProcess(config)
    process.port = port
    process.start("embedded broker listens")
    yield process
    process.close()


def pack(moment: float) -> bytes:
    return b'[{"n":"weight","v":41.5,"t":%d}]' % moment


def test_a_full_disk_stops_acknowledgements_and_nothing_else(daemon, disk):
    node = Publisher(daemon.port)
    begin = int(time.time()) - 100_000
    sent = [node.publish("hives/orchard/o1", pack(begin + n)) for n in range(50)]
    until(lambda: node.acknowledged >= set(sent))
    disk.fill(daemon.pid)
    more = []

    def stuck() -> bool:
        number = len(sent) + len(more)
        more.append(node.publish("hives/orchard/o1", pack(begin + number)))
        return "the store is in trouble" in daemon.log.read_text()

    until(stuck, 30)
    time.sleep(0.5)
    acknowledged = len(node.acknowledged)
    time.sleep(2.5)
    assert len(node.acknowledged) == acknowledged < len(sent) + len(more)
    said = daemon.log.read_text()
    assert said.count("the store is in trouble") == 1
    assert "the disk is full" in said or "takes no more" in said
    disk.free(daemon.pid)
    until(lambda: node.acknowledged >= {*sent, *more}, 20)
    until(lambda: "the store works again" in daemon.log.read_text())
    node.close()
    assert daemon.end(signal.SIGTERM) == 0
    with Store.open(disk.folder / "hivemon.db") as store:
        stored = store.series("orchard")[Stream("o1", Quantity.WEIGHT)].time.tolist()
        assert store.check() == []
    assert stored == [(begin + n) * 1000 for n in range(len(sent) + len(more))]


@pytest.mark.skipif(not can_mount(), reason="a file system to be read only can be mounted by root alone")
def test_a_disk_that_may_only_be_read_is_said_and_a_start_after_it_works(tmp_path):
    folder = tmp_path / "disk"
    folder.mkdir()
    config = tmp_path / "hivemon.toml"
    config.write_text(CONFIG.format(path=folder / "hivemon.db", port=free_port()))
    command = [sys.executable, "-c", "import sys; from hivemon.cli import main; sys.exit(main())", "run", "-c", config]
    mount(folder, "ro")
    try:
        refused = subprocess.run(command, check=False, capture_output=True, text=True, timeout=60)
        assert refused.returncode == 5
        assert "Read-only file system" in refused.stderr or "may only be read" in refused.stderr
        subprocess.run(["mount", "-o", "remount,rw", folder], check=True)
        process = DaemonProcess(config)
        process.start("embedded broker listens")
        assert process.end(signal.SIGTERM) == 0
        process.close()
    finally:
        subprocess.run(["umount", folder], check=True)


class FailingDisk:
    """A file system in a file (ext4 on a loop device), as on a memory card."""

    def __init__(self, folder: Path, image: Path) -> None:
        self.folder = folder
        self.image = image
        with image.open("wb") as file:
            file.truncate(16 * 1024**2)
        sh("mkfs.ext4", "-q", image)
        sh("mount", "-o", "loop,errors=remount-ro", image, folder)

    def fail(self) -> None:
        """Have the system find an error: from now on it takes no writing (Documentation/ABI/testing/sysfs-fs-ext4)."""
        device = Path(sh("findmnt", "-no", "SOURCE", self.folder).strip()).name
        Path(f"/sys/fs/ext4/{device}/trigger_fs_error").write_text("bees")

    def put_in_anew(self) -> None:
        """Take it out, whoever still uses it; what it holds, checked, is mounted at the same place as another disk."""
        sh("umount", "--lazy", self.folder)
        rescued = self.image.with_name("rescued")
        shutil.copy(self.image, rescued)
        subprocess.run(["fsck.ext4", "-p", rescued], check=False, capture_output=True)
        sh("mount", "-o", "loop", rescued, self.folder)


def sh(*command: str | Path) -> str:
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def has_loop_devices() -> bool:
    """Whether the kernel lends this machine a block device for a file; a container is often refused one."""
    return can_mount() and subprocess.run(["losetup", "--find"], check=False, capture_output=True).returncode == 0


@pytest.fixture
def failing_disk(tmp_path):
    folder = tmp_path / "disk"
    folder.mkdir()
    disk = FailingDisk(folder, tmp_path / "image")
    yield disk
    sh("umount", "--lazy", folder)


@pytest.mark.skipif(not has_loop_devices(), reason="no loop device can be had here, by root or at all")
def test_a_disk_that_comes_to_be_read_only_is_said_and_one_put_in_anew_is_found(failing_disk, tmp_path):
    port, begin = listening_port(), int(time.time()) - 100_000
    config = tmp_path / "hivemon.toml"
    config.write_text(CONFIG.format(path=failing_disk.folder / "hivemon.db", port=port))
    daemon = DaemonProcess(config)
    daemon.start("embedded broker listens")
    try:
        node = Publisher(port)
        before = [node.publish("hives/orchard/o1", pack(begin + n)) for n in range(20)]
        until(lambda: node.acknowledged >= set(before))
        failing_disk.fail()
        after = [node.publish("hives/orchard/o1", pack(begin + 20 + n)) for n in range(20)]
        until(lambda: "the store is in trouble" in daemon.log.read_text())
        time.sleep(0.5)
        said = daemon.log.read_text()
        assert said.count("the store is in trouble") == 1
        assert "its disk may only be read now" in said
        assert not node.acknowledged & set(after)
        with Store.open(failing_disk.folder / "hivemon.db", read_only=True) as store:
            assert store.facts().disk_read_only, "health says so too"
        copy_store(failing_disk.folder / "hivemon.db", tmp_path / "copy.db")
        failing_disk.put_in_anew()
        until(lambda: node.acknowledged >= set(after), 20)
        node.close()
        assert daemon.end(signal.SIGTERM) == 0
        with Store.open(failing_disk.folder / "hivemon.db") as store:
            stored = store.series("orchard")[Stream("o1", Quantity.WEIGHT)].time.tolist()
            assert store.check() == []
        assert stored == [(begin + n) * 1000 for n in range(40)]
    finally:
        daemon.close()
