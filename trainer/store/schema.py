"""The tables, as migrations: each runs once, inside one transaction.

Three kinds of table:

* **logs** that only grow (attempt, retraction, opening, joining, deck_edit, note, layer_edit,
  differing, machine): triggers refuse every change and removal, whoever asks;
* **contents named by their digest** (score, deck_revision): written once, never changed;
* **plain rows** that may be edited (deck, student, recital, programme, setting, place, original).

Logs name decks, starts and attempts of other machines, which may arrive later or never, so
they hold no foreign key to them; a student must be known. An instant is `at`, whole
microseconds since 1970 in UTC, and `utc_offset`, minutes east of UTC where it happened.
`seq` is the order of arrival on this machine and means nothing elsewhere.

A later step adds columns with ALTER TABLE. Where it must rebuild a table, the triggers go with
the old one: make them again in the same step. A `content` is a value as JSON; where such a
value is given a new field, add a step, if only an empty one, so that older programs know that
the file is too new for them.
"""

from __future__ import annotations

from sqlite_utils import Database, Migrations

APPLICATION = 0x53744E37  # marks the file as ours in its header: "StN7", for start number 7


def _unchanging(table: str, key: str, unless: str = "0") -> str:
    """Triggers that refuse to change, remove or replace a row of a table.

    `key` is true of the row that NEW would replace; removal is let through `unless` that holds.
    """
    # REPLACE fires no delete trigger while recursive_triggers is off, hence the third one.
    return f"""
    CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table}
    BEGIN SELECT RAISE(ABORT, '{table} is never changed'); END;

    CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table} WHEN NOT ({unless})
    BEGIN SELECT RAISE(ABORT, 'nothing is removed from {table}'); END;

    CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table}
    WHEN EXISTS (SELECT 1 FROM {table} AS old WHERE old.seq = NEW.seq OR ({key}))
    BEGIN SELECT RAISE(ABORT, 'nothing is replaced in {table}'); END;
    """


_SEQ = "seq INTEGER PRIMARY KEY CHECK (seq > 0)"
_ID = "id TEXT NOT NULL UNIQUE CHECK (id <> '')"
_WHEN = "at INTEGER NOT NULL, utc_offset INTEGER NOT NULL"
_EDIT = f"""revision TEXT NOT NULL,
    parent TEXT NOT NULL,  -- the revision it was made from, '' for the first
    machine TEXT NOT NULL,
    {_WHEN},
    why TEXT NOT NULL,
    undoes TEXT NOT NULL,  -- the edit that this one takes back, or ''"""

_PIECES = f"""
CREATE TABLE score (
    {_SEQ}, {_ID},
    title TEXT NOT NULL,
    content TEXT NOT NULL
) STRICT;

CREATE TABLE deck (
    {_SEQ}, {_ID},
    current TEXT NOT NULL,
    FOREIGN KEY (id, current) REFERENCES deck_revision (deck, revision)
        DEFERRABLE INITIALLY DEFERRED
) STRICT;

CREATE TABLE deck_revision (
    {_SEQ},
    deck TEXT NOT NULL REFERENCES deck (id),
    revision TEXT NOT NULL,
    score TEXT NOT NULL,  -- whose notes may be missing, where they may not be handed on
    title TEXT NOT NULL,
    starts INTEGER NOT NULL,
    content TEXT NOT NULL,
    UNIQUE (deck, revision)
) STRICT;

CREATE TABLE deck_edit (
    {_SEQ}, {_ID},
    deck TEXT NOT NULL,
    {_EDIT},
    merged TEXT NOT NULL,  -- the other revision, where two lines of edits meet, or ''
    FOREIGN KEY (deck, revision) REFERENCES deck_revision (deck, revision)
) STRICT;
CREATE INDEX deck_edit_of ON deck_edit (deck, seq);
"""

