"""A small virtual machine with a real Linux input system, and this computer's files inside it.

Run as ``python machine.py --limit 170 COMMAND ...``: the command runs in the machine, as root, on a throw-away layer
over the host's files; its output and its exit status come back. Needs qemu-system-x86, seabios, busybox-static, apt
and dpkg; the kernel is a Debian package that is unpacked, not installed, and kept in the user's cache folder.
"""

from __future__ import annotations

import argparse
import gzip
import lzma
import os
import re
import shlex
import shutil
import stat
import subprocess
import sys
import tempfile
import time
from pathlib import Path

MODULES = ("virtio_pci", "9pnet_virtio", "9p", "overlay", "uinput", "evdev")
PROGRAMS = ("qemu-system-x86_64", "busybox", "apt-get", "dpkg")
UNAVAILABLE = 77
"""Exit status where the machine cannot be made here; the last line of the output says why."""

INIT = """#!/bin/busybox sh
/bin/busybox mkdir -p /proc /sys /dev /host /over /new
/bin/busybox mount -t proc proc /proc
/bin/busybox mount -t sysfs sys /sys
/bin/busybox mount -t devtmpfs dev /dev
for module in $(/bin/busybox cat /modules/order); do /bin/busybox insmod /modules/$module; done
share() { /bin/busybox mount -t 9p -o trans=virtio,version=9p2000.L,msize=1048576,cache=$3,$4 $1 $2; }
share host /host loose ro
/bin/busybox mount -t tmpfs over /over
/bin/busybox mkdir /over/upper /over/work
/bin/busybox mount -t overlay -o lowerdir=/host,upperdir=/over/upper,workdir=/over/work over /new
/bin/busybox mount -t proc proc /new/proc
/bin/busybox mount -t sysfs sys /new/sys
/bin/busybox mount -t devtmpfs dev /new/dev
/bin/busybox mount -t tmpfs tmp /new/tmp
/bin/busybox mkdir -p /new/dev/shm /new/run/job
/bin/busybox mount -t tmpfs shm /new/dev/shm
share job /new/run/job none rw
/bin/busybox ifconfig lo 127.0.0.1
/bin/busybox chroot /new /bin/sh /run/job/command > /new/run/job/output 2>&1
echo $? > /new/run/job/status
/bin/busybox sync
/bin/busybox poweroff -f
"""


class UnavailableError(Exception):
    """The machine cannot be made here."""


def cache_folder() -> Path:
    """Return where kernels are kept."""
    base = os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    return Path(base) / "feelcheck-kernel"


def newest_package() -> str:
    """Return the newest plain kernel package that apt offers: 6.12 where there is one, else 6.1."""
    pattern = r"^linux-image-[0-9][^ ]*-amd64$"
    listed = subprocess.run(["apt-cache", "pkgnames", "linux-image-"], capture_output=True, text=True, check=False)
    names = [name for name in listed.stdout.split() if re.match(pattern, name)]
    plain = [name for name in names if not re.search(r"cloud|-rt-", name) and re.search(r"-\d+\.\d+\.\d", name)]
    known = [name for name in plain if name.startswith(("linux-image-6.12.", "linux-image-6.1."))]
    if not known:
        raise UnavailableError("apt offers no kernel package (apt-get update?)")
    return max(known, key=lambda name: [int(part) for part in re.findall(r"\d+", name)[:4]])


def image(folder: Path) -> tuple[Path, Path]:
    """Return kernel and initial file system; made and kept on the first call."""
    missing = [program for program in PROGRAMS if shutil.which(program) is None]
    if missing:
        raise UnavailableError(f"not installed: {', '.join(missing)}")
    made = sorted(folder.glob("*/initramfs.gz"))
    if made:
        return made[-1].parent / "vmlinuz", made[-1]
    package = newest_package()
    with tempfile.TemporaryDirectory() as scratch:
        done = subprocess.run(
            ["apt-get", "download", package], cwd=scratch, capture_output=True, text=True, check=False
        )
        archives = list(Path(scratch).glob("*.deb"))
        if not archives:
            raise UnavailableError(f"{package} cannot be fetched: {done.stderr.strip().splitlines()[-1:]}")
        subprocess.run(["dpkg", "-x", str(archives[0]), "unpacked"], cwd=scratch, check=True)
        unpacked = Path(scratch) / "unpacked"
        draft = Path(tempfile.mkdtemp(dir=folder, prefix=".draft-")) if folder.is_dir() else None
        if draft is None:
            folder.mkdir(parents=True)
            draft = Path(tempfile.mkdtemp(dir=folder, prefix=".draft-"))
        shutil.copy(next((unpacked / "boot").glob("vmlinuz-*")), draft / "vmlinuz")
        modules = next((unpacked / "lib" / "modules").iterdir())
        (draft / "initramfs.gz").write_bytes(gzip.compress(file_system(modules), 1))
    final = folder / package
    if not final.exists():
        draft.rename(final)
    return final / "vmlinuz", final / "initramfs.gz"


