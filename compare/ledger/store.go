package ledger

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	_ "github.com/jackc/pgx/v5/stdlib" // the driver "pgx"
	"modernc.org/sqlite"
	library "modernc.org/sqlite/lib"
)

// Faults of a ledger; match them with errors.Is.
var (
	ErrNewer   = errors.New("the ledger was written by a newer program")
	ErrMissing = errors.New("there is no such ledger")
)

// patience is how long a writer waits for the others.
const patience = 30 * time.Second

// Store is an open ledger. It may be used from several goroutines.
type Store struct {
	db   *sql.DB
	name string // for messages, without a password
	lock func(context.Context, *sql.Tx) error
}

// Open opens a ledger, and makes it where it does not exist and create is set: an SQLite file, or a PostgreSQL
// database where the name begins with postgres:// or postgresql://.
func Open(ctx context.Context, name string, create bool) (*Store, error) {
	s, err := connect(ctx, name, create)
	if err != nil {
		return nil, err
	}
	if err := s.db.PingContext(ctx); err != nil {
		s.db.Close()
		return nil, s.fault("cannot be opened", err)
	}
	if err := s.migrate(ctx); err != nil {
		s.db.Close()
		return nil, s.fault("cannot be used", err)
	}
	return s, nil
}

// connect prepares the database without touching its tables.
func connect(ctx context.Context, name string, create bool) (*Store, error) {
	if strings.HasPrefix(name, "postgres://") || strings.HasPrefix(name, "postgresql://") {
		return postgres(name)
	}
	return file(name, create)
}

// advisory is the number of the lock under which PostgreSQL's tables are brought up to date.
const advisory = 0x6f666662656174 // "offbeat"

func postgres(name string) (*Store, error) {
	u, err := url.Parse(name)
	if err != nil { // its own message would show the password
		return nil, errors.New("the ledger's address is malformed; expected postgres://user@host/database")
	}
	db, err := sql.Open("pgx", name)
	s := &Store{db: db, name: u.Redacted()}
	if err != nil {
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

func file(name string, create bool) (*Store, error) {
	if err := inspect(name, create); err != nil {
		return nil, err
	}
	path, err := filepath.Abs(name)
	if err != nil {
		return nil, fmt.Errorf("ledger %s: %w", name, err)
	}
	// Write-ahead logging lets readers go on while one writes; FULL keeps what was committed through a power cut.
	// A transaction takes the write lock at its start, so that it waits there and not half way.
	u := url.URL{Scheme: "file", OmitHost: true, Path: filepath.ToSlash(path), RawQuery: url.Values{
		"_pragma": {fmt.Sprintf("busy_timeout(%d)", patience.Milliseconds()), "journal_mode(WAL)", "synchronous(FULL)", "foreign_keys(1)"},
		"_txlock": {"immediate"},
	}.Encode()}
	db, err := sql.Open("sqlite", u.String())
	if err != nil {
		return nil, fmt.Errorf("ledger %s: %w", name, err)
	}
	db.SetMaxOpenConns(1) // one file has one writer
	return &Store{db: db, name: name, lock: func(context.Context, *sql.Tx) error { return nil }}, nil
}

// inspect keeps a slip in the file's name from making or breaking a file.
func inspect(name string, create bool) error {
	f, err := os.Open(name)
	switch {
	case errors.Is(err, os.ErrNotExist) && create:
		return nil
	case errors.Is(err, os.ErrNotExist):
		return fmt.Errorf("ledger %s: %w; expected a file that --ledger has written", name, ErrMissing)
	case err != nil:
		return fmt.Errorf("ledger: %w", err)
	}
	defer f.Close()
	head := make([]byte, len(sqliteMark))
	n, err := f.Read(head)
	if n > 0 && string(head[:n]) != sqliteMark {
		return fmt.Errorf("ledger %s: this is no ledger; expected an SQLite file or a new name", name)
	}
	if n == 0 && err != nil && err.Error() != "EOF" { // a folder
		return fmt.Errorf("ledger: %w", err)
	}
	return nil
}

func (s *Store) fault(what string, err error) error {
	return fmt.Errorf("ledger %s %s: %w", s.name, what, err)
}

// Close closes the ledger.
func (s *Store) Close() error { return s.db.Close() }

// transaction runs work, and again where another writer got in between.
func (s *Store) transaction(ctx context.Context, work func(*sql.Tx) error) error {
	start := time.Now()
	for {
		err := s.once(ctx, work)
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

func (s *Store) once(ctx context.Context, work func(*sql.Tx) error) error {
	tx, err := s.db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	if err := work(tx); err != nil {
		return errors.Join(err, ignoreDone(tx.Rollback()))
	}
	return tx.Commit()
}

// ignoreDone drops the complaint that a failed transaction is over already.
func ignoreDone(err error) error {
	if errors.Is(err, sql.ErrTxDone) {
		return nil
	}
	return err
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
