// Package ledger keeps every board's result: what was measured when, where and by whom, from which raw file (by
// its SHA-256), against which revision of the design, with which version of the program.
//
// A ledger is an SQLite file for one bench, or a PostgreSQL database, named by a postgres:// address, for
// several stations or sites. Both hold the same tables, written by the same statements. Each result is one
// transaction: a writer that is killed leaves either all of it or nothing. The same board, captures, design
// and version give the same key, so that a run that is repeated adds nothing twice.
//
// An SQLite file belongs on a disk of the machine that writes it, not on a network drive.
package ledger
