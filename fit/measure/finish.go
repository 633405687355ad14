package measure

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/gonum/floats/scalar"

	"offbeat/acquire"
	"offbeat/acquire/quantity"
	"offbeat/fit"
	"offbeat/fit/budget"
	"offbeat/fit/change"
	"offbeat/fit/noise"
	"offbeat/fit/stability"
	"offbeat/fit/steady"
	"offbeat/fit/train"
)

// finish fits the train and fills the measurement; where the train changes, the stretches between too.
func (r *run) finish() (*fit.Measurement, error) {
	scale := 1.0 // edges to seconds
	if r.uniform {
		scale = r.c.Step
	}
	fitted := r.fittedEdges()
	r.cut(&fitted)
	k := r.knowledge(scale, &fitted)
	if err := r.unsteady(scale); err != nil {
		return nil, err
	}
	t := r.train.Record()
	if r.c.Kind == acquire.Transitions && k.Lattice.Cell > 0 {
		t = r.once(t, k.Lattice.Cell)
	}
	var shots change.Shots
	if r.opt.SinglePulse {
		shots = shotsOf(t, leastCells*k.Lattice.Cell)
		t = t.Without(shots.Odd)
	}
	m, err := r.estimate(t, k, &fitted, scale)
	if err != nil {
		return nil, err
	}
	m.Faults = r.train.Faults
	m.Faults.Runts = r.find.Runts
	m.Faults.Partial = 2
	m.Notes = append(append(r.notes, m.Notes...), r.remarks(m)...)
	if m.Shots = r.opt.SinglePulse; m.Shots {
		return m, r.differ(m, shots, k, &fitted, scale)
	}
	if err := r.stretches(m, t, k, &fitted, scale); err != nil {
		return nil, err
	}
	r.lacks(m, scale)
	return m, nil
}

// leastCells are how many sample intervals single pulses differ by at least: of two edges each may lie anywhere in its own.
const leastCells = 2

// shotsOf tests the single pulses of a record that holds them all, but for those that its ends cut; they are told by their place among
// its cycles.
func shotsOf(t *train.Record, least float64) change.Shots {
	var h []float64
	var at []int
	for i, c := range t.Cycles {
		if c.N != 1 {
			return change.Shots{}
		}
		if x := c.Fall - c.Rise; !math.IsNaN(x) {
			h, at = append(h, x), append(at, i)
		}
	}
	s := change.OfShots(h, least)
	for i, k := range s.Odd {
		s.Odd[i] = at[k]
	}
	if s.Jump > 0 {
		s.Jump = at[s.Jump]
	}
	if s.Back > 0 {
		s.Back = at[s.Back]
	}
	return s
}

// differ says how single pulses differ: those unlike the others, a slope, or a jump with what lies on either side of it.
func (r *run) differ(m *fit.Measurement, shots change.Shots, k noise.Known, fitted *fittedEdges, scale float64) error {
	m.Moves.Odd = len(shots.Odd) + r.train.Long
	if mean := m.High.Value / scale; shots.Slope {
		m.Moves.By, m.Moves.Uncertainty = shots.By/mean, shots.Uncertainty/mean
		if m.Moves.Slight = !(math.Abs(m.Moves.By) > warmth); m.Moves.Slight {
			m.Notes = append(m.Notes, m.Moves.Text(m.Subject()))
		}
	}
	if shots.Jump == 0 {
		return nil
	}
	t := r.train.Record()
	places := []float64{math.Inf(-1), t.Cycles[shots.Jump].Rise}
	if shots.Back > 0 {
		places = append(places, t.Cycles[shots.Back].Rise)
	}
	t = t.Without(shots.Odd)
	for i, from := range places {
		to := math.Inf(1)
		if i+1 < len(places) {
			to = places[i+1]
		}
		one, err := r.estimate(t.Part(from, to), k, fitted, scale)
		if err != nil {
			return err
		}
		if m.Stretches = append(m.Stretches, one); i > 0 {
			before, sign := m.Stretches[i-1].High.Value, float64(3-2*i) // up, and down again
			m.Changes = append(m.Changes, fit.Change{Time: r.time(from, scale), Before: before, After: one.High.Value,
				By: sign * shots.By * scale / before, Uncertainty: shots.Uncertainty * scale / before})
		}
	}
	return nil
}

