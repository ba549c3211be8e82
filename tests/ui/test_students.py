"""Students on their screen: listed, added, chosen, and what is known of each."""

from pathlib import Path

from tests.ui.stage import opened, play, small_desk


def test_adding_and_choosing(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.press("s")
            assert "me  adult, 8 minutes a day" in stage.text
            await stage.press("a", *"me", "enter")
            assert "There is already a student called me" in stage.text
            await stage.press("escape", "a", "left_square_bracket", "b", "right_square_bracket")
            await stage.press("enter")
            assert "> 2  [b]  adult" in stage.text
            await stage.press("l", "1", "enter", "m", "5", "enter")
            assert "child, 5 minutes a day" in stage.text
            levels = [desk.store.students.find(name).level for name in ("[b]", "me")]
            assert levels == ["child", "adult"]
            await stage.press("enter")
            assert "Today for [b]" in stage.text
        assert desk.students.find().name == "[b]"

    play(scene)


def test_sixty_students_by_their_number(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        for n in range(2, 61):
            desk.students.add(f"S{n}")
        desk.students.choose(desk.store.students.find("me"))
        async with opened(desk, size=(60, 20)) as stage:
            await stage.press("s")
            assert "more below" in stage.text
            await stage.press("4", "7")
            assert "> 47  S47" in stage.text
            await stage.press("enter")
            assert "Today for S47" in stage.text

    play(scene)


def test_what_is_changed_of_the_student_of_the_day_is_known_at_once(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.press("s", "m", *"20", "enter", "escape")
            assert stage.app.view.student.minutes == 20

    play(scene)
