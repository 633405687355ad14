package document

import (
	"cmp"
	"fmt"
	"math"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/report/picture"
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
	{"asymptote", "final voltage of the charge", func(w *compare.Waveform) *compare.Measured { return &w.Asymptote }, ""},
	{"discharge_asymptote", "final voltage of the discharge", func(w *compare.Waveform) *compare.Measured { return w.DischargeAsymptote }, ""},
	{"lower_over_upper", "lower over upper", func(w *compare.Waveform) *compare.Measured { return &w.LowerOverUpper }, "1"},
	{"upper_over_asymptote", "upper over final voltage", func(w *compare.Waveform) *compare.Measured { return &w.UpperOverAsymptote }, "1"},
	{"leak", "leakage across the capacitor", func(w *compare.Waveform) *compare.Measured { return w.Leak }, "ohm"},
	{"discharge_resistance", "discharge pin to ground", func(w *compare.Waveform) *compare.Measured { return w.DischargePath }, "ohm"},
}

// waveform lists and draws what the capacitor's channel shows; nothing where none was read.
func waveform(w *compare.Waveform, r run) Section {
	s := Section{ID: "waveform", Heading: "The capacitor's waveform"}
	if w == nil {
		return s
	}
	if r.trace != nil && r.measurement != nil && w.TauDischarge != nil {
		s.Layout = Pair
		s.draw(func(id string) picture.Picture {
			return picture.Waveform(id, r.trace, r.measurement, runsOf(w))
		})
	}
	t := &Table{Caption: "± is one standard uncertainty.", Columns: []Column{{}, {Head: "fitted, standard uncertainty", Number: true}, {Number: true}}}
	for i := range waveRows {
		q := &waveRows[i]
		m, unit := q.of(w), q.unit
		if m == nil {
			continue
		}
		unit = cmp.Or(unit, w.Unit)
		row := cells(q.name, quantity.PlusMinus(m.Value, m.Uncertainty, quantity.InJSON[unit]), "")
		if unit == "1" {
			row[1].Text = quantity.Bare(m.Value, m.Uncertainty)
		}
		if q.unit == "" && unit == "1" {
			row[1].Text += " of the supply"
			row[2].Text = quantity.Uncertain(m.Value*w.Supply, m.Uncertainty*w.Supply, quantity.Volt)
		}
		t.Rows = append(t.Rows, row)
		s.Records = append(s.Records, Record{Kind: "waveform", Name: q.key, Unit: unit, Value: &m.Value, Uncertainty: &m.Uncertainty})
	}
	if g := w.LeakConductance; g != nil {
		t.Rows = append(t.Rows, cells("leakage, 95 % limits", leakLimits(g), ""))
		s.Records = append(s.Records, Record{Kind: "waveform", Name: "leak_conductance", Unit: "S", Value: &g.Value, Uncertainty: &g.Uncertainty, Low: &g.Interval95[0], High: &g.Interval95[1]})
	}
	s.table(t, Always)
	s.say(Sentence, waveLead(w))
	s.points(w.Notes...)
	return s
}

// leakLimits are the resistances across the capacitor that a conductance leaves.
func leakLimits(g *compare.Conductance) string {
	least := quantity.Format(1/g.Interval95[1], quantity.Ohm)
	if g.Interval95[0] > 0 {
		return least + " … " + quantity.Format(1/g.Interval95[0], quantity.Ohm)
	}
	return "none, or above " + least
}

// waveLead says what a waveform's numbers rest on.
func waveLead(w *compare.Waveform) string {
	runs := quantity.Plural(w.Cycles, "pair") + " of charge and discharge"
	if w.TauDischarge == nil {
		runs = quantity.Plural(w.Cycles, "charge")
	}
	text := fmt.Sprintf("%s, scattering by %s about the fitted curves. ", runs, quantity.Format(w.Residual, quantity.Volt))
	if w.ChannelScale == 0 && w.ChannelZero == 0 {
		return text + "The channel's scale and zero are not counted; the ratios are free of its scale."
	}
	if w.Unit != "V" {
		text += "Voltages are shares of the supply. "
	}
	return text + fmt.Sprintf("The channel's scale (%s), its zero (%s of the supply) and the supply's own limits are counted; the ratios are free of all but the zero.", quantity.Format(w.ChannelScale, quantity.Number), quantity.Format(w.ChannelZero, quantity.Number))
}

// runsOf are a waveform's runs in volts, with what stands beside its levels.
func runsOf(w *compare.Waveform) picture.Runs {
	volts := func(m *compare.Measured) float64 {
		if w.Unit == "1" {
			return m.Value * w.Supply
		}
		return m.Value
	}
	level := func(name string, m *compare.Measured) picture.Level {
		u := m.Uncertainty / m.Value * volts(m)
		return picture.Level{Value: volts(m), Expanded: 2 * math.Abs(u), Says: name + " " + quantity.Uncertain(volts(m), u, quantity.Volt)}
	}
	runs := picture.Runs{Upper: level("upper threshold", &w.Upper), Lower: level("lower threshold", &w.Lower),
		Charge: level("final voltage of the charge", &w.Asymptote), Discharge: level("final voltage of the discharge", w.DischargeAsymptote),
		TauCharge: w.TauCharge.Value, TauDischarge: w.TauDischarge.Value}
	if w.Supply > 0 {
		runs.Supply = picture.Level{Value: w.Supply, Says: "supply " + quantity.Format(w.Supply, quantity.Volt)}
	}
	return runs
}

// chargeLine is a charge in one line.
func chargeLine(c *compare.Charge) string {
	return fmt.Sprintf("%s: the charge of a capacitor, no pulses; time constant %s, final voltage %s", c.Source,
		quantity.PlusMinus(c.Tau.Value, c.Tau.Uncertainty, quantity.Second), quantity.PlusMinus(c.Final.Value, c.Final.Uncertainty, quantity.Volt))
}

// charge lists what one charge shows.
func charge(c *compare.Charge, i int) Section {
	s := Section{ID: fmt.Sprint("charge-", i+1), Heading: "Charge"}
	t := &Table{Caption: "± is one standard uncertainty.", Columns: []Column{{}, {Head: "fitted, standard uncertainty", Number: true}, {Head: "relative", Number: true}}}
	for _, q := range []struct {
		key, name string
		of        *compare.Measured
		unit      quantity.Unit
		letter    string
	}{
		{"tau", "time constant", &c.Tau, quantity.Second, "s"},
		{"final_voltage", "final voltage", &c.Final, quantity.Volt, "V"},
		{"start_voltage", "voltage where the fit begins", &c.Start, quantity.Volt, "V"},
	} {
		t.Rows = append(t.Rows, cells(q.name, quantity.PlusMinus(q.of.Value, q.of.Uncertainty, q.unit), quantity.Relative(q.of.Uncertainty/math.Abs(q.of.Value))))
		s.Records = append(s.Records, Record{Kind: "charge", Name: q.key, Unit: q.letter, Value: &q.of.Value, Uncertainty: &q.of.Uncertainty, Detail: c.Source})
	}
	s.table(t, Always)
	s.say(Sentence, fmt.Sprintf("One exponential run from %s on, %s, scattering by %s about it. The channel's scale and zero are not counted; the time constant is free of both. With a known resistor R its capacitance is the time constant over R, leakage left aside.",
		quantity.Format(c.Begin, quantity.Second), quantity.Plural(c.Tau.Count, "point"), quantity.Format(c.Residual, quantity.Volt)))
	return s
}
