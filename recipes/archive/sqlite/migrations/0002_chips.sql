-- Chips with their readings, and the calibrations fitted from them.

-- +goose Up
CREATE TABLE chip (
	resin TEXT NOT NULL REFERENCES resin (code),
	name  TEXT NOT NULL,
	PRIMARY KEY (resin, name)
) STRICT, WITHOUT ROWID;
CREATE TABLE chip_card (
	id      INTEGER PRIMARY KEY,
	resin   TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.resin'),
	name    TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.name'),
	backing TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.backing') REFERENCES backing (name),
	prev    TEXT NOT NULL,
	sum     TEXT NOT NULL UNIQUE,
	doc     TEXT NOT NULL CHECK (json_valid(doc)),
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	program TEXT NOT NULL,
	FOREIGN KEY (resin, name) REFERENCES chip (resin, name)
) STRICT;
CREATE INDEX chip_card_name ON chip_card (resin, name, id);

CREATE TABLE chip_loading (
	chip    INTEGER NOT NULL REFERENCES chip_card (id),
	pigment TEXT NOT NULL REFERENCES pigment (code),
	phr     REAL NOT NULL CHECK (phr >= 0),
	PRIMARY KEY (chip, pigment)
) STRICT, WITHOUT ROWID;

-- The n-th calibration of a resin on this bench is its version n.
CREATE TABLE calibration (
	id      INTEGER PRIMARY KEY,
	resin   TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.resin') REFERENCES resin (code),
	layer   TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.layer'),
	prev    TEXT NOT NULL,
	sum     TEXT NOT NULL UNIQUE,
	doc     TEXT NOT NULL CHECK (json_valid(doc)),
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	program TEXT NOT NULL
) STRICT;
CREATE INDEX calibration_resin ON calibration (resin, id);

-- Exactly which readings of which chips a calibration was fitted from.
CREATE TABLE calibration_chip (
	calibration INTEGER NOT NULL REFERENCES calibration (id),
	chip        TEXT NOT NULL REFERENCES chip_card (sum),
	PRIMARY KEY (calibration, chip)
) STRICT, WITHOUT ROWID;

-- +goose StatementBegin
CREATE TRIGGER chip_named BEFORE INSERT ON chip_card BEGIN
	INSERT OR IGNORE INTO chip (resin, name) VALUES (new.doc ->> '$.resin', new.doc ->> '$.name');
END;
CREATE TRIGGER chip_loaded AFTER INSERT ON chip_card BEGIN
	INSERT INTO chip_loading (chip, pigment, phr) SELECT new.id, key, value FROM json_each(new.doc, '$.loadings');
END;
CREATE TRIGGER calibration_fitted AFTER INSERT ON calibration BEGIN
	INSERT INTO calibration_chip (calibration, chip) SELECT new.id, value FROM json_each(new.doc, '$.chips');
END;
-- +goose StatementEnd

-- Nothing here is ever updated or deleted.
-- +goose StatementBegin
CREATE TRIGGER chip_kept BEFORE UPDATE ON chip BEGIN SELECT raise(ABORT, 'chip only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER chip_lasting BEFORE DELETE ON chip BEGIN SELECT raise(ABORT, 'chip only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER chip_card_kept BEFORE UPDATE ON chip_card BEGIN SELECT raise(ABORT, 'chip_card only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER chip_card_lasting BEFORE DELETE ON chip_card BEGIN SELECT raise(ABORT, 'chip_card only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER chip_loading_kept BEFORE UPDATE ON chip_loading BEGIN SELECT raise(ABORT, 'chip_loading only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER chip_loading_lasting BEFORE DELETE ON chip_loading BEGIN SELECT raise(ABORT, 'chip_loading only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER calibration_kept BEFORE UPDATE ON calibration BEGIN SELECT raise(ABORT, 'calibration only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER calibration_lasting BEFORE DELETE ON calibration BEGIN SELECT raise(ABORT, 'calibration only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER calibration_chip_kept BEFORE UPDATE ON calibration_chip BEGIN SELECT raise(ABORT, 'calibration_chip only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER calibration_chip_lasting BEFORE DELETE ON calibration_chip BEGIN SELECT raise(ABORT, 'calibration_chip only grows: add a record that supersedes the old one'); END;
-- +goose StatementEnd
