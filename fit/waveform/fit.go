// Package waveform fits the timing capacitor's own voltage, seen on a channel beside the output: an exponential run
// toward one asymptote while it charges, and toward another while it discharges, by nonlinear least squares.
// Both thresholds are where the two runs meet, so the delay between capacitor and output does not enter. Of a single pulse
// the charge alone is fitted, from the output's rise to its fall.
package waveform

import (
	"cmp"
	"fmt"
	"math"

	"offbeat/acquire"
	"offbeat/fit"
	"offbeat/fit/measure"

	"gonum.org/v1/gonum/mat"

	"offbeat/fit/budget"
)

// Options change the fit. The zero value is the default.
type Options struct {
	Measure measure.Options // how the output is measured
	Output  int             // index of the output's channel in Block.Value; default 0
	Cap     int             // index of the capacitor's channel; default 1 (0 counts as 1)
	Negated bool            // all channels were read with their sign turned, to invert the output: the capacitor's is turned back
}

// Fit reads a capture of output and capacitor to its end. Every error holds an *acquire.Error.
func Fit(c *acquire.Capture, opt Options) (*Result, error) {
	opt.Cap = cmp.Or(opt.Cap, 1)
	if c.Kind != acquire.Samples {
		return nil, fault(c, "the capture lists states, which show no capacitor's voltage", "both channels sampled in volts", ErrCurve)
	}
	keep := &keeper{c: c, out: opt.Output, cap: opt.Cap, sign: 1}
	if opt.Negated {
		keep.sign = -1
	}
	opt.Measure.Channel = opt.Output
	m, err := measure.Run(keep.capture(), opt.Measure)
	if err != nil {
		return nil, err
	}
	if keep.missing {
		return nil, fault(c, "the capture has no channel for the capacitor", "two channels, the output and the capacitor", ErrChannel)
	}
	charge, discharge, inverted := keep.segments(m)
	if len(charge) > 0 && len(discharge) > 0 && square(charge, discharge) {
		return nil, fault(c, "the capacitor's channel is too square: it jumps where the output does and stands still between", "a voltage that rises and falls in curves between two thresholds; see that the channels are not exchanged and that the probe sits on the timing capacitor", ErrCurve)
	}
	if opt.Measure.SinglePulse {
		if inverted { // what falls during the pulse: said by its name
			charge = discharge
		}
		return single(c, m, charge)
	}
	if len(charge) < 1 || len(discharge) < 1 {
		return nil, fault(c, "no whole charge and discharge of the capacitor was found", fmt.Sprintf("segments of at least %d samples between the output's edges", fewest), ErrCurve)
	}
	r := &Result{Measurement: m, Inverted: inverted, Cycles: min(len(charge), len(discharge))}
	if err := r.solve(c, charge, discharge); err != nil {
		return nil, err
	}
	r.Notes = append(r.Notes, keep.remarks()...)
	if inverted {
		r.Notes = append(r.Notes, "the capacitor charges while the output is low")
	}
	r.count()
	return r, nil
}

// solve fits both kinds of run and finds where they meet.
func (r *Result) solve(c *acquire.Capture, charge, discharge []segment) error {
	up, err := fitRuns(charge)
	if err != nil {
		return bent(c, r.Measurement, "the capacitor's charge does not fit an exponential run: "+err.Error(), bend)
	}
	down, err := fitRuns(discharge)
	if err != nil {
		return bent(c, r.Measurement, "the capacitor's discharge does not fit an exponential run: "+err.Error(), bend)
	}
	th, tl := r.Measurement.High, r.Measurement.Low
	if r.Inverted {
		th, tl = tl, th
	}
	r.Residual = math.Sqrt((up.square + down.square) / (up.freedom + down.freedom))
	inputs := mat.NewSymDense(8, nil)
	for i := range 3 {
		for k := i; k < 3; k++ {
			inputs.SetSym(i, k, up.covariance[i][k])
			inputs.SetSym(3+i, 3+k, down.covariance[i][k])
		}
	}
	inputs.SetSym(6, 6, th.Uncertainty*th.Uncertainty)
	inputs.SetSym(7, 7, tl.Uncertainty*tl.Uncertainty)
	inputs.SetSym(6, 7, r.Measurement.Covariance)
	x := append(append(append([]float64{}, up.p...), down.p...), th.Value, tl.Value)
	y, ok := meet(x)
	if !ok {
		return bent(c, r.Measurement, "the charging and the discharging run do not meet", "a capacitor that turns at two thresholds")
	}
	// Each input is moved by a small part of its own uncertainty (JCGM 100, 5.1.3 note 2).
	slope := mat.NewDense(quantities, 8, nil)
	for k := range x {
		h := 0.01*math.Sqrt(inputs.At(k, k)) + 1e-9*math.Abs(x[k])
		a, b := append([]float64{}, x...), append([]float64{}, x...)
		a[k], b[k] = x[k]+h, x[k]-h
		ya, _ := meet(a)
		yb, _ := meet(b)
		for i := range y {
			slope.Set(i, k, (ya[i]-yb[i])/(2*h))
		}
	}
	if r.Covariance, err = budget.Propagate(slope, inputs); err != nil {
		return err
	}
	for i, e := range [quantities]*fit.Estimate{&r.TauCharge, &r.TauDischarge, &r.Upper, &r.Lower, &r.Asymptote, &r.DischargeAsymptote} {
		*e = fit.Estimate{Value: y[i], Uncertainty: math.Sqrt(max(r.Covariance.At(i, i), 0)), Count: r.Cycles}
	}
	return nil
}

// meet turns the two runs (asymptote, amplitude at the output's edge, time constant; charge first) and the mean times
// of charge and discharge into the six quantities. A run is v = asymptote + amplitude exp(-t / tau).
func meet(x []float64) (y [quantities]float64, ok bool) {
	at := func(p []float64, t float64) float64 { return p[0] + p[1]*math.Exp(-t/p[2]) }
	up, down, th, tl := x[0:3], x[3:6], x[6], x[7]
	y[TauCharge], y[TauDischarge] = up[2], down[2]
	y[Asymptote], y[DischargeAsymptote] = up[0], down[0]
	var okUpper, okLower bool
	y[Upper], okUpper = crossing(func(s float64) (a, b float64) { return at(up, th+s), at(down, s) }, th)
	y[Lower], okLower = crossing(func(s float64) (a, b float64) { return at(down, tl+s), at(up, s) }, tl)
	return y, okUpper && okLower
}

// crossing finds the level at which two curves are equal near s = 0, within a quarter of the span, by bisection.
func crossing(f func(s float64) (a, b float64), span float64) (float64, bool) {
	lo, hi := -span/4, span/4
	d := func(s float64) float64 { a, b := f(s); return a - b }
	rising := d(hi) > d(lo)
	if d(lo)*d(hi) > 0 {
		return math.NaN(), false
	}
	for range 100 {
		m := (lo + hi) / 2
		if (d(m) > 0) == rising {
			hi = m
		} else {
			lo = m
		}
	}
	a, b := f((lo + hi) / 2)
	return (a + b) / 2, true
}
