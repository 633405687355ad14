// Package waveform fits the timing capacitor's own voltage, seen on a channel beside the output: an exponential run
// toward one asymptote while it charges, and toward another while it discharges, by nonlinear least squares.
// Both thresholds are where the two runs meet, so the delay between capacitor and output does not enter. Of a single pulse
// the charge alone is fitted, from the output's rise to its fall.
package waveform

import (
	"errors"
	"fmt"
	"math"

	"offbeat/acquire"
	"offbeat/fit"
	"offbeat/fit/measure"
	"offbeat/fit/waveform/lsq"

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

// Index of a quantity in Result.Covariance.
const (
	TauCharge = iota
	TauDischarge
	Upper
	Lower
	Asymptote
	DischargeAsymptote
	quantities
)

// Result is what the capacitor's waveform shows. Time constants in seconds by the instrument's clock, the rest in volts.
type Result struct {
	TauCharge, TauDischarge fit.Estimate
	Upper, Lower            fit.Estimate // where the runs meet
	Asymptote               fit.Estimate // where the charge is heading
	DischargeAsymptote      fit.Estimate
	Covariance              *mat.SymDense    // of the six, in the order of the indices
	Cycles                  int              // pairs of segments fitted
	Residual                float64          // V, standard deviation about the fitted runs
	Inverted                bool             // the capacitor charges while the output is low
	Single                  bool             // one pulse a trigger: of the discharge nothing is known, Lower is where the charge starts
	Measurement             *fit.Measurement // of the output
	Notes                   []string
}

// Sentinels that Fit's errors wrap.
var (
	ErrChannel = errors.New("no capacitor channel")
	ErrCurve   = errors.New("no exponential runs")
)

const (
	usable   = 0.3  // an interval this far from the mean, relative to it, is no sound segment
	guard    = 0.01 // share of a segment left out at either end, where the turn lies
	guardMin = 1    // and at least this many samples
	fewest   = 8    // samples a segment must keep
	most     = 200  // points kept of a segment; more are averaged in groups
	segments = 200  // most segments of a kind
)

// Fit reads a capture of output and capacitor to its end. Every error is an *acquire.Error.
func Fit(c *acquire.Capture, opt Options) (*Result, error) {
	if opt.Cap == 0 {
		opt.Cap = 1
	}
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
		return single(c, m, charge)
	}
	if len(charge) < 1 || len(discharge) < 1 {
		return nil, fault(c, "no whole charge and discharge of the capacitor was found", fmt.Sprintf("segments of at least %d samples between the output's edges", fewest), ErrCurve)
	}
	r := &Result{Measurement: m, Inverted: inverted, Cycles: min(len(charge), len(discharge))}
	if err := r.solve(c, charge, discharge); err != nil {
		return nil, err
	}
	if inverted {
		r.Notes = append(r.Notes, "the capacitor charges while the output is low")
	}
	r.count()
	return r, nil
}

// count notes that the runs are few.
func (r *Result) count() {
	if r.Cycles < minClusters {
		r.Notes = append(r.Notes, fmt.Sprintf("only %d runs of a kind: their scatter from cycle to cycle is poorly known", r.Cycles))
	}
}

func fault(c *acquire.Capture, what, expect string, cause error) error {
	return &acquire.Error{File: c.Source, What: what, Expect: expect, Err: cause}
}

const bent = "a bend toward an asymptote; see that the channels are not exchanged"

