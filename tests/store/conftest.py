from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.store.build import STUDENT, open_store
from trainer.store.store import Store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """A new store that knows one student."""
    with open_store(tmp_path / "trainer.db") as opened:
        opened.students.save(STUDENT)
        yield opened


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """One store for all examples of a module's properties; ids must not meet."""
    with open_store(tmp_path_factory.mktemp("shared") / "trainer.db") as opened:
        opened.students.save(STUDENT)
        yield opened
