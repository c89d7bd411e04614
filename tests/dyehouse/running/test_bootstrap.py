"""The one command before there is an environment: what it decides, what it says, that two starts make one."""

from __future__ import annotations

import ast
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from dyehouse.running import bootstrap, system
from dyehouse.running.bootstrap import ROOT, CannotStart

# Where a tool for many Pythons keeps its own; elsewhere the grammar alone is checked.
OLD_PYTHONS = [
    path
    for minor in range(6, 11)
    if "PYENV_ROOT" in os.environ
    for path in Path(os.environ["PYENV_ROOT"]).glob(f"versions/3.{minor}.*/bin/python3")
]


@pytest.fixture
def clone(tmp_path: Path) -> Path:
    """A folder with what the bootstrap needs of a clone, and no environment."""
    (tmp_path / "dyehouse" / "running").mkdir(parents=True)
    for name in ("dyehouse/__init__.py", "dyehouse/running/__init__.py"):
        (tmp_path / name).write_text("")
    for name in (
        "manage.py",
        "dyehouse/running/bootstrap.py",
        "dyehouse/running/system.py",
        "pyproject.toml",
        "uv.lock",
    ):
        shutil.copy(ROOT / name, tmp_path / name)
    return tmp_path


def finished(root: Path, groups: list[str]) -> None:
    """As if the environment had been made with these groups."""
    python = bootstrap.environment_python(root)
    python.parent.mkdir(parents=True, exist_ok=True)
    python.unlink(missing_ok=True)
    python.symlink_to(sys.executable)
    bootstrap.stamp_path(root).write_text(json.dumps(bootstrap.wanted_stamp(groups, root)))


def no_uv(tmp_path: Path, words: str, code: int) -> dict[str, str]:
    """An environment whose only uv answers its version and then fails with these words."""
    folder = tmp_path / "fake-bin"
    folder.mkdir()
    script = folder / "uv"
    script.write_text(f"#!/bin/sh\n[ \"$1\" = --version ] && exit 0\necho '{words}' >&2\nexit {code}\n")
    script.chmod(0o755)
    return {**os.environ, "PATH": f"{folder}:/usr/bin:/bin", "PYTHONDONTWRITEBYTECODE": "1"}


def test_an_environment_made_for_the_tests_also_serves_the_house(clone: Path) -> None:
    finished(clone, ["dev"])

    assert bootstrap.satisfied(bootstrap.read_stamp(clone), [], clone)


def test_an_environment_made_for_the_house_does_not_serve_the_tests(clone: Path) -> None:
    finished(clone, [])

    assert not bootstrap.satisfied(bootstrap.read_stamp(clone), ["dev"], clone)


@pytest.mark.parametrize("changed", ["uv.lock", "pyproject.toml"])
def test_a_changed_lock_or_project_file_puts_the_environment_out_of_date(clone: Path, changed: str) -> None:
    finished(clone, ["dev"])
    with open(clone / changed, "a") as handle:
        handle.write("\n# changed\n")

    assert not bootstrap.satisfied(bootstrap.read_stamp(clone), [], clone)


def test_an_environment_of_another_python_is_out_of_date(clone: Path) -> None:
    finished(clone, ["dev"])
    stamp = {**bootstrap.read_stamp(clone), "python": "cpython-39"}

    assert not bootstrap.satisfied(stamp, [], clone)


def test_a_half_made_environment_has_no_stamp(clone: Path) -> None:
    (clone / ".venv" / "bin").mkdir(parents=True)

    assert bootstrap.read_stamp(clone) == {}
    assert not bootstrap.satisfied({}, [], clone)


def test_a_half_made_environment_without_an_interpreter_is_cleared_away(clone: Path, capsys) -> None:
    (clone / ".venv" / "lib").mkdir(parents=True)

    bootstrap.clear_what_is_broken(clone)

    assert not (clone / ".venv").exists()
    assert "half-made" in capsys.readouterr().err


def test_an_environment_whose_making_was_cut_off_is_made_afresh(
    clone: Path, tmp_path: Path, monkeypatch
) -> None:
    finished(clone, [])
    bootstrap.stamp_path(clone).unlink()
    (clone / ".venv" / "left-behind").touch()
    (clone / ".dyehouse-unfinished").touch()
    monkeypatch.setattr(bootstrap, "sync", lambda groups, root: finished(root, list(groups)))

    bootstrap.make_environment((), clone)

    assert not (clone / ".venv" / "left-behind").exists()
    assert not (clone / ".dyehouse-unfinished").exists()
    assert bootstrap.satisfied(bootstrap.read_stamp(clone), [], clone)


def test_an_environment_of_somebodys_own_uv_is_only_brought_up_to_date(clone: Path, monkeypatch) -> None:
    finished(clone, [])
    bootstrap.stamp_path(clone).unlink()
    (clone / ".venv" / "theirs").touch()
    monkeypatch.setattr(bootstrap, "sync", lambda groups, root: None)

    bootstrap.make_environment((), clone)

    assert (clone / ".venv" / "theirs").exists()
    assert bootstrap.satisfied(bootstrap.read_stamp(clone), [], clone)


def test_an_environment_that_works_is_not_cleared_away(clone: Path) -> None:
    finished(clone, [])

    bootstrap.clear_what_is_broken(clone)

    assert (clone / ".venv").exists()