// stopped is how many periods without a pulse at the record's end say that the output has stopped (common practice).
const stopped = 4

// severalShort are more than one disturbance makes (common practice).
const severalShort = 3

// lacks says which pulses of a train are not there. Edges that a list lacks may have been lost on their way,
// unless they do so in a regular order.
func (r *run) lacks(m *fit.Measurement, scale float64) {
	if silent := r.train.Silent(r.end) * scale; m.Cycles > 1 && silent > stopped*m.Period().Value {
		m.Moves.Stops = silent
	}
	if few := map[bool]int{true: 1}[r.c.Kind == acquire.Transitions]; r.train.OddGaps > few && r.judged.Kind != steady.Bursts {
		m.Moves.Long = r.train.OddGaps
	}
	if r.train.Short >= severalShort {
		m.Moves.Short = r.train.Short
	}
	if r.train.Misses || r.c.Kind != acquire.Transitions && (m.Faults.Dropped > r.train.OddGaps && !r.train.Trimmed() || r.train.OddGaps == 0) {
		m.Moves.Missing = m.Faults.Dropped
	}
}

// stretches adds what lies between the jumps of a train, and how it moves where it has none, or none that is told.
func (r *run) stretches(m *fit.Measurement, t *train.Record, k noise.Known, fitted *fittedEdges, scale float64) error {
	parts, found := r.parts(k.Lattice.Cell), r.found
	var all []*fit.Measurement
	for _, s := range parts {
		one, err := r.estimate(t.Part(s.From, s.To), k, fitted, scale)
		if err == nil && !(one.Low.Value > 0 && one.High.Value > 0) {
			err = r.few(t)
		}
		if err != nil && len(r.train.Paces()) > 1 {
			return err
		} else if err != nil {
			all = nil // too short to be measured by itself
			break
		}
		all = append(all, one)
	}
	for i := 1; i < len(all); i++ {
		before, after, size := all[i-1].Period(), all[i].Period(), found.Sizes[i-1].Over(all[i-1].Period().Value/scale)
		if size == (change.Size{}) {
			ratio := after.Value / before.Value
			size = change.Size{By: ratio - 1, Uncertainty: ratio * math.Hypot(before.Uncertainty/before.Value, after.Uncertainty/after.Value)}
		}
		at := r.time((parts[i-1].To+parts[i].From)/2, scale)
		m.Changes = append(m.Changes, fit.Change{Time: at, Before: before.Value, After: after.Value, By: size.By, Uncertainty: size.Uncertainty})
	}
	byHum := found.Course == change.Wanders && (m.Slow.Hum > 0 || m.Slow.Amplitude > 0) // which goes to and fro, too
	if found.Course != change.Steady && !byHum && (len(all) == 0 || found.Jumps > 0) {
		m.Moves = moves(&m.Series, found.Course == change.Wanders, r.c.Step)
	}
	if len(m.Changes) > 0 && found.Jumps > 0 {
		m.Moves.Jumps, m.Moves.At = found.Jumps, m.Changes[0].Time
		if len(m.Changes) > 1 {
			m.Moves.Back = m.Changes[1].Time
		}
		if m.Moves.Jumps < even {
			all, m.Changes = nil, nil
		} else {
			m.Moves.By, m.Moves.Uncertainty, m.Moves.Slight = m.Changes[0].By, m.Changes[0].Uncertainty, false
		}
	}
	if m.Stretches, m.Alike = all, found.Alike && len(all) > 0; len(all) > 0 {
		m.Notes = append([]string{r.changed(m)}, m.Notes...)
	} else if m.Moves.Slight {
		m.Notes = append(m.Notes, m.Moves.Text(m.Subject()))
	}
	return nil
}

