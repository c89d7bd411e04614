"""From a bare clone to a running command: makes `.venv` exactly from uv.lock, then goes on inside it.

Standard library only, and nothing of Django or the settings: this runs before there is an environment. Every
step says so in a line; everything that can be missing on a machine has a sentence that names the fix there.
"""

from __future__ import annotations

import contextlib
import hashlib
import importlib.util
import json
import os
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from dyehouse.running.system import CannotStart, need_venv, say, say_what_pdfs_need

ROOT = Path(__file__).resolve().parents[2]
WINDOWS = sys.platform == "win32"
# Only where no uv is on the PATH; --frozen makes any uv install exactly what the lock says.
UV_RELEASE = "uv==0.13.9"
STARTED_BY_US = "DYEHOUSE_ENVIRONMENT_MADE"
OFFLINE = re.compile(
    r"dns error|name resolution|failed to lookup|unreachable|timed out|connection (refused|reset|aborted)"
    r"|error sending request|failed to establish a new connection|could not connect|no route to host",
    re.IGNORECASE,
)
CERTIFICATE = re.compile(r"certificate|UnknownIssuer|CERTIFICATE_VERIFY_FAILED", re.IGNORECASE)


def main(argv: Sequence[str]) -> int:
    """Run one command of the house, making the environment first where it is missing or out of date."""
    try:
        arguments = take_data_folder(argv)
        groups = ("dev",) if arguments[:1] == ["test"] else ()
        if not right_environment(groups):
            say_what_pdfs_need()
            make_environment(groups, afresh=made_by_us() > 0)
            return go_on_inside(arguments)
    except CannotStart as reason:
        print(reason, file=sys.stderr)
        return 1
    return run(arguments)


def run(arguments: list[str]) -> int:
    """Hand over to the tests or to Django, in the environment that is there."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "dyehouse.settings")
    if arguments[:1] == ["test"]:
        from dyehouse.running.testing import run_tests

        return run_tests(arguments[1:])
    from django.core.management import execute_from_command_line

    execute_from_command_line(["manage.py", *arguments])
    return 0


def take_data_folder(argv: Sequence[str]) -> list[str]:
    """The arguments without `--data DIR`, which becomes DYEHOUSE_DATA before any settings are read."""
    rest: list[str] = []
    words = iter(argv)
    for word in words:
        if word == "--data":
            named = next(words, "")
        elif word.startswith("--data="):
            named = word.removeprefix("--data=")
        else:
            rest.append(word)
            continue
        if not named or named.startswith("-"):
            raise CannotStart(
                "After --data write the folder that is to hold the house's data, for example --data ~/dyehouse."
            )
        os.environ["DYEHOUSE_DATA"] = str(Path(named).expanduser().resolve())
    return rest


# --- Is the environment right? ---------------------------------------------------------------------------------


def right_environment(groups: Sequence[str], root: Path = ROOT) -> bool:
    """Whether this very process already runs in the house's environment with what the command needs."""
    if Path(sys.prefix).resolve() != (root / ".venv").resolve():
        return False
    needed = ["django", "granian", *(["pytest"] if "dev" in groups else [])]
    if any(importlib.util.find_spec(name) is None for name in needed):
        return False
    # Somebody's own `uv run` or `uv sync` leaves no stamp; only one that is there and differs means "out of date".
    stamp = read_stamp(root)
    return not stamp or "UV" in os.environ or satisfied(stamp, groups, root)


def wanted_stamp(groups: Sequence[str], root: Path = ROOT) -> dict[str, object]:
    """What decides whether an environment is up to date: lock, project file, Python and groups."""
    digest = hashlib.sha256()
    for name in ("uv.lock", "pyproject.toml"):
        digest.update((root / name).read_bytes())
    return {"lock": digest.hexdigest(), "python": sys.implementation.cache_tag, "groups": sorted(groups)}


def stamp_path(root: Path = ROOT) -> Path:
    return root / ".venv" / "dyehouse-stamp.json"