_PEOPLE = f"""
CREATE TABLE student (
    {_SEQ}, {_ID},
    content TEXT NOT NULL,
    edited INTEGER NOT NULL
) STRICT;

CREATE TABLE recital (
    {_SEQ}, {_ID},
    student TEXT NOT NULL REFERENCES student (id),
    name TEXT NOT NULL,
    day TEXT NOT NULL,
    edited INTEGER NOT NULL
) STRICT;
CREATE INDEX recital_of ON recital (student, day);

CREATE TABLE programme (
    recital TEXT NOT NULL REFERENCES recital (id) ON DELETE CASCADE,
    position INTEGER NOT NULL,
    deck TEXT NOT NULL REFERENCES deck (id),
    from_memory TEXT NOT NULL,
    PRIMARY KEY (recital, position)
) STRICT, WITHOUT ROWID;

CREATE TABLE setting (
    {_SEQ},
    key TEXT NOT NULL,
    student TEXT REFERENCES student (id),  -- NULL: for everyone
    value TEXT NOT NULL,
    edited INTEGER NOT NULL
) STRICT;
CREATE UNIQUE INDEX setting_once ON setting (key, ifnull(student, ''));

CREATE TABLE machine (
    seq INTEGER PRIMARY KEY CHECK (seq = 1),
    {_ID}
) STRICT;

-- A student who was erased for good, and the one who is being erased at this moment.
CREATE TABLE tombstone ({_SEQ}, {_ID}, machine TEXT NOT NULL, at INTEGER NOT NULL) STRICT;
CREATE TABLE erasing (student TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;

CREATE TRIGGER student_stays_erased BEFORE INSERT ON student
WHEN EXISTS (SELECT 1 FROM tombstone WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'this student was erased for good'); END;
"""

_LOG = f"""
CREATE TABLE attempt (
    {_SEQ}, {_ID},
    student TEXT NOT NULL REFERENCES student (id),
    deck TEXT NOT NULL,
    revision TEXT NOT NULL,
    start TEXT NOT NULL,
    machine TEXT NOT NULL,
    {_WHEN},
    day TEXT NOT NULL,
    outcome TEXT NOT NULL CHECK (outcome IN
        ('through', 'stopped', 'broke off', 'looked', 'nothing', 'elsewhere')),
    drill TEXT NOT NULL,
    judge TEXT NOT NULL CHECK (judge IN ('self', 'teacher', 'heard')),
    hands TEXT NOT NULL CHECK (hands IN ('both', 'right', 'left')),
    tempo REAL,
    hints TEXT NOT NULL,      -- a JSON list of texts
    elsewhere TEXT NOT NULL,
    broke_at TEXT,            -- a fraction such as '7/2'
    seconds REAL,
    latency REAL,
    amends TEXT NOT NULL
) STRICT;
CREATE INDEX attempt_of ON attempt (student, at, id);

CREATE TABLE retraction (
    {_SEQ}, {_ID},
    attempt TEXT NOT NULL,
    machine TEXT NOT NULL,
    {_WHEN}
) STRICT;
CREATE INDEX retraction_of ON retraction (attempt);

CREATE TABLE opening (
    {_SEQ}, {_ID},
    student TEXT NOT NULL REFERENCES student (id),
    deck TEXT NOT NULL,
    start TEXT NOT NULL,
    open INTEGER NOT NULL CHECK (open IN (0, 1)),
    machine TEXT NOT NULL,
    {_WHEN}
) STRICT;
CREATE INDEX opening_of ON opening (student, at, id);
"""

_SAME_ID = "old.id = NEW.id"
_ERASING = "EXISTS (SELECT 1 FROM erasing WHERE student = OLD.student)"
_ERASING_ITS_ATTEMPT = (
    "EXISTS (SELECT 1 FROM erasing JOIN attempt USING (student) WHERE attempt.id = OLD.attempt)"
)


def _first(db: Database) -> None:
    db.execute(f"PRAGMA application_id = {APPLICATION}")
    db.executescript(_PIECES + _PEOPLE + _LOG)
    for table, key, unless in (
        ("score", _SAME_ID, "0"),
        ("deck_revision", "old.deck = NEW.deck AND old.revision = NEW.revision", "0"),
        ("deck_edit", _SAME_ID, "0"),
        ("machine", _SAME_ID, "0"),
        ("tombstone", _SAME_ID, "0"),
        ("attempt", _SAME_ID, _ERASING),
        ("retraction", _SAME_ID, _ERASING_ITS_ATTEMPT),
        ("opening", _SAME_ID, _ERASING),
    ):
        db.executescript(_unchanging(table, key, unless))


