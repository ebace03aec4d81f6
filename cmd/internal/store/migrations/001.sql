-- Version 1. {{id}} and {{bytes}} stand for the types that SQLite and PostgreSQL
-- name differently. Days are 2006-01-02, times RFC 3339 in UTC; '' is not known.

CREATE TABLE students (
	id         TEXT PRIMARY KEY,
	cohort     TEXT NOT NULL,
	site       TEXT NOT NULL,
	instructor TEXT NOT NULL
);

-- The items of a score sheet in its order, once for all attempts marked by it.
CREATE TABLE layouts (
	id    TEXT PRIMARY KEY, -- SHA-256 of items
	items TEXT NOT NULL     -- JSON
);

CREATE TABLE attempts (
	id              {{id}},
	name            TEXT NOT NULL, -- as on the sheet
	student         TEXT NOT NULL REFERENCES students (id),
	number          BIGINT NOT NULL, -- of the student's attempts, from 1
	day             TEXT NOT NULL,
	cohort          TEXT NOT NULL, -- '' for the student's own
	site            TEXT NOT NULL, -- '' for the student's own
	instructor      TEXT NOT NULL, -- '' for the student's own
	vehicle         TEXT NOT NULL,
	source          TEXT NOT NULL, -- the transcript's file name
	transcript_hash TEXT NOT NULL UNIQUE, -- SHA-256 of the file
	recording_hash  TEXT NOT NULL, -- SHA-256 of the copy in recordings, '' without one
	marking         TEXT NOT NULL, -- JSON: the flags that it was marked with
	rubric          TEXT NOT NULL,
	rubric_version  TEXT NOT NULL,
	rubric_hash     TEXT NOT NULL,
	rubric_with     TEXT NOT NULL, -- JSON
	tool            TEXT NOT NULL,
	kept            TEXT NOT NULL,
	marked          TEXT NOT NULL,
	-- What statistics read, of the sheet with its corrections.
	points          DOUBLE PRECISION NOT NULL,
	points_of       DOUBLE PRECISION NOT NULL,
	pass            BIGINT NOT NULL,
	seconds         DOUBLE PRECISION NOT NULL, -- from the first word to the last
	layout          TEXT NOT NULL REFERENCES layouts (id),
	marks           TEXT NOT NULL, -- a letter an item, see summary.go
	details         TEXT NOT NULL  -- JSON
);

CREATE INDEX attempts_name ON attempts (name);
CREATE INDEX attempts_student ON attempts (student, number);

CREATE TABLE transcripts (
	attempt BIGINT PRIMARY KEY REFERENCES attempts (id),
	text    {{bytes}} NOT NULL, -- the file, gzip
	sound   {{bytes}} NOT NULL  -- JSON: where its recording has speech, gzip; empty without one
);

-- Copies of recordings, in parts, for those who asked for them.
CREATE TABLE recordings (
	attempt BIGINT NOT NULL REFERENCES attempts (id),
	part    BIGINT NOT NULL, -- from 0
	data    {{bytes}} NOT NULL,
	PRIMARY KEY (attempt, part)
);

CREATE TABLE sheets (
	attempt BIGINT PRIMARY KEY REFERENCES attempts (id),
	rule    TEXT NOT NULL,     -- JSON: what the result is concluded by
	sheet   {{bytes}} NOT NULL -- JSON as the program made it, gzip
);

CREATE TABLE corrections (
	id      {{id}},
	attempt BIGINT NOT NULL REFERENCES attempts (id),
	item    TEXT NOT NULL,
	mark    TEXT NOT NULL, -- '' takes the corrections before it back
	why     TEXT NOT NULL,
	who     TEXT NOT NULL,
	made    TEXT NOT NULL
);

CREATE INDEX corrections_attempt ON corrections (attempt, id);
