-- A bench as SQLite's steps up to this number make it. The tables, their columns and
-- what refers to what are the same; what follows here says what is PostgreSQL's.
--
-- Nothing is ever updated or deleted, and numbers have no gaps: triggers see to
-- both. Text is compared by its bytes, as SQLite does. Documents are text, so that
-- their bytes stay.

-- +goose Up

-- Who writes holds this table until the end, so that writers take turns.
CREATE TABLE turn ();

-- The few words of SQLite's that the program's queries use. Both engines take a
-- path of one step, such as '$.name'.
-- +goose StatementBegin
CREATE FUNCTION member(doc text, path text) RETURNS text COST 10 IMMUTABLE STRICT PARALLEL SAFE
RETURN doc::json ->> substr(path, 3);
CREATE OPERATOR ->> (LEFTARG = text, RIGHTARG = text, FUNCTION = member);

CREATE FUNCTION json_each(doc text, path text, OUT key text, OUT value text) RETURNS SETOF record IMMUTABLE STRICT PARALLEL SAFE
BEGIN ATOMIC
	WITH found (it) AS MATERIALIZED (SELECT doc::json -> substr(path, 3))
	SELECT f.key, f.value FROM found, json_each_text(CASE json_typeof(it) WHEN 'object' THEN it END) f
	UNION ALL
	SELECT (n - 1)::text, v FROM found, json_array_elements_text(CASE json_typeof(it) WHEN 'array' THEN it END) WITH ORDINALITY AS f (v, n);
END;

CREATE FUNCTION instr(t text, part text) RETURNS integer IMMUTABLE STRICT PARALLEL SAFE
RETURN strpos(t, part);

