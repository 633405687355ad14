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
	if err := copied(ctx, s.Decisions, to.Decide); err != nil {
		return n, err
	}
	return n, copied(ctx, s.Found, to.Find)
}

// copied writes what is listed, one by one.
func copied[T any](ctx context.Context, list func(context.Context) ([]T, error), write func(context.Context, *T) error) error {
	all, err := list(ctx)
	for i := 0; i < len(all) && err == nil; i++ {
		err = write(ctx, &all[i])
	}
	return err
}
