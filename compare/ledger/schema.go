package ledger

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"

	"modernc.org/sqlite"
)

// migration brings a ledger from one version of the tables to the next. Both databases read every statement. One that
// was released is never changed.
type migration struct {
	statements []string
	then       func(context.Context, *sql.Tx) error // what statements cannot do; nil: nothing
}

// migrations, in order; their number is the version.
var migrations = []migration{
	{statements: []string{
		`CREATE TABLE visits (
			visit TEXT PRIMARY KEY, board TEXT NOT NULL, lot TEXT NOT NULL, design TEXT NOT NULL, revision TEXT NOT NULL,
			tool TEXT NOT NULL, station TEXT NOT NULL, operator TEXT NOT NULL, at TEXT NOT NULL, recorded TEXT NOT NULL,
			verdict TEXT NOT NULL, error TEXT NOT NULL, cause TEXT NOT NULL, cause_parts TEXT NOT NULL, probability DOUBLE PRECISION NOT NULL,
			high_time DOUBLE PRECISION, high_time_u DOUBLE PRECISION, low_time DOUBLE PRECISION, low_time_u DOUBLE PRECISION,
			period DOUBLE PRECISION, period_u DOUBLE PRECISION, frequency DOUBLE PRECISION, frequency_u DOUBLE PRECISION,
			duty_factor DOUBLE PRECISION, duty_factor_u DOUBLE PRECISION, cycles BIGINT NOT NULL)`,
		`CREATE TABLE captures (
			visit TEXT NOT NULL REFERENCES visits (visit), place BIGINT NOT NULL, name TEXT NOT NULL, sha256 TEXT NOT NULL,
			PRIMARY KEY (visit, place))`,
		`CREATE TABLE parts (
			visit TEXT NOT NULL REFERENCES visits (visit), place BIGINT NOT NULL, name TEXT NOT NULL, nominal DOUBLE PRECISION NOT NULL,
			value DOUBLE PRECISION NOT NULL, low DOUBLE PRECISION NOT NULL, high DOUBLE PRECISION NOT NULL, out_of_tolerance DOUBLE PRECISION NOT NULL,
			PRIMARY KEY (visit, place))`,
	}},
	{statements: []string{
		`ALTER TABLE visits ADD COLUMN temperature DOUBLE PRECISION`,
		`ALTER TABLE visits ADD COLUMN supply DOUBLE PRECISION`,
		`CREATE INDEX visits_by_board ON visits (board, at)`,
		`CREATE INDEX visits_by_lot ON visits (lot, at)`,
		`CREATE INDEX visits_by_time ON visits (at)`,
	}},
	// The column record is the result whole, as JSON, and seal its SHA-256; the other columns repeat of it what is asked
	// for, or looked at by other programs.
	{statements: []string{
		`ALTER TABLE visits ADD COLUMN place BIGINT NOT NULL DEFAULT -1`,
		`ALTER TABLE visits ADD COLUMN design_sha256 TEXT NOT NULL DEFAULT ''`,
		`ALTER TABLE visits ADD COLUMN record TEXT NOT NULL DEFAULT ''`,
		`ALTER TABLE visits ADD COLUMN seal TEXT NOT NULL DEFAULT ''`,
		`ALTER TABLE captures ADD COLUMN station TEXT NOT NULL DEFAULT ''`,
		`ALTER TABLE captures ADD COLUMN operator TEXT NOT NULL DEFAULT ''`,
		`ALTER TABLE captures ADD COLUMN at TEXT NOT NULL DEFAULT ''`,
		`ALTER TABLE captures ADD COLUMN temperature DOUBLE PRECISION`,
		`ALTER TABLE captures ADD COLUMN clock DOUBLE PRECISION`,
		`ALTER TABLE captures ADD COLUMN ln_high_time DOUBLE PRECISION`,
		`ALTER TABLE captures ADD COLUMN ln_low_time DOUBLE PRECISION`,
		`ALTER TABLE captures ADD COLUMN ln_high_time_u DOUBLE PRECISION`,
		`ALTER TABLE captures ADD COLUMN ln_low_time_u DOUBLE PRECISION`,
		`ALTER TABLE captures ADD COLUMN ln_covariance DOUBLE PRECISION`,
		`CREATE TABLE designs (sha256 TEXT PRIMARY KEY, title TEXT NOT NULL, text TEXT NOT NULL)`,
		`CREATE TABLE decisions (
			decision TEXT PRIMARY KEY, lot TEXT NOT NULL, at TEXT NOT NULL, decided_by TEXT NOT NULL, result TEXT NOT NULL,
			design_sha256 TEXT NOT NULL, tool TEXT NOT NULL, record TEXT NOT NULL)`,
		`CREATE TABLE found (
			found TEXT PRIMARY KEY, board TEXT NOT NULL, lot TEXT NOT NULL, cause TEXT NOT NULL, part TEXT NOT NULL,
			at TEXT NOT NULL, found_by TEXT NOT NULL, note TEXT NOT NULL, visit TEXT NOT NULL)`,
		`CREATE INDEX visits_in_order ON visits (at, recorded, visit)`,
		`CREATE INDEX visits_of_board ON visits (lot, board, recorded)`,
		`CREATE INDEX visits_in_lot ON visits (lot, place)`,
		`CREATE INDEX visits_by_verdict ON visits (verdict, at)`,
		`CREATE INDEX visits_by_revision ON visits (revision, at)`,
		`CREATE INDEX captures_by_digest ON captures (sha256)`,
		`CREATE INDEX decisions_by_lot ON decisions (lot, at)`,
		`CREATE INDEX found_by_board ON found (board, at)`,
	}, then: fillRecords},
}

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
			m := migrations[v]
			for _, statement := range m.statements {
				if _, err := tx.ExecContext(ctx, statement); err != nil {
					return fmt.Errorf("bringing the tables from version %d to %d: %w", v, v+1, err)
				}
			}
			if m.then != nil {
				if err := m.then(ctx, tx); err != nil {
					return fmt.Errorf("bringing the tables from version %d to %d: %w", v, v+1, err)
				}
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
