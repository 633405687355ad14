package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"time"

	"offbeat/compare/ledger"
	"offbeat/fit"
)

// ErrBoard says that a ledger has no result of a board.
var ErrBoard = errors.New("the ledger has no result of this board")

// Find writes down what a repair showed, once.
func (s *Store) Find(ctx context.Context, f *ledger.Found) error {
	f.At = f.At.Round(0).UTC()
	h := sha256.New()
	for _, field := range []string{f.Board, f.Lot, f.Cause, f.Part, ledger.Stamp(f.At), f.By, f.Note, f.Visit} {
		fmt.Fprintf(h, "%d:%s", len(field), field)
	}
	return s.add(ctx, "found", []string{"found", "board", "lot", "cause", "part", "at", "found_by", "note", "visit"},
		hex.EncodeToString(h.Sum(nil)), f.Board, f.Lot, f.Cause, f.Part, ledger.Stamp(f.At), f.By, f.Note, f.Visit)
}

// Found lists what repairs showed, the oldest first.
func (s *Store) Found(ctx context.Context) ([]ledger.Found, error) {
	return list(ctx, s, `SELECT board, lot, cause, part, at, found_by, note, visit FROM found ORDER BY at, found`, func(rows *sql.Rows) (f ledger.Found, err error) {
		var at string
		if err = rows.Scan(&f.Board, &f.Lot, &f.Cause, &f.Part, &at, &f.By, &f.Note, &f.Visit); err == nil {
			f.At, err = time.Parse(ledger.Layout, at)
		}
		return f, err
	})
}

// Repaired is the text of the design of the board that was repaired last.
func (s *Store) Repaired(ctx context.Context) (string, error) {
	found, err := s.Found(ctx)
	if err != nil {
		return "", err
	}
	for i := len(found) - 1; i >= 0; i-- {
		v, err := s.Known(ctx, found[i].Visit)
		if err != nil {
			return "", err
		}
		if v == nil {
			continue
		}
		if text, err := s.Design(ctx, v.DesignSHA256); err != nil || text != "" {
			return text, err
		}
	}
	return "", s.fault("cannot be learned from", errors.New("no repair is recorded of a board whose design is kept; record one with offbeat ledger found, or name the design with --design"))
}

// Learn turns the record of repairs into odds, as package ledger's Learn does.
func (s *Store) Learn(ctx context.Context, d *fit.Design, weight float64) (*ledger.Learned, error) {
	found, err := s.Found(ctx)
	if err != nil {
		return nil, err
	}
	return ledger.Learn(d, weight, found, func(key string) (*ledger.Visit, error) { return s.Known(ctx, key) })
}