def module_order(modules: Path) -> dict[str, bytes]:
    """Return the modules that are needed, unpacked, each after those it depends on."""
    paths = {path.name.split(".ko")[0].replace("-", "_"): path for path in modules.rglob("*.ko*")}
    order: dict[str, bytes] = {}

    def add(name: str) -> None:
        path = paths.get(name.replace("-", "_"))
        if path is None or path.name in order:
            return  # built into the kernel
        data = lzma.decompress(path.read_bytes()) if path.suffix == ".xz" else path.read_bytes()
        found = re.search(rb"\0depends=([^\0]*)\0", data)
        for other in (found.group(1).decode() if found else "").split(","):
            add(other)
        order[path.name] = data

    for name in MODULES:
        add(name)
    return {name.removesuffix(".xz"): data for name, data in order.items()}


def file_system(modules: Path) -> bytes:
    """Return the initial file system as an archive in the kernel's own format ("newc")."""
    drivers = module_order(modules)
    busybox = Path(shutil.which("busybox") or "/bin/busybox").read_bytes()
    files = {"init": INIT.encode(), "bin/busybox": busybox, "modules/order": "\n".join(drivers).encode()}
    files |= {f"modules/{name}": data for name, data in drivers.items()}
    parts = [_entry(folder, b"", stat.S_IFDIR | 0o755) for folder in ("bin", "modules", "dev")]
    parts += [_entry(name, data, stat.S_IFREG | 0o755) for name, data in files.items()]
    return b"".join([*parts, _entry("TRAILER!!!", b"", 0)])


def _entry(name: str, data: bytes, mode: int) -> bytes:
    # Inode, mode, owner, group, links, time, size, device and its own device numbers, name's length, checksum.
    fields = (0, mode, 0, 0, 1, 0, len(data), 0, 0, 0, 0, len(name) + 1, 0)
    head = b"070701" + "".join(f"{field:08x}" for field in fields).encode() + name.encode() + b"\0"
    return head + b"\0" * (-len(head) % 4) + data + b"\0" * (-len(data) % 4)


def arguments(kernel: Path, initial: Path, job: Path) -> list[str]:
    """Return the machine's command line."""
    shares = (("host", "/", "multidevs=remap,readonly=on"), ("job", str(job), "multidevs=remap"))
    plain = [
        *("qemu-system-x86_64", "-machine", "q35", "-accel", "tcg,thread=multi", "-cpu", "max", "-smp", "2"),
        *("-m", "1024", "-nodefaults", "-display", "none", "-no-reboot", "-serial", "stdio"),
        *("-kernel", str(kernel), "-initrd", str(initial), "-append", "console=ttyS0 quiet panic=-1 no_timer_check"),
    ]
    # no_timer_check: an emulated timer that is late on a busy machine is no broken one.
    for tag, path, more in shares:
        plain += ["-virtfs", f"local,path={path},mount_tag={tag},security_model=none,{more}"]
    return plain


def run(command: str, limit_s: float) -> int:
    """Run a shell command in the machine, print its output and return its exit status."""
    kernel, initial = image(cache_folder())
    with tempfile.TemporaryDirectory() as scratch:
        job = Path(scratch)
        (job / "command").write_text(command)
        started_s = time.monotonic()
        with subprocess.Popen(
            arguments(kernel, initial, job), stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
        ) as machine:
            try:
                console, _ = machine.communicate(timeout=limit_s)
            except subprocess.TimeoutExpired:
                machine.kill()
                console, _ = machine.communicate()
        output, status = job / "output", job / "status"
        print(output.read_text(errors="replace") if output.exists() else console.decode(errors="replace"))
        print(f"kernel {kernel.parent.name}, {time.monotonic() - started_s:.1f} s")
        if not status.exists():
            print(
                f"the machine did not finish within {limit_s:g} s; console: {console.decode(errors='replace')[-2000:]}"
            )
            return 1
        return int(status.read_text())


def main() -> int:
    """Run the command line's command in the machine."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--limit", type=float, default=170.0, help="seconds after which the machine is stopped")
    parser.add_argument("--prepare", action="store_true", help="only fetch the kernel and keep it")
    parser.add_argument("command", nargs=argparse.REMAINDER)
    options = parser.parse_args()
    try:
        if options.prepare:
            return 0 if image(cache_folder()) else 1
        return run(shlex.join(options.command), options.limit)
    except UnavailableError as problem:
        print(problem)
        return UNAVAILABLE


if __name__ == "__main__":
    sys.exit(main())
