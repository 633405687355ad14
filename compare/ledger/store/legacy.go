package store

import (
	"context"
	"database/sql"
	"strings"
	"time"

	"offbeat/compare"
	"offbeat/compare/ledger"
	"offbeat/compare/lot"
)

// fillRecords gives the results of the first two versions of the tables their record, from the columns that they had.
func fillRecords(ctx context.Context, tx *sql.Tx) error {
	var keys []string
	err := each(ctx, tx, `SELECT visit FROM visits WHERE record = ''`, nil, func(rows *sql.Rows) error {
		var key string
		err := rows.Scan(&key)
		keys = append(keys, key)
		return err
	})
	if err != nil {
		return err
	}
	for _, key := range keys {
		v := ledger.Visit{Key: key, Place: -1}
		if err := fromColumns(ctx, tx, &v); err != nil {
			return err
		}
		record, seal, err := textOf(&v)
		if err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `UPDATE visits SET record = $1, seal = $2 WHERE visit = $3`, record, seal, key); err != nil {
			return err
		}
	}
	return nil
}

// fromColumns reads a result of the first two versions.
func fromColumns(ctx context.Context, tx *sql.Tx, v *ledger.Visit) error {
	var at, recorded, parts string
	var cycles int
	var numbers [10]*float64
	into := []any{&v.Board, &v.Lot, &v.Design, &v.Revision, &v.Tool, &v.Station, &v.Operator, &at, &recorded, &v.Temperature, &v.Supply,
		&v.Verdict, &v.Error, &v.Cause, &parts, &v.Probability, &cycles}
	for i := range numbers {
		into = append(into, &numbers[i])
	}
	err := tx.QueryRowContext(ctx, `SELECT board, lot, design, revision, tool, station, operator, at, recorded, temperature, supply, verdict, error, cause, cause_parts, probability, cycles,
		high_time, high_time_u, low_time, low_time_u, period, period_u, frequency, frequency_u, duty_factor, duty_factor_u FROM visits WHERE visit = $1`, v.Key).Scan(into...)
	if err != nil {
		return err
	}
	if v.At, err = time.Parse(ledger.Layout, at); err != nil {
		return err
	}
	if v.Recorded, err = time.Parse(ledger.Layout, recorded); err != nil {
		return err
	}
	v.Written, v.Version, v.Stations, v.Operators = v.Recorded, v.Tool, lot.With(nil, v.Station), lot.With(nil, v.Operator)
	if parts != "" {
		v.CauseParts = strings.Split(parts, ",")
	}
	v.Measured = compare.TimesOf(false, func(i int) *compare.Measured {
		if value, u := numbers[2*i], numbers[2*i+1]; value != nil && u != nil {
			return &compare.Measured{Value: *value, Uncertainty: *u, Count: cycles}
		}
		return nil
	})
	err = each(ctx, tx, `SELECT name, sha256 FROM captures WHERE visit = $1 ORDER BY place`, []any{v.Key}, func(rows *sql.Rows) error {
		var c ledger.Capture
		err := rows.Scan(&c.Name, &c.SHA256)
		v.Captures = append(v.Captures, c)
		return err
	})
	if err != nil {
		return err
	}
	return each(ctx, tx, `SELECT name, nominal, value, low, high, out_of_tolerance FROM parts WHERE visit = $1 ORDER BY place`, []any{v.Key}, func(rows *sql.Rows) error {
		var p compare.Part
		err := rows.Scan(&p.Name, &p.Nominal, &p.Value, &p.Interval95[0], &p.Interval95[1], &p.OutOfTolerance)
		v.Parts = append(v.Parts, p)
		return err
	})
}