def read_stamp(root: Path = ROOT) -> dict[str, object]:
    """The stamp of a finished environment; empty where it was never finished."""
    try:
        stamp = json.loads(stamp_path(root).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return stamp if isinstance(stamp, dict) else {}


def satisfied(stamp: dict[str, object], groups: Sequence[str], root: Path = ROOT) -> bool:
    """Whether a stamp covers these groups: one with the tests' packages also serves the house alone."""
    wanted = wanted_stamp(groups, root)
    had = stamp.get("groups")
    return (
        stamp.get("lock") == wanted["lock"]
        and stamp.get("python") == wanted["python"]
        and isinstance(had, list)
        and set(groups) <= set(had)
    )


def environment_python(root: Path = ROOT) -> Path:
    return root / ".venv" / ("Scripts/python.exe" if WINDOWS else "bin/python")


# --- Making it -------------------------------------------------------------------------------------------------


def make_environment(groups: Sequence[str], root: Path = ROOT, *, afresh: bool = False) -> None:
    """Make or renew `.venv` exactly from uv.lock. Two starts at once make one environment.

    `afresh` distrusts the one that is there although its stamp is right, since it was seen to lack packages.
    """
    if not afresh and environment_python(root).exists() and satisfied(read_stamp(root), groups, root):
        return
    with only_one_at_a_time(root):
        # The start that was here first may have made it meanwhile.
        if not afresh and environment_python(root).exists() and satisfied(read_stamp(root), groups, root):
            return
        keep = sorted({*groups, *groups_there(root)})
        unfinished = root / ".dyehouse-unfinished"
        clear_what_is_broken(root, surely=afresh or unfinished.exists())
        if (root / ".venv").exists():
            say("Bringing the environment in .venv up to date with uv.lock.")
        else:
            say("Making the environment in .venv from uv.lock (about a minute the first time).")
        started = time.monotonic()
        # Stands there while the work is under way: what a cut-off start left is not to be trusted.
        unfinished.touch()
        stamp_path(root).unlink(missing_ok=True)
        sync(keep, root)
        stamp = wanted_stamp(keep, root)
        stamp_path(root).write_text(json.dumps(stamp), encoding="utf-8")
        unfinished.unlink()
        say(f"The environment is ready after {time.monotonic() - started:.0f} s.")


def groups_there(root: Path) -> set[str]:
    """The tests' packages stay where somebody already has them."""
    found = (
        any((root / ".venv").glob("lib/python*/site-packages/pytest"))
        or (root / ".venv" / "Lib" / "site-packages" / "pytest").exists()
    )
    return {"dev"} if found else set()


def clear_what_is_broken(root: Path, *, surely: bool = False) -> None:
    """Take away a `.venv` that cannot be finished: no interpreter in it, or one that is gone or another version.

    `surely` takes it away without looking.
    """
    folder = root / ".venv"
    if not folder.is_dir() or folder.is_symlink():
        return
    python = environment_python(root)
    try:
        tag = subprocess.run(
            [str(python), "-c", "import sys; print(sys.implementation.cache_tag)"],
            capture_output=True,
            text=True,
            env=clean_environment(),
            timeout=60,
        ).stdout.strip()
    except (OSError, subprocess.SubprocessError):
        tag = ""
    if surely or tag != sys.implementation.cache_tag:
        say("The environment in .venv was left half-made or belongs to another Python; making it afresh.")
        shutil.rmtree(folder, ignore_errors=True)


def sync(groups: Sequence[str], root: Path) -> None:
    """Let uv install the lock, with the uv of the PATH or else with one of our own."""
    command = ["sync", "--frozen", "--no-default-groups", "--python", base_python()]
    for group in groups:
        command += ["--group", group]
    environment = clean_environment()
    environment.update(UV_PYTHON_DOWNLOADS="never", UV_PROJECT_ENVIRONMENT=str(root / ".venv"))
    said = ""
    for uv in uvs(root):
        answer = subprocess.run(
            [uv, *command],
            cwd=root,
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        if answer.returncode == 0:
            return
        said = answer.stdout
        if OFFLINE.search(said) or CERTIFICATE.search(said):
            break
    raise CannotStart(why_fetching_failed(said, "The environment could not be made."))


def uvs(root: Path) -> Iterator[str]:
    """The uv to use, and the one to try after it: that of the PATH, then our own."""
    named = shutil.which("uv")
    if named and works(named):
        yield named
    yield own_uv(root)


def works(uv: str) -> bool:
    """Whether this uv answers; a launcher for a version that is not installed does not."""
    try:
        return subprocess.run([uv, "--version"], capture_output=True, timeout=60).returncode == 0
    except (OSError, subprocess.SubprocessError):
        return False


def own_uv(root: Path) -> str:
    """A uv in a small environment of its own, so that no system-wide pip is touched."""
    uv = root / ".uv" / ("Scripts/uv.exe" if WINDOWS else "bin/uv")
    if uv.exists() and works(str(uv)):
        return str(uv)
    need_venv()
    say("Fetching uv, which installs the packages, into .uv.")
    shutil.rmtree(root / ".uv", ignore_errors=True)
    python = uv.with_name("python.exe" if WINDOWS else "python")
    steps = (
        [base_python(), "-m", "venv", str(root / ".uv")],
        [str(python), "-m", "pip", "install", "--quiet", "--disable-pip-version-check", UV_RELEASE],
    )
    for step in steps:
        answer = subprocess.run(
            step,
            cwd=root,
            env=clean_environment(),
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        if answer.returncode:
            shutil.rmtree(root / ".uv", ignore_errors=True)
            raise CannotStart(why_fetching_failed(answer.stdout, "uv could not be fetched."))
    return str(uv)


def base_python() -> str:
    """The interpreter itself, also when this runs in somebody's environment."""
    return os.path.realpath(getattr(sys, "_base_executable", "") or sys.executable)


def clean_environment() -> dict[str, str]:
    """The process environment without what would lead Python or uv into a foreign environment."""
    leave_out = {
        "VIRTUAL_ENV",
        "PYTHONHOME",
        "PYTHONPATH",
        "CONDA_PREFIX",
        "__PYVENV_LAUNCHER__",
        "UV_SYSTEM_PYTHON",
    }
    return {name: value for name, value in os.environ.items() if name not in leave_out}


def why_fetching_failed(said: str, what: str) -> str:
    """One sentence for the known causes, the tool's own words for the others."""
    if CERTIFICATE.search(said):
        return (
            f"{what} The package index answered with a certificate that this machine does not trust. "
            "Install the ca-certificates package, or name your network's certificates in SSL_CERT_FILE, "
            "then run the same command again."
        )
    if OFFLINE.search(said):
        return (
            f"{what} This machine cannot reach the package index at https://pypi.org. Connect it to the network "
            "(behind a proxy set HTTPS_PROXY), then run the same command again; it goes on where it stopped."
        )
    tail = "\n".join(f"  {line}" for line in said.strip().splitlines()[-15:])
    return f"{what} These were the last words of the installer:\n{tail}\nDelete the folder .venv and run the same command again."


@contextlib.contextmanager
def only_one_at_a_time(root: Path) -> Iterator[None]:
    """Hold the clone's lock; a second start waits here. The system lets go of it if the process dies."""
    try:
        handle = open(root / ".dyehouse-environment.lock", "a+b")  # noqa: SIM115
    except OSError as error:
        raise CannotStart(
            f"The folder {root} cannot be written to ({error.strerror}); clone the house into a folder of your own."
        ) from None
    with handle:
        if not take_lock(handle.fileno()):
            say("Another start is making the environment; waiting for it.")
            while not take_lock(handle.fileno()):
                time.sleep(0.2)
        yield


def take_lock(descriptor: int) -> bool:
    """Try to lock an open file for this process; False if another holds it."""
    try:
        if sys.platform == "win32":
            import msvcrt

            os.lseek(descriptor, 0, os.SEEK_SET)
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


# --- Going on ----------------------------------------------------------------------------------------------------


def go_on_inside(arguments: Sequence[str], root: Path = ROOT) -> int:
    """The same command again, run by the environment's own Python."""
    times = made_by_us()
    if times > 1:
        raise CannotStart(
            "The environment in .venv lacks packages although it was made twice. Delete the folders .venv and .uv "
            "and run the same command again; if that changes nothing, this clone's uv.lock is not whole."
        )
    python = str(environment_python(root))
    command = [python, str(root / "manage.py"), *arguments]
    environment = {**clean_environment(), STARTED_BY_US: f"{os.getpid()} {times + 1}"}
    sys.stdout.flush()
    sys.stderr.flush()
    if not WINDOWS:
        os.execve(python, command, environment)
    # Windows has no exec that keeps the console: wait for a child, and let it alone hear Ctrl-C.
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    return subprocess.run(command, env=environment).returncode


def made_by_us() -> int:
    """How often this very process has come through here already (exec keeps the process and its number)."""
    process, _, times = os.environ.get(STARTED_BY_US, "").partition(" ")
    return int(times) if process == str(os.getpid()) and times.isdigit() else 0
