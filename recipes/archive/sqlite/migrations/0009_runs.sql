-- Moulds, and runs: the parts of an order, cast cup by cup after an approval.

-- +goose Up
CREATE TABLE mould (name TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;
CREATE TABLE mould_card (
	id      INTEGER PRIMARY KEY,
	name    TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.name') REFERENCES mould (name),
	client  TEXT GENERATED ALWAYS AS (doc ->> '$.client') REFERENCES client (name),
	part    TEXT GENERATED ALWAYS AS (doc ->> '$.part'),
	prev    TEXT NOT NULL,
	sum     TEXT NOT NULL UNIQUE,
	doc     TEXT NOT NULL CHECK (json_valid(doc)),
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	program TEXT NOT NULL,
	FOREIGN KEY (client, part) REFERENCES part (client, name)
) STRICT;
CREATE INDEX mould_card_name ON mould_card (name, id);

CREATE TABLE run (
	id       INTEGER PRIMARY KEY,
	approval TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.approval') REFERENCES approval (sum),
	client   TEXT NOT NULL GENERATED ALWAYS AS (coalesce(doc ->> '$.client', '')),
	target   TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.target'),
	prev    TEXT NOT NULL,
	sum     TEXT NOT NULL UNIQUE,
	doc     TEXT NOT NULL CHECK (json_valid(doc)),
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	program TEXT NOT NULL,
	FOREIGN KEY (client, target) REFERENCES target (client, name)
) STRICT;
CREATE INDEX run_approval ON run (approval);

-- A cup of a run is a pour, with what the run needs to know beside it.
CREATE TABLE run_cup (
	id    INTEGER PRIMARY KEY,
	run   TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.run') REFERENCES run (sum),
	pour  TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.pour') REFERENCES pour (sum),
	mould TEXT GENERATED ALWAYS AS (doc ->> '$.mould') REFERENCES mould (name),
	prev    TEXT NOT NULL,
	sum     TEXT NOT NULL UNIQUE,
	doc     TEXT NOT NULL CHECK (json_valid(doc)),
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	program TEXT NOT NULL
) STRICT;
CREATE INDEX run_cup_run ON run_cup (run);
CREATE INDEX run_cup_pour ON run_cup (pour);
CREATE INDEX run_cup_mould ON run_cup (mould);

-- +goose StatementBegin
CREATE TRIGGER mould_named BEFORE INSERT ON mould_card BEGIN
	INSERT OR IGNORE INTO mould (name) VALUES (new.doc ->> '$.name');
END;
-- +goose StatementEnd

-- Nothing here is ever updated or deleted.
-- +goose StatementBegin
CREATE TRIGGER mould_kept BEFORE UPDATE ON mould BEGIN SELECT raise(ABORT, 'mould only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER mould_lasting BEFORE DELETE ON mould BEGIN SELECT raise(ABORT, 'mould only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER mould_card_kept BEFORE UPDATE ON mould_card BEGIN SELECT raise(ABORT, 'mould_card only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER mould_card_lasting BEFORE DELETE ON mould_card BEGIN SELECT raise(ABORT, 'mould_card only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER run_kept BEFORE UPDATE ON run BEGIN SELECT raise(ABORT, 'run only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER run_lasting BEFORE DELETE ON run BEGIN SELECT raise(ABORT, 'run only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER run_cup_kept BEFORE UPDATE ON run_cup BEGIN SELECT raise(ABORT, 'run_cup only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER run_cup_lasting BEFORE DELETE ON run_cup BEGIN SELECT raise(ABORT, 'run_cup only grows: add a record that supersedes the old one'); END;
-- +goose StatementEnd