// moves says how far the period of a series moves that drifts, or wanders. One that wanders by little beside a straight line drifts, and
// is known by so much less.
func moves(s *fit.Series, wanders bool, cell float64) (m fit.Moves) {
	itself := func(t float64) float64 { return t }
	d, err := stability.FitDrift(s, itself, cell)
	if err != nil {
		return m
	}
	m = fit.Moves{By: d.Slope.Value * d.Range, Uncertainty: d.Slope.Uncertainty * d.Range}
	if wanders {
		lo, hi, below, above := math.Inf(1), 0.0, math.Inf(1), math.Inf(-1)
		for _, b := range stability.Blocks(s, itself, eighths, nil) {
			left := b.Period/d.Period.Value - d.Slope.Value*(b.At-d.Middle)
			lo, hi, below, above = min(lo, b.Period), max(hi, b.Period), min(below, left), max(above, left)
		}
		if bend := above - below; bend < slightBend*math.Abs(m.By) {
			m.Uncertainty = math.Hypot(m.Uncertainty, bend)
		} else {
			m = fit.Moves{By: hi/lo - 1, Wanders: true}
		}
	}
	m.Slight = !(math.Abs(m.By) > warmth)
	return m
}

// eighths are the stretches whose mean periods say how far one wanders. Temperature coefficients of 200 ppm/K make warmth of some ten
// kelvin: a period that moves no farther in a record is what a bench sees every day (common practice).
const (
	eighths    = 8
	warmth     = 2e-3
	slightBend = 0.2
	even       = 0.5 // probability of a jump from which on what lies on either side of it is measured
)

// changed says what lies between the changes.
func (r *run) changed(m *fit.Measurement) string {
	var b strings.Builder
	if m.Moves.Jumps > 0 {
		b.WriteString(m.Moves.Text(m.Subject()) + "; if it jumps, it has these times")
	} else {
		b.WriteString("intermittent: the times change inside the capture, and those stated for the whole are a mean that the board never had")
	}
	for i, s := range m.Stretches {
		to := "its end"
		if i < len(m.Changes) {
			to = quantity.Uncertain(m.Changes[i].Time, s.Period().Value/2, quantity.Second)
		}
		fmt.Fprintf(&b, "; to %s: high %s, low %s", to, quantity.PlusMinus(s.High.Value, s.High.Uncertainty, quantity.Second), quantity.PlusMinus(s.Low.Value, s.Low.Uncertainty, quantity.Second))
	}
	b.WriteString("; ± without the instrument clock's")
	if m.Alike {
		b.WriteString("; " + fit.AlikeText)
	}
	return b.String()
}

// estimate fits the times of a train or of a part of it.
func (r *run) estimate(t *train.Record, k noise.Known, fitted *fittedEdges, scale float64) (*fit.Measurement, error) {
	estimate := noise.Estimate
	one := r.opt.OneCycle && t.Whole < 2 && t.Highs > 0 && t.Lows > 0
	if r.opt.SinglePulse || one {
		estimate = noise.EstimateSingle
	}
	res, err := estimate(t, k)
	if err != nil {
		return nil, r.few(t)
	}
	if r.opt.Channel < len(r.c.Channels) {
		if r.levels.Unit = r.c.Channels[r.opt.Channel].Unit; r.levels.Unit == "" && r.c.Kind == acquire.Samples {
			r.levels.Unit = fit.OwnUnit
		}
	}
	m := &fit.Measurement{Source: r.c.Source, Levels: r.levels.Levels, Clock: r.opt.ClockLimit, Cycles: t.Whole}
	if one {
		m.Notes = []string{"one whole cycle: its uncertainty has no type A part, and how far the times scatter from cycle to cycle is not known"}
	}
	rows := make([]budget.Row, 0, 8)
	for _, row := range res.Rows {
		rows = append(rows, row.Scale(scale*scale))
	}
	m.High = fit.Estimate{Value: res.High * scale, Count: t.Highs}
	m.Low = fit.Estimate{Value: res.Low * scale, Count: t.Lows}
	if r.c.Kind == acquire.Samples {
		cell := max(k.Lattice.Cell, 1e-300)
		interpolated := 1 - res.ByCells
		area := cell * cell
		jitter := [2]float64{(k.White[0] + res.White*res.White) / area, (k.White[1] + res.White*res.White) / area}
		bent, row := r.curvature(interpolated, (res.High+res.Low)/cell, res.Step*res.Step/area, jitter, fitted)
		rows = append(rows, row.Scale(r.c.Step*r.c.Step))
		late, more := r.settle(fitted, cell, interpolated)
		for _, row := range more {
			rows = append(rows, row.Scale(scale*scale))
		}
		shift := bent*r.c.Step + late*scale
		m.High.Value += shift
		m.Low.Value -= shift
	}
	if err := r.finer(m); err != nil {
		return nil, err
	}
	m.Slow = res.Slow
	if j := &r.judged; j.Modulation.Amplitude > 0 && !(j.Modulation.Mains && m.Slow.Hum > 0) {
		m.Slow.Modulation = j.Modulation
		rows = append(rows, j.Row(res.High, res.Low).Scale(scale*scale))
	}
	rows = append(rows, r.typeB(m)...)
	hh, hl, ll := budget.Sum(rows)
	if !r.opt.SinglePulse && !one {
		m.Walk = walk(res, scale, hh+2*hl+ll)
	}
	m.High.Uncertainty, m.Low.Uncertainty, m.Covariance = math.Sqrt(hh), math.Sqrt(ll), hl
	m.Freedom = freedom(rows, res.ByCells, m)
	if r.c.Rounded != acquire.OfInstants {
		for i := range rows {
			if rows[i].Name == noise.LatticeName {
				rows[i].Name = "rounding of each duration"
			}
		}
	}
	m.Budget = budget.Terms(rows)
	m.TimeUnit = r.c.TimeUnit
	if r.c.Kind != acquire.Transitions {
		m.Interval = r.c.Step
	}
	m.Series = r.series(t, scale)
	return m, nil
}

