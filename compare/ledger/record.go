package ledger

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"

	"offbeat/compare"
)

// visitColumns are those of the table visits, in the order of Visit.row and Visit.scan.
var visitColumns = []string{"visit", "board", "lot", "design", "revision", "tool", "station", "operator", "at", "recorded", "temperature", "supply",
	"verdict", "error", "cause", "cause_parts", "probability", "cycles",
	"high_time", "high_time_u", "low_time", "low_time_u", "period", "period_u", "frequency", "frequency_u", "duty_factor", "duty_factor_u"}

// marks is "$1, $2, …" for n columns.
func marks(n int) string {
	m := make([]string, n)
	for i := range m {
		m[i] = fmt.Sprintf("$%d", i+1)
	}
	return strings.Join(m, ", ")
}

// Record writes a visit down, in one transaction. It says false where the ledger already holds it, and then
// changes nothing. The visit's key, and times that are zero, are filled in.
func (s *Store) Record(ctx context.Context, v *Visit) (added bool, err error) {
	v.Key = v.key()
	if v.Recorded.IsZero() {
		v.Recorded = time.Now()
	}
	if v.At.IsZero() {
		v.At = v.Recorded
	}
	err = s.transaction(ctx, func(tx *sql.Tx) error {
		added = false
		r, err := tx.ExecContext(ctx, `INSERT INTO visits (`+strings.Join(visitColumns, ", ")+`) VALUES (`+marks(len(visitColumns))+`) ON CONFLICT (visit) DO NOTHING`, v.row()...)
		if err != nil {
			return err
		}
		n, err := r.RowsAffected()
		if err != nil || n == 0 {
			return err
		}
		added = true
		for i, c := range v.Captures {
			if _, err := tx.ExecContext(ctx, `INSERT INTO captures (visit, place, name, sha256) VALUES ($1, $2, $3, $4)`, v.Key, i, c.Name, c.SHA256); err != nil {
				return err
			}
		}
		for i, p := range v.Parts {
			if _, err := tx.ExecContext(ctx, `INSERT INTO parts (visit, place, name, nominal, value, low, high, out_of_tolerance) VALUES (`+marks(8)+`)`,
				v.Key, i, p.Name, p.Nominal, p.Value, p.Interval95[0], p.Interval95[1], p.OutOfTolerance); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return false, s.fault("cannot be written", err)
	}
	return added, nil
}

// row lists the values of visitColumns.
func (v *Visit) row() []any {
	cycles := 0
	if v.Measured.High != nil {
		cycles = v.Measured.High.Count
	}
	row := []any{v.Key, v.Board, v.Lot, v.Design, v.Revision, v.Tool, v.Station, v.Operator, stamp(v.At), stamp(v.Recorded), v.Temperature, v.Supply,
		v.Verdict, v.Error, v.Cause, list(v.CauseParts), v.Probability, cycles}
	for _, m := range columnsOf(&v.Measured) {
		if *m == nil {
			row = append(row, nil, nil)
			continue
		}
		row = append(row, (*m).Value, (*m).Uncertainty)
	}
	return row
}

// scan reads the values of visitColumns.
func (v *Visit) scan(rows *sql.Rows) error {
	var at, recorded, parts string
	var cycles int
	var numbers [10]*float64
	into := []any{&v.Key, &v.Board, &v.Lot, &v.Design, &v.Revision, &v.Tool, &v.Station, &v.Operator, &at, &recorded, &v.Temperature, &v.Supply,
		&v.Verdict, &v.Error, &v.Cause, &parts, &v.Probability, &cycles}
	for i := range numbers {
		into = append(into, &numbers[i])
	}
	if err := rows.Scan(into...); err != nil {
		return err
	}
	var err error
	if v.At, err = time.Parse(layout, at); err != nil {
		return err
	}
	if v.Recorded, err = time.Parse(layout, recorded); err != nil {
		return err
	}
	v.CauseParts = unlist(parts)
	for i, m := range columnsOf(&v.Measured) {
		if value, u := numbers[2*i], numbers[2*i+1]; value != nil && u != nil {
			*m = &compare.Measured{Value: *value, Uncertainty: *u, Count: cycles}
		}
	}
	return nil
}