def _beliefs(db: Database) -> None:
    """A cache that may be dropped at any time: what is believed of a student, as bytes."""
    db.execute(
        "CREATE TABLE belief (student TEXT PRIMARY KEY REFERENCES student (id) ON DELETE CASCADE,"
        " tries INTEGER NOT NULL, basis TEXT NOT NULL, content BLOB NOT NULL) STRICT"
    )


def _plans(db: Database) -> None:
    """A cache that may be dropped at any time: a student's plans of today and tomorrow."""
    db.execute(
        "CREATE TABLE plan (student TEXT PRIMARY KEY REFERENCES student (id) ON DELETE CASCADE,"
        " content TEXT NOT NULL) STRICT"
    )


_EXCHANGE = f"""
-- Edits that came in with a deck file name revisions whose contents are not here.
ALTER TABLE deck_edit RENAME TO old_edit;
DROP INDEX deck_edit_of;
CREATE TABLE deck_edit (
    {_SEQ}, {_ID},
    deck TEXT NOT NULL REFERENCES deck (id),
    {_EDIT},
    merged TEXT NOT NULL   -- the other revision, where two lines of edits meet, or ''
) STRICT;
INSERT INTO deck_edit SELECT * FROM old_edit ORDER BY seq;
DROP TABLE old_edit;
CREATE INDEX deck_edit_of ON deck_edit (deck, seq);

-- The bars of a score whose notes may not be here: the score of its own that stands for it.
CREATE TABLE score_frame (
    score TEXT PRIMARY KEY,
    frame TEXT NOT NULL REFERENCES score (id)
) STRICT, WITHOUT ROWID;

-- A programme may name a deck that has not arrived yet; a recital that was removed stays
-- removed, whatever record brings it again.
ALTER TABLE programme RENAME TO old_programme;
CREATE TABLE programme (
    recital TEXT NOT NULL REFERENCES recital (id) ON DELETE CASCADE,
    position INTEGER NOT NULL,
    deck TEXT NOT NULL,
    from_memory TEXT NOT NULL,
    PRIMARY KEY (recital, position)
) STRICT, WITHOUT ROWID;
INSERT INTO programme SELECT * FROM old_programme;
DROP TABLE old_programme;
ALTER TABLE recital ADD COLUMN removed INTEGER NOT NULL DEFAULT 0 CHECK (removed IN (0, 1));

-- A retraction knows its student, '' where it is from before; it may come before its attempt.
ALTER TABLE retraction ADD COLUMN student TEXT NOT NULL DEFAULT '';
CREATE INDEX retraction_by ON retraction (student);
DROP TRIGGER retraction_no_delete;
CREATE TRIGGER retraction_no_delete BEFORE DELETE ON retraction
WHEN NOT ({_ERASING} OR {_ERASING_ITS_ATTEMPT})
BEGIN SELECT RAISE(ABORT, 'nothing is removed from retraction'); END;

CREATE TABLE joining (
    {_SEQ}, {_ID},
    student TEXT NOT NULL REFERENCES student (id),
    target TEXT NOT NULL,  -- who may arrive later
    joined INTEGER NOT NULL CHECK (joined IN (0, 1)),
    machine TEXT NOT NULL,
    {_WHEN}
) STRICT;

-- Erased students whose traces in backups and in the journal are not yet gone.
CREATE TABLE erasing_left (student TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;
"""

_ERASING_A_JOINED = "EXISTS (SELECT 1 FROM erasing WHERE student IN (OLD.student, OLD.target))"


def _exchange(db: Database) -> None:
    """What deck and record files bring, and what erasing a student leaves to do."""
    db.executescript(_EXCHANGE)
    db.executescript(_unchanging("deck_edit", _SAME_ID))
    db.executescript(_unchanging("joining", _SAME_ID, _ERASING_A_JOINED))