// manyFreedom is from how many degrees of freedom on Student's distribution is taken for the normal one.
const manyFreedom = 1000

// freedom are the effective degrees of freedom: of the times and the duty factor the edges less the three numbers fitted to them,
// of the period the cycles less one, since what adds up shows in those alone; more by as much as scatter does not make up the
// uncertainty. Rounding to samples counts as scatter as far as the answer rests on it alone: that there is no more, the same few
// edges say. (Welch-Satterthwaite has the square of that, JCGM 100 G.4.1, for components that do not hang on each other; what is
// stated beside the scatter rests on the same few cycles.) The tails of simulated captures of 2 to 10 cycles, with white noise and
// with a walk, are those of Student's distribution with these.
func freedom(rows []budget.Row, byCells float64, m *fit.Measurement) (f fit.Freedom) {
	var hh, hl, ll float64
	for _, r := range rows {
		k := byCells
		if r.Kind == "A" {
			k = 1
		} else if r.Name != noise.LatticeName {
			continue
		}
		hh, hl, ll = hh+k*r.High, hl+k*r.Both, ll+k*r.Low
	}
	of := func(n int, scatter, u float64) float64 {
		if !(scatter > 0) || !(u > 0) {
			return 0
		}
		k := u * u / scatter
		if v := max(float64(n), 1) * k; v < manyFreedom {
			return v
		}
		return 0
	}
	if m.Low.Count == 0 || m.Cycles == 0 {
		f.High = of(m.High.Count-1, hh, m.WithClock(m.High).Uncertainty)
		return f
	}
	n := m.High.Count + m.Low.Count - 3
	f.High, f.Low = of(n, hh, m.WithClock(m.High).Uncertainty), of(n, ll, m.WithClock(m.Low).Uncertainty)
	f.Period = of(m.Cycles-1, hh+2*hl+ll, m.Period().Uncertainty)
	t := (m.High.Value + m.Low.Value) * (m.High.Value + m.Low.Value)
	dh, dl := m.Low.Value/t, -m.High.Value/t
	f.Duty = of(n, dh*dh*hh+2*dh*dl*hl+dl*dl*ll, m.Duty().Uncertainty)
	return f
}

// walk says how the uncertainty of the period hangs on its noise; variance is the period's, in s².
func walk(res *noise.Result, scale, variance float64) fit.Walk {
	hh, hl, ll := budget.Sum(res.Rows)
	rest := variance - (hh+2*hl+ll)*scale*scale // what the edges themselves do not say
	u := func(v float64) float64 { return math.Sqrt(max(v*scale*scale+rest, 0)) }
	return fit.Walk{Probability: res.Walk, Without: u(res.WhiteAlone), With: u(res.WithWalk)}
}

