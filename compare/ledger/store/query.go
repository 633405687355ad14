package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"offbeat/compare/ledger"
)

// Filter chooses results; what is empty chooses all.
type Filter struct {
	Board, Lot, Verdict string
	Key                 string
	Revision            string // of the design
	SHA256              string // of a capture
	From, To            time.Time
	Current             bool // only each board's current result
	Limit               int  // the latest so many; 0: all
	Manifest            bool // in the order of the manifests; else of time
}

// current is the key of a board's current result, of the row v: the newest that is a result at all.
const current = `(SELECT n.visit FROM visits n WHERE n.lot = v.lot AND n.board = v.board ORDER BY CASE WHEN n.error = '' THEN 0 ELSE 1 END, n.recorded DESC, n.visit DESC LIMIT 1)`

// clause is the filter as SQL, and its arguments.
func (f Filter) clause() (string, []any) {
	var conditions []string
	var args []any
	add := func(condition string, value any) {
		args = append(args, value)
		conditions = append(conditions, fmt.Sprintf(condition, len(args)))
	}
	for _, c := range []struct{ condition, value string }{
		{"v.board = $%d", f.Board}, {"v.lot = $%d", f.Lot}, {"v.verdict = $%d", f.Verdict}, {"v.revision = $%d", f.Revision}, {"v.visit = $%d", f.Key},
		{"v.visit IN (SELECT c.visit FROM captures c WHERE c.sha256 = $%d)", f.SHA256}, {"v.at >= $%d", ledger.Stamp(f.From)}, {"v.at < $%d", ledger.Stamp(f.To)},
	} {
		if c.value != "" {
			add(c.condition, c.value)
		}
	}
	if f.Current {
		conditions = append(conditions, "v.visit = "+current)
	}
	if len(conditions) == 0 {
		return "", nil
	}
	return " WHERE " + strings.Join(conditions, " AND "), args
}

// query is the one statement that reads the chosen results.
func (f Filter) query() (string, []any) {
	where, args := f.clause()
	newest := current
	if f.Current { // it is that itself
		newest = "v.visit"
	}
	order := "v.at, v.recorded, v.visit"
	if f.Manifest {
		order = "CASE WHEN v.place < 0 THEN 1 ELSE 0 END, v.place, v.at, v.board, v.visit"
	}
	if f.Limit > 0 {
		return fmt.Sprintf(`SELECT record, newest FROM (SELECT v.record, %s AS newest, v.at, v.recorded, v.visit FROM visits v%s ORDER BY v.at DESC, v.recorded DESC, v.visit DESC LIMIT %d) latest
			ORDER BY at, recorded, visit`, newest, where, f.Limit), args
	}
	return `SELECT v.record, ` + newest + ` FROM visits v` + where + ` ORDER BY ` + order, args
}

// Each hands out the results that the filter chooses, the oldest first, one at a time as they are read. What it hands out
// is the caller's.
func (s *Store) Each(ctx context.Context, f Filter, take func(*ledger.Visit) error) error {
	var refused error
	err := s.look(ctx, func(tx *sql.Tx) error {
		query, args := f.query()
		return each(ctx, tx, query, args, func(rows *sql.Rows) error {
			var record, newest string
			if err := rows.Scan(&record, &newest); err != nil {
				return err
			}
			v, err := unpack(record, newest)
			if err != nil {
				return err
			}
			refused = take(v)
			return refused
		})
	})
	if refused != nil { // no fault of the ledger
		return refused
	}
	return s.fault("cannot be read", err)
}

func unpack(record, newest string) (*ledger.Visit, error) {
	v := &ledger.Visit{}
	if err := json.Unmarshal([]byte(record), v); err != nil {
		return nil, fmt.Errorf("a result is not readable: %w", err)
	}
	if newest != v.Key {
		v.SupersededBy = newest
	}
	if v.CauseParts == nil {
		v.CauseParts = []string{}
	}
	return v, nil
}

