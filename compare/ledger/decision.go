package ledger

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"time"
)

// Decide writes a decision down, once.
func (s *Store) Decide(ctx context.Context, d *Decision) error {
	d.At = d.At.Round(0).UTC()
	own := *d
	own.Key, own.At = "", time.Time{} // the same decision by the same person is one, whenever it was printed again
	text, err := json.Marshal(own)
	if err != nil {
		return s.fault("cannot be written", err)
	}
	sum := sha256.Sum256(text)
	d.Key = hex.EncodeToString(sum[:])
	if text, err = json.Marshal(d); err != nil {
		return s.fault("cannot be written", err)
	}
	return s.fault("cannot be written", s.transaction(ctx, func(tx *sql.Tx) error {
		_, err := insert(ctx, tx, "decisions", []string{"decision", "lot", "at", "decided_by", "result", "design_sha256", "tool", "record"},
			[][]any{{d.Key, d.Lot, stamp(d.At), d.By, d.Result, d.DesignSHA256, d.Version, string(text)}})
		return err
	}))
}

// Decisions lists the decisions on a lot, on all where the name is empty and all is set, the oldest first.
func (s *Store) Decisions(ctx context.Context, lot string, all bool) ([]Decision, error) {
	var out []Decision
	query, args := `SELECT record FROM decisions WHERE lot = $1 ORDER BY at, decision`, []any{lot}
	if all {
		query, args = `SELECT record FROM decisions ORDER BY at, decision`, nil
	}
	err := s.look(ctx, func(tx *sql.Tx) error {
		return each(ctx, tx, query, args, func(rows *sql.Rows) error {
			var text string
			if err := rows.Scan(&text); err != nil {
				return err
			}
			var d Decision
			if err := json.Unmarshal([]byte(text), &d); err != nil {
				return fmt.Errorf("a decision is not readable: %w", err)
			}
			out = append(out, d)
			return nil
		})
	})
	return out, s.fault("cannot be read", err)
}
