package reconcile

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/fit"
	"offbeat/fit/budget"
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
	"offbeat/fit/waveform"
)

// Unknown scale and zero, so large that what is left of the evidence is free of both.
const (
	anyScale = 30
	anyZero  = 30
)

// A channel shows the supply's own scale where the asymptotes lie within these shares of it. Outside, its probe's
// attenuation is set wrong, or it is coupled for alternating voltage.
var plausible = struct{ charge, discharge [2]float64 }{[2]float64{0.5, 1.25}, [2]float64{-0.15, 0.5}}

// shown are the capacitor's waveform as numbers: logarithms of both time constants, then four voltages as shares of
// the nominal supply, in the order of the waveform's indices.
type waveNumbers struct {
	y          [6]float64
	covariance *mat.SymDense // the fit's own
	supply     float64       // V, the divisor
	scale      float64       // relative limit of the channel's scale
	zero       float64       // limit of its zero, as a share of the supply
	plausible  bool          // scale and zero are those of a channel set right
	cycles     int           // behind them
	single     bool          // nothing is known of the discharge: its numbers are 0, their variances 1
}

// numbersOf takes waveforms of one setting as one: their mean, weighted with the inverse of their covariances. typical is the
// typical board: between two supplies a discharge heads for the lower one.
func numbersOf(d *fit.Design, all []*waveform.Result, supply float64, typical *circuit.Values) (waveNumbers, error) {
	n := waveNumbers{supply: supply}
	n.scale, n.zero = d.Channel()
	if n.supply == 0 {
		n.supply = all[0].Asymptote.Value
	}
	weight, sum := mat.NewSymDense(6, nil), mat.NewVecDense(6, nil)
	for _, w := range all {
		y, c, err := n.of(w)
		if err != nil {
			return n, err
		}
		if len(all) == 1 {
			copy(n.y[:], y.RawVector().Data)
			n.covariance = c
			break
		}
		inverse, err := inverted(c)
		if err != nil {
			return n, err
		}
		weight.AddSym(weight, inverse)
		var x mat.VecDense
		x.MulVec(inverse, y)
		sum.AddVec(sum, &x)
	}
	if n.covariance == nil {
		var err error
		if n.covariance, err = inverted(weight); err != nil {
			return n, err
		}
		var mean mat.VecDense
		mean.MulVec(n.covariance, sum)
		copy(n.y[:], mean.RawVector().Data)
	}
	between := func(x float64, limits [2]float64) bool { return x >= limits[0] && x <= limits[1] }
	low := 0.0
	if supply > 0 {
		low = typical[circuit.Minus] / supply
	}
	n.plausible = supply > 0 && between(n.y[waveform.Asymptote], plausible.charge) && between(n.y[waveform.DischargeAsymptote]-low, plausible.discharge)
	return n, nil
}

// of is one waveform's numbers with their covariance.
func (n *waveNumbers) of(w *waveform.Result) (*mat.VecDense, *mat.SymDense, error) {
	y, slope := mat.NewVecDense(6, nil), mat.NewDense(6, 6, nil)
	n.single, n.cycles = w.Single, n.cycles+w.Cycles
	for i, e := range estimates(w) {
		if n.single && ofDischarge(i) {
			continue
		}
		y.SetVec(i, e.Value/n.supply)
		slope.Set(i, i, 1/n.supply)
		if i <= waveform.TauDischarge {
			y.SetVec(i, math.Log(e.Value))
			slope.Set(i, i, 1/e.Value)
		}
	}
	c, err := budget.Propagate(slope, w.Covariance)
	for i := range 6 {
		if err == nil && n.single && ofDischarge(i) {
			c.SetSym(i, i, 1)
		}
	}
	return y, c, err
}

// ofDischarge says whether a number is of the discharge alone.
func ofDischarge(i int) bool { return i == waveform.TauDischarge || i == waveform.DischargeAsymptote }

func estimates(w *waveform.Result) [6]fit.Estimate {
	return [6]fit.Estimate{w.TauCharge, w.TauDischarge, w.Upper, w.Lower, w.Asymptote, w.DischargeAsymptote}
}

