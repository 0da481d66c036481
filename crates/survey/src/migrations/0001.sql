-- Schema 1: the journal, the record that follows from it, and the jobs that derive.

-- What was done, one row each. hash = SHA-256 over the JSON array
-- ["stillroom.journal/1", seq, time, by, kind, body, previous], body as text (docs/formats.md).
CREATE TABLE journal (
    seq      INTEGER PRIMARY KEY,
    time     TEXT NOT NULL,
    by       TEXT NOT NULL,
    kind     TEXT NOT NULL,
    body     TEXT NOT NULL,
    previous TEXT NOT NULL,
    hash     TEXT NOT NULL
) STRICT;

CREATE TRIGGER journal_is_not_changed BEFORE UPDATE ON journal
BEGIN SELECT RAISE(ABORT, 'a journal entry is never changed'); END;
CREATE TRIGGER journal_is_not_shortened BEFORE DELETE ON journal
BEGIN SELECT RAISE(ABORT, 'a journal entry is never removed'); END;

-- What the journal adds up to: each thing as the last entry that touched it left it.
-- body is JSON; NULL for a thing that was taken back, so that its id is never used again.
CREATE TABLE record (
    kind TEXT NOT NULL,
    id   TEXT NOT NULL,
    seq  INTEGER NOT NULL,
    body TEXT,
    PRIMARY KEY (kind, id)
) STRICT, WITHOUT ROWID;

-- Work to do on captures. Not part of the record: may be emptied, and is filled again.
CREATE TABLE job (
    id      INTEGER PRIMARY KEY,
    kind    TEXT NOT NULL,
    input   TEXT NOT NULL,
    folder  TEXT NOT NULL,
    state   TEXT NOT NULL CHECK (state IN ('pending', 'running', 'done', 'failed')),
    owner   TEXT,
    message TEXT,
    UNIQUE (kind, input, folder)
) STRICT;

-- For people who read this file with any SQLite tool.
CREATE VIEW captures AS SELECT id, body ->> 'role' AS role, body ->> 'position' AS position,
    body ->> 'chain' AS chain, body ->> 'start' AS start, body ->> 'recording' AS sha256,
    body ->> 'set_aside' AS set_aside FROM record WHERE kind = 'capture' AND body IS NOT NULL;
CREATE VIEW positions AS SELECT id, body ->> 'name' AS name, body ->> 'zone' AS zone,
    body ->> 'room' AS room, body ->> 'floor' AS floor, body ->> 'x_m' AS x_m, body ->> 'y_m' AS y_m
    FROM record WHERE kind = 'position' AND body IS NOT NULL;
CREATE VIEW decisions AS SELECT body ->> '$.act.what.id' AS emission, body ->> '$.act.what.state' AS state,
    body ->> '$.act.what.ground' AS ground, body ->> '$.act.what.reason' AS reason, body ->> '$.act.by' AS by,
    body ->> '$.act.at' AS at, seq FROM record
    WHERE kind = 'act' AND body IS NOT NULL AND body ->> '$.act.what.act' = 'decide';
