package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"time"

	"offbeat/compare/ledger"
)

// Decide writes a decision down, once.
func (s *Store) Decide(ctx context.Context, d *ledger.Decision) error {
	d.At = d.At.Round(0).UTC()
	own := *d
	own.Key, own.At = "", time.Time{} // the same decision by the same person is one, whenever it was printed again
	text, err := json.Marshal(own)
	if err != nil {
		return s.fault("cannot be written", err)
	}
	d.Key = ledger.Digest(text)
	if text, err = json.Marshal(d); err != nil {
		return s.fault("cannot be written", err)
	}
	return s.add(ctx, "decisions", []string{"decision", "lot", "at", "decided_by", "result", "design_sha256", "tool", "record"},
		d.Key, d.Lot, ledger.Stamp(d.At), d.By, d.Result, d.DesignSHA256, d.Version, string(text))
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