func inverted(c *mat.SymDense) (*mat.SymDense, error) {
	var f mat.Cholesky
	if !f.Factorize(c) {
		return nil, fmt.Errorf("the waveform's uncertainties are degenerate: record more of its cycles")
	}
	out := mat.NewSymDense(c.SymmetricDim(), nil)
	return out, f.InverseTo(out)
}

// withChannel adds what an error of the channel's scale and zero does to the voltages.
func (n *waveNumbers) withChannel(scale, zero float64) *mat.SymDense {
	out := mat.NewSymDense(6, nil)
	out.CopySym(n.covariance)
	for i := waveform.Upper; i <= waveform.DischargeAsymptote; i++ {
		for k := i; k <= waveform.DischargeAsymptote; k++ {
			out.SetSym(i, k, out.At(i, k)+(sq(scale)*n.y[i]*n.y[k]+sq(zero))/3)
		}
	}
	return out
}

// model is what a board shows in the order of the waveform's indices.
func (n *waveNumbers) model(c *circuit.Circuit, v *circuit.Values) [6]float64 {
	k := c.Curve(v)
	if v[circuit.Contact] != 0 {
		touch(c, v, &k)
	}
	return [6]float64{math.Log(k.Charge.Tau), math.Log(k.Discharge.Tau),
		k.Peak / n.supply, k.Valley / n.supply, k.Charge.Target / n.supply, k.Discharge.Target / n.supply}
}

// touch puts a bad contact's jumps into a curve: where the current turns the node leaves its threshold at once by what the
// contact drops, and the fit's turns are where the runs meet that are drawn on past it.
func touch(c *circuit.Circuit, v *circuit.Values, k *circuit.Curve) {
	series := v[circuit.Contact] * c.Charging(v) * v[c.Capacitor()] * math.Exp(v[circuit.Clock]) // s
	turn := func(from, to circuit.Run, node float64) float64 {
		inside := from.Target - (from.Target-node)/(1-series/from.Tau) // the capacitor's own voltage
		after := to.Target - (to.Target-inside)*(1-series/to.Tau)
		at, t := node, 0.0
		for range 20 { // Newton's method
			a, b := (node-from.Target)*math.Exp(-t/from.Tau), (after-to.Target)*math.Exp(-t/to.Tau)
			at = from.Target + a
			step := (at - to.Target - b) / (b/to.Tau - a/from.Tau)
			if t -= step; math.Abs(step) < 1e-12*from.Tau {
				break
			}
		}
		return at
	}
	k.Peak, k.Valley = turn(k.Charge, k.Discharge, k.Peak), turn(k.Discharge, k.Charge, k.Valley)
}

// facts turn the waveform into independent facts about the board under the conditions of capture number under. The
// times enter beside them: they come from the output's edges, while the six numbers are where and how fast the two
// runs go, whichever instant the edges mark, so that nothing is counted twice. absolute says that the channel's scale
// and zero may tell something; they do so once a board.
//
// Each fact is a number less what those before it predict of it (the factors L D L' of the covariance): L has ones
// on its diagonal, so that a density over the facts is one over the numbers. The least certain comes first, which
// keeps the factors below one.
func (n *waveNumbers) facts(c *circuit.Circuit, typical *circuit.Values, under int, absolute bool) []posterior.Fact {
	use := []int{waveform.TauCharge, waveform.TauDischarge, waveform.Upper, waveform.Lower, waveform.Asymptote, waveform.DischargeAsymptote}
	use = slices.DeleteFunc(use, func(i int) bool {
		return n.single && ofDischarge(i) || c.Bends && (i == waveform.TauCharge || i == waveform.Asymptote)
	})
	scale, zero, skip := n.scale, n.zero, 0
	if !absolute || !n.plausible {
		scale, zero, skip = anyScale, anyZero, 2
	}
	if !n.plausible {
		n = n.rescaled(n.model(c, typical))
	}
	full := n.withChannel(scale, zero)
	slices.SortStableFunc(use, func(a, b int) int { return int(math.Copysign(1, full.At(b, b)-full.At(a, a))) })
	l, d := factors(full, use)
	var out []posterior.Fact
	for i := skip; i < len(use); i++ {
		row := inverseRow(l, i)
		of := func(y [6]float64) float64 {
			sum := 0.0
			for k, a := range row {
				sum += a * y[use[k]]
			}
			return sum
		}
		on := func(c *circuit.Circuit) func(v *circuit.Values) float64 {
			if !tells(c) {
				return nil
			}
			return func(v *circuit.Values) float64 { return of(n.model(c, v)) }
		}
		out = append(out, posterior.Fact{Under: under, Value: of(n.y), Standard: math.Sqrt(d[i]), Of: on(c), On: on})
	}
	return out
}

