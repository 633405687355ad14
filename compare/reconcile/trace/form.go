package trace

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/compare"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/predict"
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
	at := *typical
	at[circuit.Supply] = d.Supply.Value
	typical = &at
	sound := n.model(c, typical)
	if c.Has(circuit.LeakRatio) && !c.Bends {
		g := n.leak(c, d, typical, probe)
		if f.LeakConductance = g; g != nil && g.Value > compare.Seen*g.Uncertainty {
			f.Leak = &compare.Measured{Value: 1 / g.Value, Uncertainty: g.Uncertainty / sq(g.Value)}
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

// draws is how many boards and channels are drawn for the limits of a leak, which then lie within 0.3 % of probability.
const draws = 4000

// leak is what conductance across the capacitor, in S, beside the probe's keeps the charge short of where a typical board's heads.
// Its uncertainty is by drawing (JCGM 101): boards of the design, and the channel's scale and zero, rectangular, which are most of it.
func (n *Numbers) leak(c *circuit.Circuit, d *fit.Design, typical *circuit.Values, probe float64) *compare.Conductance {
	boards, err := predict.Draw(d, draws, 1)
	if err != nil {
		return nil // a design that does not run
	}
	of := func(v *circuit.Values, at float64) float64 { // at = full L / (R + L), so 1/L = (full/at - 1) / R
		return (n.model(c, v)[waveform.Asymptote]/at-1)/c.Charging(v) - probe
	}
	at, u := n.y[waveform.Asymptote], math.Sqrt(n.covariance.At(waveform.Asymptote, waveform.Asymptote))
	rng := rand.New(rand.NewPCG(2, 1))
	within := func(limit float64) float64 { return limit * (2*rng.Float64() - 1) }
	all := make([]float64, draws)
	for i := range boards {
		all[i] = of(&boards[i], (at+u*rng.NormFloat64()+within(n.zero))/(1+within(n.scale)))
	}
	slices.Sort(all)
	return &compare.Conductance{Value: of(typical, at), Uncertainty: stat.StdDev(all, nil), Interval95: nonNegative(all)}
}

// nonNegative is the 95 % interval of what cannot lie below zero, by its sorted draws: all of them where zero lies outside, else from
// zero to where 95 % of those above it lie below, or as many of a normal distribution's where next to none lies above.
func nonNegative(all []float64) [2]float64 {
	below, _ := slices.BinarySearch(all, 0)
	quantile := func(p float64, x []float64) float64 { return stat.Quantile(p, stat.LinInterp, x, nil) }
	switch n := len(all); {
	case below*40 < n:
		return [2]float64{quantile(0.025, all), quantile(0.975, all)}
	case (n-below)*40 > n:
		return [2]float64{0, quantile(0.95, all[below:])}
	}
	x, u := stat.MeanStdDev(all, nil)
	return [2]float64{0, max(x-u*distuv.UnitNormal.Quantile(0.05*distuv.UnitNormal.CDF(x/u)), 0)}
}

// Charge puts a charge by itself into the JSON's form.
func Charge(source string, c *waveform.Charge) compare.Charge {
	return compare.Charge{Source: source, Tau: c.Tau, Final: c.Final, Start: c.Start, Begin: c.Begin, Residual: c.Residual}
}
