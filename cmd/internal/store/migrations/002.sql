-- Version 2: where backups went, so that forgetting a student can name them.

CREATE TABLE backups (
	id   {{id}},
	path TEXT NOT NULL,
	made TEXT NOT NULL
);
