// Package store keeps a ledger in its database: opening, tables and their versions, writing, listing, sending on.
//
// A ledger is an SQLite file for one bench, or a PostgreSQL database, named by a postgres:// address, for
// several stations or sites. Both hold the same tables, written by the same statements. Each result is one
// transaction: a writer that is killed, or whose disk is full, leaves either all of it or nothing.
//
// Reading changes nothing and needs only the right to SELECT; a station that writes needs only INSERT. Tables are made
// in an empty ledger, and brought to a newer version by Migrate alone.
//
// An SQLite file belongs on a disk of the machine that writes it, not on a network drive.
package store