func (r *run) series(t *train.Record, scale float64) fit.Series {
	s := fit.Series{Every: t.Series.Every}
	for i := range t.Series.Start {
		s.Start = append(s.Start, r.time(t.Series.Start[i], scale))
		s.High = append(s.High, t.Series.High[i]*scale)
		s.Low = append(s.Low, t.Series.Low[i]*scale)
	}
	return s
}

// finer refuses pulses that are finer than the rounding of the printed times, where nothing but those says how far
// apart the samples are: that rows lie evenly is known no better than to that rounding.
func (r *run) finer(m *fit.Measurement) error {
	if !r.c.Regressed {
		return nil
	}
	for _, p := range []struct {
		name string
		time fit.Estimate
	}{{"high", m.High}, {"low", m.Low}} {
		if p.time.Count > 0 && p.time.Value < r.c.TimeResolution {
			e := r.fault(fmt.Sprintf("the times are rounded to %.3g s, and the %s pulses of about %.2g s are shorter: edges finer than the rounding can't be timed", r.c.TimeResolution, p.name, p.time.Value),
				"times with more digits, or a stated interval", acquire.ErrTime).(*acquire.Error)
			e.Do = "export with more digits, or give --interval"
			return e
		}
	}
	return nil
}

// few explains why no time could be fitted.
func (r *run) few(t *train.Record) error {
	want := "at least two whole cycles; the first and last pulses are cut by the record's ends and do not count"
	if r.opt.SinglePulse {
		want = "at least one whole high pulse"
	}
	edges := r.train.Edges()
	if edges == 0 {
		what := "no edge was found"
		if r.c.Kind != acquire.Samples && r.train.Faults == (fit.Faults{}) {
			what = "the line is flat: its state never changes"
		}
		if l := r.levels; r.opt.LevelSet && (l.Reference <= l.Low || l.Reference >= l.High) {
			what = fmt.Sprintf("no edge was found: the reference level of %.4g V lies outside the state levels, %.4g and %.4g V", l.Reference, l.Low, l.High)
		}
		return r.fault(what, want, ErrFlat)
	}
	e := r.fault(fmt.Sprintf("only %d sound edges were found, %d whole cycles", edges, t.Whole), want, ErrFew).(*acquire.Error)
	e.Do = "record for longer, or at a slower sweep"
	switch f := r.train.Faults; {
	case t.Highs > 0 && t.Lows > 0:
		e.What = "one whole cycle was found"
		e.Do = "give --single to take that one (its scatter is then not known), or record for longer"
	case f.Glitches+f.Dropped+f.Unknown+r.train.OddGaps+r.find.Runts > edges:
		e.What = fmt.Sprintf("the pulses come in bursts or break off: %d sound edges, no two whole cycles in a row", edges)
		e.Do = "record one burst at a faster sweep, or give --single for the one pulse"
	case t.Highs > 0 && !r.opt.SinglePulse:
		e.Do = "record for longer, or give --single if one pulse is all there is (a monostable)"
	}
	return e
}

// knowledge gathers what is known of the edges' errors before the train is looked at, in edge units.
func (r *run) knowledge(scale float64, f *fittedEdges) noise.Known {
	k := noise.Known{Second: 1 / scale, Rounding: r.c.Rounded}
	fall, rise := r.train.Sharpness()
	if r.levels.Clipped {
		fall, rise = 1, 1 // their crossings are not interpolated
	}
	k.Lattice.Sharpness = [2]float64{fall, rise}
	cell := r.c.Step / scale
	if r.c.Kind == acquire.Transitions {
		cell = r.quantum()
	}
	k.Lattice.Cell = cell
	if r.c.Kind == acquire.Samples {
		k.Lattice.Places = r.uniform
		a := r.levels.Amplitude()
		q := r.levels.Quantum
		noise := max(r.levels.Noise*r.levels.Noise-q*q/12, 0)
		if r.levels.Clipped {
			noise = 0
		}
		for i, g := range k.Lattice.Sharpness {
			k.Lattice.Steep[i] = g > 0.5
			slope := a * g / cell // V per edge unit
			k.White[i] = 2.0 / 3 * noise / (slope * slope)
			if q > 0 {
				k.Lattice.Code[i] = a * g / q
				k.Lattice.Dither = noise / (q * q)
			}
			if f.ok[i] {
				info := a * a * f.of[i].Info
				k.White[i] = noise / info
				k.Lattice.Sharpness[i] = min(g, 0.5) // no rounding to the lattice is left
				if q > 0 {
					k.Lattice.Fitted[i] = info * cell * cell / (q * q)
				}
			}
		}
	}
	if !r.uniform {
		for i := range k.White {
			k.White[i] += r.c.TimeResolution * r.c.TimeResolution / 12
		}
	}
	return k
}

