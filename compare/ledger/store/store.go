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

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"time"

	"offbeat/acquire"

	"github.com/jackc/pgx/v5/pgconn"
	_ "github.com/jackc/pgx/v5/stdlib" // the driver "pgx"
	"modernc.org/sqlite"
	library "modernc.org/sqlite/lib"
)

// Faults of a ledger; match them with errors.Is.
var (
	ErrNewer   = errors.New("the ledger was written by a newer program")
	ErrOlder   = errors.New("the ledger's tables are of an older version")
	ErrMissing = errors.New("there is no such ledger")
	ErrAway    = errors.New("the server does not answer")
)

// patience is how long a writer waits for the others.
const patience = 30 * time.Second

// Store is an open ledger. It may be used from several goroutines.
type Store struct {
	db     *sql.DB
	name   string   // for messages, without a password
	hidden []string // passwords, which no message shows
	file   string   // SQLite's; empty: a server
	still  os.FileInfo
	lock   func(context.Context, *sql.Tx) error
}

// What a ledger is opened for.
const reading, writing = false, true

// connect prepares the database without touching its tables.
func connect(name string, write bool) (*Store, error) {
	if server(name) {
		return postgres(name)
	}
	return file(name, write)
}

// keyword is how a server's address in words begins: "host=quay dbname=harbour".
var keyword = regexp.MustCompile(`(?i)(^|\s)(host|hostaddr|port|dbname|user|password|sslmode|service)\s*=`)

// server says whether the name is that of a PostgreSQL database, as an address or in words.
func server(name string) bool {
	return strings.HasPrefix(name, "postgres://") || strings.HasPrefix(name, "postgresql://") || keyword.MatchString(name)
}

// advisory is the number of the lock under which PostgreSQL's tables are brought up to date.
const advisory = 0x6f666662656174 // "offbeat"

func postgres(name string) (*Store, error) {
	s := &Store{name: Shown(name), hidden: Secrets(name)}
	config, err := pgconn.ParseConfig(name)
	if authority, _, _ := strings.Cut(strings.TrimPrefix(name, "postgres"), "?"); err != nil || strings.Count(authority, "@") > 1 && strings.Contains(authority, "://") { // its own message may show the password
		return nil, fmt.Errorf("the ledger's address %s is malformed; expected postgres://user@host/database, an @ in a password as %%40", s.name)
	}
	if config.Password != "" {
		s.hidden = append(s.hidden, config.Password)
	}
	if s.db, err = sql.Open("pgx", name); err != nil {
		return nil, s.fault("cannot be opened", err)
	}
	s.lock = func(ctx context.Context, tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `SELECT pg_advisory_xact_lock($1)`, advisory)
		return err
	}
	return s, nil
}

// sqliteMark begins every SQLite file that holds something.
const sqliteMark = "SQLite format 3\x00"

func file(name string, write bool) (*Store, error) {
	if err := inspect(name, write); err != nil {
		return nil, err
	}
	path, err := filepath.Abs(name)
	if err != nil {
		return nil, fmt.Errorf("ledger %s: %w", Shown(name), err)
	}
	s := &Store{name: Shown(name), file: path, lock: func(context.Context, *sql.Tx) error { return nil }}
	wait := fmt.Sprintf("busy_timeout(%d)", patience.Milliseconds())
	// Write-ahead logging lets readers go on while one writes; FULL keeps what was committed through a power cut.
	// A transaction takes the write lock at its start, so that it waits there and not half way.
	q := url.Values{"_pragma": {wait, "journal_mode(WAL)", "synchronous(FULL)", "foreign_keys(1)"}, "_txlock": {"immediate"}}
	if !write {
		q = url.Values{"_pragma": {wait, "query_only(1)"}, "mode": {"ro"}, "_txlock": {"deferred"}}
		// Where no log lies beside the file nobody writes it, and it is read as it stands, since the database would make a
		// log's index even to read. Whether that was true to the end is looked at after each reading.
		if log, err := os.Stat(path + "-wal"); err != nil || log.Size() == 0 {
			q.Set("immutable", "1")
			if s.still, err = os.Stat(path); err != nil {
				return nil, fmt.Errorf("ledger %s: %w", s.name, acquire.Reason(err))
			}
		}
	}
	u := url.URL{Scheme: "file", OmitHost: true, Path: filepath.ToSlash(path), RawQuery: q.Encode()}
	if s.db, err = sql.Open("sqlite", u.String()); err != nil {
		return nil, s.fault("cannot be opened", err)
	}
	s.db.SetMaxOpenConns(1) // one file has one writer
	return s, nil
}

// inspect keeps a slip in the file's name from making or breaking a file.
func inspect(name string, create bool) error {
	f, err := os.Open(name)
	switch {
	case errors.Is(err, os.ErrNotExist) && create:
		return nil
	case errors.Is(err, os.ErrNotExist):
		return fmt.Errorf("ledger %s: %w; expected a file that --ledger has written", Shown(name), ErrMissing)
	case err != nil:
		return fmt.Errorf("ledger %s: %w", Shown(name), acquire.Reason(err))
	}
	defer f.Close()
	head := make([]byte, len(sqliteMark))
	n, err := f.Read(head)
	if n > 0 && string(head[:n]) != sqliteMark {
		return fmt.Errorf("ledger %s: this is no ledger; expected an SQLite file or a new name", Shown(name))
	}
	if n == 0 && err != nil && err != io.EOF { // a folder
		return fmt.Errorf("ledger %s: %w", Shown(name), acquire.Reason(err))
	}
	return nil
}

// Error is a fault of the ledger: its message names the ledger, and shows no password.
type Error struct {
	text string
	err  error
}

