from __future__ import annotations

from pathlib import Path

from trainer.store.place import default_path, locate


def test_what_is_asked_for_goes_before_the_variable_and_that_before_the_usual_place() -> None:
    variable = {"TRAINER_DB": "/data/other.db"}
    assert locate(Path("mine.db"), variable) == Path("mine.db")
    assert locate(None, variable) == Path("/data/other.db")
    assert locate(None, {}) == locate(None, {"TRAINER_DB": ""}) == default_path()


def test_the_home_folder_is_meant_by_its_sign() -> None:
    assert locate(Path("~/a.db"), {}) == Path.home() / "a.db"
    assert locate(None, {"TRAINER_DB": "~/a.db"}) == Path.home() / "a.db"


def test_the_usual_place_is_a_folder_of_its_own() -> None:
    assert default_path().is_absolute()
    assert default_path().parent.name == "trainer"
