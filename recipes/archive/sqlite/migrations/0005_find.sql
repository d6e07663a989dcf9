-- Finding recipes again: by colour and by words.
--
-- The tables here hold nothing that is not in a record. The views say what
-- belongs in them, so that they can be checked and built again.

-- +goose Up
CREATE TABLE light (
	id         INTEGER PRIMARY KEY,
	illuminant TEXT NOT NULL,
	observer   INTEGER NOT NULL,
	UNIQUE (illuminant, observer)
) STRICT;
INSERT INTO light (illuminant, observer)
SELECT DISTINCT p.value ->> '$.illuminant', p.value ->> '$.observer' FROM recipe, json_each(recipe.doc, '$.predicted') p
UNION
SELECT DISTINCT p.value ->> '$.illuminant', p.value ->> '$.observer' FROM approval, json_each(approval.doc, '$.colors') p;

-- A recipe is found by the colour it was predicted to have and, once approved,
-- by the colour it was approved at. A resin's number is that of its first card.
CREATE VIEW record_color (kind, record, recipe, resin, light, approved, l, a, b) AS
SELECT 'recipe', recipe.id, recipe.id, (SELECT min(id) FROM resin_card WHERE code = recipe.resin),
	light.id, 0, p.value ->> '$.L', p.value ->> '$.a', p.value ->> '$.b'
FROM recipe, json_each(recipe.doc, '$.predicted') p
JOIN light ON light.illuminant = p.value ->> '$.illuminant' AND light.observer = p.value ->> '$.observer'
UNION ALL
SELECT 'approval', approval.id, recipe.id, (SELECT min(id) FROM resin_card WHERE code = recipe.resin),
	light.id, 1, p.value ->> '$.L', p.value ->> '$.a', p.value ->> '$.b'
FROM approval JOIN recipe ON recipe.sum = approval.recipe, json_each(approval.doc, '$.colors') p
JOIN light ON light.illuminant = p.value ->> '$.illuminant' AND light.observer = p.value ->> '$.observer';

CREATE VIEW record_words (kind, record, words) AS
SELECT 'target', id, concat_ws(' ', client, part, name, doc ->> '$.note') FROM target_card
UNION ALL
SELECT 'recipe', id, concat_ws(' ', client, target, resin, doc ->> '$.name', doc ->> '$.note',
	(SELECT group_concat(key, ' ') FROM json_each(recipe.doc, '$.loadings')),
	(SELECT part FROM target_card WHERE target_card.sum = recipe.target_card)) FROM recipe
UNION ALL
SELECT 'approval', id, concat_ws(' ', client, target, doc ->> '$.note') FROM approval;

CREATE TABLE color (
	id       INTEGER PRIMARY KEY,
	recipe   INTEGER NOT NULL REFERENCES recipe (id),
	resin    INTEGER NOT NULL,
	light    INTEGER NOT NULL REFERENCES light (id),
	approved INTEGER NOT NULL,
	l        REAL NOT NULL,
	a        REAL NOT NULL,
	b        REAL NOT NULL
) STRICT;
CREATE INDEX color_light ON color (light, id);
INSERT INTO color (recipe, resin, light, approved, l, a, b)
SELECT recipe, resin, light, approved, l, a, b FROM record_color;

-- Colours packed for reading in one piece: those of a light up to an id, from
-- where the light's previous block ends. The program packs and reads them.
CREATE TABLE color_block (
	light INTEGER NOT NULL REFERENCES light (id),
	upto  INTEGER NOT NULL REFERENCES color (id),
	data  BLOB NOT NULL,
	PRIMARY KEY (light, upto)
) STRICT;

CREATE VIRTUAL TABLE word_index USING fts5 (
	words, kind UNINDEXED, record UNINDEXED, tokenize = 'unicode61 remove_diacritics 2'
);
INSERT INTO word_index (words, kind, record) SELECT words, kind, record FROM record_words;

-- +goose StatementBegin
CREATE TRIGGER recipe_colored AFTER INSERT ON recipe BEGIN
	INSERT OR IGNORE INTO light (illuminant, observer)
	SELECT value ->> '$.illuminant', value ->> '$.observer' FROM json_each(new.doc, '$.predicted');
	INSERT INTO color (recipe, resin, light, approved, l, a, b)
	SELECT recipe, resin, light, approved, l, a, b FROM record_color WHERE kind = 'recipe' AND record = new.id;
END;
CREATE TRIGGER approval_colored AFTER INSERT ON approval BEGIN
	INSERT OR IGNORE INTO light (illuminant, observer)
	SELECT value ->> '$.illuminant', value ->> '$.observer' FROM json_each(new.doc, '$.colors');
	INSERT INTO color (recipe, resin, light, approved, l, a, b)
	SELECT recipe, resin, light, approved, l, a, b FROM record_color WHERE kind = 'approval' AND record = new.id;
END;
CREATE TRIGGER target_worded AFTER INSERT ON target_card BEGIN
	INSERT INTO word_index (words, kind, record) SELECT words, kind, record FROM record_words WHERE kind = 'target' AND record = new.id;
END;
CREATE TRIGGER recipe_worded AFTER INSERT ON recipe BEGIN
	INSERT INTO word_index (words, kind, record) SELECT words, kind, record FROM record_words WHERE kind = 'recipe' AND record = new.id;
END;
CREATE TRIGGER approval_worded AFTER INSERT ON approval BEGIN
	INSERT INTO word_index (words, kind, record) SELECT words, kind, record FROM record_words WHERE kind = 'approval' AND record = new.id;
END;
-- +goose StatementEnd

-- Nothing here is ever updated or deleted.
-- +goose StatementBegin
CREATE TRIGGER light_kept BEFORE UPDATE ON light BEGIN SELECT raise(ABORT, 'light only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER light_lasting BEFORE DELETE ON light BEGIN SELECT raise(ABORT, 'light only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER color_kept BEFORE UPDATE ON color BEGIN SELECT raise(ABORT, 'color only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER color_lasting BEFORE DELETE ON color BEGIN SELECT raise(ABORT, 'color only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER color_block_kept BEFORE UPDATE ON color_block BEGIN SELECT raise(ABORT, 'color_block only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER color_block_lasting BEFORE DELETE ON color_block BEGIN SELECT raise(ABORT, 'color_block only grows: add a record that supersedes the old one'); END;
-- +goose StatementEnd
