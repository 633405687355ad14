// Package report writes findings, measurements and predictions: as text for a terminal, as JSON by schema 1,
// as one flat CSV table. It decides nothing and computes nothing but layout.
package report

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"reflect"
	"slices"
	"strings"

	"offbeat/compare"
	"offbeat/compare/ledger"
	"offbeat/fit/predict"
)

// Measurement is the JSON document of `offbeat measure`.
type Measurement struct {
	Schema    int                             `json:"schema"`
	Measured  compare.Times[compare.Measured] `json:"measured"`            // of the first capture
	Waveform  *compare.Waveform               `json:"waveform,omitempty"`  // of the first capture, where a channel shows the capacitor
	Stability *compare.Stability              `json:"stability,omitempty"` // likewise, how its times run
	Captures  []compare.Capture               `json:"captures"`
	Warnings  []string                        `json:"warnings"`
}

// Charged is the JSON document of `offbeat measure` for captures that show no pulses, but a capacitor's charge.
type Charged struct {
	Schema   int              `json:"schema"`
	Charges  []compare.Charge `json:"charges"`
	Warnings []string         `json:"warnings"`
}

// Prediction is the JSON document of `offbeat predict`.
type Prediction struct {
	Schema    int                              `json:"schema"`
	Title     string                           `json:"title,omitempty"`
	Stands    string                           `json:"does_not_run,omitempty"` // why the board does not run; then nothing is predicted
	Predicted compare.Times[compare.Predicted] `json:"predicted"`
	Yield     []predict.Yield                  `json:"yield,omitempty"` // of each quantity of the target
	Budget    []BudgetRow                      `json:"budget"`
	Warnings  []string                         `json:"warnings"`
}

// BudgetRow is one line of an uncertainty budget (JCGM 100 5.1): what one input's standard uncertainty does
// to each time, and what its typical value shifts against the ideal timer, both relative.
type BudgetRow struct {
	Input        string                 `json:"input"`
	Value        float64                `json:"value"`
	Uncertainty  float64                `json:"standard_uncertainty"`
	Distribution string                 `json:"distribution"`
	Effect       compare.Times[float64] `json:"effect"`
	Shift        compare.Times[float64] `json:"shift"`
	Source       string                 `json:"source"`
}

// Budget puts a prediction's budget into the JSON's form.
func Budget(r *predict.Result) []BudgetRow {
	times := func(x *[5]float64) compare.Times[float64] {
		return compare.TimesOf(r.OnePulse, func(i int) *float64 { return &x[i] })
	}
	rows := make([]BudgetRow, len(r.Budget))
	for i := range r.Budget {
		b := r.Budget[i]
		rows[i] = BudgetRow{b.Input, b.Value, b.Uncertainty, b.Distribution, times(&b.Effect), times(&b.Shift), b.Source}
	}
	return rows
}

// JSON writes a document: indented, lists that are empty as [] rather than null, every number finite. A number
// that is not is an error that names its place, since JSON has no word for it.
func JSON(w io.Writer, document any) error { return encode(w, document, "  ") }

func encode(w io.Writer, document any, indent string) error {
	v := reflect.ValueOf(document)
	if at := notFinite(v, ""); at != "" {
		return fmt.Errorf("the result's %s is not a finite number", strings.TrimPrefix(at, "."))
	}
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", indent)
	return e.Encode(filled(v).Interface())
}

// notFinite finds the first NaN or infinity and returns its path.
func notFinite(v reflect.Value, path string) string {
	switch v.Kind() {
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			return notFinite(v.Elem(), path)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if f := v.Type().Field(i); f.IsExported() {
				if at := notFinite(v.Field(i), path+"."+jsonName(f)); at != "" {
					return at
				}
			}
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			if at := notFinite(v.Index(i), fmt.Sprintf("%s[%d]", path, i)); at != "" {
				return at
			}
		}
	case reflect.Float64:
		if x := v.Float(); math.IsNaN(x) || math.IsInf(x, 0) {
			return path
		}
	}
	return ""
}

func jsonName(f reflect.StructField) string {
	name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
	return name
}

// leftOut says whether a field is left out where it is zero.
func leftOut(f reflect.StructField) bool {
	return slices.Contains(strings.Split(f.Tag.Get("json"), ",")[1:], "omitzero")
}

// filled copies v with every nil slice made empty, but for what is left out where it is zero; the original stays as it is.
func filled(v reflect.Value) reflect.Value {
	c := reflect.New(v.Type()).Elem()
	if _, own := v.Interface().(json.Marshaler); own { // a time writes itself
		c.Set(v)
		return c
	}
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			c.Set(reflect.New(v.Type().Elem()))
			c.Elem().Set(filled(v.Elem()))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if f := v.Type().Field(i); f.IsExported() && !(v.Field(i).IsZero() && leftOut(f)) {
				c.Field(i).Set(filled(v.Field(i)))
			}
		}
	case reflect.Slice:
		c.Set(reflect.MakeSlice(v.Type(), v.Len(), v.Len()))
		for i := range v.Len() {
			c.Index(i).Set(filled(v.Index(i)))
		}
	default:
		c.Set(v)
	}
	return c
}

// Retuning is the JSON document of `offbeat retune`.
type Retuning struct {
	Schema    int                             `json:"schema"`
	Title     string                          `json:"title,omitempty"`
	Finding   string                          `json:"finding"` // of the board as it is
	Measured  compare.Times[compare.Measured] `json:"measured"`
	Verdict   compare.Verdict                 `json:"verdict"`
	Proposals []compare.Proposal              `json:"proposals"`
	Captures  []compare.Capture               `json:"captures"`
	Warnings  []string                        `json:"warnings"`
}

// Ledger is what `offbeat ledger` shows of what it lists; LedgerStream writes its JSON document.
type Ledger struct {
	Visits   []ledger.Visit // those shown, the oldest first
	Drift    []ledger.Drift // of the one board that was asked for
	Count    map[string]int // of all that were listed, by verdict
	Warnings []string
}

// HeardFinding is the JSON document of a stream that was heard and reconciled.
type HeardFinding struct {
	*compare.Finding
	*compare.Session
}

// HeardMeasurement is the JSON document of a stream that was heard without a design.
type HeardMeasurement struct {
	*Measurement
	*compare.Session
}