// solve fits both kinds of run and finds where they meet.
func (r *Result) solve(c *acquire.Capture, charge, discharge []segment) error {
	up, err := fitRuns(charge)
	if err != nil {
		return fault(c, "the capacitor's charge does not fit an exponential run: "+err.Error(), bent, ErrCurve)
	}
	down, err := fitRuns(discharge)
	if err != nil {
		return fault(c, "the capacitor's discharge does not fit an exponential run: "+err.Error(), bent, ErrCurve)
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
		return fault(c, "the charging and the discharging run do not meet", "a capacitor that turns at two thresholds", ErrCurve)
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

// runs is one kind of run fitted over all its segments.
type runs struct {
	p               []float64 // asymptote, amplitude, tau
	covariance      [][]float64
	square, freedom float64 // V², of single samples
}

// minClusters is the number of segments from which on their own scatter is trusted.
const minClusters = 8

// fitRuns fits one asymptote, amplitude and time constant to all segments, first as if each began at the output's edge,
// then with what the residuals say of how far their beginnings lie off it.
func fitRuns(s []segment) (*runs, error) {
	p := newProblem(s)
	res, err := p.fit(start(s))
	if err != nil {
		return nil, err
	}
	if len(s) >= minClusters {
		p.loosen(res)
		if res, err = p.fit(res.P); err != nil {
			return nil, err
		}
	}
	r := &runs{p: res.P, covariance: res.Covariance, square: res.Sum, freedom: max(float64(p.size-3), 1)}
	if len(s) >= minClusters {
		r.cluster(s, p, res)
	}
	return r, nil
}

// problem is the fit of one kind of run.
type problem struct {
	s      []segment
	weight []float64
	size   int
	along  []float64 // for each sample, how a late beginning of its segment shows in it; unit length a segment; nil: not loosened
	damp   []float64 // for each segment, the share of that pattern taken out
}

func newProblem(s []segment) *problem {
	p := &problem{s: s}
	for _, g := range s {
		for _, n := range g.n {
			p.weight = append(p.weight, math.Sqrt(n))
		}
	}
	p.size = len(p.weight)
	return p
}

func (p *problem) fit(start []float64) (*lsq.Result, error) {
	pr := lsq.Problem{Size: p.size, Positive: []bool{false, false, true}, Residual: p.residual, Jacobian: p.jacobian}
	res, err := lsq.Fit(pr, start, lsq.Settings{Iterations: 500})
	if err == nil && res.Status != lsq.Settled {
		err = errors.New(res.Status.String())
	}
	return res, err
}

func (p *problem) residual(q, r []float64) {
	i := 0
	for _, g := range p.s {
		for k, t := range g.t {
			r[i] = p.weight[i] * (g.v[k] - q[0] - q[1]*math.Exp(-t/q[2]))
			i++
		}
	}
	p.whiten(func(i int) *float64 { return &r[i] })
}

func (p *problem) jacobian(q []float64, j [][]float64) {
	i := 0
	for _, g := range p.s {
		for _, t := range g.t {
			e := math.Exp(-t / q[2])
			j[i][0], j[i][1], j[i][2] = -p.weight[i], -p.weight[i]*e, -p.weight[i]*q[1]*e*t/(q[2]*q[2])
			i++
		}
	}
	for k := range 3 {
		p.whiten(func(i int) *float64 { return &j[i][k] })
	}
}

// whiten takes out of each segment the part of the pattern that its uncertain beginning makes common: with it, the
// samples of a segment are equally scattered and independent again.
func (p *problem) whiten(at func(i int) *float64) {
	if p.along == nil {
		return
	}
	i := 0
	for k, g := range p.s {
		dot := 0.0
		for n := range g.t {
			dot += p.along[i+n] * *at(i + n)
		}
		for n := range g.t {
			*at(i + n) -= p.damp[k] * dot * p.along[i+n]
		}
		i += len(g.t)
	}
}

// loosen estimates from the residuals by how much the segments begin late or early (edges fall between samples, and
// thresholds wander), as a random shift of variance s² against the samples' noise σ².
func (p *problem) loosen(res *lsq.Result) {
	r := make([]float64, p.size)
	p.residual(res.P, r)
	along := make([]float64, p.size)
	norms, dots := make([]float64, len(p.s)), make([]float64, len(p.s))
	var inside, freedom, shift, expected float64
	i := 0
	for k, g := range p.s {
		for n, t := range g.t {
			along[i+n] = p.weight[i+n] * math.Exp(-t/res.P[2])
			norms[k] += along[i+n] * along[i+n]
		}
		norm := math.Sqrt(norms[k])
		for n := range g.t {
			along[i+n] /= norm
			dots[k] += along[i+n] * r[i+n]
			inside += r[i+n] * r[i+n]
		}
		inside -= dots[k] * dots[k]
		freedom += float64(len(g.t) - 1)
		i += len(g.t)
	}
	noise := inside / max(freedom-2, 1)
	for k := range p.s {
		shift += dots[k] * dots[k] / norms[k]
		expected += noise / norms[k]
	}
	variance := max(shift-expected, 0) / float64(len(p.s)-1)
	if variance == 0 || noise == 0 {
		return
	}
	p.along, p.damp = along, make([]float64, len(p.s))
	for k := range p.s {
		p.damp[k] = 1 - 1/math.Sqrt(1+variance*norms[k]/noise)
	}
}

// cluster widens the covariance by how the segments differ from each other as wholes: a threshold that wanders moves
// all samples of a segment together. It is B M B, where B = (J'J)^-1 and M sums the squares of each segment's J'r
// (Liang and Zeger 1986), with n/(n-1); the larger of the two variances counts.
func (r *runs) cluster(s []segment, p *problem, res *lsq.Result) {
	resid := make([]float64, p.size)
	p.residual(res.P, resid)
	var m, b [3][3]float64
	i := 0
	for _, g := range s {
		var sum [3]float64
		for range g.t {
			for k := range sum {
				sum[k] += res.Jacobian[i][k] * resid[i]
			}
			i++
		}
		for k := range sum {
			for l := range sum {
				m[k][l] += sum[k] * sum[l]
			}
		}
	}
	v := res.Residual * res.Residual
	if v == 0 {
		return
	}
	var bm [3][3]float64
	for k := range b {
		for l := range b {
			b[k][l] = res.Covariance[k][l] / v
		}
	}
	for k := range b {
		for l := range b {
			for n := range b {
				bm[k][l] += b[k][n] * m[n][l]
			}
		}
	}
	wide := make([][]float64, 3)
	scale := float64(len(s)) / float64(len(s)-1)
	trace := [2]float64{}
	for k := range wide {
		wide[k] = make([]float64, 3)
		for l := range wide[k] {
			for n := range b {
				wide[k][l] += scale * bm[k][n] * b[n][l]
			}
		}
		trace[0] += wide[k][k] / res.Covariance[k][k]
		trace[1]++
	}
	if trace[0] > trace[1] {
		r.covariance = wide
	}
}

// start guesses a run from the first segment's two ends and middle: three equidistant points of an exponential.
func start(s []segment) []float64 {
	g := s[0]
	third := max(len(g.t)/5, 1)
	mean := func(from int) (t, v float64) {
		for i := from; i < from+third; i++ {
			t += g.t[i] / float64(third)
			v += g.v[i] / float64(third)
		}
		return t, v
	}
	t0, a := mean(0)
	_, b := mean((len(g.t) - third) / 2)
	t2, c := mean(len(g.t) - third)
	q := (c - b) / (b - a)
	if !(q > 0.02 && q < 0.98) { // no bend to be seen, or all of it gone
		q = 0.5
	}
	tau := -(t2 - t0) / 2 / math.Log(q)
	amplitude := (a - b) / (1 - q) // at t0
	return []float64{a - amplitude, amplitude * math.Exp(t0/tau), tau}
}
