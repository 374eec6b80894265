CREATE TABLE event (
    pos INTEGER NOT NULL,
    centre TEXT NOT NULL,
    hash BLOB NOT NULL,
    prev BLOB NOT NULL,
    chain TEXT NOT NULL,
    seq INTEGER NOT NULL,
    lamport INTEGER NOT NULL,
    id TEXT NOT NULL,
    device TEXT NOT NULL,
    actor TEXT NOT NULL,
    subject TEXT NOT NULL,
    recorded_at TEXT NOT NULL,
    kind TEXT NOT NULL,
    body TEXT NOT NULL,
    origin INTEGER NOT NULL,
    PRIMARY KEY (pos),
    CHECK (seq >= 1),
    CHECK (lamport >= seq),
    CHECK (origin IN (0, 1)),
    CHECK (length(recorded_at) = 27),
    CHECK (length(hash) = 32 AND length(prev) = 32),
    CHECK (json_valid(body))
)
 STRICT

CREATE UNIQUE INDEX ux_event_hash ON event (centre, hash)

CREATE INDEX ix_event_subject ON event (centre, subject, lamport)

CREATE UNIQUE INDEX ux_event_seq ON event (centre, chain, seq) WHERE origin = 0

CREATE INDEX ix_event_id ON event (centre, id)

CREATE UNIQUE INDEX ux_event_id ON event (centre, id) WHERE origin = 0

CREATE INDEX ix_event_chain ON event (centre, chain, seq)

CREATE TRIGGER event_no_update BEFORE UPDATE ON event BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END

CREATE TRIGGER event_no_delete BEFORE DELETE ON event BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END

CREATE TRIGGER event_no_replace BEFORE INSERT ON event WHEN EXISTS (SELECT 1 FROM event WHERE pos = NEW.pos OR (centre = NEW.centre AND hash = NEW.hash)) OR (NEW.origin = 0 AND EXISTS (SELECT 1 FROM event WHERE origin = 0 AND centre = NEW.centre AND (id = NEW.id OR (chain = NEW.chain AND seq = NEW.seq)))) BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END

CREATE TABLE head (
    centre TEXT NOT NULL,
    chain TEXT NOT NULL,
    seq INTEGER NOT NULL,
    hash BLOB NOT NULL,
    lamport INTEGER NOT NULL,
    device TEXT NOT NULL,
    PRIMARY KEY (centre, chain)
)
 STRICT

CREATE TABLE fact (
    centre TEXT NOT NULL,
    kind TEXT NOT NULL,
    id TEXT NOT NULL,
    course TEXT,
    person TEXT,
    skill TEXT,
    session TEXT,
    fact TEXT NOT NULL,
    PRIMARY KEY (centre, kind, id)
)
 WITHOUT ROWID,
 STRICT

CREATE INDEX ix_fact_course ON fact (centre, kind, course)

CREATE INDEX ix_fact_session ON fact (centre, kind, session)

CREATE INDEX ix_fact_person ON fact (centre, kind, person, skill)

CREATE TABLE meta (
    centre TEXT NOT NULL,
    name TEXT NOT NULL,
    value TEXT NOT NULL,
    PRIMARY KEY (centre, name)
)
 STRICT
