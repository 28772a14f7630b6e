// Package migrations holds the tables of every service and brings a schema to the newest version.
//
// Each service has one schema and two roles, both named after it. intake_owner owns the tables and runs migrations;
// intake_app is what the service logs in as and has no DDL. Both roles are made by Provision.
//
// # Writing a migration
//
// A file is <schema>/NNNNN_what.sql, numbered without gaps, goose annotations, Up only: mistakes are mended by a later
// file, and a released file is never edited. The search path is the schema, so names are written bare.
//
// # Granting
//
// The service role gets SELECT and INSERT on every new table and USAGE on every new sequence, and nothing else: a table
// is append-only until its migration says otherwise. A table that may change (a read table filled from a feed, a
// counter) is granted in the file that makes it:
//
//	GRANT UPDATE, DELETE ON drum_view TO intake_app;
//	GRANT UPDATE (next_number) ON ticket_counter TO intake_app;
//
// Rebuilding empties read tables with DELETE, so a Consumer's ReadTables need DELETE. Weights, readings, certificates,
// schedules, payments and everything else a person may dispute are never granted more than the default. Note that
// SELECT … FOR UPDATE needs UPDATE on at least one column: lock an append-only aggregate by its state row or by an
// advisory lock.
package migrations
