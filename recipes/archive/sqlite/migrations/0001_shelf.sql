-- The shelf: resins, pigments, their lots, the backings chips are read over,
-- and the log of who did what.
--
-- Every table of records has the same five columns after its key: doc is the
-- record as JSON, prev and sum chain it to the record it supersedes, and at,
-- who and program say where it came from. Columns to search or to refer by are
-- generated from doc, so they cannot disagree with it. Nothing is ever updated
-- or deleted: the triggers see to that.

-- +goose Up
PRAGMA application_id = 1297306702; -- 'MSTN' in ASCII: this file is a bench

CREATE TABLE log (
	id      INTEGER PRIMARY KEY,
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	program TEXT NOT NULL,
	verb    TEXT NOT NULL,
	subject TEXT NOT NULL,
	detail  TEXT NOT NULL
) STRICT;
CREATE INDEX log_at ON log (at);

CREATE TABLE resin (code TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;
CREATE TABLE resin_card (
	id      INTEGER PRIMARY KEY,
	code    TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.code') REFERENCES resin (code),
	prev    TEXT NOT NULL,
	sum     TEXT NOT NULL UNIQUE,
	doc     TEXT NOT NULL CHECK (json_valid(doc)),
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	program TEXT NOT NULL
) STRICT;
CREATE INDEX resin_card_code ON resin_card (code, id);

CREATE TABLE pigment (code TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;
CREATE TABLE pigment_card (
	id      INTEGER PRIMARY KEY,
	code    TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.code') REFERENCES pigment (code),
	prev    TEXT NOT NULL,
	sum     TEXT NOT NULL UNIQUE,
	doc     TEXT NOT NULL CHECK (json_valid(doc)),
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	program TEXT NOT NULL
) STRICT;
CREATE INDEX pigment_card_code ON pigment_card (code, id);

-- A lot belongs to a pigment or to a resin: exactly one of the two is set.
CREATE TABLE lot (
	item TEXT NOT NULL CHECK (item IN ('pigment', 'resin')),
	code TEXT NOT NULL,
	name TEXT NOT NULL,
	pigment TEXT GENERATED ALWAYS AS (iif(item = 'pigment', code, NULL)) REFERENCES pigment (code),
	resin   TEXT GENERATED ALWAYS AS (iif(item = 'resin', code, NULL)) REFERENCES resin (code),
	PRIMARY KEY (item, code, name)
) STRICT, WITHOUT ROWID;
CREATE TABLE lot_card (
	id      INTEGER PRIMARY KEY,
	item    TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.item'),
	code    TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.code'),
	name    TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.name'),
	prev    TEXT NOT NULL,
	sum     TEXT NOT NULL UNIQUE,
	doc     TEXT NOT NULL CHECK (json_valid(doc)),
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	program TEXT NOT NULL,
	FOREIGN KEY (item, code, name) REFERENCES lot (item, code, name)
) STRICT;
CREATE INDEX lot_card_name ON lot_card (item, code, name, id);

-- Which lot is open on the bench: the newest row of an item counts.
CREATE TABLE lot_opened (
	id      INTEGER PRIMARY KEY,
	item    TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.item'),
	code    TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.code'),
	name    TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.lot'),
	prev    TEXT NOT NULL,
	sum     TEXT NOT NULL UNIQUE,
	doc     TEXT NOT NULL CHECK (json_valid(doc)),
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	program TEXT NOT NULL,
	FOREIGN KEY (item, code, name) REFERENCES lot (item, code, name)
) STRICT;
CREATE INDEX lot_opened_item ON lot_opened (item, code, id);

-- What is believed of a lot's strength: the newest row of a lot counts.
CREATE TABLE lot_strength (
	id      INTEGER PRIMARY KEY,
	item    TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.item'),
	code    TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.code'),
	name    TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.lot'),
	prev    TEXT NOT NULL,
	sum     TEXT NOT NULL UNIQUE,
	doc     TEXT NOT NULL CHECK (json_valid(doc)),
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	program TEXT NOT NULL,
	FOREIGN KEY (item, code, name) REFERENCES lot (item, code, name)
) STRICT;
CREATE INDEX lot_strength_name ON lot_strength (item, code, name, id);

CREATE TABLE backing (name TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;
CREATE TABLE backing_card (
	id      INTEGER PRIMARY KEY,
	name    TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.name') REFERENCES backing (name),
	prev    TEXT NOT NULL,
	sum     TEXT NOT NULL UNIQUE,
	doc     TEXT NOT NULL CHECK (json_valid(doc)),
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	program TEXT NOT NULL
) STRICT;
CREATE INDEX backing_card_name ON backing_card (name, id);

-- +goose StatementBegin
CREATE TRIGGER resin_named BEFORE INSERT ON resin_card BEGIN
	INSERT OR IGNORE INTO resin (code) VALUES (new.doc ->> '$.code');
END;
CREATE TRIGGER pigment_named BEFORE INSERT ON pigment_card BEGIN
	INSERT OR IGNORE INTO pigment (code) VALUES (new.doc ->> '$.code');
END;
CREATE TRIGGER lot_named BEFORE INSERT ON lot_card BEGIN
	INSERT OR IGNORE INTO lot (item, code, name)
	VALUES (new.doc ->> '$.item', new.doc ->> '$.code', new.doc ->> '$.name');
END;
CREATE TRIGGER backing_named BEFORE INSERT ON backing_card BEGIN
	INSERT OR IGNORE INTO backing (name) VALUES (new.doc ->> '$.name');
END;
-- +goose StatementEnd

-- Reflectance factors from memory, to be replaced by a reading. The same stamp
-- and sum on every bench, so that benches can exchange records.
INSERT INTO backing_card (prev, sum, doc, at, who, program) VALUES
	('', 'd69abb49449a65163d292eaf87aec6b3179d3de6a1f74c7ea960382b5a675fb5',
	'{"name":"white","constant":0.9,"source":"from memory"}', '2000-01-01T00:00:00.000Z', 'masstone', 'masstone'),
	('', '71d8b731dfe0d156192ae6e2357ebdd42d5b2a0f30eaddb0c2cfe89fd73bab0c',
	'{"name":"black","constant":0.03,"source":"from memory"}', '2000-01-01T00:00:00.000Z', 'masstone', 'masstone');

-- Nothing here is ever updated or deleted.
-- +goose StatementBegin
CREATE TRIGGER log_kept BEFORE UPDATE ON log BEGIN SELECT raise(ABORT, 'log only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER log_lasting BEFORE DELETE ON log BEGIN SELECT raise(ABORT, 'log only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER resin_kept BEFORE UPDATE ON resin BEGIN SELECT raise(ABORT, 'resin only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER resin_lasting BEFORE DELETE ON resin BEGIN SELECT raise(ABORT, 'resin only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER resin_card_kept BEFORE UPDATE ON resin_card BEGIN SELECT raise(ABORT, 'resin_card only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER resin_card_lasting BEFORE DELETE ON resin_card BEGIN SELECT raise(ABORT, 'resin_card only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER pigment_kept BEFORE UPDATE ON pigment BEGIN SELECT raise(ABORT, 'pigment only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER pigment_lasting BEFORE DELETE ON pigment BEGIN SELECT raise(ABORT, 'pigment only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER pigment_card_kept BEFORE UPDATE ON pigment_card BEGIN SELECT raise(ABORT, 'pigment_card only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER pigment_card_lasting BEFORE DELETE ON pigment_card BEGIN SELECT raise(ABORT, 'pigment_card only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER lot_kept BEFORE UPDATE ON lot BEGIN SELECT raise(ABORT, 'lot only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER lot_lasting BEFORE DELETE ON lot BEGIN SELECT raise(ABORT, 'lot only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER lot_card_kept BEFORE UPDATE ON lot_card BEGIN SELECT raise(ABORT, 'lot_card only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER lot_card_lasting BEFORE DELETE ON lot_card BEGIN SELECT raise(ABORT, 'lot_card only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER lot_opened_kept BEFORE UPDATE ON lot_opened BEGIN SELECT raise(ABORT, 'lot_opened only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER lot_opened_lasting BEFORE DELETE ON lot_opened BEGIN SELECT raise(ABORT, 'lot_opened only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER lot_strength_kept BEFORE UPDATE ON lot_strength BEGIN SELECT raise(ABORT, 'lot_strength only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER lot_strength_lasting BEFORE DELETE ON lot_strength BEGIN SELECT raise(ABORT, 'lot_strength only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER backing_kept BEFORE UPDATE ON backing BEGIN SELECT raise(ABORT, 'backing only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER backing_lasting BEFORE DELETE ON backing BEGIN SELECT raise(ABORT, 'backing only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER backing_card_kept BEFORE UPDATE ON backing_card BEGIN SELECT raise(ABORT, 'backing_card only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER backing_card_lasting BEFORE DELETE ON backing_card BEGIN SELECT raise(ABORT, 'backing_card only grows: add a record that supersedes the old one'); END;
-- +goose StatementEnd
