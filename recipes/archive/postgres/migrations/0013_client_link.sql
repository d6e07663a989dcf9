-- Links by which a client sees an approval in a browser. Of a link's token only
-- the hash is here. A link that is closed is superseded by a card that says so.

-- +goose Up
CREATE TABLE client_link (hash text COLLATE "C" PRIMARY KEY);
CREATE TABLE client_link_card (
	id bigint PRIMARY KEY,
	hash text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.hash') STORED,
	approval text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.approval') STORED,
	prev text COLLATE "C" NOT NULL,
	sum text COLLATE "C" NOT NULL UNIQUE,
	doc text COLLATE "C" NOT NULL CHECK (doc::json IS NOT NULL),
	at text COLLATE "C" NOT NULL,
	who text COLLATE "C" NOT NULL,
	program text COLLATE "C" NOT NULL
);
ALTER TABLE client_link_card ADD FOREIGN KEY (hash) REFERENCES client_link (hash) DEFERRABLE;
ALTER TABLE client_link_card ADD FOREIGN KEY (approval) REFERENCES approval (sum) DEFERRABLE;
CREATE INDEX client_link_card_hash ON client_link_card (hash, id);
CREATE INDEX client_link_card_approval ON client_link_card (approval);

-- +goose StatementBegin
CREATE FUNCTION client_link_named() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT AS $$ BEGIN
	INSERT INTO client_link (hash) VALUES (NEW.doc ->> '$.hash') ON CONFLICT DO NOTHING;
	RETURN NEW;
END $$;
CREATE TRIGGER named BEFORE INSERT ON client_link_card FOR EACH ROW EXECUTE FUNCTION client_link_named();
CALL guard();
-- +goose StatementEnd
