-- Clients, their parts, the colours they want, and the recipes found for them.

-- +goose Up
CREATE TABLE client (name TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;
CREATE TABLE client_card (
	id      INTEGER PRIMARY KEY,
	name    TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.name') REFERENCES client (name),
	prev    TEXT NOT NULL,
	sum     TEXT NOT NULL UNIQUE,
	doc     TEXT NOT NULL CHECK (json_valid(doc)),
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	program TEXT NOT NULL
) STRICT;
CREATE INDEX client_card_name ON client_card (name, id);

CREATE TABLE part (
	client TEXT NOT NULL REFERENCES client (name),
	name   TEXT NOT NULL,
	PRIMARY KEY (client, name)
) STRICT, WITHOUT ROWID;
CREATE TABLE part_card (
	id      INTEGER PRIMARY KEY,
	client  TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.client'),
	name    TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.name'),
	prev    TEXT NOT NULL,
	sum     TEXT NOT NULL UNIQUE,
	doc     TEXT NOT NULL CHECK (json_valid(doc)),
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	program TEXT NOT NULL,
	FOREIGN KEY (client, name) REFERENCES part (client, name)
) STRICT;
CREATE INDEX part_card_name ON part_card (client, name, id);

-- A target without a client has client '', and no row in client.
CREATE TABLE target (
	client TEXT NOT NULL,
	name   TEXT NOT NULL,
	known_client TEXT GENERATED ALWAYS AS (nullif(client, '')) REFERENCES client (name),
	PRIMARY KEY (client, name)
) STRICT, WITHOUT ROWID;
CREATE TABLE target_card (
	id      INTEGER PRIMARY KEY,
	client  TEXT NOT NULL GENERATED ALWAYS AS (coalesce(doc ->> '$.client', '')),
	name    TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.name'),
	part    TEXT GENERATED ALWAYS AS (doc ->> '$.part'),
	backing TEXT GENERATED ALWAYS AS (doc ->> '$.backing') REFERENCES backing (name),
	prev    TEXT NOT NULL,
	sum     TEXT NOT NULL UNIQUE,
	doc     TEXT NOT NULL CHECK (json_valid(doc)),
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	program TEXT NOT NULL,
	FOREIGN KEY (client, name) REFERENCES target (client, name),
	FOREIGN KEY (client, part) REFERENCES part (client, name)
) STRICT;
CREATE INDEX target_card_name ON target_card (client, name, id);
CREATE INDEX target_name ON target (name);

-- id is the recipe's number on this bench: recipe 12 is called R12.
CREATE TABLE recipe (
	id          INTEGER PRIMARY KEY,
	resin       TEXT NOT NULL GENERATED ALWAYS AS (doc ->> '$.resin') REFERENCES resin (code),
	calibration TEXT GENERATED ALWAYS AS (doc ->> '$.calibration') REFERENCES calibration (sum),
	client      TEXT GENERATED ALWAYS AS (iif(doc ->> '$.target' IS NULL, NULL, coalesce(doc ->> '$.client', ''))),
	target      TEXT GENERATED ALWAYS AS (doc ->> '$.target'),
	target_card TEXT GENERATED ALWAYS AS (doc ->> '$.target_card') REFERENCES target_card (sum),
	corrects    TEXT GENERATED ALWAYS AS (doc ->> '$.corrects') REFERENCES recipe (sum),
	prev    TEXT NOT NULL,
	sum     TEXT NOT NULL UNIQUE,
	doc     TEXT NOT NULL CHECK (json_valid(doc)),
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	program TEXT NOT NULL,
	FOREIGN KEY (client, target) REFERENCES target (client, name)
) STRICT;
CREATE INDEX recipe_target ON recipe (client, target);
CREATE INDEX recipe_resin ON recipe (resin);
CREATE INDEX recipe_at ON recipe (at);

CREATE TABLE recipe_loading (
	recipe  INTEGER NOT NULL REFERENCES recipe (id),
	pigment TEXT NOT NULL REFERENCES pigment (code),
	phr     REAL NOT NULL CHECK (phr >= 0),
	PRIMARY KEY (recipe, pigment)
) STRICT, WITHOUT ROWID;
CREATE INDEX recipe_loading_pigment ON recipe_loading (pigment);

-- +goose StatementBegin
CREATE TRIGGER client_named BEFORE INSERT ON client_card BEGIN
	INSERT OR IGNORE INTO client (name) VALUES (new.doc ->> '$.name');
END;
CREATE TRIGGER part_named BEFORE INSERT ON part_card BEGIN
	INSERT OR IGNORE INTO part (client, name) VALUES (new.doc ->> '$.client', new.doc ->> '$.name');
END;
CREATE TRIGGER target_named BEFORE INSERT ON target_card BEGIN
	INSERT OR IGNORE INTO target (client, name) VALUES (coalesce(new.doc ->> '$.client', ''), new.doc ->> '$.name');
END;
CREATE TRIGGER recipe_loaded AFTER INSERT ON recipe BEGIN
	INSERT INTO recipe_loading (recipe, pigment, phr) SELECT new.id, key, value FROM json_each(new.doc, '$.loadings');
END;
-- +goose StatementEnd

-- Nothing here is ever updated or deleted.
-- +goose StatementBegin
CREATE TRIGGER client_kept BEFORE UPDATE ON client BEGIN SELECT raise(ABORT, 'client only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER client_lasting BEFORE DELETE ON client BEGIN SELECT raise(ABORT, 'client only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER client_card_kept BEFORE UPDATE ON client_card BEGIN SELECT raise(ABORT, 'client_card only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER client_card_lasting BEFORE DELETE ON client_card BEGIN SELECT raise(ABORT, 'client_card only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER part_kept BEFORE UPDATE ON part BEGIN SELECT raise(ABORT, 'part only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER part_lasting BEFORE DELETE ON part BEGIN SELECT raise(ABORT, 'part only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER part_card_kept BEFORE UPDATE ON part_card BEGIN SELECT raise(ABORT, 'part_card only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER part_card_lasting BEFORE DELETE ON part_card BEGIN SELECT raise(ABORT, 'part_card only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER target_kept BEFORE UPDATE ON target BEGIN SELECT raise(ABORT, 'target only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER target_lasting BEFORE DELETE ON target BEGIN SELECT raise(ABORT, 'target only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER target_card_kept BEFORE UPDATE ON target_card BEGIN SELECT raise(ABORT, 'target_card only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER target_card_lasting BEFORE DELETE ON target_card BEGIN SELECT raise(ABORT, 'target_card only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER recipe_kept BEFORE UPDATE ON recipe BEGIN SELECT raise(ABORT, 'recipe only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER recipe_lasting BEFORE DELETE ON recipe BEGIN SELECT raise(ABORT, 'recipe only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER recipe_loading_kept BEFORE UPDATE ON recipe_loading BEGIN SELECT raise(ABORT, 'recipe_loading only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER recipe_loading_lasting BEFORE DELETE ON recipe_loading BEGIN SELECT raise(ABORT, 'recipe_loading only grows: add a record that supersedes the old one'); END;
-- +goose StatementEnd
