package store

import (
	"context"
	"database/sql"

	"offbeat/compare/ledger"
)

// Sent is how much was copied from one ledger to another.
type Sent struct{ Added, Known int }

// Send copies what one ledger holds into another: results, the designs they rest on, decisions and what repairs found.
// What stands there already is left as it is, so that a sending that was broken off is begun again.
func (s *Store) Send(ctx context.Context, to *Store) (n Sent, err error) {
	err = s.look(ctx, func(tx *sql.Tx) error {
		return each(ctx, tx, `SELECT sha256, title, text FROM designs ORDER BY sha256`, nil, func(rows *sql.Rows) error {
			var sha256, title, text string
			if err := rows.Scan(&sha256, &title, &text); err != nil {
				return err
			}
			return to.keep(ctx, sha256, title, text)
		})
	})
	if err != nil {
		return n, s.fault("cannot be read", err)
	}
	err = s.Each(ctx, Filter{}, func(v *ledger.Visit) error {
		v.SupersededBy = ""
		added, err := to.Record(ctx, v)
		if added {
			n.Added++
		} else if err == nil {
			n.Known++
		}
		return err
	})
	if err != nil {
		return n, err
	}
	decisions, err := s.Decisions(ctx)
	if err != nil {
		return n, err
	}
	for i := range decisions {
		if err := to.Decide(ctx, &decisions[i]); err != nil {
			return n, err
		}
	}
	found, err := s.Found(ctx)
	if err != nil {
		return n, err
	}
	for i := range found {
		if err := to.Find(ctx, &found[i]); err != nil {
			return n, err
		}
	}
	return n, nil
}
