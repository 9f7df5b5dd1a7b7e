"""The lock holds what pyproject.toml asks for, each version once and with its hashes."""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import PackageNotFoundError, requires
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
EXTRAS = PROJECT["optional-dependencies"]
ASKED = {
    "run": PROJECT["dependencies"],
    "test": PROJECT["dependencies"] + EXTRAS["test"],
    "dev": PROJECT["dependencies"] + EXTRAS["test"] + EXTRAS["dev"],
}
ENTRY = re.compile(r"(\S+==[^\\\n]+?)((?: \\\n    --hash=sha256:[0-9a-f]{64})+)\n")


def locked(name: str) -> dict[str, str]:
    """Return the version of each package in a file of the lock.

    What pip would read of it besides versions and hashes (an index, a folder) fails.
    """
    text = re.sub(r"^#.*\n", "", (ROOT / f".lock/{name}.txt").read_text(), flags=re.M)
    assert ENTRY.sub("", text) == ""
    found = [Requirement(match[1]) for match in ENTRY.finditer(text)]
    versions = {one.name: str(one.specifier).removeprefix("==") for one in found}
    assert len(versions) == len(found)
    return versions


@pytest.mark.parametrize("name", ASKED)
def test_the_lock_fits_the_ranges_down_to_what_packages_ask_for_themselves(name: str) -> None:
    """Renew it with `.lock/renew` after a change of pyproject.toml."""
    versions = locked(name)
    left = [Requirement(one) for one in ASKED[name]]
    seen: set[str] = set()
    while left:
        asked = left.pop()
        package = canonicalize_name(asked.name)
        if package == "spray-logbook" or str(asked) in seen:
            continue
        seen.add(str(asked))
        assert package in versions, f"{asked} is not in .lock/{name}.txt"
        assert versions[package] in asked.specifier, f"{asked}: {versions[package]} is locked"
        try:
            further = [Requirement(one) for one in requires(package) or ()]
        except PackageNotFoundError:
            continue  # a tool of the gate, where only the tests' packages are installed
        left += [
            one
            for one in further
            if one.marker is None
            or any(one.marker.evaluate({"extra": extra}) for extra in ("", *asked.extras))
        ]


def test_the_files_of_the_lock_agree() -> None:
    assert locked("run").items() <= locked("test").items() <= locked("dev").items()


def test_no_dependency_is_listed_twice() -> None:
    names = [
        canonicalize_name(Requirement(one).name)
        for part in (PROJECT["dependencies"], *EXTRAS.values())
        for one in part
    ]
    assert sorted(set(names)) == sorted(names)


@pytest.mark.parametrize("file", ["README.md", "DEVELOPERS.md", ".ci/run"])
def test_every_command_that_installs_takes_the_lock(file: str) -> None:
    """The service's own wheel comes without what it depends on, which the lock brings."""
    installs = re.findall(r'\.venv/bin/pip"? install ([^&`\n]*)', (ROOT / file).read_text())
    assert installs
    for words in installs:
        named = re.search(r"-r (\.lock/\w+\.txt)", words)
        assert named or "--no-deps" in words, words
        assert named is None or (ROOT / named[1]).is_file(), words