_NOTES = f"""
-- What a teacher writes of a student's lessons. It is the teacher's own and goes into no record.
CREATE TABLE note (
    {_SEQ}, {_ID},
    student TEXT NOT NULL REFERENCES student (id),
    day TEXT NOT NULL,
    text TEXT NOT NULL,      -- '' takes the note away that it replaces
    machine TEXT NOT NULL,
    {_WHEN},
    replaces TEXT NOT NULL   -- the note that this one stands for, or ''
) STRICT;
CREATE INDEX note_of ON note (student, at, id);
"""


def _notes(db: Database) -> None:
    """A teacher's notes on lessons."""
    db.executescript(_NOTES)
    db.executescript(_unchanging("note", _SAME_ID, _ERASING))


_LAYER = f"""
-- What is one student's own over a deck.
CREATE TABLE layer_edit (
    {_SEQ}, {_ID},
    student TEXT NOT NULL REFERENCES student (id),
    deck TEXT NOT NULL,
    start TEXT NOT NULL,
    what TEXT NOT NULL CHECK (what IN ('fingering', 'words', 'tempo', 'left out', 'added')),
    value TEXT NOT NULL,  -- '' takes back what was said before
    machine TEXT NOT NULL,
    {_WHEN}
) STRICT;
CREATE INDEX layer_edit_of ON layer_edit (student, at, id);
"""


def _layer(db: Database) -> None:
    """A student's own layer over decks."""
    db.executescript(_LAYER)
    db.executescript(_unchanging("layer_edit", _SAME_ID, _ERASING))


def _glance(db: Database) -> None:
    """A cache that may be dropped at any time: what is seen of each student at a glance."""
    db.execute(
        "CREATE TABLE glance (student TEXT PRIMARY KEY REFERENCES student (id) ON DELETE CASCADE,"
        " basis TEXT NOT NULL, content TEXT NOT NULL) STRICT"
    )


def _heard(db: Database) -> None:
    """What an instrument heard of a try, as JSON; NULL where none listened."""
    db.execute("ALTER TABLE attempt ADD COLUMN heard TEXT")


_PLACES = f"""
-- The ids that this database has had, the last one in force: a copy of it takes one of its own.
ALTER TABLE machine RENAME TO old_machine;
CREATE TABLE machine ({_SEQ}, {_ID}) STRICT;
INSERT INTO machine SELECT * FROM old_machine;
DROP TABLE old_machine;

-- Where the database was when it took its last id, as a digest; a copy that we make has no row.
CREATE TABLE place (seq INTEGER PRIMARY KEY CHECK (seq = 1), digest TEXT NOT NULL) STRICT;
"""


def _places(db: Database) -> None:
    """How a database knows that it is a copy."""
    db.executescript(_PLACES)
    db.executescript(_unchanging("machine", _SAME_ID))


_DIFFERING = f"""
-- What came in under the id of an event that is kept here with other contents. The first one
-- counts; this one is only kept.
CREATE TABLE differing (
    {_SEQ}, {_ID},                          -- the digest of what came in
    student TEXT REFERENCES student (id),  -- NULL for the edit of a deck
    kind TEXT NOT NULL,
    event TEXT NOT NULL,                   -- the id that both have
    content TEXT NOT NULL,
    at INTEGER NOT NULL                    -- when it came in
) STRICT;
CREATE INDEX differing_of ON differing (student);
"""


def _differing(db: Database) -> None:
    """Events that differ from those kept under their ids."""
    db.executescript(_DIFFERING)
    db.executescript(_unchanging("differing", _SAME_ID, _ERASING))