// rescaled are the numbers with a scale and a zero by which the turns are those of a typical board: what is left once
// scale and zero are taken as unknown is linear in a board's own voltages only near those.
func (n *waveNumbers) rescaled(typical [6]float64) *waveNumbers {
	k := (typical[waveform.Upper] - typical[waveform.Lower]) / (n.y[waveform.Upper] - n.y[waveform.Lower])
	out := *n
	slope := mat.NewDense(6, 6, nil)
	for i := range out.y {
		slope.Set(i, i, 1)
		if i >= waveform.Upper {
			out.y[i] = typical[waveform.Lower] + k*(n.y[i]-n.y[waveform.Lower])
			slope.Set(i, i, k)
		}
	}
	if c, err := budget.Propagate(slope, n.covariance); err == nil {
		out.covariance = c
	}
	return &out
}

// leastFact is the smallest standard uncertainty of a fact that is taken at its word: a tenth of a code of 8 bits, below
// which no such channel is straight (common practice).
const leastFact = 4e-4

// factors are unit lower L and diagonal D with L D L' the covariance of the chosen numbers.
func factors(c mat.Symmetric, use []int) (l [][]float64, d []float64) {
	m := len(use)
	l, d = make([][]float64, m), make([]float64, m)
	for i := range m {
		l[i] = make([]float64, m)
		l[i][i] = 1
		for j := range i {
			x := c.At(use[i], use[j])
			for k := range j {
				x -= l[i][k] * l[j][k] * d[k]
			}
			l[i][j] = x / d[j]
		}
		d[i] = c.At(use[i], use[i])
		for k := range i {
			d[i] -= sq(l[i][k]) * d[k]
		}
		d[i] = max(d[i], sq(leastFact))
	}
	return l, d
}

// inverseRow is row i of the inverse of the unit lower matrix l.
func inverseRow(l [][]float64, i int) []float64 {
	row := make([]float64, i+1)
	row[i] = 1
	for j := i - 1; j >= 0; j-- {
		for k := j + 1; k <= i; k++ {
			row[j] -= row[k] * l[k][j]
		}
	}
	return row
}

// waveFacts are those of all settings that have a waveform, and a warning where some were left out because the
// back-solve takes no more equations beside the times, a baseline's and so many other facts. Only the first may tell
// by its channel's scale and zero: it is one channel, whose error does not average out.
func waveFacts(d *fit.Design, c *circuit.Circuit, typical *circuit.Values, set []setting, others int) (out []posterior.Fact, notes []string, err error) {
	room := posterior.MostEquations - 2*len(set) - 2 - others
	first := true
	for i := range set {
		if len(set[i].waves) == 0 || !tells(c) {
			continue
		}
		n, err := numbersOf(d, set[i].waves, set[i].supply(d.Supply).Value, typical)
		if err != nil {
			return nil, nil, err
		}
		facts := n.facts(c, typical, i+1, first)
		if len(out)+len(facts) > room {
			notes = append(notes, fmt.Sprintf("the capacitor's waveform in %s is left out: the back-solve takes no more of them at once", set[i].name()))
			continue
		}
		first = first && !n.plausible
		out = append(out, facts...)
	}
	return out, notes, nil
}

