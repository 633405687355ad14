package course

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/fit"
	"offbeat/fit/change"
	"offbeat/fit/stability"
	"offbeat/fit/step"
	"offbeat/fit/train"
)

// Of says how a capture's times run: against the time where temperature is nil, else against that temperature in
// °C at a time in s. cell is the capture's sample interval in s. Where the capture is too short or its temperature does
// not change, only the uncertainty of the period is told; nil where it shows single pulses.
func Of(m *fit.Measurement, temperature func(t float64) float64, cell float64) *compare.Stability {
	if m.Low.Count == 0 {
		return nil
	}
	if m.Moves.Jumps > 0 { // or it drifts
		whole := *m
		whole.Changes, whole.Stretches = nil, nil
		m = &whole
	}
	out := &compare.Stability{Period: periodUncertainty(m), Moves: m.Moves, Shots: m.Shots, Changes: m.Changes}
	if m.Slow.Amplitude > 0 {
		slow := m.Slow.Modulation
		out.Modulation = &slow
	}
	z := temperature
	drift := compare.Drift{Against: "temperature", Unit: "1/K"}
	if z == nil {
		z = func(t float64) float64 { return t }
		drift = compare.Drift{Against: "time", Unit: "1/s"}
	}
	d, err := stability.FitDrift(&m.Series, z, cell)
	if err != nil {
		return out
	}
	drift.Value, drift.Uncertainty, drift.Range = d.Slope.Value, d.Slope.Uncertainty, d.Range
	if m.Moves.Wanders { // which makes slopes of its own
		drift.Uncertainty = math.Hypot(drift.Uncertainty, m.Moves.By/(math.Sqrt2*drift.Range))
	}
	drift.Seen = math.Abs(drift.Value) > compare.Seen*drift.Uncertainty
	drift.High, drift.Low, drift.Correlation = d.High, d.Low, d.Correlation
	out.EdgeNoise, out.PeriodNoise, out.Drift = d.White, d.Walk, drift
	if len(m.Stretches) > 1 { // over the whole the changes would pass for noise and for a drift
		out.EdgeNoise, out.PeriodNoise, out.Drift = compare.Measured{}, compare.Measured{}, compare.Drift{}
		if own, err := stability.FitDrift(&m.Stretches[m.Longest()].Series, z, cell); err == nil {
			out.EdgeNoise, out.PeriodNoise = own.White, own.Walk
		}
	}
	if d.Rounded > lattice {
		out.Rounding = &cell
	}
	out.Course = courseOf(m, d, z)
	allan(out, stability.Family(&m.Series))
	return out
}

// allan puts in the deviations of a family, and the kinds of noise that make their shape.
func allan(out *compare.Stability, family []stability.Point) {
	out.Course.Laws = append(out.Course.Laws, stability.Laws(family)...)
	for _, p := range family {
		a := compare.AllanPoint{Time: p.Time, Value: p.Allan, Terms: p.Terms}
		square := distuv.ChiSquared{K: p.Freedom}
		for i, q := range []float64{0.975, 0.025} { // NIST SP 1065, 5.3
			a.Interval[i] = p.Allan * math.Sqrt(p.Freedom/square.Quantile(q))
		}
		if h := p.Hadamard; !math.IsNaN(h) {
			a.Hadamard = &h
		}
		out.Allan = append(out.Allan, a)
	}
}

