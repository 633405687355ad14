package ledger

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"
)

// Filter chooses visits; what is empty chooses all.
type Filter struct {
	Board, Lot, Verdict string
	Revision            string // of the design
	From, To            time.Time
	Limit               int // the latest so many; 0: all
}

// clause is the filter as SQL, and its arguments.
func (f Filter) clause() (string, []any) {
	var conditions []string
	var args []any
	add := func(condition string, value any) {
		args = append(args, value)
		conditions = append(conditions, fmt.Sprintf(condition, len(args)))
	}
	for _, c := range []struct{ column, value string }{{"board", f.Board}, {"lot", f.Lot}, {"verdict", f.Verdict}, {"revision", f.Revision}} {
		if c.value != "" {
			add(c.column+" = $%d", c.value)
		}
	}
	if !f.From.IsZero() {
		add("at >= $%d", stamp(f.From))
	}
	if !f.To.IsZero() {
		add("at < $%d", stamp(f.To))
	}
	if len(conditions) == 0 {
		return "", nil
	}
	return " WHERE " + strings.Join(conditions, " AND "), args
}

// Visits lists the visits that the filter chooses, the oldest first, with their parts and captures.
func (s *Store) Visits(ctx context.Context, f Filter) ([]Visit, error) {
	var out []Visit
	err := s.read(ctx, func(tx *sql.Tx) error {
		out = nil
		where, args := f.clause()
		query := `SELECT ` + strings.Join(visitColumns, ", ") + ` FROM visits` + where + ` ORDER BY at DESC, recorded DESC, visit DESC`
		if f.Limit > 0 {
			query += fmt.Sprintf(" LIMIT %d", f.Limit)
		}
		err := each(ctx, tx, query, args, func(rows *sql.Rows) error {
			var v Visit
			if err := v.scan(rows); err != nil {
				return err
			}
			out = append(out, v)
			return nil
		})
		if err != nil {
			return err
		}
		for i, j := 0, len(out)-1; i < j; i, j = i+1, j-1 {
			out[i], out[j] = out[j], out[i]
		}
		for i := range out {
			if err := out[i].details(ctx, tx); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, s.fault("cannot be read", err)
	}
	return out, nil
}

// details reads a visit's captures and parts.
func (v *Visit) details(ctx context.Context, tx *sql.Tx) error {
	err := each(ctx, tx, `SELECT name, sha256 FROM captures WHERE visit = $1 ORDER BY place`, []any{v.Key}, func(rows *sql.Rows) error {
		var c Capture
		err := rows.Scan(&c.Name, &c.SHA256)
		v.Captures = append(v.Captures, c)
		return err
	})
	if err != nil {
		return err
	}
	return each(ctx, tx, `SELECT name, nominal, value, low, high, out_of_tolerance FROM parts WHERE visit = $1 ORDER BY place`, []any{v.Key}, func(rows *sql.Rows) error {
		var p Part
		err := rows.Scan(&p.Name, &p.Nominal, &p.Value, &p.Interval95[0], &p.Interval95[1], &p.OutOfTolerance)
		v.Parts = append(v.Parts, p)
		return err
	})
}

// read runs several queries on one state of the ledger.
func (s *Store) read(ctx context.Context, work func(*sql.Tx) error) error {
	return s.transaction(ctx, work)
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