_DRAFTS = """
-- What is being prepared of a deck: its forms in order, and which of them stood last.
CREATE TABLE draft (
    deck TEXT NOT NULL REFERENCES deck (id) ON DELETE CASCADE,
    place INTEGER NOT NULL,  -- 0 is the form that it began with
    id TEXT NOT NULL,        -- tells drafts of one deck from each other
    student TEXT NOT NULL,   -- whose starts it opens and closes; may not be kept yet
    content TEXT NOT NULL,
    PRIMARY KEY (deck, place)
) STRICT, WITHOUT ROWID;
CREATE TABLE draft_at (
    deck TEXT PRIMARY KEY REFERENCES deck (id) ON DELETE CASCADE,
    student TEXT NOT NULL,
    here INTEGER NOT NULL,   -- a place
    edited INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
"""


def _drafts(db: Database) -> None:
    """Edits of a deck that are not saved yet."""
    db.executescript(_DRAFTS)


_WHATS = "'added')"


def _layer_anew(db: Database, *more: str) -> None:
    """Let a student's own layer also say some more things. The table is made anew, and so are the
    triggers on it."""
    whats = ", ".join(f"'{one}'" for one in more)
    db.executescript(
        "ALTER TABLE layer_edit RENAME TO old_layer_edit; DROP INDEX layer_edit_of;"
        + _LAYER.replace(_WHATS, f"{_WHATS[:-1]}, {whats})")
        + "INSERT INTO layer_edit SELECT * FROM old_layer_edit ORDER BY seq;"
        "DROP TABLE old_layer_edit;"
    )
    db.executescript(_unchanging("layer_edit", _SAME_ID, _ERASING))


def _worked_on(db: Database) -> None:
    """A student's own layer also says when a start was worked on apart from its calls."""
    _layer_anew(db, "worked on")


def _homework(db: Database) -> None:
    """And until when the teacher asks for a start."""
    _layer_anew(db, "worked on", "homework")
    _counting(db, "layer_edit")


LOGS = (
    "attempt", "retraction", "opening", "joining", "note", "layer_edit", "deck_edit", "differing",
)  # fmt: skip


def _tally(db: Database) -> None:
    """How many entries each log holds, kept apart from the log: what was taken out of it by
    damage or by other means is missed."""
    db.execute(
        "CREATE TABLE tally (log TEXT PRIMARY KEY, entries INTEGER NOT NULL) STRICT, WITHOUT ROWID"
    )
    for log in LOGS:
        db.execute(f"INSERT INTO tally SELECT '{log}', count(*) FROM {log}")
        _counting(db, log)


def _counting(db: Database, log: str) -> None:
    """Triggers that keep the count of a log."""
    for event, by in (("INSERT", "+ 1"), ("DELETE", "- 1")):
        db.execute(
            f"CREATE TRIGGER {log}_tally_{event.lower()} AFTER {event} ON {log}"
            f" BEGIN UPDATE tally SET entries = entries {by} WHERE log = '{log}'; END"
        )


_ORIGINALS = f"""
-- The file that a score was read from, so that marks can be put into it: nobody's own.
CREATE TABLE original (
    {_SEQ},
    score TEXT NOT NULL UNIQUE,  -- whose notes may be missing
    name TEXT NOT NULL,
    content BLOB NOT NULL        -- its bytes, compressed by gzip
) STRICT;
"""


def _originals(db: Database) -> None:
    """The score files that pieces were read from."""
    db.executescript(_ORIGINALS)


_ORDER = """
-- The order in which a teacher wants the pieces, NULL for those added since; and those removed,
-- which are kept with all that was tried in them, out of sight.
ALTER TABLE deck ADD COLUMN place INTEGER;
ALTER TABLE deck ADD COLUMN removed INTEGER NOT NULL DEFAULT 0 CHECK (removed IN (0, 1));
"""


def _order(db: Database) -> None:
    """Pieces can be put in order, and removed."""
    db.executescript(_ORDER)


def _real(fraction: str) -> str:
    """SQL for a fraction that is kept as text, "7/2", as a real number."""
    return (
        f"CAST({fraction} AS REAL) / CASE instr({fraction}, '/') WHEN 0 THEN 1"
        f" ELSE CAST(substr({fraction}, instr({fraction}, '/') + 1) AS REAL) END"
    )