// captured tells the board how it was captured, and whether a waveform shows both thresholds.
func captured(b *cause.Board, set []setting) {
	if len(set) == 0 {
		return
	}
	first := set[0].captures[0]
	b.Interval, b.Ramps, b.Inverted = first.Interval, first.Levels.Ramps, first.Inverted
	b.Waveform = slices.ContainsFunc(set, func(s setting) bool { return len(s.waves) > 0 && !s.waves[0].Single }) && tells(b.Circuit)
}

// tells says whether it is known what the capacitor's waveform is in the circuit.
func tells(c *circuit.Circuit) bool { return c.Curve != nil }

// waveformOf puts the first setting's waveform into the JSON's form.
func waveformOf(b *circuit.Circuit, typical *circuit.Values, d *fit.Design, set []setting) (*compare.Waveform, error) {
	for i := range set {
		if len(set[i].waves) == 0 {
			continue
		}
		supply := set[i].supply(d.Supply)
		n, err := numbersOf(d, set[i].waves, supply.Value, typical)
		if err != nil {
			return nil, err
		}
		f := n.finding(supply, set[i].clock)
		f.Cycles = n.cycles
		for _, w := range set[i].waves {
			f.Residual = max(f.Residual, w.Residual)
			f.Notes = append(f.Notes, w.Notes...)
		}
		if tells(b) {
			n.faults(f, b, d, typical, set[i].probe())
		}
		if !n.plausible {
			f.Notes = append(f.Notes, implausible)
		}
		return f, nil
	}
	return nil, nil
}

const implausible = "the capacitor's voltage does not fit the supply: the attenuation of the channel's probe is set wrong, the channel is coupled for alternating voltage, or the node is another one; only what needs no scale and no zero of the channel is used"

// Waveform puts a waveform into the JSON's form, for one that no design judges: its voltages in volts, their
// uncertainty the fit's own, the channel's scale and zero not counted.
func Waveform(w *waveform.Result) *compare.Waveform {
	n := waveNumbers{supply: 1}
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

// finding is the waveform with its voltages as ratios to the supply, the channel's and the supply's errors counted.
func (n *waveNumbers) finding(supply fit.Reading, clock float64) *compare.Waveform {
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
func (n *waveNumbers) form(u *mat.SymDense, clock float64) *compare.Waveform {
	tau := func(i int) compare.Measured {
		x := math.Exp(n.y[i])
		return compare.Measured{Value: x, Uncertainty: x * math.Sqrt(u.At(i, i)+sq(clock)/3), Count: n.cycles}
	}
	volt := func(i int) compare.Measured {
		return compare.Measured{Value: n.y[i], Uncertainty: math.Sqrt(u.At(i, i)), Count: n.cycles}
	}
	ratio := func(a, b int) compare.Measured {
		q := n.y[a] / n.y[b]
		relative := u.At(a, a)/sq(n.y[a]) + u.At(b, b)/sq(n.y[b]) - 2*u.At(a, b)/(n.y[a]*n.y[b])
		return compare.Measured{Value: q, Uncertainty: math.Abs(q) * math.Sqrt(max(relative, 0)), Count: n.cycles}
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

// supply is the setting's own where a condition states it, else the design's.
func (s *setting) supply(design fit.Reading) fit.Reading {
	for _, c := range s.conditions {
		if c.Kind == fit.SupplyAt {
			return c.Known
		}
	}
	return design
}

// probe is the conductance in S that the setting's conditions put across the capacitor.
func (s *setting) probe() float64 {
	sum := 0.0
	for _, c := range s.conditions {
		if c.Kind == fit.Bypassed || c.Kind == fit.ToGround {
			sum += 1 / c.Known.Value
		}
	}
	return sum
}

// faults read the asymptotes: what leak across the capacitor would keep the charge short of where the typical board
// heads, the probe's own conductance taken off, and what resistance of the discharge path would hold the discharge up.
func (n *waveNumbers) faults(f *compare.Waveform, c *circuit.Circuit, d *fit.Design, typical *circuit.Values, probe float64) {
	if !n.plausible || !c.Grounded() {
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
func (n *waveNumbers) unsure(c *circuit.Circuit, d *fit.Design, typical *circuit.Values) float64 {
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