// OfStretches says how the period runs over stretches of about the same length, heard one after the other: a straight line
// through them, of equal weight, with the uncertainty that their scatter leaves it (JCGM 100 H.3). nil where they are fewer
// than eight.
func OfStretches(at []float64, stretches []*fit.Measurement) *compare.Stability {
	if len(at) < leastStretches {
		return nil
	}
	periods := make([]float64, len(at))
	for i, m := range stretches {
		periods[i] = m.Period().Value
	}
	mean, middle := stat.Mean(periods, nil), stat.Mean(at, nil)
	intercept, slope := stat.LinearRegression(at, periods, nil, false)
	var left, over float64
	for i, t := range at {
		left += math.Pow(periods[i]-intercept-slope*t, 2)
		over += (t - middle) * (t - middle)
	}
	if !(mean > 0 && over > 0) {
		return nil
	}
	out := &compare.Stability{Course: &compare.Course{Period: mean, Middle: middle}}
	y := make([]float64, len(at))
	for i, m := range stretches {
		y[i] = periods[i]/mean - 1
		out.Course.Blocks = append(out.Course.Blocks, compare.Block{At: at[i], Period: compare.Measured{Value: periods[i], Uncertainty: m.Period().Uncertainty, Count: m.Cycles}})
	}
	d := compare.Drift{Against: "time", Unit: "1/s", Value: slope / mean, Uncertainty: math.Sqrt(left/float64(len(at)-2)/over) / mean, Range: at[len(at)-1] - at[0]}
	d.Seen = math.Abs(d.Value) > compare.Seen*d.Uncertainty
	out.Drift = d
	counts := make([]float64, len(at))
	for i, m := range stretches {
		counts[i] = float64(m.Cycles)
	}
	places, sizes := change.In(at, periods, counts)
	between := func(from, to int) float64 { return stat.Mean(periods[from:to], counts[from:to]) }
	places = append(append([]int{0}, places...), len(at))
	for i, size := range sizes {
		from, k, to := places[i], places[i+1], places[i+2]
		out.Changes = append(out.Changes, jump((at[k-1]+at[k])/2, between(from, k), between(k, to), size))
	}
	allan(out, stability.FamilyOf(y, d.Range/float64(len(at)-1)))
	return out
}

// jump is one of the period, of a size in s.
func jump(at, before, after float64, size change.Size) fit.Change {
	size = size.Over(before)
	return fit.Change{Time: at, Before: before, After: after, By: size.By, Uncertainty: size.Uncertainty}
}

// OfCycles finds the changes of the period among single cycles of which the edges are rounded to cell, in s; none that a period which
// wanders or drifts would make as well.
func OfCycles(cycles []train.Cycle, cell float64) (out []fit.Change) {
	found := change.Find(cycles, cell)
	if found.Alike || found.Jumps > 0 {
		return nil
	}
	parts, before := found.Stretches, math.NaN()
	for i, p := range parts {
		var periods []float64
		for k := 1; k < len(cycles); k++ {
			if a, b := &cycles[k-1], &cycles[k]; a.Rise >= p.From && b.Fall <= p.To && !b.Start {
				periods = append(periods, b.Rise-a.Rise)
			}
		}
		after := stat.Mean(periods, nil)
		if i > 0 {
			out = append(out, jump((parts[i-1].To+p.From)/2, before, after, found.Sizes[i-1]))
		}
		before = after
	}
	return out
}

// leastStretches make a line whose uncertainty means something.
const leastStretches = 8

// courseBlocks is in how many blocks a capture is shown.
const courseBlocks = 24

// courseOf takes the period of a capture block by block. Where it changes inside, the noise is that of its longest stretch.
func courseOf(m *fit.Measurement, d stability.Drift, z func(t float64) float64) *compare.Course {
	out := &compare.Course{Period: d.Period.Value, Middle: d.Middle}
	var breaks []float64
	for _, c := range m.Changes {
		breaks, z = append(breaks, c.Time), func(t float64) float64 { return t }
	}
	if len(m.Stretches) > 0 {
		if alone, err := stability.FitDrift(&m.Stretches[m.Longest()].Series, z, 0); err == nil {
			d = alone
		}
	}
	for _, b := range stability.Blocks(&m.Series, z, courseBlocks, breaks) {
		u := b.Uncertainty(&d)
		out.Blocks = append(out.Blocks, compare.Block{At: b.At, Period: compare.Measured{Value: b.Period, Uncertainty: u, Count: b.Cycles}})
	}
	return out
}

