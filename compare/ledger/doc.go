// Package ledger keeps every board's result: what was measured when, where and by whom, from which raw file (by
// its SHA-256), against which design, with which version of the program and which options; what was decided on its lot;
// and what a repair found.
//
// A ledger is an SQLite file for one bench, or a PostgreSQL database, named by a postgres:// address, for
// several stations or sites. Both hold the same tables, written by the same statements. Each result is one
// transaction: a writer that is killed, or whose disk is full, leaves either all of it or nothing.
//
// A result's key is a digest of all that makes it what it is: board, lot, design, version, options, and each capture's
// bytes and conditions. The same key is the same result, so that a run that is repeated adds nothing twice; anything else
// is another result of the board, and both stay. The newest one is the current one and supersedes the others. A board that
// stands out from its lot gets a second result once all are known: what sets it apart from the others, in place of the cause
// that its own times name; when it no longer stands out, its own result stands again.
//
// Reading changes nothing and needs only the right to SELECT; a station that writes needs only INSERT. Tables are made
// in an empty ledger, and brought to a newer version by Migrate alone.
//
// An SQLite file belongs on a disk of the machine that writes it, not on a network drive.
package ledger
