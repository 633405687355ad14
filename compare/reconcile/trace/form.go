package trace

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/compare"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/waveform"
)

const Implausible = "the capacitor's voltage does not fit the supply: the attenuation of the channel's probe is set wrong, the channel is coupled for alternating voltage, or the node is another one; only what needs no scale and no zero of the channel is used"

// Waveform puts a waveform into the JSON's form, for one that no design judges: its voltages in volts, their
// uncertainty the fit's own, the channel's scale and zero not counted.
func Waveform(w *waveform.Result) *compare.Waveform {
	n := Numbers{supply: 1}
	y, c, err := n.of(w)
	if err != nil {
		return nil
	}
	copy(n.y[:], y.RawVector().Data)
	n.covariance = c
	f := n.form(c, w.Measurement.Clock)
	f.Unit, f.Cycles, f.Residual = "V", w.Cycles, w.Residual
	f.Notes = append(f.Notes, w.Notes...)
	return f
}

// Finding is the waveform with its voltages as ratios to the supply, the channel's and the supply's errors counted.
func (n *Numbers) Finding(supply fit.Reading, clock float64) *compare.Waveform {
	u := n.withChannel(n.scale, n.zero)
	if supply.Value > 0 {
		relative := max(supply.Standard, supply.Half/math.Sqrt(3)) / supply.Value
		for i := waveform.Upper; i <= waveform.DischargeAsymptote; i++ {
			for k := i; k <= waveform.DischargeAsymptote; k++ {
				u.SetSym(i, k, u.At(i, k)+sq(relative)*n.y[i]*n.y[k])
			}
		}
	}
	f := n.form(u, clock)
	f.Unit, f.Supply, f.ChannelScale, f.ChannelZero = "1", supply.Value, n.scale, n.zero
	if supply.Value == 0 {
		f.Unit = "V"
		for _, m := range []*compare.Measured{&f.Upper, &f.Lower, &f.Asymptote, f.DischargeAsymptote} {
			if m != nil {
				m.Value, m.Uncertainty = m.Value*n.supply, m.Uncertainty*n.supply
			}
		}
	}
	return f
}

// form writes the numbers with the covariance u; the ratios have the fit's own and the zero's, the clock joins the
// time constants.
func (n *Numbers) form(u *mat.SymDense, clock float64) *compare.Waveform {
	tau := func(i int) compare.Measured {
		x := math.Exp(n.y[i])
		return compare.Measured{Value: x, Uncertainty: x * math.Sqrt(u.At(i, i)+sq(clock)/3), Count: n.Cycles}
	}
	volt := func(i int) compare.Measured {
		return compare.Measured{Value: n.y[i], Uncertainty: math.Sqrt(u.At(i, i)), Count: n.Cycles}
	}
	ratio := func(a, b int) compare.Measured {
		q := n.y[a] / n.y[b]
		relative := u.At(a, a)/sq(n.y[a]) + u.At(b, b)/sq(n.y[b]) - 2*u.At(a, b)/(n.y[a]*n.y[b])
		return compare.Measured{Value: q, Uncertainty: math.Abs(q) * math.Sqrt(max(relative, 0)), Count: n.Cycles}
	}
	w := &compare.Waveform{TauCharge: tau(waveform.TauCharge),
		Upper: volt(waveform.Upper), Lower: volt(waveform.Lower), Asymptote: volt(waveform.Asymptote),
		LowerOverUpper: ratio(waveform.Lower, waveform.Upper), UpperOverAsymptote: ratio(waveform.Upper, waveform.Asymptote)}
	if !n.single {
		t, v := tau(waveform.TauDischarge), volt(waveform.DischargeAsymptote)
		w.TauDischarge, w.DischargeAsymptote = &t, &v
	}
	return w
}

