package store

import (
	"context"
	"database/sql"
	_ "embed"
	"errors"
	"fmt"
	"strings"

	"modernc.org/sqlite"
)

//go:embed schema.sql
var schema string

// migrations bring a ledger from one version of the tables to the next, in order; their number is the version.
var migrations = strings.Split(schema, "-- next version\n")

// recorded is the version from which a result is kept whole: what statements cannot do is done with it.
const recorded = 3

// errEmpty says that there are no tables yet.
var errEmpty = errors.New("the ledger is empty")

// compatible says whether the tables are of this program's version.
func (s *Store) compatible(ctx context.Context) error {
	var at int
	err := s.look(ctx, func(tx *sql.Tx) (err error) {
		at, err = s.versionIn(ctx, tx)
		return err
	})
	var e *sqlite.Error
	switch {
	case code(err) == "42P01", errors.As(err, &e) && strings.Contains(e.Error(), "no such table"):
		return errEmpty
	case err != nil:
		return err
	case at == 0:
		return errEmpty
	case at < len(migrations):
		return fmt.Errorf("%w: %d, this program needs %d; bring them up to date with offbeat ledger migrate", ErrOlder, at, len(migrations))
	}
	return nil
}

// migrate brings the tables up to date, one writer at a time and all or nothing.
func (s *Store) migrate(ctx context.Context) error { return s.migrateTo(ctx, len(migrations)) }

func (s *Store) migrateTo(ctx context.Context, version int) error {
	return s.transaction(ctx, func(tx *sql.Tx) error {
		if err := s.lock(ctx, tx); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `CREATE TABLE IF NOT EXISTS ledger_version (version BIGINT NOT NULL)`); err != nil {
			return err
		}
		at, err := s.versionIn(ctx, tx)
		if err != nil {
			return err
		}
		for v := at; v < version; v++ {
			_, err := tx.ExecContext(ctx, migrations[v])
			if v+1 == recorded && err == nil {
				err = fillRecords(ctx, tx)
			}
			if err != nil {
				return fmt.Errorf("bringing the tables from version %d to %d: %w", v, v+1, err)
			}
		}
		if at < version {
			if _, err := tx.ExecContext(ctx, `DELETE FROM ledger_version`); err != nil {
				return err
			}
			_, err = tx.ExecContext(ctx, `INSERT INTO ledger_version (version) VALUES ($1)`, version)
		}
		return err
	})
}

// versionIn reads the version of the tables; 0 is an empty database.
func (s *Store) versionIn(ctx context.Context, tx *sql.Tx) (int, error) {
	var v sql.NullInt64
	if err := tx.QueryRowContext(ctx, `SELECT MAX(version) FROM ledger_version`).Scan(&v); err != nil {
		return 0, err
	}
	if int(v.Int64) > len(migrations) {
		return 0, fmt.Errorf("%w: its tables have version %d, this program knows up to %d", ErrNewer, v.Int64, len(migrations))
	}
	return int(v.Int64), nil
}
