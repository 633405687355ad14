package ledger

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
	"time"
)

// Found is what a repair showed of a board.
type Found struct {
	Board string    `json:"board"`
	Lot   string    `json:"lot,omitempty"`
	Cause string    `json:"cause"`
	Part  string    `json:"part,omitempty"`
	At    time.Time `json:"at"`
	By    string    `json:"found_by,omitempty"`
	Note  string    `json:"note,omitempty"`
	Visit string    `json:"visit,omitempty"` // the key of the result that stood for the board then
}

// Parts are those that the finding names.
func (f *Found) Parts() []string {
	return strings.FieldsFunc(f.Part, func(x rune) bool { return strings.ContainsRune(" +,", x) })
}

// ErrBoard says that a ledger has no result of a board.
var ErrBoard = errors.New("the ledger has no result of this board")

// Find writes down what a repair showed, once.
func (s *Store) Find(ctx context.Context, f *Found) error {
	f.At = f.At.Round(0).UTC()
	h := sha256.New()
	for _, field := range []string{f.Board, f.Lot, f.Cause, f.Part, stamp(f.At), f.By, f.Note, f.Visit} {
		fmt.Fprintf(h, "%d:%s", len(field), field)
	}
	return s.add(ctx, "found", []string{"found", "board", "lot", "cause", "part", "at", "found_by", "note", "visit"},
		hex.EncodeToString(h.Sum(nil)), f.Board, f.Lot, f.Cause, f.Part, stamp(f.At), f.By, f.Note, f.Visit)
}

// Found lists what repairs showed, the oldest first.
func (s *Store) Found(ctx context.Context) ([]Found, error) {
	return list(ctx, s, `SELECT board, lot, cause, part, at, found_by, note, visit FROM found ORDER BY at, found`, func(rows *sql.Rows) (f Found, err error) {
		var at string
		if err = rows.Scan(&f.Board, &f.Lot, &f.Cause, &f.Part, &at, &f.By, &f.Note, &f.Visit); err == nil {
			f.At, err = time.Parse(layout, at)
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
