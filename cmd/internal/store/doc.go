// Package store keeps a school's attempts in a database: who made them, what was
// said, how it was marked, and what an instructor corrected.
//
// A store is a SQLite file or a PostgreSQL database; both have the same tables
// and the same code. What the program marked is never changed by a correction:
// corrections are rows of their own, the last one of an item counts, and sheets
// are read with them put on.
//
// An attempt that Keep has returned without an error is on the disk: it is there
// after the process is killed or the machine loses its power.
package store
