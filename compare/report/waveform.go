package report

import (
	"fmt"

	"offbeat/acquire/quantity"
	"offbeat/compare"
)

// waveRow is one quantity of the capacitor's waveform.
type waveRow struct {
	key, name string
	of        func(w *compare.Waveform) *compare.Measured
	unit      string // as the JSON writes it; empty: the waveform's own, of voltages
}

var waveRows = []waveRow{
	{"tau_charge", "time constant, charging", func(w *compare.Waveform) *compare.Measured { return &w.TauCharge }, "s"},
	{"tau_discharge", "time constant, discharging", func(w *compare.Waveform) *compare.Measured { return w.TauDischarge }, "s"},
	{"upper_threshold", "upper threshold", func(w *compare.Waveform) *compare.Measured { return &w.Upper }, ""},
	{"lower_threshold", "lower threshold", func(w *compare.Waveform) *compare.Measured { return &w.Lower }, ""},
	{"asymptote", "asymptote of the charge", func(w *compare.Waveform) *compare.Measured { return &w.Asymptote }, ""},
	{"discharge_asymptote", "asymptote of the discharge", func(w *compare.Waveform) *compare.Measured { return w.DischargeAsymptote }, ""},
	{"lower_over_upper", "lower over upper", func(w *compare.Waveform) *compare.Measured { return &w.LowerOverUpper }, "1"},
	{"upper_over_asymptote", "upper over asymptote", func(w *compare.Waveform) *compare.Measured { return &w.UpperOverAsymptote }, "1"},
	{"leak", "leak across the capacitor", func(w *compare.Waveform) *compare.Measured { return w.Leak }, "ohm"},
	{"discharge_resistance", "discharge pin to ground", func(w *compare.Waveform) *compare.Measured { return w.DischargePath }, "ohm"},
}

// unitOf is a row's unit as the JSON writes it.
func (r *waveRow) unitOf(w *compare.Waveform) string {
	if r.unit == "" {
		return w.Unit
	}
	return r.unit
}

// waveTable lists a waveform's quantities: its name, its value, and the same in volts where it is a share of the supply.
func waveTable(w *compare.Waveform) [][3]string {
	var rows [][3]string
	for i := range waveRows {
		r := &waveRows[i]
		m := r.of(w)
		if m == nil {
			continue
		}
		unit := r.unitOf(w)
		row := [3]string{r.name, quantity.PlusMinus(m.Value, m.Uncertainty, units[unit])}
		if unit == "1" {
			row[1] = quantity.Bare(m.Value, m.Uncertainty)
		}
		if r.unit == "" && w.Unit == "1" {
			row[1] += " of the supply"
			row[2] = quantity.Uncertain(m.Value*w.Supply, m.Uncertainty*w.Supply, quantity.Volt)
		}
		rows = append(rows, row)
	}
	return rows
}

// waveLead says what a waveform's numbers rest on.
func waveLead(w *compare.Waveform) string {
	runs := plural(w.Cycles, "pair") + " of charge and discharge"
	if w.TauDischarge == nil {
		runs = plural(w.Cycles, "charge")
	}
	text := fmt.Sprintf("%s, scattering by %s about the fitted curves. ", runs, quantity.Format(w.Residual, quantity.Volt))
	if w.Unit == "V" {
		return text + "The channel's scale and zero are not counted; the ratios are free of its scale."
	}
	return text + "Of the supply: the channel's scale (3 %), its zero (1 % of the supply) and the supply's own limits are counted; the ratios are free of all but the zero."
}

// waveform writes what the capacitor's channel shows.
func (p *printer) waveform(w *compare.Waveform) {
	if w == nil {
		return
	}
	p.heading("THE CAPACITOR'S WAVEFORM")
	var rows [][]cell
	for _, r := range waveTable(w) {
		rows = append(rows, plain(r[0], r[1], r[2]))
	}
	p.table([]column{{}, {head: "fitted, standard uncertainty"}, {head: "", right: true, drop: 1}}, rows)
	p.prose("  ", "  ", waveLead(w))
}

// waveformRows are a waveform's quantities as rows of a CSV table.
func waveformRows(source string, w *compare.Waveform) []Row {
	if w == nil {
		return nil
	}
	var rows []Row
	for i := range waveRows {
		r := &waveRows[i]
		if m := r.of(w); m != nil {
			rows = append(rows, Row{Kind: "waveform", Name: r.key, Unit: r.unitOf(w), Value: &m.Value, Uncertainty: &m.Uncertainty, Detail: source})
		}
	}
	return rows
}
