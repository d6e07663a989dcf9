-- Scales and instruments, so that they need not be told on every call.

-- +goose Up
CREATE TABLE equipment_card (
	id      INTEGER PRIMARY KEY,
	item    TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.item') CHECK (item IN ('scale', 'instrument')),
	name    TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.name'),
	prev    TEXT NOT NULL,
	sum     TEXT NOT NULL UNIQUE,
	doc     TEXT NOT NULL CHECK (json_valid(doc)),
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	program TEXT NOT NULL
) STRICT;
CREATE INDEX equipment_card_name ON equipment_card (item, name, id);

-- Nothing here is ever updated or deleted.
-- +goose StatementBegin
CREATE TRIGGER equipment_card_kept BEFORE UPDATE ON equipment_card BEGIN SELECT raise(ABORT, 'equipment_card only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER equipment_card_lasting BEFORE DELETE ON equipment_card BEGIN SELECT raise(ABORT, 'equipment_card only grows: add a record that supersedes the old one'); END;
-- +goose StatementEnd
