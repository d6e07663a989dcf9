-- Scales and instruments, so that they need not be told on every call.

-- +goose Up
CREATE TABLE equipment_card (
	id bigint PRIMARY KEY,
	item text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.item') STORED CHECK (item IN ('scale', 'instrument')),
	name text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.name') STORED,
	prev text COLLATE "C" NOT NULL,
	sum text COLLATE "C" NOT NULL UNIQUE,
	doc text COLLATE "C" NOT NULL CHECK (doc::json IS NOT NULL),
	at text COLLATE "C" NOT NULL,
	who text COLLATE "C" NOT NULL,
	program text COLLATE "C" NOT NULL
);
CREATE INDEX equipment_card_name ON equipment_card (item, name, id);

-- +goose StatementBegin
CALL guard();
-- +goose StatementEnd