func (e *Error) Error() string { return e.text }
func (e *Error) Unwrap() error { return e.err }

// fault says what is wrong with the ledger.
func (s *Store) fault(what string, err error) error {
	var already *Error
	if err == nil || errors.As(err, &already) {
		return err
	}
	if away(err) {
		err = errors.Join(ErrAway, err)
	}
	text := fmt.Sprintf("ledger %s %s: %s", s.name, what, strings.Join(strings.Fields(err.Error()), " "))
	for _, secret := range s.hidden {
		if len(secret) > 3 && secret != "xxxxx" { // a shorter one would blot out half the message; no driver prints it
			text = strings.ReplaceAll(text, secret, "xxxxx")
		}
	}
	return &Error{text, err}
}

// Name is the ledger's, without a password.
func (s *Store) Name() string { return s.name }

// Close closes the ledger.
func (s *Store) Close() error { return s.db.Close() }

// code is PostgreSQL's code of an error (its manual, appendix A); "" where it has none.
func code(err error) string {
	if e := (*pgconn.PgError)(nil); errors.As(err, &e) {
		return e.Code
	}
	return ""
}

// denied says whether a right is missing.
func denied(err error) bool { return code(err) == "42501" }

// away says whether the server does not answer, or not now: what it refused is something else.
func away(err error) bool {
	if c := code(err); c != "" {
		return strings.HasPrefix(c, "08") || strings.HasPrefix(c, "57P0") || c == "53300"
	}
	var network net.Error
	var connecting *pgconn.ConnectError
	return errors.As(err, &network) || errors.As(err, &connecting) || errors.Is(err, io.ErrUnexpectedEOF)
}

// transaction runs work, and again where another writer got in between.
func (s *Store) transaction(ctx context.Context, work func(*sql.Tx) error) error {
	return patiently(ctx, func() error { return s.once(ctx, nil, work) })
}

// patiently tries, and again while another writer is in the way.
func patiently(ctx context.Context, try func() error) error {
	start := time.Now()
	for {
		err := try()
		if err == nil || !busy(err) || time.Since(start) > patience {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(20 * time.Millisecond):
		}
	}
}

func (s *Store) once(ctx context.Context, o *sql.TxOptions, work func(*sql.Tx) error) error {
	tx, err := s.db.BeginTx(ctx, o)
	if err != nil {
		return err
	}
	if err := work(tx); err != nil {
		if end := tx.Rollback(); !errors.Is(end, sql.ErrTxDone) { // that it is over already is no complaint
			err = errors.Join(err, end)
		}
		return err
	}
	return tx.Commit()
}

// errChanged says that a file that nobody seemed to write was written while it was read.
var errChanged = errors.New("it was written while it was read; run again")

// look runs queries on one state of the ledger, without holding up who writes.
func (s *Store) look(ctx context.Context, work func(*sql.Tx) error) error {
	o := &sql.TxOptions{ReadOnly: true, Isolation: sql.LevelRepeatableRead}
	if s.file != "" {
		o = nil // SQLite's transactions are that by themselves
	}
	if err := s.once(ctx, o, work); err != nil || s.still == nil {
		return err
	}
	now, err := os.Stat(s.file)
	if err != nil || now.Size() != s.still.Size() || !now.ModTime().Equal(s.still.ModTime()) {
		return errChanged
	}
	return nil
}

// add puts a row into a table, once.
func (s *Store) add(ctx context.Context, table string, columns []string, row ...any) error {
	return s.fault("cannot be written", s.transaction(ctx, func(tx *sql.Tx) error {
		_, err := insert(ctx, tx, table, columns, [][]any{row})
		return err
	}))
}

// list gathers what the rows of a query hold.
func list[T any](ctx context.Context, s *Store, query string, scan func(rows *sql.Rows) (T, error)) (out []T, err error) {
	err = s.look(ctx, func(tx *sql.Tx) error {
		return each(ctx, tx, query, nil, func(rows *sql.Rows) error {
			v, err := scan(rows)
			out = append(out, v)
			return err
		})
	})
	return out, s.fault("cannot be read", err)
}

// busy says whether SQLite gave up waiting for another writer.
func busy(err error) bool {
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return false
	}
	code := e.Code() & 0xff
	return code == library.SQLITE_BUSY || code == library.SQLITE_LOCKED
}

func each(ctx context.Context, tx *sql.Tx, query string, args []any, row func(*sql.Rows) error) error {
	rows, err := tx.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := row(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

// insert adds rows to a table, in one statement. A row whose key stands there already is left out; it is told by how many
// were added. No column is named for that, since PostgreSQL would then ask for the right to SELECT it.
func insert(ctx context.Context, tx *sql.Tx, table string, columns []string, rows [][]any) (added int64, err error) {
	const most = 200 // rows a statement; PostgreSQL takes 65535 arguments
	for len(rows) > 0 {
		n := min(len(rows), most)
		var marks []string
		var args []any
		for _, row := range rows[:n] {
			one := make([]string, len(row))
			for i := range row {
				one[i] = fmt.Sprintf("$%d", len(args)+i+1)
			}
			marks, args = append(marks, "("+strings.Join(one, ", ")+")"), append(args, row...)
		}
		r, err := tx.ExecContext(ctx, "INSERT INTO "+table+" ("+strings.Join(columns, ", ")+") VALUES "+strings.Join(marks, ", ")+" ON CONFLICT DO NOTHING", args...)
		if err != nil {
			return added, err
		}
		k, err := r.RowsAffected()
		if err != nil {
			return added, err
		}
		added, rows = added+k, rows[n:]
	}
	return added, nil
}
