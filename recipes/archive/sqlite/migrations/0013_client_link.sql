-- Links by which a client sees an approval in a browser. Of a link's token only
-- the hash is here. A link that is closed is superseded by a card that says so.

-- +goose Up
CREATE TABLE client_link (hash TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;
CREATE TABLE client_link_card (
	id       INTEGER PRIMARY KEY,
	hash     TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.hash') REFERENCES client_link (hash),
	approval TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.approval') REFERENCES approval (sum),
	prev    TEXT NOT NULL,
	sum     TEXT NOT NULL UNIQUE,
	doc     TEXT NOT NULL CHECK (json_valid(doc)),
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	program TEXT NOT NULL
) STRICT;
CREATE INDEX client_link_card_hash ON client_link_card (hash, id);
CREATE INDEX client_link_card_approval ON client_link_card (approval);

-- +goose StatementBegin
CREATE TRIGGER client_link_named BEFORE INSERT ON client_link_card BEGIN
	INSERT OR IGNORE INTO client_link (hash) VALUES (new.doc ->> '$.hash');
END;
-- +goose StatementEnd

-- Nothing here is ever updated or deleted.
-- +goose StatementBegin
CREATE TRIGGER client_link_kept BEFORE UPDATE ON client_link BEGIN SELECT raise(ABORT, 'client_link only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER client_link_lasting BEFORE DELETE ON client_link BEGIN SELECT raise(ABORT, 'client_link only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER client_link_card_kept BEFORE UPDATE ON client_link_card BEGIN SELECT raise(ABORT, 'client_link_card only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER client_link_card_lasting BEFORE DELETE ON client_link_card BEGIN SELECT raise(ABORT, 'client_link_card only grows: add a record that supersedes the old one'); END;
-- +goose StatementEnd
