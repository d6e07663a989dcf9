-- Plans: which chips to cast, by whose names they are known before they are read.

-- +goose Up

-- id is the plan's number on this bench: plan 3 is called PL3.
CREATE TABLE plan (
	id          INTEGER PRIMARY KEY,
	resin       TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.resin') REFERENCES resin (code),
	calibration TEXT GENERATED ALWAYS AS (doc ->> '$.calibration') REFERENCES calibration (sum),
	prev    TEXT NOT NULL,
	sum     TEXT NOT NULL UNIQUE,
	doc     TEXT NOT NULL CHECK (json_valid(doc)),
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	program TEXT NOT NULL
) STRICT;
CREATE INDEX plan_resin ON plan (resin, id);

-- The chips of a plan by name. Those that were cast and read have a card.
CREATE TABLE plan_chip (
	plan INTEGER NOT NULL REFERENCES plan (id),
	name TEXT NOT NULL,
	PRIMARY KEY (name, plan)
) STRICT, WITHOUT ROWID;

-- +goose StatementBegin
CREATE TRIGGER plan_made AFTER INSERT ON plan BEGIN
	INSERT INTO plan_chip (plan, name) SELECT new.id, value ->> '$.name' FROM json_each(new.doc, '$.chips');
END;
-- +goose StatementEnd

-- Nothing here is ever updated or deleted.
-- +goose StatementBegin
CREATE TRIGGER plan_kept BEFORE UPDATE ON plan BEGIN SELECT raise(ABORT, 'plan only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER plan_lasting BEFORE DELETE ON plan BEGIN SELECT raise(ABORT, 'plan only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER plan_chip_kept BEFORE UPDATE ON plan_chip BEGIN SELECT raise(ABORT, 'plan_chip only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER plan_chip_lasting BEFORE DELETE ON plan_chip BEGIN SELECT raise(ABORT, 'plan_chip only grows: add a record that supersedes the old one'); END;
-- +goose StatementEnd
