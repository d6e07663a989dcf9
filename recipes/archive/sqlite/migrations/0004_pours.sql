-- Batches made up from recipes, what was poured and how it read, tinted stock,
-- and the recipes approved for a client.

-- +goose Up
CREATE TABLE batch (
	id      INTEGER PRIMARY KEY,
	recipe  TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.recipe') REFERENCES recipe (sum),
	adds_to TEXT GENERATED ALWAYS AS (doc ->> '$.adds_to') REFERENCES pour (sum),
	stock   TEXT GENERATED ALWAYS AS (doc ->> '$.stock') REFERENCES stock (name),
	prev    TEXT NOT NULL,
	sum     TEXT NOT NULL UNIQUE,
	doc     TEXT NOT NULL CHECK (json_valid(doc)),
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	program TEXT NOT NULL
) STRICT;
CREATE INDEX batch_recipe ON batch (recipe);

CREATE TABLE pour (
	id        INTEGER PRIMARY KEY,
	batch     TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.batch') REFERENCES batch (sum),
	poured_on TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.poured_on'),
	prev    TEXT NOT NULL,
	sum     TEXT NOT NULL UNIQUE,
	doc     TEXT NOT NULL CHECK (json_valid(doc)),
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	program TEXT NOT NULL
) STRICT;
CREATE INDEX pour_batch ON pour (batch);

CREATE TABLE pour_lot (
	pour INTEGER NOT NULL REFERENCES pour (id),
	item TEXT NOT NULL,
	code TEXT NOT NULL,
	name TEXT NOT NULL,
	PRIMARY KEY (pour, item, code, name),
	FOREIGN KEY (item, code, name) REFERENCES lot (item, code, name)
) STRICT, WITHOUT ROWID;

-- A cured part is read later than it is poured, and may be read again.
CREATE TABLE pour_reading (
	id   INTEGER PRIMARY KEY,
	pour TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.pour') REFERENCES pour (sum),
	prev    TEXT NOT NULL,
	sum     TEXT NOT NULL UNIQUE,
	doc     TEXT NOT NULL CHECK (json_valid(doc)),
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	program TEXT NOT NULL
) STRICT;
CREATE INDEX pour_reading_pour ON pour_reading (pour);

CREATE TABLE approval (
	id      INTEGER PRIMARY KEY,
	client  TEXT NOT NULL GENERATED ALWAYS AS (coalesce(doc ->> '$.client', '')),
	target  TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.target'),
	version INTEGER NOT NULL GENERATED ALWAYS AS (doc ->> '$.version') CHECK (version > 0),
	recipe  TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.recipe') REFERENCES recipe (sum),
	prev    TEXT NOT NULL,
	sum     TEXT NOT NULL UNIQUE,
	doc     TEXT NOT NULL CHECK (json_valid(doc)),
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	program TEXT NOT NULL,
	UNIQUE (client, target, version),
	FOREIGN KEY (client, target) REFERENCES target (client, name)
) STRICT;
CREATE INDEX approval_recipe ON approval (recipe);

CREATE TABLE approval_pour (
	approval INTEGER NOT NULL REFERENCES approval (id),
	pour     TEXT NOT NULL REFERENCES pour (sum),
	PRIMARY KEY (approval, pour)
) STRICT, WITHOUT ROWID;

CREATE TABLE stock (name TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;
CREATE TABLE stock_card (
	id      INTEGER PRIMARY KEY,
	name    TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.name') REFERENCES stock (name),
	resin   TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.resin') REFERENCES resin (code),
	recipe  TEXT GENERATED ALWAYS AS (doc ->> '$.recipe') REFERENCES recipe (sum),
	prev    TEXT NOT NULL,
	sum     TEXT NOT NULL UNIQUE,
	doc     TEXT NOT NULL CHECK (json_valid(doc)),
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	program TEXT NOT NULL
) STRICT;
CREATE INDEX stock_card_name ON stock_card (name, id);

CREATE TABLE stock_move (
	id      INTEGER PRIMARY KEY,
	stock   TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.stock') REFERENCES stock (name),
	kind    TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.kind') CHECK (kind IN ('tint', 'draw', 'correct', 'count')),
	pour    TEXT GENERATED ALWAYS AS (doc ->> '$.pour') REFERENCES pour (sum),
	prev    TEXT NOT NULL,
	sum     TEXT NOT NULL UNIQUE,
	doc     TEXT NOT NULL CHECK (json_valid(doc)),
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	program TEXT NOT NULL
) STRICT;
CREATE INDEX stock_move_stock ON stock_move (stock, id);

-- +goose StatementBegin
CREATE TRIGGER pour_lots AFTER INSERT ON pour BEGIN
	INSERT INTO pour_lot (pour, item, code, name)
	SELECT new.id, value ->> '$.item', value ->> '$.code', value ->> '$.name' FROM json_each(new.doc, '$.lots');
END;
CREATE TRIGGER approval_pours AFTER INSERT ON approval BEGIN
	INSERT INTO approval_pour (approval, pour) SELECT new.id, value FROM json_each(new.doc, '$.pours');
END;
CREATE TRIGGER stock_named BEFORE INSERT ON stock_card BEGIN
	INSERT OR IGNORE INTO stock (name) VALUES (new.doc ->> '$.name');
END;
-- +goose StatementEnd

-- Nothing here is ever updated or deleted.
-- +goose StatementBegin
CREATE TRIGGER batch_kept BEFORE UPDATE ON batch BEGIN SELECT raise(ABORT, 'batch only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER batch_lasting BEFORE DELETE ON batch BEGIN SELECT raise(ABORT, 'batch only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER pour_kept BEFORE UPDATE ON pour BEGIN SELECT raise(ABORT, 'pour only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER pour_lasting BEFORE DELETE ON pour BEGIN SELECT raise(ABORT, 'pour only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER pour_lot_kept BEFORE UPDATE ON pour_lot BEGIN SELECT raise(ABORT, 'pour_lot only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER pour_lot_lasting BEFORE DELETE ON pour_lot BEGIN SELECT raise(ABORT, 'pour_lot only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER pour_reading_kept BEFORE UPDATE ON pour_reading BEGIN SELECT raise(ABORT, 'pour_reading only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER pour_reading_lasting BEFORE DELETE ON pour_reading BEGIN SELECT raise(ABORT, 'pour_reading only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER approval_kept BEFORE UPDATE ON approval BEGIN SELECT raise(ABORT, 'approval only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER approval_lasting BEFORE DELETE ON approval BEGIN SELECT raise(ABORT, 'approval only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER approval_pour_kept BEFORE UPDATE ON approval_pour BEGIN SELECT raise(ABORT, 'approval_pour only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER approval_pour_lasting BEFORE DELETE ON approval_pour BEGIN SELECT raise(ABORT, 'approval_pour only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER stock_kept BEFORE UPDATE ON stock BEGIN SELECT raise(ABORT, 'stock only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER stock_lasting BEFORE DELETE ON stock BEGIN SELECT raise(ABORT, 'stock only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER stock_card_kept BEFORE UPDATE ON stock_card BEGIN SELECT raise(ABORT, 'stock_card only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER stock_card_lasting BEFORE DELETE ON stock_card BEGIN SELECT raise(ABORT, 'stock_card only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER stock_move_kept BEFORE UPDATE ON stock_move BEGIN SELECT raise(ABORT, 'stock_move only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER stock_move_lasting BEFORE DELETE ON stock_move BEGIN SELECT raise(ABORT, 'stock_move only grows: add a record that supersedes the old one'); END;
-- +goose StatementEnd