-- A text as it is searched, and a search for words that each begin one of its.
CREATE FUNCTION lexemes(t text) RETURNS tsvector IMMUTABLE STRICT PARALLEL SAFE
RETURN coalesce((SELECT string_agg(format('''%s'':%s', left(w, 500), least(n, 16383)), ' ')
	FROM unnest(words(t)) WITH ORDINALITY AS word (w, n)), '')::tsvector;

CREATE FUNCTION beginnings(t text) RETURNS tsquery IMMUTABLE STRICT PARALLEL SAFE
RETURN (SELECT string_agg(
	coalesce((SELECT '(' || string_agg('''' || left(w, 500) || '''', ' <-> ' ORDER BY n) || ':*)' FROM unnest(words(field)) WITH ORDINALITY AS word (w, n)),
		'''~'''), ' & ') -- which is no word of any text
	FROM unnest(string_to_array(t, ' ')) field)::tsquery;
-- +goose StatementEnd

CREATE TABLE log (
	id bigint PRIMARY KEY,
	at text COLLATE "C" NOT NULL,
	who text COLLATE "C" NOT NULL,
	program text COLLATE "C" NOT NULL,
	verb text COLLATE "C" NOT NULL,
	subject text COLLATE "C" NOT NULL,
	detail text COLLATE "C" NOT NULL
);

CREATE TABLE resin (
	code text COLLATE "C" PRIMARY KEY
);

CREATE TABLE resin_card (
	id bigint PRIMARY KEY,
	code text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.code') STORED,
	prev text COLLATE "C" NOT NULL,
	sum text COLLATE "C" NOT NULL UNIQUE,
	doc text COLLATE "C" NOT NULL CHECK (doc::json IS NOT NULL),
	at text COLLATE "C" NOT NULL,
	who text COLLATE "C" NOT NULL,
	program text COLLATE "C" NOT NULL
);

CREATE TABLE pigment (
	code text COLLATE "C" PRIMARY KEY
);

CREATE TABLE pigment_card (
	id bigint PRIMARY KEY,
	code text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.code') STORED,
	prev text COLLATE "C" NOT NULL,
	sum text COLLATE "C" NOT NULL UNIQUE,
	doc text COLLATE "C" NOT NULL CHECK (doc::json IS NOT NULL),
	at text COLLATE "C" NOT NULL,
	who text COLLATE "C" NOT NULL,
	program text COLLATE "C" NOT NULL
);

-- A lot belongs to a pigment or to a resin: exactly one of the two is set.
CREATE TABLE lot (
	item text COLLATE "C" NOT NULL CHECK (item IN ('pigment', 'resin')),
	code text COLLATE "C" NOT NULL,
	name text COLLATE "C" NOT NULL,
	pigment text COLLATE "C" GENERATED ALWAYS AS (CASE WHEN item = 'pigment' THEN code END) STORED,
	resin text COLLATE "C" GENERATED ALWAYS AS (CASE WHEN item = 'resin' THEN code END) STORED,
	PRIMARY KEY (item, code, name)
);

CREATE TABLE lot_card (
	id bigint PRIMARY KEY,
	item text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.item') STORED,
	code text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.code') STORED,
	name text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.name') STORED,
	prev text COLLATE "C" NOT NULL,
	sum text COLLATE "C" NOT NULL UNIQUE,
	doc text COLLATE "C" NOT NULL CHECK (doc::json IS NOT NULL),
	at text COLLATE "C" NOT NULL,
	who text COLLATE "C" NOT NULL,
	program text COLLATE "C" NOT NULL
);

-- Which lot is open on the bench: the newest row of an item counts.
CREATE TABLE lot_opened (
	id bigint PRIMARY KEY,
	item text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.item') STORED,
	code text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.code') STORED,
	name text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.lot') STORED,
	prev text COLLATE "C" NOT NULL,
	sum text COLLATE "C" NOT NULL UNIQUE,
	doc text COLLATE "C" NOT NULL CHECK (doc::json IS NOT NULL),
	at text COLLATE "C" NOT NULL,
	who text COLLATE "C" NOT NULL,
	program text COLLATE "C" NOT NULL
);

-- What is believed of a lot's strength: the newest row of a lot counts.
CREATE TABLE lot_strength (
	id bigint PRIMARY KEY,
	item text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.item') STORED,
	code text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.code') STORED,
	name text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.lot') STORED,
	prev text COLLATE "C" NOT NULL,
	sum text COLLATE "C" NOT NULL UNIQUE,
	doc text COLLATE "C" NOT NULL CHECK (doc::json IS NOT NULL),
	at text COLLATE "C" NOT NULL,
	who text COLLATE "C" NOT NULL,
	program text COLLATE "C" NOT NULL
);

CREATE TABLE backing (
	name text COLLATE "C" PRIMARY KEY
);

CREATE TABLE backing_card (
	id bigint PRIMARY KEY,
	name text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.name') STORED,
	prev text COLLATE "C" NOT NULL,
	sum text COLLATE "C" NOT NULL UNIQUE,
	doc text COLLATE "C" NOT NULL CHECK (doc::json IS NOT NULL),
	at text COLLATE "C" NOT NULL,
	who text COLLATE "C" NOT NULL,
	program text COLLATE "C" NOT NULL
);

CREATE TABLE chip (
	resin text COLLATE "C" NOT NULL,
	name text COLLATE "C" NOT NULL,
	PRIMARY KEY (resin, name)
);

CREATE TABLE chip_card (
	id bigint PRIMARY KEY,
	resin text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.resin') STORED,
	name text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.name') STORED,
	backing text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.backing') STORED,
	prev text COLLATE "C" NOT NULL,
	sum text COLLATE "C" NOT NULL UNIQUE,
	doc text COLLATE "C" NOT NULL CHECK (doc::json IS NOT NULL),
	at text COLLATE "C" NOT NULL,
	who text COLLATE "C" NOT NULL,
	program text COLLATE "C" NOT NULL
);

CREATE TABLE chip_loading (
	chip bigint NOT NULL,
	pigment text COLLATE "C" NOT NULL,
	phr double precision NOT NULL CHECK (phr >= 0),
	PRIMARY KEY (chip, pigment)
);

-- The n-th calibration of a resin on this bench is its version n.
CREATE TABLE calibration (
	id bigint PRIMARY KEY,
	resin text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.resin') STORED,
	layer text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.layer') STORED,
	prev text COLLATE "C" NOT NULL,
	sum text COLLATE "C" NOT NULL UNIQUE,
	doc text COLLATE "C" NOT NULL CHECK (doc::json IS NOT NULL),
	at text COLLATE "C" NOT NULL,
	who text COLLATE "C" NOT NULL,
	program text COLLATE "C" NOT NULL
);

-- Exactly which readings of which chips a calibration was fitted from.
CREATE TABLE calibration_chip (
	calibration bigint NOT NULL,
	chip text COLLATE "C" NOT NULL,
	PRIMARY KEY (calibration, chip)
);

CREATE TABLE client (
	name text COLLATE "C" PRIMARY KEY
);

CREATE TABLE client_card (
	id bigint PRIMARY KEY,
	name text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.name') STORED,
	prev text COLLATE "C" NOT NULL,
	sum text COLLATE "C" NOT NULL UNIQUE,
	doc text COLLATE "C" NOT NULL CHECK (doc::json IS NOT NULL),
	at text COLLATE "C" NOT NULL,
	who text COLLATE "C" NOT NULL,
	program text COLLATE "C" NOT NULL
);

CREATE TABLE part (
	client text COLLATE "C" NOT NULL,
	name text COLLATE "C" NOT NULL,
	PRIMARY KEY (client, name)
);

CREATE TABLE part_card (
	id bigint PRIMARY KEY,
	client text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.client') STORED,
	name text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.name') STORED,
	prev text COLLATE "C" NOT NULL,
	sum text COLLATE "C" NOT NULL UNIQUE,
	doc text COLLATE "C" NOT NULL CHECK (doc::json IS NOT NULL),
	at text COLLATE "C" NOT NULL,
	who text COLLATE "C" NOT NULL,
	program text COLLATE "C" NOT NULL
);

-- A target without a client has client '', and no row in client.
CREATE TABLE target (
	client text COLLATE "C" NOT NULL,
	name text COLLATE "C" NOT NULL,
	known_client text COLLATE "C" GENERATED ALWAYS AS (nullif(client, '')) STORED,
	PRIMARY KEY (client, name)
);

CREATE TABLE target_card (
	id bigint PRIMARY KEY,
	client text COLLATE "C" NOT NULL GENERATED ALWAYS AS (coalesce(doc ->> '$.client', '')) STORED,
	name text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.name') STORED,
	part text COLLATE "C" GENERATED ALWAYS AS (doc ->> '$.part') STORED,
	backing text COLLATE "C" GENERATED ALWAYS AS (doc ->> '$.backing') STORED,
	prev text COLLATE "C" NOT NULL,
	sum text COLLATE "C" NOT NULL UNIQUE,
	doc text COLLATE "C" NOT NULL CHECK (doc::json IS NOT NULL),
	at text COLLATE "C" NOT NULL,
	who text COLLATE "C" NOT NULL,
	program text COLLATE "C" NOT NULL
);

-- id is the recipe's number on this bench: recipe 12 is called R12.
CREATE TABLE recipe (
	id bigint PRIMARY KEY,
	resin text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.resin') STORED,
	calibration text COLLATE "C" GENERATED ALWAYS AS (doc ->> '$.calibration') STORED,
	client text COLLATE "C" GENERATED ALWAYS AS (CASE WHEN doc ->> '$.target' IS NOT NULL THEN coalesce(doc ->> '$.client', '') END) STORED,
	target text COLLATE "C" GENERATED ALWAYS AS (doc ->> '$.target') STORED,
	target_card text COLLATE "C" GENERATED ALWAYS AS (doc ->> '$.target_card') STORED,
	corrects text COLLATE "C" GENERATED ALWAYS AS (doc ->> '$.corrects') STORED,
	prev text COLLATE "C" NOT NULL,
	sum text COLLATE "C" NOT NULL UNIQUE,
	doc text COLLATE "C" NOT NULL CHECK (doc::json IS NOT NULL),
	at text COLLATE "C" NOT NULL,
	who text COLLATE "C" NOT NULL,
	program text COLLATE "C" NOT NULL
);

CREATE TABLE recipe_loading (
	recipe bigint NOT NULL,
	pigment text COLLATE "C" NOT NULL,
	phr double precision NOT NULL CHECK (phr >= 0),
	PRIMARY KEY (recipe, pigment)
);

CREATE TABLE batch (
	id bigint PRIMARY KEY,
	recipe text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.recipe') STORED,
	adds_to text COLLATE "C" GENERATED ALWAYS AS (doc ->> '$.adds_to') STORED,
	stock text COLLATE "C" GENERATED ALWAYS AS (doc ->> '$.stock') STORED,
	prev text COLLATE "C" NOT NULL,
	sum text COLLATE "C" NOT NULL UNIQUE,
	doc text COLLATE "C" NOT NULL CHECK (doc::json IS NOT NULL),
	at text COLLATE "C" NOT NULL,
	who text COLLATE "C" NOT NULL,
	program text COLLATE "C" NOT NULL
);

CREATE TABLE pour (
	id bigint PRIMARY KEY,
	batch text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.batch') STORED,
	poured_on text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.poured_on') STORED,
	prev text COLLATE "C" NOT NULL,
	sum text COLLATE "C" NOT NULL UNIQUE,
	doc text COLLATE "C" NOT NULL CHECK (doc::json IS NOT NULL),
	at text COLLATE "C" NOT NULL,
	who text COLLATE "C" NOT NULL,
	program text COLLATE "C" NOT NULL
);

CREATE TABLE pour_lot (
	pour bigint NOT NULL,
	item text COLLATE "C" NOT NULL,
	code text COLLATE "C" NOT NULL,
	name text COLLATE "C" NOT NULL,
	PRIMARY KEY (pour, item, code, name)
);

-- A cured part is read later than it is poured, and may be read again.
CREATE TABLE pour_reading (
	id bigint PRIMARY KEY,
	pour text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.pour') STORED,
	prev text COLLATE "C" NOT NULL,
	sum text COLLATE "C" NOT NULL UNIQUE,
	doc text COLLATE "C" NOT NULL CHECK (doc::json IS NOT NULL),
	at text COLLATE "C" NOT NULL,
	who text COLLATE "C" NOT NULL,
	program text COLLATE "C" NOT NULL
);

CREATE TABLE approval (
	id bigint PRIMARY KEY,
	client text COLLATE "C" NOT NULL GENERATED ALWAYS AS (coalesce(doc ->> '$.client', '')) STORED,
	target text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.target') STORED,
	version bigint NOT NULL GENERATED ALWAYS AS ((doc ->> '$.version')::bigint) STORED CHECK (version > 0),
	recipe text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.recipe') STORED,
	prev text COLLATE "C" NOT NULL,
	sum text COLLATE "C" NOT NULL UNIQUE,
	doc text COLLATE "C" NOT NULL CHECK (doc::json IS NOT NULL),
	at text COLLATE "C" NOT NULL,
	who text COLLATE "C" NOT NULL,
	program text COLLATE "C" NOT NULL,
	UNIQUE (client, target, version)
);

CREATE TABLE approval_pour (
	approval bigint NOT NULL,
	pour text COLLATE "C" NOT NULL,
	PRIMARY KEY (approval, pour)
);

CREATE TABLE stock (
	name text COLLATE "C" PRIMARY KEY
);

CREATE TABLE stock_card (
	id bigint PRIMARY KEY,
	name text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.name') STORED,
	resin text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.resin') STORED,
	recipe text COLLATE "C" GENERATED ALWAYS AS (doc ->> '$.recipe') STORED,
	prev text COLLATE "C" NOT NULL,
	sum text COLLATE "C" NOT NULL UNIQUE,
	doc text COLLATE "C" NOT NULL CHECK (doc::json IS NOT NULL),
	at text COLLATE "C" NOT NULL,
	who text COLLATE "C" NOT NULL,
	program text COLLATE "C" NOT NULL
);

CREATE TABLE stock_move (
	id bigint PRIMARY KEY,
	stock text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.stock') STORED,
	kind text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.kind') STORED CHECK (kind IN ('tint', 'draw', 'correct', 'count')),
	pour text COLLATE "C" GENERATED ALWAYS AS (doc ->> '$.pour') STORED,
	prev text COLLATE "C" NOT NULL,
	sum text COLLATE "C" NOT NULL UNIQUE,
	doc text COLLATE "C" NOT NULL CHECK (doc::json IS NOT NULL),
	at text COLLATE "C" NOT NULL,
	who text COLLATE "C" NOT NULL,
	program text COLLATE "C" NOT NULL
);

CREATE TABLE light (
	id bigint PRIMARY KEY,
	illuminant text COLLATE "C" NOT NULL,
	observer bigint NOT NULL,
	UNIQUE (illuminant, observer)
);

CREATE TABLE color (
	id bigint PRIMARY KEY,
	recipe bigint NOT NULL,
	resin bigint NOT NULL,
	light bigint NOT NULL,
	approved bigint NOT NULL,
	l double precision NOT NULL,
	a double precision NOT NULL,
	b double precision NOT NULL
);

-- Colours packed for reading in one piece: those of a light up to an id, from
-- where the light's previous block ends. The program packs and reads them.
CREATE TABLE color_block (
	light bigint NOT NULL,
	upto bigint NOT NULL,
	data bytea NOT NULL,
	PRIMARY KEY (light, upto)
);

CREATE TABLE chain (
	line bigint PRIMARY KEY, -- last line that the link is over
	upto text COLLATE "C" NOT NULL CHECK (upto::json IS NOT NULL), -- kind of record -> last number of it
	link text COLLATE "C" NOT NULL
);

-- id is the plan's number on this bench: plan 3 is called PL3.
CREATE TABLE plan (
	id bigint PRIMARY KEY,
	resin text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.resin') STORED,
	calibration text COLLATE "C" GENERATED ALWAYS AS (doc ->> '$.calibration') STORED,
	prev text COLLATE "C" NOT NULL,
	sum text COLLATE "C" NOT NULL UNIQUE,
	doc text COLLATE "C" NOT NULL CHECK (doc::json IS NOT NULL),
	at text COLLATE "C" NOT NULL,
	who text COLLATE "C" NOT NULL,
	program text COLLATE "C" NOT NULL
);

-- The chips of a plan by name. Those that were cast and read have a card.
CREATE TABLE plan_chip (
	plan bigint NOT NULL,
	name text COLLATE "C" NOT NULL,
	PRIMARY KEY (name, plan)
);

CREATE TABLE mould (
	name text COLLATE "C" PRIMARY KEY
);

CREATE TABLE mould_card (
	id bigint PRIMARY KEY,
	name text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.name') STORED,
	client text COLLATE "C" GENERATED ALWAYS AS (doc ->> '$.client') STORED,
	part text COLLATE "C" GENERATED ALWAYS AS (doc ->> '$.part') STORED,
	prev text COLLATE "C" NOT NULL,
	sum text COLLATE "C" NOT NULL UNIQUE,
	doc text COLLATE "C" NOT NULL CHECK (doc::json IS NOT NULL),
	at text COLLATE "C" NOT NULL,
	who text COLLATE "C" NOT NULL,
	program text COLLATE "C" NOT NULL
);

CREATE TABLE run (
	id bigint PRIMARY KEY,
	approval text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.approval') STORED,
	client text COLLATE "C" NOT NULL GENERATED ALWAYS AS (coalesce(doc ->> '$.client', '')) STORED,
	target text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.target') STORED,
	prev text COLLATE "C" NOT NULL,
	sum text COLLATE "C" NOT NULL UNIQUE,
	doc text COLLATE "C" NOT NULL CHECK (doc::json IS NOT NULL),
	at text COLLATE "C" NOT NULL,
	who text COLLATE "C" NOT NULL,
	program text COLLATE "C" NOT NULL
);

-- A cup of a run is a pour, with what the run needs to know beside it.
CREATE TABLE run_cup (
	id bigint PRIMARY KEY,
	run text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.run') STORED,
	pour text COLLATE "C" NOT NULL GENERATED ALWAYS AS (doc ->> '$.pour') STORED,
	mould text COLLATE "C" GENERATED ALWAYS AS (doc ->> '$.mould') STORED,
	prev text COLLATE "C" NOT NULL,
	sum text COLLATE "C" NOT NULL UNIQUE,
	doc text COLLATE "C" NOT NULL CHECK (doc::json IS NOT NULL),
	at text COLLATE "C" NOT NULL,
	who text COLLATE "C" NOT NULL,
	program text COLLATE "C" NOT NULL
);

CREATE TABLE word_index (
	words text COLLATE "C" NOT NULL,
	kind text COLLATE "C" NOT NULL,
	record bigint NOT NULL,
	lexemes tsvector NOT NULL GENERATED ALWAYS AS (lexemes(words)) STORED
);
CREATE INDEX word_index_lexemes ON word_index USING gin (lexemes);

ALTER TABLE resin_card ADD FOREIGN KEY (code) REFERENCES resin (code) DEFERRABLE;
ALTER TABLE pigment_card ADD FOREIGN KEY (code) REFERENCES pigment (code) DEFERRABLE;
ALTER TABLE lot ADD FOREIGN KEY (pigment) REFERENCES pigment (code) DEFERRABLE;
ALTER TABLE lot ADD FOREIGN KEY (resin) REFERENCES resin (code) DEFERRABLE;
ALTER TABLE lot_card ADD FOREIGN KEY (item, code, name) REFERENCES lot (item, code, name) DEFERRABLE;
ALTER TABLE lot_opened ADD FOREIGN KEY (item, code, name) REFERENCES lot (item, code, name) DEFERRABLE;
ALTER TABLE lot_strength ADD FOREIGN KEY (item, code, name) REFERENCES lot (item, code, name) DEFERRABLE;
ALTER TABLE backing_card ADD FOREIGN KEY (name) REFERENCES backing (name) DEFERRABLE;
ALTER TABLE chip ADD FOREIGN KEY (resin) REFERENCES resin (code) DEFERRABLE;
ALTER TABLE chip_card ADD FOREIGN KEY (backing) REFERENCES backing (name) DEFERRABLE;
ALTER TABLE chip_card ADD FOREIGN KEY (resin, name) REFERENCES chip (resin, name) DEFERRABLE;
ALTER TABLE chip_loading ADD FOREIGN KEY (chip) REFERENCES chip_card (id) DEFERRABLE;
ALTER TABLE chip_loading ADD FOREIGN KEY (pigment) REFERENCES pigment (code) DEFERRABLE;
ALTER TABLE calibration ADD FOREIGN KEY (resin) REFERENCES resin (code) DEFERRABLE;
ALTER TABLE calibration_chip ADD FOREIGN KEY (calibration) REFERENCES calibration (id) DEFERRABLE;
ALTER TABLE calibration_chip ADD FOREIGN KEY (chip) REFERENCES chip_card (sum) DEFERRABLE;
ALTER TABLE client_card ADD FOREIGN KEY (name) REFERENCES client (name) DEFERRABLE;
ALTER TABLE part ADD FOREIGN KEY (client) REFERENCES client (name) DEFERRABLE;
ALTER TABLE part_card ADD FOREIGN KEY (client, name) REFERENCES part (client, name) DEFERRABLE;
ALTER TABLE target ADD FOREIGN KEY (known_client) REFERENCES client (name) DEFERRABLE;
ALTER TABLE target_card ADD FOREIGN KEY (backing) REFERENCES backing (name) DEFERRABLE;
ALTER TABLE target_card ADD FOREIGN KEY (client, name) REFERENCES target (client, name) DEFERRABLE;
ALTER TABLE target_card ADD FOREIGN KEY (client, part) REFERENCES part (client, name) DEFERRABLE;
ALTER TABLE recipe ADD FOREIGN KEY (resin) REFERENCES resin (code) DEFERRABLE;
ALTER TABLE recipe ADD FOREIGN KEY (calibration) REFERENCES calibration (sum) DEFERRABLE;
ALTER TABLE recipe ADD FOREIGN KEY (target_card) REFERENCES target_card (sum) DEFERRABLE;
ALTER TABLE recipe ADD FOREIGN KEY (corrects) REFERENCES recipe (sum) DEFERRABLE;
ALTER TABLE recipe ADD FOREIGN KEY (client, target) REFERENCES target (client, name) DEFERRABLE;
ALTER TABLE recipe_loading ADD FOREIGN KEY (recipe) REFERENCES recipe (id) DEFERRABLE;
ALTER TABLE recipe_loading ADD FOREIGN KEY (pigment) REFERENCES pigment (code) DEFERRABLE;
ALTER TABLE batch ADD FOREIGN KEY (recipe) REFERENCES recipe (sum) DEFERRABLE;
ALTER TABLE batch ADD FOREIGN KEY (adds_to) REFERENCES pour (sum) DEFERRABLE;
ALTER TABLE batch ADD FOREIGN KEY (stock) REFERENCES stock (name) DEFERRABLE;
ALTER TABLE pour ADD FOREIGN KEY (batch) REFERENCES batch (sum) DEFERRABLE;
ALTER TABLE pour_lot ADD FOREIGN KEY (pour) REFERENCES pour (id) DEFERRABLE;
ALTER TABLE pour_lot ADD FOREIGN KEY (item, code, name) REFERENCES lot (item, code, name) DEFERRABLE;
ALTER TABLE pour_reading ADD FOREIGN KEY (pour) REFERENCES pour (sum) DEFERRABLE;
ALTER TABLE approval ADD FOREIGN KEY (recipe) REFERENCES recipe (sum) DEFERRABLE;
ALTER TABLE approval ADD FOREIGN KEY (client, target) REFERENCES target (client, name) DEFERRABLE;
ALTER TABLE approval_pour ADD FOREIGN KEY (approval) REFERENCES approval (id) DEFERRABLE;
ALTER TABLE approval_pour ADD FOREIGN KEY (pour) REFERENCES pour (sum) DEFERRABLE;
ALTER TABLE stock_card ADD FOREIGN KEY (name) REFERENCES stock (name) DEFERRABLE;
ALTER TABLE stock_card ADD FOREIGN KEY (resin) REFERENCES resin (code) DEFERRABLE;
ALTER TABLE stock_card ADD FOREIGN KEY (recipe) REFERENCES recipe (sum) DEFERRABLE;
ALTER TABLE stock_move ADD FOREIGN KEY (stock) REFERENCES stock (name) DEFERRABLE;
ALTER TABLE stock_move ADD FOREIGN KEY (pour) REFERENCES pour (sum) DEFERRABLE;
ALTER TABLE color ADD FOREIGN KEY (recipe) REFERENCES recipe (id) DEFERRABLE;
ALTER TABLE color ADD FOREIGN KEY (light) REFERENCES light (id) DEFERRABLE;
ALTER TABLE color_block ADD FOREIGN KEY (light) REFERENCES light (id) DEFERRABLE;
ALTER TABLE color_block ADD FOREIGN KEY (upto) REFERENCES color (id) DEFERRABLE;
ALTER TABLE chain ADD FOREIGN KEY (line) REFERENCES log (id) DEFERRABLE;
ALTER TABLE plan ADD FOREIGN KEY (resin) REFERENCES resin (code) DEFERRABLE;
ALTER TABLE plan ADD FOREIGN KEY (calibration) REFERENCES calibration (sum) DEFERRABLE;
ALTER TABLE plan_chip ADD FOREIGN KEY (plan) REFERENCES plan (id) DEFERRABLE;
ALTER TABLE mould_card ADD FOREIGN KEY (name) REFERENCES mould (name) DEFERRABLE;
ALTER TABLE mould_card ADD FOREIGN KEY (client) REFERENCES client (name) DEFERRABLE;
ALTER TABLE mould_card ADD FOREIGN KEY (client, part) REFERENCES part (client, name) DEFERRABLE;
ALTER TABLE run ADD FOREIGN KEY (approval) REFERENCES approval (sum) DEFERRABLE;
ALTER TABLE run ADD FOREIGN KEY (client, target) REFERENCES target (client, name) DEFERRABLE;
ALTER TABLE run_cup ADD FOREIGN KEY (run) REFERENCES run (sum) DEFERRABLE;
ALTER TABLE run_cup ADD FOREIGN KEY (pour) REFERENCES pour (sum) DEFERRABLE;
ALTER TABLE run_cup ADD FOREIGN KEY (mould) REFERENCES mould (name) DEFERRABLE;

CREATE INDEX log_at ON log (at);
CREATE INDEX resin_card_code ON resin_card (code, id);
CREATE INDEX pigment_card_code ON pigment_card (code, id);
CREATE INDEX lot_card_name ON lot_card (item, code, name, id);
CREATE INDEX lot_opened_item ON lot_opened (item, code, id);
CREATE INDEX lot_strength_name ON lot_strength (item, code, name, id);
CREATE INDEX backing_card_name ON backing_card (name, id);
CREATE INDEX chip_card_name ON chip_card (resin, name, id);
CREATE INDEX calibration_resin ON calibration (resin, id);
CREATE INDEX client_card_name ON client_card (name, id);
CREATE INDEX part_card_name ON part_card (client, name, id);
CREATE INDEX target_card_name ON target_card (client, name, id);
CREATE INDEX target_name ON target (name);
CREATE INDEX recipe_target ON recipe (client, target);
CREATE INDEX recipe_resin ON recipe (resin);
CREATE INDEX recipe_at ON recipe (at);
CREATE INDEX recipe_loading_pigment ON recipe_loading (pigment);
CREATE INDEX batch_recipe ON batch (recipe);
CREATE INDEX pour_batch ON pour (batch);
CREATE INDEX pour_reading_pour ON pour_reading (pour);
CREATE INDEX approval_recipe ON approval (recipe);
CREATE INDEX stock_card_name ON stock_card (name, id);
CREATE INDEX stock_move_stock ON stock_move (stock, id);
CREATE INDEX color_light ON color (light, id);
CREATE INDEX plan_resin ON plan (resin, id);
CREATE INDEX mould_card_name ON mould_card (name, id);
CREATE INDEX run_approval ON run (approval);
CREATE INDEX run_cup_run ON run_cup (run);
CREATE INDEX run_cup_pour ON run_cup (pour);
CREATE INDEX run_cup_mould ON run_cup (mould);

-- A recipe is found by the colour it was predicted to have and, once approved,
-- by the colour it was approved at. A resin's number is that of its first card.
CREATE VIEW record_color (kind, record, recipe, resin, light, approved, l, a, b) AS
SELECT 'recipe', recipe.id, recipe.id, (SELECT min(id) FROM resin_card WHERE code = recipe.resin),
	light.id, 0, (p.value ->> '$.L')::double precision, (p.value ->> '$.a')::double precision, (p.value ->> '$.b')::double precision
FROM recipe, json_each(recipe.doc, '$.predicted') p, light
WHERE light.illuminant = p.value ->> '$.illuminant' AND light.observer = (p.value ->> '$.observer')::bigint
UNION ALL
SELECT 'approval', approval.id, recipe.id, (SELECT min(id) FROM resin_card WHERE code = recipe.resin),
	light.id, 1, (p.value ->> '$.L')::double precision, (p.value ->> '$.a')::double precision, (p.value ->> '$.b')::double precision
FROM approval JOIN recipe ON recipe.sum = approval.recipe, json_each(approval.doc, '$.colors') p, light
WHERE light.illuminant = p.value ->> '$.illuminant' AND light.observer = (p.value ->> '$.observer')::bigint;

CREATE VIEW record_words (kind, record, words) AS
SELECT 'target', id, concat_ws(' ', client, part, name, doc ->> '$.note') FROM target_card
UNION ALL
SELECT 'recipe', id, concat_ws(' ', client, target, resin, doc ->> '$.name', doc ->> '$.note',
	(SELECT string_agg(key, ' ') FROM json_each(recipe.doc, '$.loadings')),
	(SELECT part FROM target_card WHERE target_card.sum = recipe.target_card)) FROM recipe
UNION ALL
SELECT 'approval', id, concat_ws(' ', client, target, doc ->> '$.note') FROM approval;

-- +goose StatementBegin
CREATE FUNCTION kept() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
	RAISE EXCEPTION '% only grows: add a record that supersedes the old one', TG_TABLE_NAME;
END $$;
CREATE FUNCTION numbered() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
	EXECUTE format('SELECT coalesce(max(id), 0) + 1 FROM %I.%I', TG_TABLE_SCHEMA, TG_TABLE_NAME) INTO NEW.id;
	RETURN NEW;
END $$;
-- Every step that makes tables calls it at its end.
CREATE PROCEDURE guard() LANGUAGE plpgsql AS $$ DECLARE t record; BEGIN
	FOR t IN SELECT relname AS name, EXISTS (SELECT 1 FROM pg_attribute WHERE attrelid = c.oid AND attname = 'id') AS numbered
		FROM pg_class c WHERE relnamespace = current_schema()::regnamespace AND relkind = 'r' AND relname <> 'goose_db_version'
			AND NOT EXISTS (SELECT 1 FROM pg_trigger WHERE tgrelid = c.oid AND tgname = 'kept')
	LOOP
		EXECUTE format('CREATE TRIGGER kept BEFORE UPDATE OR DELETE OR TRUNCATE ON %I EXECUTE FUNCTION kept()', t.name);
		IF t.numbered THEN
			EXECUTE format('CREATE TRIGGER numbered BEFORE INSERT ON %I FOR EACH ROW EXECUTE FUNCTION numbered()', t.name);
		END IF;
	END LOOP;
END $$;
CALL guard();

CREATE FUNCTION resin_named() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT AS $$ BEGIN
	INSERT INTO resin (code) VALUES (NEW.doc ->> '$.code') ON CONFLICT DO NOTHING;
	RETURN NEW;
END $$;
CREATE TRIGGER named BEFORE INSERT ON resin_card FOR EACH ROW EXECUTE FUNCTION resin_named();
CREATE FUNCTION pigment_named() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT AS $$ BEGIN
	INSERT INTO pigment (code) VALUES (NEW.doc ->> '$.code') ON CONFLICT DO NOTHING;
	RETURN NEW;
END $$;
CREATE TRIGGER named BEFORE INSERT ON pigment_card FOR EACH ROW EXECUTE FUNCTION pigment_named();
CREATE FUNCTION lot_named() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT AS $$ BEGIN
	INSERT INTO lot (item, code, name) VALUES (NEW.doc ->> '$.item', NEW.doc ->> '$.code', NEW.doc ->> '$.name') ON CONFLICT DO NOTHING;
	RETURN NEW;
END $$;
CREATE TRIGGER named BEFORE INSERT ON lot_card FOR EACH ROW EXECUTE FUNCTION lot_named();
CREATE FUNCTION backing_named() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT AS $$ BEGIN
	INSERT INTO backing (name) VALUES (NEW.doc ->> '$.name') ON CONFLICT DO NOTHING;
	RETURN NEW;
END $$;
CREATE TRIGGER named BEFORE INSERT ON backing_card FOR EACH ROW EXECUTE FUNCTION backing_named();
CREATE FUNCTION chip_named() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT AS $$ BEGIN
	INSERT INTO chip (resin, name) VALUES (NEW.doc ->> '$.resin', NEW.doc ->> '$.name') ON CONFLICT DO NOTHING;
	RETURN NEW;
END $$;
CREATE TRIGGER named BEFORE INSERT ON chip_card FOR EACH ROW EXECUTE FUNCTION chip_named();
CREATE FUNCTION client_named() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT AS $$ BEGIN
	INSERT INTO client (name) VALUES (NEW.doc ->> '$.name') ON CONFLICT DO NOTHING;
	RETURN NEW;
END $$;
CREATE TRIGGER named BEFORE INSERT ON client_card FOR EACH ROW EXECUTE FUNCTION client_named();
CREATE FUNCTION part_named() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT AS $$ BEGIN
	INSERT INTO part (client, name) VALUES (NEW.doc ->> '$.client', NEW.doc ->> '$.name') ON CONFLICT DO NOTHING;
	RETURN NEW;
END $$;
CREATE TRIGGER named BEFORE INSERT ON part_card FOR EACH ROW EXECUTE FUNCTION part_named();
CREATE FUNCTION target_named() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT AS $$ BEGIN
	INSERT INTO target (client, name) VALUES (coalesce(NEW.doc ->> '$.client', ''), NEW.doc ->> '$.name') ON CONFLICT DO NOTHING;
	RETURN NEW;
END $$;
CREATE TRIGGER named BEFORE INSERT ON target_card FOR EACH ROW EXECUTE FUNCTION target_named();
CREATE FUNCTION stock_named() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT AS $$ BEGIN
	INSERT INTO stock (name) VALUES (NEW.doc ->> '$.name') ON CONFLICT DO NOTHING;
	RETURN NEW;
END $$;
CREATE TRIGGER named BEFORE INSERT ON stock_card FOR EACH ROW EXECUTE FUNCTION stock_named();
CREATE FUNCTION mould_named() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT AS $$ BEGIN
	INSERT INTO mould (name) VALUES (NEW.doc ->> '$.name') ON CONFLICT DO NOTHING;
	RETURN NEW;
END $$;
CREATE TRIGGER named BEFORE INSERT ON mould_card FOR EACH ROW EXECUTE FUNCTION mould_named();
CREATE FUNCTION chip_loaded() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT AS $$ BEGIN
	INSERT INTO chip_loading (chip, pigment, phr) SELECT NEW.id, key, value::double precision FROM json_each(NEW.doc, '$.loadings');
	RETURN NEW;
END $$;
CREATE TRIGGER made AFTER INSERT ON chip_card FOR EACH ROW EXECUTE FUNCTION chip_loaded();
CREATE FUNCTION calibration_fitted() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT AS $$ BEGIN
	INSERT INTO calibration_chip (calibration, chip) SELECT NEW.id, value FROM json_each(NEW.doc, '$.chips');
	RETURN NEW;
END $$;
CREATE TRIGGER made AFTER INSERT ON calibration FOR EACH ROW EXECUTE FUNCTION calibration_fitted();
CREATE FUNCTION recipe_made() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT AS $$ BEGIN
	INSERT INTO recipe_loading (recipe, pigment, phr) SELECT NEW.id, key, value::double precision FROM json_each(NEW.doc, '$.loadings');
	INSERT INTO light (illuminant, observer)
	SELECT value ->> '$.illuminant', (value ->> '$.observer')::bigint FROM json_each(NEW.doc, '$.predicted') ON CONFLICT DO NOTHING;
	INSERT INTO color (recipe, resin, light, approved, l, a, b)
	SELECT recipe, resin, light, approved, l, a, b FROM record_color WHERE kind = 'recipe' AND record = NEW.id;
	INSERT INTO word_index (words, kind, record) SELECT words, kind, record FROM record_words WHERE kind = 'recipe' AND record = NEW.id;
	RETURN NEW;
END $$;
CREATE TRIGGER made AFTER INSERT ON recipe FOR EACH ROW EXECUTE FUNCTION recipe_made();
CREATE FUNCTION pour_made() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT AS $$ BEGIN
	INSERT INTO pour_lot (pour, item, code, name)
	SELECT NEW.id, value ->> '$.item', value ->> '$.code', value ->> '$.name' FROM json_each(NEW.doc, '$.lots');
	RETURN NEW;
END $$;
CREATE TRIGGER made AFTER INSERT ON pour FOR EACH ROW EXECUTE FUNCTION pour_made();
CREATE FUNCTION approval_made() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT AS $$ BEGIN
	INSERT INTO approval_pour (approval, pour) SELECT NEW.id, value FROM json_each(NEW.doc, '$.pours');
	INSERT INTO light (illuminant, observer)
	SELECT value ->> '$.illuminant', (value ->> '$.observer')::bigint FROM json_each(NEW.doc, '$.colors') ON CONFLICT DO NOTHING;
	INSERT INTO color (recipe, resin, light, approved, l, a, b)
	SELECT recipe, resin, light, approved, l, a, b FROM record_color WHERE kind = 'approval' AND record = NEW.id;
	INSERT INTO word_index (words, kind, record) SELECT words, kind, record FROM record_words WHERE kind = 'approval' AND record = NEW.id;
	RETURN NEW;
END $$;
CREATE TRIGGER made AFTER INSERT ON approval FOR EACH ROW EXECUTE FUNCTION approval_made();
CREATE FUNCTION target_made() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT AS $$ BEGIN
	INSERT INTO word_index (words, kind, record) SELECT words, kind, record FROM record_words WHERE kind = 'target' AND record = NEW.id;
	RETURN NEW;
END $$;
CREATE TRIGGER made AFTER INSERT ON target_card FOR EACH ROW EXECUTE FUNCTION target_made();
CREATE FUNCTION plan_made() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT AS $$ BEGIN
	INSERT INTO plan_chip (plan, name) SELECT NEW.id, value ->> '$.name' FROM json_each(NEW.doc, '$.chips');
	RETURN NEW;
END $$;
CREATE TRIGGER made AFTER INSERT ON plan FOR EACH ROW EXECUTE FUNCTION plan_made();
-- +goose StatementEnd

-- Reflectance factors from memory, to be replaced by a reading. The same stamp
-- and sum on every bench, so that benches can exchange records.
INSERT INTO backing_card (prev, sum, doc, at, who, program) VALUES
	('', 'd69abb49449a65163d292eaf87aec6b3179d3de6a1f74c7ea960382b5a675fb5',
	'{"name":"white","constant":0.9,"source":"from memory"}', '2000-01-01T00:00:00.000Z', 'masstone', 'masstone'),
	('', '71d8b731dfe0d156192ae6e2357ebdd42d5b2a0f30eaddb0c2cfe89fd73bab0c',
	'{"name":"black","constant":0.03,"source":"from memory"}', '2000-01-01T00:00:00.000Z', 'masstone', 'masstone');
