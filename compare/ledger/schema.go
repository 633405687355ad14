package ledger

import (
	"context"
	"database/sql"
	"fmt"
)

// migrations bring a ledger from one version of the tables to the next; their number is the version. Both
// databases read every statement. A migration that was released is never changed.
var migrations = [][]string{
	{
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
	},
	{
		`ALTER TABLE visits ADD COLUMN temperature DOUBLE PRECISION`,
		`ALTER TABLE visits ADD COLUMN supply DOUBLE PRECISION`,
		`CREATE INDEX visits_by_board ON visits (board, at)`,
		`CREATE INDEX visits_by_lot ON visits (lot, at)`,
		`CREATE INDEX visits_by_time ON visits (at)`,
	},
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
			for _, statement := range migrations[v] {
				if _, err := tx.ExecContext(ctx, statement); err != nil {
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