// Faults read the asymptotes: what leak across the capacitor would keep the charge short of where the typical board
// heads, the probe's own conductance taken off, and what resistance of the discharge path would hold the discharge up.
func (n *Numbers) Faults(f *compare.Waveform, c *circuit.Circuit, d *fit.Design, typical *circuit.Values, probe float64) {
	if !n.Plausible || !c.Grounded() {
		return // a leak that does not lead to ground holds the discharge up as a weak discharge does
	}
	sound := n.model(c, typical)
	if c.Has(circuit.LeakRatio) && !c.Bends {
		// at = full L / (R + L), so 1/L = (full/at - 1) / R
		full, at, r := sound[waveform.Asymptote], f.Asymptote.Value, c.Charging(typical)
		u := math.Hypot(f.Asymptote.Uncertainty*full/at, n.unsure(c, d, typical)) / at
		g, gu := (full/at-1)/r, math.Hypot(u/r, (full/at-1)/r*unsureCharging(c, d, typical))
		g -= probe
		f.LeakConductance = &compare.Conductance{Value: g, Uncertainty: gu, Interval95: nonNegative(g, gu)}
		if g > compare.Seen*gu {
			f.Leak = &compare.Measured{Value: 1 / g, Uncertainty: gu / sq(g)}
		}
	}
	if f.DischargeAsymptote == nil {
		return
	}
	feed, fed := c.Feed()
	if rest, at, u := sound[waveform.DischargeAsymptote], f.DischargeAsymptote.Value, f.DischargeAsymptote.Uncertainty; fed && c.Has(circuit.WeakRatio) && at-rest > compare.Seen*u {
		// at = supply R / (R1 + R)
		r1 := typical[feed]
		f.DischargePath = &compare.Measured{Value: r1 * at / (1 - at), Uncertainty: r1 * u / sq(1-at)}
	}
}

// unsure is the standard uncertainty of where a sound board's charge heads, as a share of the supply, by the timer's terms.
func (n *Numbers) unsure(c *circuit.Circuit, d *fit.Design, typical *circuit.Values) float64 {
	priors, err := c.Beliefs(d)
	sum := 0.0
	for _, q := range priors {
		v := *typical
		v[q.Slot] += q.Deviation()
		sum += sq(n.model(c, &v)[waveform.Asymptote] - n.model(c, typical)[waveform.Asymptote])
	}
	if err != nil {
		return 0
	}
	return math.Sqrt(sum)
}

// unsureCharging is the relative standard uncertainty of the charging resistance, its parts rectangular in their tolerances.
func unsureCharging(c *circuit.Circuit, d *fit.Design, typical *circuit.Values) float64 {
	sum := 0.0
	for i, s := range c.Parts {
		if p := d.Part(s.Name); s.Kind == fit.Resistor && p != nil {
			v := *typical
			v[i] *= 1 + max(p.Minus, p.Plus)
			sum += sq(c.Charging(&v)/c.Charging(typical)-1) / 3
		}
	}
	return math.Sqrt(sum)
}

// nonNegative is the 95 % interval of what is measured as x with standard uncertainty u and cannot lie below zero: about x
// where zero lies outside, else from zero to where 95 % of the normal's part above zero lie below.
func nonNegative(x, u float64) [2]float64 {
	norm := distuv.UnitNormal
	if wide := norm.Quantile(0.975) * u; x > wide {
		return [2]float64{x - wide, x + wide}
	}
	// By the upper tail, which keeps its digits where little of the normal is left above zero.
	return [2]float64{0, max(x-u*norm.Quantile(0.05*norm.CDF(x/u)), 0)}
}

// Charge puts a charge by itself into the JSON's form.
func Charge(source string, c *waveform.Charge) compare.Charge {
	of := func(e fit.Estimate) compare.Measured {
		return compare.Measured{Value: e.Value, Uncertainty: e.Uncertainty, Count: e.Count}
	}
	return compare.Charge{Source: source, Tau: of(c.Tau), Final: of(c.Final), Start: of(c.Start), Begin: c.Begin, Residual: c.Residual}
}