# Times are local. `cold` is the plain rule: of the attempts that stand, the first at its start on a
# practice day, by a drill that plays the phrase as it goes, before a run-through of the piece. The
# reports also know which start cued which, and what an instrument heard after a miss.
_VIEWS = f"""
CREATE VIEW attempts AS
WITH starts AS MATERIALIZED (
    SELECT deck.id AS deck, json_extract(one.value, '$.id') AS id,
        json_extract(one.value, '$.number') AS number,
        (SELECT json_extract(bar.value, '$.label') FROM json_each(score.content, '$.bars') AS bar
         WHERE {_real("json_extract(bar.value, '$.start')")}
             <= {_real("json_extract(one.value, '$.onset')")}
         ORDER BY bar.key DESC LIMIT 1) AS bar
    FROM deck JOIN deck_revision AS now ON now.deck = deck.id AND now.revision = deck.current
    LEFT JOIN score_frame ON score_frame.score = now.score
    JOIN score ON score.id = coalesce(score_frame.frame, now.score),
        json_each(now.content, '$.starts') AS one
), stand AS MATERIALIZED (
    SELECT *, drill IN ('run-through', 'slip') AS in_order FROM attempt
    WHERE id NOT IN (SELECT attempt FROM retraction)
)
SELECT json_extract(student.content, '$.name') AS student, now.title AS piece,
    starts.number AS number, 'b. ' || starts.bar AS place, stand.outcome AS outcome,
    NOT stand.in_order AND stand.drill NOT IN ('away', 'blocks') AND NOT EXISTS (
        SELECT 1 FROM stand AS before WHERE before.student = stand.student
        AND before.deck = stand.deck AND before.day = stand.day
        AND (before.start = stand.start OR before.in_order)
        AND (before.at, before.id) < (stand.at, stand.id)
    ) AS cold,
    datetime(stand.at / 1000000 + 60 * stand.utc_offset, 'unixepoch') AS at,
    stand.day AS practice_day, stand.drill AS drill, stand.judge AS judge, stand.id AS id
FROM stand JOIN student ON student.id = stand.student
JOIN deck ON deck.id = stand.deck
JOIN deck_revision AS now ON now.deck = deck.id AND now.revision = deck.current
LEFT JOIN starts ON starts.deck = stand.deck AND starts.id = stand.start
ORDER BY stand.at, stand.id
"""


def _views(db: Database) -> None:
    """The attempts with columns that people can read, for other programs that read SQLite."""
    db.executescript(_VIEWS)


def _signals(db: Database) -> None:
    """What is pressed on an instrument is called a signal."""
    db.execute("UPDATE setting SET key = 'signals' WHERE key = 'signs'")


def _picture_ways(db: Database) -> None:
    """The ways to show a picture are called by what they are."""
    told = "UPDATE setting SET value = ? WHERE key = 'picture' AND value = ?"
    for before, now in (("kitty", "graphics"), ("iterm", "inline")):
        db.execute(told, (now, before))


migrations = Migrations("trainer")
STEPS = (
    ("first", _first),
    ("beliefs", _beliefs),
    ("exchange", _exchange),
    ("plans", _plans),
    ("notes", _notes),
    ("layer", _layer),
    ("glance", _glance),
    ("heard", _heard),
    ("places", _places),
    ("differing", _differing),
    ("drafts", _drafts),
    ("worked on", _worked_on),
    ("tally", _tally),
    ("originals", _originals),
    ("pieces in order", _order),
    ("views", _views),
    ("signals", _signals),
    ("picture ways", _picture_ways),
    ("homework", _homework),
)
for _name, _step in STEPS:
    migrations(name=_name)(_step)


def pattern() -> list[tuple[str, str, str]]:
    """Name, kind and statement of each table, index, trigger and view of a new database."""
    db = Database(memory=True, execute_plugins=False, strict=True)
    migrations.apply(db)
    rows = db.execute("SELECT name, type, sql FROM sqlite_master").fetchall()
    db.close()
    return [(str(name), str(kind), str(sql or "")) for name, kind, sql in rows]
