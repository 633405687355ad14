package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"strings"
	"time"

	"offbeat/compare/ledger"
)

// visitColumns are those of the table visits that are filled, in the order of rowOf.
var visitColumns = []string{"visit", "board", "lot", "place", "design", "revision", "design_sha256", "tool", "station", "operator", "at", "recorded", "temperature", "supply",
	"verdict", "error", "cause", "cause_parts", "probability", "cycles", "record", "seal",
	"high_time", "high_time_u", "low_time", "low_time_u", "period", "period_u", "frequency", "frequency_u", "duty_factor", "duty_factor_u"}

var captureColumns = []string{"visit", "place", "name", "sha256", "station", "operator", "at", "temperature", "clock",
	"ln_high_time", "ln_low_time", "ln_high_time_u", "ln_low_time_u", "ln_covariance"}

var partColumns = []string{"visit", "place", "name", "nominal", "value", "low", "high", "out_of_tolerance"}

// Record writes a result down, in one transaction. It says false where the ledger already holds it, and then
// changes nothing. Times that are zero are filled in.
func (s *Store) Record(ctx context.Context, v *ledger.Visit) (added bool, err error) {
	if v.Recorded.IsZero() {
		v.Recorded = time.Now()
	}
	v.Recorded = v.Recorded.Round(0).UTC()
	if v.At.IsZero() {
		v.At = v.Recorded
	}
	v.Written = v.Recorded
	row, err := rowOf(v)
	if err != nil {
		return false, s.fault("cannot be written", err)
	}
	err = s.transaction(ctx, func(tx *sql.Tx) error {
		n, err := insert(ctx, tx, "visits", visitColumns, [][]any{row})
		if added = n > 0; err != nil || !added {
			return err
		}
		if _, err := insert(ctx, tx, "captures", captureColumns, captureRows(v)); err != nil {
			return err
		}
		_, err = insert(ctx, tx, "parts", partColumns, partRows(v))
		return err
	})
	if err != nil {
		return false, s.fault("cannot be written", err)
	}
	return added, nil
}

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

// Keep stores the text of a run's design, once.
func (s *Store) Keep(ctx context.Context, r *ledger.Run) error {
	return s.keep(ctx, r.DesignSHA256, r.Title, r.DesignText)
}

func (s *Store) keep(ctx context.Context, sha256, title, text string) error {
	return s.add(ctx, "designs", []string{"sha256", "title", "text"}, sha256, title, text)
}

// text is the result as JSON, without what other results and decisions make of it.
func textOf(v *ledger.Visit) (record, seal string, err error) {
	own := *v
	own.SupersededBy, own.Decision = "", nil
	b, err := json.Marshal(&own)
	if err != nil {
		return "", "", err
	}
	return string(b), ledger.Digest(b), nil
}

// row lists the values of visitColumns.
func rowOf(v *ledger.Visit) ([]any, error) {
	cycles := 0
	if v.Measured.High != nil {
		cycles = v.Measured.High.Count
	}
	record, seal, err := textOf(v)
	if err != nil {
		return nil, err
	}
	row := []any{v.Key, v.Board, v.Lot, v.Place, v.Design, v.Revision, v.DesignSHA256, v.Tool, v.Station, v.Operator, ledger.Stamp(v.At), ledger.Stamp(v.Recorded), v.Temperature, v.Supply,
		v.Verdict, v.Error, v.Cause, strings.Join(v.CauseParts, ","), v.Probability, cycles, record, seal}
	for _, m := range v.Measured.Each() {
		if m == nil {
			row = append(row, nil, nil)
			continue
		}
		row = append(row, m.Value, m.Uncertainty)
	}
	return row, nil
}

// captureRows lists the values of captureColumns, a row a record.
func captureRows(v *ledger.Visit) [][]any {
	var rows [][]any
	for _, c := range v.Captures {
		at := ""
		if c.Time != nil {
			at = ledger.Stamp(*c.Time)
		}
		head := func() []any {
			return []any{v.Key, len(rows), c.Name, c.SHA256, c.Station, c.Operator, at, c.Temperature}
		}
		if len(c.Records) == 0 {
			rows = append(rows, append(head(), nil, nil, nil, nil, nil, nil))
		}
		for _, r := range c.Records {
			row := append(head(), r.Clock, r.LnHigh, nil, r.High.Uncertainty/r.High.Value, nil, nil)
			if r.Low != nil {
				row[10], row[12], row[13] = r.LnLow, r.Low.Uncertainty/r.Low.Value, r.LnCovariance[1]
			}
			rows = append(rows, row)
		}
	}
	return rows
}

func partRows(v *ledger.Visit) [][]any {
	rows := make([][]any, len(v.Parts))
	for i, p := range v.Parts {
		rows[i] = []any{v.Key, i, p.Name, p.Nominal, p.Value, p.Interval95[0], p.Interval95[1], p.OutOfTolerance}
	}
	return rows
}