// periodUncertainty says how the uncertainty of the period hangs on its noise, the clock's term included; nil where that
// was not sought.
func periodUncertainty(m *fit.Measurement) *compare.PeriodUncertainty {
	if m.Walk == (fit.Walk{}) {
		return nil
	}
	u := func(u float64) float64 {
		return m.WithClock(fit.Estimate{Value: m.Period().Value, Uncertainty: u}).Uncertainty
	}
	s := &compare.PeriodUncertainty{White: u(m.Walk.Without), Walk: u(m.Walk.With), Probability: m.Walk.Probability}
	s.Hum, s.Swing, s.HumUnseen = m.Slow.Hum, m.Slow.Swing, m.Slow.HumUnseen
	if m.Slow.Flicker+m.Slow.Wander > slowSeen {
		s.Flicker, s.Wander = m.Slow.Flicker, m.Slow.Wander
	}
	return s
}

// slowSeen is the probability from which on flicker or a wandering period is told.
const slowSeen = 0.05

// lattice is from when on edges count as rounded to the sample interval.
const lattice = 0.7

// A part explains a drift where the drifts of both times are no farther from what it alone would do than one time in a
// hundred by chance, and where its temperature coefficient would do it with a warming that a bench sees (common practice).
const (
	driftFit    = 0.01
	mostWarming = 40 // K
)

// Explained is how the times run over the first capture that changes inside, else over the first that tells a drift, else
// over the first, with the parts that would make a drift.
func Explained(d *fit.Design, captures []compare.Capture) *compare.Stability {
	at := slices.IndexFunc(captures, func(c compare.Capture) bool { return c.Stability != nil && len(c.Stability.Changes) > 0 })
	if at < 0 {
		at = slices.IndexFunc(captures, func(c compare.Capture) bool { return c.Stability != nil && c.Stability.Drift.Told() })
	}
	if at < 0 {
		at = slices.IndexFunc(captures, func(c compare.Capture) bool { return c.Stability != nil })
	}
	if at < 0 {
		return nil
	}
	out := *captures[at].Stability
	out.Drift.Causes = DriftCauses(d, &out.Drift)
	return &out
}

// DriftCauses names the parts that would make a drift by themselves, the plausible and best fitting first. A drift that
// does not stand out of its uncertainty has none.
func DriftCauses(d *fit.Design, drift *compare.Drift) []compare.DriftCause {
	if !drift.Seen {
		return nil
	}
	of := func(m compare.Measured) step.Step { return step.Step{Value: m.Value, Uncertainty: m.Uncertainty} }
	parts, err := step.Parts(d, of(drift.High), of(drift.Low), drift.Correlation)
	if err != nil {
		return nil
	}
	var out []compare.DriftCause
	for _, p := range parts {
		part := d.Part(p.Name)
		spread := cause.TempcoSpread(*part)
		c := compare.DriftCause{Part: p.Name, Value: p.Change, Uncertainty: p.Uncertainty, Fit: p.Fit,
			Tempco: [2]float64{part.Tempco - spread, part.Tempco + spread}}
		fits := p.Fit > driftFit
		if math.IsNaN(p.Fit) { // one time alone: every part explains it
			c.Fit, fits = 1, true
		}
		if drift.Against == "time" {
			warming := math.Abs(p.Change) * drift.Range / max(math.Abs(c.Tempco[0]), math.Abs(c.Tempco[1]))
			c.Warming = &warming
			c.Plausible = fits && warming < mostWarming
		} else {
			c.Plausible = fits && p.Change > c.Tempco[0]-2*p.Uncertainty && p.Change < c.Tempco[1]+2*p.Uncertainty
		}
		out = append(out, c)
	}
	slices.SortStableFunc(out, func(a, b compare.DriftCause) int {
		if a.Plausible != b.Plausible {
			return map[bool]int{true: -1, false: 1}[a.Plausible]
		}
		if a.Plausible && a.Warming != nil {
			return cmp.Compare(*a.Warming, *b.Warming) // the less it takes
		}
		return -cmp.Compare(a.Fit, b.Fit)
	})
	return out
}