// Visits lists what Each hands out.
func (s *Store) Visits(ctx context.Context, f Filter) ([]ledger.Visit, error) {
	var out []ledger.Visit
	err := s.Each(ctx, f, func(v *ledger.Visit) error {
		out = append(out, *v)
		return nil
	})
	return out, err
}

// Known is the result with that key; nil where there is none, or where this user may not look.
func (s *Store) Known(ctx context.Context, key string) (*ledger.Visit, error) {
	var record, newest string
	err := s.db.QueryRowContext(ctx, `SELECT v.record, `+current+` FROM visits v WHERE v.visit = $1`, key).Scan(&record, &newest)
	if errors.Is(err, sql.ErrNoRows) || denied(err) {
		return nil, nil
	}
	if err != nil {
		return nil, s.fault("cannot be read", err)
	}
	return unpack(record, newest)
}

// Design is the text of the design with that digest; "" where it was not kept.
func (s *Store) Design(ctx context.Context, sha256 string) (text string, err error) {
	err = s.look(ctx, func(tx *sql.Tx) error {
		err := tx.QueryRowContext(ctx, `SELECT text FROM designs WHERE sha256 = $1`, sha256).Scan(&text)
		if errors.Is(err, sql.ErrNoRows) {
			return nil
		}
		return err
	})
	return text, s.fault("cannot be read", err)
}

// Check looks for damage: SQLite's own check of the file, and every result against its seal and its captures. It says how
// many results there are, and lists what is wrong.
func (s *Store) Check(ctx context.Context) (results int, faults []string, err error) {
	err = s.look(ctx, func(tx *sql.Tx) error {
		if s.file != "" {
			err := each(ctx, tx, `PRAGMA integrity_check`, nil, func(rows *sql.Rows) error {
				var said string
				if err := rows.Scan(&said); err != nil {
					return err
				}
				if said != "ok" {
					faults = append(faults, said)
				}
				return nil
			})
			if err != nil {
				return err
			}
		}
		return each(ctx, tx, `SELECT v.visit, v.record, v.seal, (SELECT COUNT(DISTINCT c.name) FROM captures c WHERE c.visit = v.visit), (SELECT COUNT(*) FROM parts p WHERE p.visit = v.visit)
			FROM visits v ORDER BY v.at, v.recorded, v.visit`, nil, func(rows *sql.Rows) error {
			var key, record, seal string
			var captures, parts int
			if err := rows.Scan(&key, &record, &seal, &captures, &parts); err != nil {
				return err
			}
			results++
			v, err := unpack(record, key)
			switch {
			case err != nil:
				faults = append(faults, fmt.Sprintf("result %s: %v", key, err))
			case ledger.Digest([]byte(record)) != seal:
				faults = append(faults, fmt.Sprintf("board %s, result %s: changed since it was written", v.Board, key))
			case captures != distinct(v.Captures) || parts != len(v.Parts):
				faults = append(faults, fmt.Sprintf("board %s, result %s: %d of %d captures and %d of %d parts are there", v.Board, key, captures, distinct(v.Captures), parts, len(v.Parts)))
			}
			return nil
		})
	})
	return results, faults, s.fault("cannot be read", err)
}

func distinct(captures []ledger.Capture) int {
	names := map[string]bool{}
	for _, c := range captures {
		names[c.Name] = true
	}
	return len(names)
}

// Decisions lists the decisions on lots, the oldest first.
func (s *Store) Decisions(ctx context.Context) ([]ledger.Decision, error) {
	return list(ctx, s, `SELECT record FROM decisions ORDER BY at, decision`, func(rows *sql.Rows) (d ledger.Decision, err error) {
		var text string
		if err := rows.Scan(&text); err != nil {
			return d, err
		}
		if err := json.Unmarshal([]byte(text), &d); err != nil {
			return d, fmt.Errorf("a decision is not readable: %w", err)
		}
		return d, nil
	})
}