// typeB gives the components that repetition does not show.
func (r *run) typeB(m *fit.Measurement) []budget.Row {
	var rows []budget.Row
	if r.c.StepRelative > 0 {
		rows = append(rows, budget.Shift("interval of the time base", "B", "rectangular", r.c.StepRelative, m.High.Value, m.Low.Value))
	}
	if d := r.c.Digits; d[0]+d[2] > 0 {
		rows = append(rows, budget.Row{Name: "digits of frequency and duty factor", Kind: "B", Distribution: "rectangular", High: d[0], Both: d[1], Low: d[2]})
	}
	if m.Clock > 0 {
		row := budget.Shift("instrument clock", "B", "rectangular", m.Clock/math.Sqrt(3), m.High.Value, m.Low.Value)
		row.Clock = true
		rows = append(rows, row)
	}
	return rows
}

// remarks says what a user should know about the quality of the capture.
func (r *run) remarks(m *fit.Measurement) []string {
	var n []string
	if r.moved > 0 {
		n = append(n, fmt.Sprintf("the levels were revised %d times while reading", r.moved))
	}
	if r.levels.Clipped {
		n = append(n, "one level is clipped throughout: its voltage is not known, and the one shown only stands for it; edges there are placed in the middle of their sample interval")
	}
	n = append(n, r.cutOff()...)
	if !r.opt.SinglePulse && m.Cycles < 10 {
		n = append(n, fmt.Sprintf("only %d whole cycles: the noise is poorly known and its uncertainty is widened for it", m.Cycles))
	}
	if r.c.Kind != acquire.Transitions && r.c.Step > 0 {
		short := m.High.Value
		if m.Low.Count > 0 {
			short = min(short, m.Low.Value)
		}
		switch {
		case short < 2*r.c.Step:
			n = append(n, fmt.Sprintf("below two samples a pulse: another frequency may show in place of the true one; capture again at ten times the rate (%.3g a second), and see whether it stays", 10/r.c.Step))
		case short < 20*r.c.Step:
			n = append(n, fmt.Sprintf("poorly sampled: the shorter pulse has only %.1f samples", short/r.c.Step))
		}
	}
	if r.train.Chatter > 0 {
		n = append(n, fmt.Sprintf("%d transitions crossed the reference more than once (chatter)", r.train.Chatter))
	}
	if r.train.OddGaps > 0 {
		n = append(n, fmt.Sprintf("%d gaps in the train are no whole number of pulses", r.train.OddGaps))
	}
	if r.train.Truncated() {
		n = append(n, "the train breaks so often that only its first part was fitted")
	}
	return n
}

// matters is from which share of a sampling cell on that slopes take up it is said that the trace may be cut off.
const matters = 0.2

// cutOff says at which levels the trace may leave the screen.
func (r *run) cutOff() []string {
	f, at := r.fittedEdges(), [2]string{}
	for k, v := range [2]float64{r.levels.Low, r.levels.High} {
		at[k] = strconv.FormatFloat(scalar.Round(v, 6), 'g', 3, 64) + " V"
	}
	where := ""
	switch c := r.levels.Cut; {
	case max(r.sloped(&f, 0), r.sloped(&f, 1)) < matters:
	case c[0] > 0 && c[1] > 0:
		where = fmt.Sprintf("both levels stand, at %s and %s, without the noise of the slopes between them", at[0], at[1])
	case c[0] > 0:
		where = fmt.Sprintf("the low level stands at %s without the noise of the other", at[0])
	case c[1] > 0:
		where = fmt.Sprintf("the high level stands at %s without the noise of the other", at[1])
	}
	if where == "" {
		return nil
	}
	return []string{where + ": the trace may be cut off there, and the middle of the swing, where times are taken, lie elsewhere; record the whole swing, or give --level"}
}