@pytest.mark.parametrize(
    "words",
    [
        "error: Failed to fetch: `https://pypi.org/simple/django/` Caused by: dns error: failed to lookup address information",
        "WARNING: Retrying: Failed to establish a new connection: [Errno -3] Temporary failure in name resolution",
        "Caused by: tcp connect error: Connection refused (os error 111)",
    ],
)
def test_without_a_network_the_sentence_says_so(clone: Path, tmp_path: Path, words: str) -> None:
    answer = subprocess.run(
        [sys.executable, "manage.py", "studio"],
        cwd=clone, env=no_uv(tmp_path, words, 2), stdin=subprocess.DEVNULL, capture_output=True, text=True,
    )  # fmt: skip

    assert answer.returncode == 1
    assert "cannot reach the package index" in answer.stderr
    assert "Traceback" not in answer.stderr


def test_a_certificate_that_is_not_trusted_has_its_own_sentence() -> None:
    said = bootstrap.why_fetching_failed(
        "invalid peer certificate: UnknownIssuer", "The environment could not be made."
    )

    assert "SSL_CERT_FILE" in said


def test_an_unknown_failure_shows_the_installers_last_words() -> None:
    said = bootstrap.why_fetching_failed("one\nNo space left on device", "The environment could not be made.")

    assert "No space left on device" in said


def test_two_starts_at_once_make_one_environment(clone: Path, tmp_path: Path) -> None:
    folder = tmp_path / "fake-bin"
    folder.mkdir()
    script = folder / "uv"
    # Makes what a real one would, slowly enough for the other start to come in between.
    script.write_text(
        '#!/bin/sh\n[ "$1" = --version ] && exit 0\necho made >> made.txt\nsleep 1\n'
        f'mkdir -p .venv/bin && ln -sf "{sys.executable}" .venv/bin/python\n'
    )
    script.chmod(0o755)
    program = "from dyehouse.running import bootstrap; bootstrap.make_environment(())"
    environment = {**os.environ, "PATH": f"{folder}:/usr/bin:/bin"}
    both = [
        subprocess.Popen(
            [sys.executable, "-c", program], cwd=clone, env=environment, stderr=subprocess.PIPE, text=True
        )
        for _ in range(2)
    ]
    said = [start.communicate(timeout=60)[1] for start in both]

    assert [start.returncode for start in both] == [0, 0]
    assert (clone / "made.txt").read_text() == "made\n"
    assert sum("waiting for it" in text for text in said) == 1
    assert bootstrap.satisfied(bootstrap.read_stamp(clone), [], clone)


def test_the_data_folder_named_becomes_the_environments(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("DYEHOUSE_DATA", "before")

    rest = bootstrap.take_data_folder(["studio", "--data", str(tmp_path), "--demo"])

    assert rest == ["studio", "--demo"]
    assert os.environ["DYEHOUSE_DATA"] == str(tmp_path)


def test_a_data_folder_may_be_written_with_an_equals_sign(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("DYEHOUSE_DATA", "before")

    assert bootstrap.take_data_folder([f"--data={tmp_path}", "studio"]) == ["studio"]
    assert os.environ["DYEHOUSE_DATA"] == str(tmp_path)


@pytest.mark.parametrize(
    "words", [["studio", "--data"], ["studio", "--data", "--demo"], ["studio", "--data="]]
)
def test_a_missing_data_folder_is_asked_for_in_a_sentence(words: list[str]) -> None:
    with pytest.raises(CannotStart, match="After --data write the folder"):
        bootstrap.take_data_folder(words)


def test_a_foreign_environment_is_left_outside(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("VIRTUAL_ENV", "PYTHONHOME", "PYTHONPATH"):
        monkeypatch.setenv(name, "/somewhere/else")

    assert not {"VIRTUAL_ENV", "PYTHONHOME", "PYTHONPATH"} & set(bootstrap.clean_environment())


def test_the_missing_venv_module_is_named_with_its_debian_package(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(system.importlib.util, "find_spec", lambda name: None)
    monkeypatch.setattr(system, "debian", lambda: True)
    monkeypatch.setattr(system, "may_install", lambda: False)

    with pytest.raises(CannotStart, match="apt install python3-venv"):
        system.need_venv()


def test_the_missing_libraries_for_pdfs_are_named_with_their_debian_packages(
    monkeypatch: pytest.MonkeyPatch, capsys
) -> None:
    monkeypatch.setattr(system, "missing_for_pdfs", lambda: ["libpango-1.0-0", "libpangoft2-1.0-0"])
    monkeypatch.setattr(system, "debian", lambda: True)
    monkeypatch.setattr(system, "may_install", lambda: False)

    system.say_what_pdfs_need()

    assert "apt install libpango-1.0-0 libpangoft2-1.0-0 (as root)" in capsys.readouterr().err


def test_the_environment_needs_nothing_but_the_standard_library() -> None:
    program = "import sys; sys.path.insert(0, '.'); import dyehouse.running.bootstrap; print('django' in sys.modules)"
    answer = subprocess.run(
        [bootstrap.base_python(), "-I", "-S", "-c", program], cwd=ROOT, capture_output=True, text=True
    )

    assert answer.stdout.strip() == "False", answer.stderr


def test_any_python_3_can_read_the_one_command() -> None:
    ast.parse((ROOT / "manage.py").read_text(), feature_version=(3, 6))


@pytest.mark.skipif(not OLD_PYTHONS, reason="no Python older than 3.11 on this machine")
@pytest.mark.parametrize("python", OLD_PYTHONS, ids=lambda path: path.parts[-3])
def test_a_python_that_is_too_old_says_so_and_what_would_do(python: Path) -> None:
    answer = subprocess.run([str(python), "manage.py", "studio"], cwd=ROOT, capture_output=True, text=True)

    assert answer.returncode == 1
    assert "Dyehouse needs Python 3.11 or newer" in answer.stderr
    assert "Traceback" not in answer.stderr
