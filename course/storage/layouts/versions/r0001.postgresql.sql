CREATE TABLE event (
    pos BIGINT GENERATED ALWAYS AS IDENTITY,
    centre TEXT COLLATE "C" NOT NULL,
    hash BYTEA NOT NULL,
    prev BYTEA NOT NULL,
    chain TEXT COLLATE "C" NOT NULL,
    seq BIGINT NOT NULL,
    lamport BIGINT NOT NULL,
    id TEXT COLLATE "C" NOT NULL,
    device TEXT COLLATE "C" NOT NULL,
    actor TEXT COLLATE "C" NOT NULL,
    subject TEXT COLLATE "C" NOT NULL,
    recorded_at TEXT COLLATE "C" NOT NULL,
    kind TEXT COLLATE "C" NOT NULL,
    body TEXT COLLATE "C" NOT NULL,
    origin BIGINT NOT NULL,
    PRIMARY KEY (pos),
    CHECK (seq >= 1),
    CHECK (lamport >= seq),
    CHECK (origin IN (0, 1)),
    CHECK (length(recorded_at) = 27),
    CHECK (octet_length(hash) = 32 AND octet_length(prev) = 32),
    CHECK (json_typeof(body::json) = 'object')
)

CREATE UNIQUE INDEX ux_event_hash ON event (centre, hash)

CREATE INDEX ix_event_subject ON event (centre, subject, lamport)

CREATE UNIQUE INDEX ux_event_seq ON event (centre, chain, seq) WHERE origin = 0

CREATE INDEX ix_event_id ON event (centre, id)

CREATE UNIQUE INDEX ux_event_id ON event (centre, id) WHERE origin = 0

CREATE INDEX ix_event_chain ON event (centre, chain, seq)

CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$BEGIN RAISE EXCEPTION 'the ledger is append-only'; END$$

CREATE TRIGGER event_no_change BEFORE UPDATE OR DELETE ON event FOR EACH ROW EXECUTE FUNCTION refuse_change()

ALTER TABLE event ENABLE ALWAYS TRIGGER event_no_change

CREATE TRIGGER event_no_truncate BEFORE TRUNCATE ON event FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()

ALTER TABLE event ENABLE ALWAYS TRIGGER event_no_truncate

CREATE TABLE head (
    centre TEXT COLLATE "C" NOT NULL,
    chain TEXT COLLATE "C" NOT NULL,
    seq BIGINT NOT NULL,
    hash BYTEA NOT NULL,
    lamport BIGINT NOT NULL,
    device TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (centre, chain)
)

CREATE TABLE fact (
    centre TEXT COLLATE "C" NOT NULL,
    kind TEXT COLLATE "C" NOT NULL,
    id TEXT COLLATE "C" NOT NULL,
    course TEXT COLLATE "C",
    person TEXT COLLATE "C",
    skill TEXT COLLATE "C",
    session TEXT COLLATE "C",
    fact TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (centre, kind, id)
)

CREATE INDEX ix_fact_course ON fact (centre, kind, course)

CREATE INDEX ix_fact_session ON fact (centre, kind, session)

CREATE INDEX ix_fact_person ON fact (centre, kind, person, skill)

CREATE TABLE meta (
    centre TEXT COLLATE "C" NOT NULL,
    name TEXT COLLATE "C" NOT NULL,
    value TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (centre, name)
)
