"""The wheel, installed alone, behaves as the checkout does: it carries its SQL and its pages."""

from __future__ import annotations

import subprocess
import sys
import sysconfig
import zipfile
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A wheel of the checkout."""
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)],
        cwd=CHECKOUT,
        check=True,
        capture_output=True,
        text=True,
    )
    (path,) = folder.glob("*.whl")
    return path


def test_the_wheel_puts_only_the_package_into_site_packages(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    tops = {name.split("/")[0] for name in names}
    assert {top for top in tops if not top.endswith(".dist-info")} == {"pipeline"}


def test_the_wheel_carries_every_tracked_resource(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    tracked = subprocess.run(
        ["git", "ls-files", "sql", "reports", "sample_exports", "pipeline"],
        cwd=CHECKOUT,
        check=True,
        capture_output=True,
        text=True,
    ).stdout.splitlines()
    wanted = {
        name if name.startswith("pipeline/") else f"pipeline/{name}"
        for name in tracked
        if (CHECKOUT / name).exists()
    }
    assert wanted <= names


@pytest.mark.slow
def test_the_wheel_installed_alone_runs_the_demo(wheel: Path, tmp_path: Path) -> None:
    subprocess.run([sys.executable, "-m", "venv", str(tmp_path / "env")], check=True)
    python = tmp_path / "env" / "bin" / "python"
    subprocess.run(
        [str(python), "-m", "pip", "install", "-q", "--no-deps", "--no-index", "--force-reinstall",
         str(wheel)],
        check=True,
        capture_output=True,
    )  # fmt: skip
    (site,) = (tmp_path / "env" / "lib").glob("python*/site-packages")
    # the dependencies of the environment that runs the tests, but not its editable install
    (site / "dependencies.pth").write_text(f"{sysconfig.get_path('purelib')}\n", encoding="utf-8")
    done = subprocess.run(
        [str(tmp_path / "env" / "bin" / "setledger"), "demo", "demo"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "demo" / "out" / "index.html").is_file()
    found = subprocess.run(
        [str(python), "-c", "import pipeline; print(pipeline.__file__)"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    assert str(site) in found
