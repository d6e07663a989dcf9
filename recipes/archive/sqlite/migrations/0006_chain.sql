-- The chain of the log: a link for every line, over the link before, the line,
-- and what the line changed. The program makes and checks the links; step 7,
-- which is part of it, links the lines that are there already.

-- +goose Up
CREATE TABLE chain (
	line INTEGER PRIMARY KEY REFERENCES log (id), -- last line that the link is over
	upto TEXT NOT NULL CHECK (json_valid(upto)),  -- kind of record -> last number of it
	link TEXT NOT NULL
) STRICT;

-- Nothing here is ever updated or deleted.
-- +goose StatementBegin
CREATE TRIGGER chain_kept BEFORE UPDATE ON chain BEGIN SELECT raise(ABORT, 'chain only grows: add a record that supersedes the old one'); END;
CREATE TRIGGER chain_lasting BEFORE DELETE ON chain BEGIN SELECT raise(ABORT, 'chain only grows: add a record that supersedes the old one'); END;
-- +goose StatementEnd
