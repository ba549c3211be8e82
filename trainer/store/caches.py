"""Caches: what was worked out from the log. They can be dropped, and are made anew."""

from __future__ import annotations

from collections.abc import Mapping

from trainer.store.base import Part


class Caches(Part):
    def beliefs(self, student: str) -> tuple[str, bytes] | None:
        """The cache of what is believed of a student: what it rests on, and the bytes."""
        row = self._connection.row(
            "SELECT basis, content FROM belief WHERE student = ?", (student,)
        )
        return None if row is None else (str(row[0]), bytes(row[1]))

    def keep_beliefs(self, student: str, tries: int, basis: str, content: bytes) -> None:
        """`tries` is how many attempts the beliefs rest on. An unknown student gets no row."""
        with self._connection.writing() as run:
            run(
                "INSERT INTO belief (student, tries, basis, content) SELECT ?1, ?2, ?3, ?4"
                " WHERE EXISTS (SELECT 1 FROM student WHERE id = ?1)"
                " ON CONFLICT (student) DO UPDATE SET tries = excluded.tries,"
                " basis = excluded.basis, content = excluded.content",
                (student, tries, basis, content),
            )

    def plans(self, student: str) -> str | None:
        """The cache of a student's plans, as it was kept."""
        row = self._connection.row("SELECT content FROM plan WHERE student = ?", (student,))
        return None if row is None else str(row[0])

    def keep_plans(self, student: str, content: str) -> None:
        """Keep the cache of a student's plans. An unknown student gets no row."""
        with self._connection.writing() as run:
            run(
                "INSERT INTO plan (student, content) SELECT ?1, ?2"
                " WHERE EXISTS (SELECT 1 FROM student WHERE id = ?1)"
                " ON CONFLICT (student) DO UPDATE SET content = excluded.content",
                (student, content),
            )

    def glances(self) -> dict[str, tuple[str, str]]:
        """The cache of what is seen of each student at a glance: what it rests on, and the text."""
        return self._connection.read(
            lambda rows: {str(id_): (str(basis), str(content)) for id_, basis, content in rows},
            "SELECT student, basis, content FROM glance",
        )

    def keep_glances(self, found: Mapping[str, tuple[str, str]]) -> None:
        with self._connection.writing() as run:
            for student, (basis, content) in found.items():
                run(
                    "INSERT INTO glance (student, basis, content) VALUES (?, ?, ?)"
                    " ON CONFLICT (student) DO UPDATE SET basis = excluded.basis,"
                    " content = excluded.content",
                    (student, basis, content),
                )

    def drop(self) -> None:
        """Empty the caches; they are made anew when they are next asked for."""
        with self._connection.writing() as run:
            run("DELETE FROM belief")
            run("DELETE FROM plan")
            run("DELETE FROM glance")
