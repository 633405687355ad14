package steady

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"

	"offbeat/acquire/quantity"
	"offbeat/fit"
	"offbeat/fit/budget"
)

// Kind is what a pulse train turned out to be.
type Kind int

const (
	Steady    Kind = iota
	Noise          // its edges come like independent draws
	Irregular      // its pulses are of unlike length, in no order that was recognised
	Modulated      // its times go to and fro, or alternate
	Torn           // gaps break it so often, or for so long, that what is left is no sample of it
	Bursts         // trains with idle times between
)

// Judgement says what a train is. Lengths are in the unit of the edges.
type Judgement struct {
	Kind Kind
	Of   string // "high time", "low time" or "period": where it shows

	Scatter    float64        // Noise, Irregular: standard deviation as a share of the mean
	Range      [2]float64     // Irregular, Modulated: between which lengths all but a tenth lie
	Modulation fit.Modulation // of any kind of train: what its times have, though it may be too little to be called Modulated
	Square     [kinds]float64 // mean square of a low time, high time and period that have it, with all else that they scatter by

	Turns [2]Turn // Modulated, every second pulse: of the low and of the high times

	Breaks int     // Torn: gaps
	Idle   float64 // Torn: share of the record in them

	Bursts int     // how many
	Pulses float64 // in each, on the average
	Gap    float64 // between two, on the average
	Unlike bool    // their trains differ by more than they scatter
	Least  float64 // mean period of the fastest
	Most   float64 // and of the slowest burst
}

const (
	restless     = 0.20 // a scatter beyond the sample interval, as a share of the mean, that no steady train has
	drawn        = 0.30 // and from which independent values are noise: exponential draws within the window of sound pulses have 0.35
	doubted      = 0.10 // the same where there is other reason for doubt
	hardlyJudged = 20   // intervals of both states that tell little where pulses are as short as a sample
	judged       = 6    // intervals of a state that can be judged by themselves
	tornShare    = 0.05 // of the edges, that begin a run in a train torn by noise
	modulated    = 0.01 // root mean square of a modulation that is no small disturbance of a steady train
	keyed        = 1e-3 // of one of two lengths in no order, that is no more than a clock's step
	hummed       = 0.03 // and of hum, which can be taken off
	fewestJudged = 4    // intervals of both states that can be judged
	tornTime     = 0.25 // of the record, that lies between runs of such a train
	bimodal      = 1.5  // fourth moment over the square of the second: 1 for two values equally often, 1.8 for uniform ones, 3 for normal
	digits       = 1e-9 // of a length, that its last digits are worth at most
	idleShare    = 0.20 // of the record, that lies between bursts at least
	idlePulses   = 2.5  // pulses that a gap between bursts is longer than, at least
	paced        = 60   // edges that show an even pace
	pacedWithin  = 0.4  // of the wander of independent draws
	rounding     = 1.02 // cells, that the longest and the shortest of steady intervals lie apart at most, by rounding alone
	lasting      = 1.9  // cells, that they all last: noise makes one of a single cell each second time
	coarse       = 4    // samples a pulse; below, a steady train may miss pulses in a regular order
)

// Context is what is known of a train beside its sound edges. Lengths are in their unit.
type Context struct {
	Usual    [2]float64 // the usual low [0] and high [1] time
	Cell     float64    // the sample interval, or the quantum of the times; 0: none
	Second   float64    // one second; 0: not known
	Pulses   bool       // pulses are triggered from outside: the high times alone count
	Excluded int        // pulses that were met and do not belong: glitches and runts
	FewCodes bool       // the samples take so few values that the line may be quiet
}

// Judge says what the train is.
func (c *Census) Judge(x Context) Judgement {
	lists := c.intervals()
	of := [kinds]string{lows: "low time", highs: "high time", periods: "period"}
	looked := []int{highs, lows, periods}
	if x.Pulses {
		looked = looked[:1]
	}
	bursts := Judgement{}
	if !x.Pulses {
		bursts = c.bursts(x)
	}
	if j := c.restless(lists, &x, bursts.Kind == Bursts); j.Kind != Steady {
		return j
	}
	if bursts.Unlike {
		return bursts
	}
	j := bursts
	if c.even(x.Cell) {
		return j
	}
	_, period, _, _ := moments(lists[periods], false)
	for _, k := range looked {
		var m fit.Modulation
		if m, j.Square[k] = x.modulation(lists, k, period); m.Amplitude > j.Modulation.Amplitude {
			j.Modulation, j.Of, j.Range = m, of[k], spread(lists[k])
		}
	}
	if most := slices.Max(j.Square[:]); most > 0 {
		for _, k := range looked { // one time's modulation is the period's too, and may be lost there
			if j.Square[k] == 0 {
				_, _, variance, _ := moments(straight(lists[k]), true)
				j.Square[k] = min(variance, most)
			}
		}
	}
	if bar := map[bool]float64{false: modulated, true: hummed}[j.Modulation.Mains]; j.Modulation.Amplitude > bar {
		j.Kind = Modulated
		for k := lows; k <= highs; k++ {
			if j.Turns[k] = inTurn(lists[k]); j.Turns[k].Long > 0 {
				j.Modulation.Every = 2 // gaps put it out of step
			}
		}
	}
	return j
}

// moments of some lists of values, each list about its own mean if apart is set.
func moments(lists [][]float64, apart bool) (n, mean, variance, kurtosis float64) {
	for _, v := range lists {
		for _, x := range v {
			n++
			mean += (x - mean) / n
		}
	}
	fourth := 0.0
	for _, v := range lists {
		about := mean
		if apart {
			about = 0
			for i, x := range v {
				about += (x - about) / float64(i+1)
			}
		}
		for _, x := range v {
			d := (x - about) * (x - about)
			variance += d
			fourth += d * d
		}
	}
	if n > 1 && variance > 0 {
		kurtosis = fourth * n / (variance * variance)
		variance /= n - 1
	}
	return n, mean, variance, kurtosis
}

// restless tells intervals that scatter as those of a steady train never do: those of one state by themselves, or of
// both together where they are few.
func (c *Census) restless(lists [kinds][][]float64, x *Context, bursts bool) Judgement {
	var n, own [2]float64
	seldom := false
	for k := lows; k <= highs; k++ {
		if k == lows && x.Pulses {
			continue
		}
		count, mean, variance, _ := moments(lists[k], false)
		if count < 2 || mean <= 0 {
			continue
		}
		n[k], own[k] = count, math.Sqrt(max(variance-x.Cell*x.Cell/4, 0))/mean // two rounded edges add a quarter of a cell² at most
		if all := slices.Concat(lists[k]...); floats.Min(all) > lasting*x.Cell && floats.Max(all)-floats.Min(all) < rounding*x.Cell {
			own[k] = 0
		}
		seldom = seldom || x.Cell*coarse > mean
	}
	all := n[0] + n[1]
	if all < fewestJudged {
		return Judgement{}
	}
	breaks := float64(c.runs)
	if bursts {
		breaks = 0
	}
	bar := restless * (1 + 1/math.Sqrt(all))
	if x.FewCodes || 2*(float64(x.Excluded)+breaks) > all {
		bar = doubted
	}
	if seldom && all < hardlyJudged {
		bar = doubted / 2
	}
	k := highs
	if own[lows] > own[highs] {
		k = lows
	}
	both := math.Sqrt((n[0]*own[0]*own[0] + n[1]*own[1]*own[1]) / all)
	alone := n[k] >= judged && own[k]*(1-1/math.Sqrt(2*(n[k]-1))) > restless
	torn := breaks > 2 && (seldom && breaks > tornShare*float64(c.count) || c.idle > tornTime*(c.last-c.origin))
	if !alone && both < bar && !torn || seldom && c.strict(x.Usual[0]+x.Usual[1], own[k]) {
		return Judgement{} // steady; or sampled too seldom, but in step
	}
	j := Judgement{Kind: Irregular, Of: [2]string{"low time", "high time"}[k], Scatter: own[k], Range: spread(lists[k])}
	switch {
	case torn && own[k] < drawn:
		j.Kind, j.Breaks, j.Idle = Torn, c.runs, c.idle/(c.last-c.origin)
	case own[k] > drawn && independent(lists[k]):
		j.Kind = Noise
	}
	return j
}

// strict tells that the edges keep to an even pace however unlike their intervals are: their place about a straight line
// does not wander as that of independent draws of the same scatter (a share of the period) does. A random walk of n steps lies
// about its own line with a root mean square of the square root of n/15 steps.
func (c *Census) strict(period, scatter float64) bool {
	looked := false
	for _, b := range c.blocks {
		if len(b) < paced {
			continue
		}
		place := make([]float64, len(b))
		for i, e := range b {
			place[i] = e.x
		}
		n := float64(len(b))
		if walk := scatter * math.Sqrt(n/2/15); floats.Norm(detrended(place), 2)/math.Sqrt(n) > pacedWithin*walk*period {
			return false
		}
		looked = true
	}
	return looked
}

// even tells edges that lie within rounding of an even pace, those of each direction by themselves: of such a train nothing more is
// known than its pace. The line of least squares misses the best one by a few standard errors of rounding at its ends.
func (c *Census) even(cell float64) bool {
	for _, b := range c.blocks {
		var places [2][]float64
		for _, e := range b {
			k := 0
			if e.rise {
				k = 1
			}
			places[k] = append(places[k], e.x)
		}
		for _, p := range places {
			if d := detrended(p); len(d) > 0 && floats.Max(d)-floats.Min(d) > cell*(1+2/math.Sqrt(float64(len(d)))) {
				return false
			}
		}
	}
	return cell > 0
}

// independent tells values without an order: neighbours are not more alike, or more unlike, than others.
func independent(lists [][]float64) bool {
	n, mean, variance, _ := moments(lists, false)
	product := 0.0
	for _, v := range lists {
		for i := 1; i < len(v); i++ {
			product += (v[i] - mean) * (v[i-1] - mean)
		}
	}
	return math.Abs(product/(n*variance)) < 3/math.Sqrt(n)+0.1
}

// spread is between which values all but a tenth lie.
func spread(lists [][]float64) [2]float64 {
	all := slices.Concat(lists...)
	slices.Sort(all)
	return [2]float64{all[len(all)/20], all[len(all)-1-len(all)/20]}
}

// modulation tells intervals of a kind that go to and fro, by more than rounding can make them, and their mean square; period is the
// mean period.
func (x *Context) modulation(all [kinds][][]float64, k int, period float64) (m fit.Modulation, square float64) {
	lists := all[k]
	_, mean, _, _ := moments(lists, false)
	if mean <= 0 {
		return m, 0
	}
	s := newSpectrum(lists)
	t := findLine(&s)
	for _, p := range []tone{findPattern(lists, &s), findComb(lists[0], false), findSlow(lists)} {
		if p.square > ordered*t.square {
			t = p
		}
	}
	if t.square < digits*digits*mean*mean || x.rounded(k, t, all[periods], period) {
		t = tone{}
	}
	if r := random(lists, mean); t.square == 0 && r.square > x.Cell*x.Cell {
		t = r
	}
	if t.square == 0 { // slower than the blocks are long: their means
		var means [1][]float64
		for _, v := range lists {
			_, m, _, _ := moments([][]float64{v}, false)
			means[0] = append(means[0], m)
		}
		s = newSpectrum(means[:])
		if t = findLine(&s); t.square < math.Pow(x.Cell/blockEdges, 2) {
			return m, 0
		}
		t.every = 0
	}
	if whole := math.Round(t.every); math.Abs(t.every-whole) < t.every*t.every*t.width {
		t.every = whole
	}
	return fit.Modulation{Every: t.every, Amplitude: math.Sqrt(t.square) / mean, Mains: x.mains(t)}, t.square + t.rest
}

// random tells two lengths in no order.
func random(lists [][]float64, mean float64) (t tone) {
	values := straight(lists)
	least := modulated * mean
	if independent(values) { // else a wander may look like it
		least = keyed * mean
	}
	if n, _, variance, kurtosis := moments(values, true); n >= fewest && kurtosis < bimodal && variance > least*least {
		t.square = variance
	}
	return t
}

// rounded tells that rounding of the edges to cells can make a modulation; lists are the periods. The length of an interval is rounded up or down, so that
// its mean square is no more than a quarter of a cell² and what few values lack. An edge's error is a saw of its place in the cell: it
// has the lines m P, P being the period in cells, of the amplitude 1/πm (0.39 where each third edge falls alike), which the period
// meets twice, and an interval of two kinds of edges from each. Jitter, of the variance s² in cells², breaks all that up by
// exp(-4π²s²) (Widrow and Kollár, Quantization Noise, 2008, chapter 9); where the period wanders, the lines do, m times as far.
func (x *Context) rounded(k int, t tone, lists [][]float64, period float64) bool {
	if x.Cell == 0 || t.square == 0 {
		return false
	}
	area := x.Cell * x.Cell
	jitter, wander, n := swing(lists, t.every)
	left := area * math.Exp(-4*math.Pi*math.Pi*max(min(jitter, t.rest/2)/area-1.0/12, 0))
	if t.square > 0.5*left {
		return false
	}
	line, lines := t.line, 1.0
	if line == 0 { // a pattern
		lines = math.Floor(t.every / 2)
		line = t.square / max(lines, 1)
	}
	edge := math.Sqrt(2*line) / 2
	if k == periods && t.line > 0 && t.every > 4 {
		edge /= math.Sin(math.Pi / t.every)
	}
	for m := 1.0; m <= 1+min(1.3*math.Sqrt(left)/(math.Pi*edge), 64); m++ {
		for j := 1.0; j <= max(lines, 1); j++ {
			f := m*period/x.Cell - j/t.every
			g := m*period/x.Cell + j/t.every
			if min(math.Abs(f-math.Round(f)), math.Abs(g-math.Round(g))) < (m+1)/n+t.width+m*wander/x.Cell {
				return true
			}
		}
	}
	return false
}

// swing is the variance of single edges, by the second differences of the periods; how far the mean over an eighth of a list, or two
// turns of a modulation, departs from the whole mean; and how many values there are in a list.
func swing(lists [][]float64, every float64) (jitter, most, n float64) {
	all, mean, _, _ := moments(lists, false)
	for _, v := range lists {
		width := max(2*int(math.Round(every)), len(v)/8, 8)
		n = max(n, float64(len(v)))
		for i := 2; i < len(v); i++ {
			d := v[i] - 2*v[i-1] + v[i-2]
			jitter += d * d / 20 / max(all-2*float64(len(lists)), 1) // the third differences of white noise have 20 times its variance
		}
		for ; len(v) >= width; v = v[width:] {
			most = max(most, math.Abs(stat.Mean(v[:width], nil)-mean))
		}
	}
	return jitter, most, n
}

const mainsLimit = 0.01 // the mains keep to this for all but an hour or two of a week (EN 50160)

// mains tells that hum of the mains, or of twice their frequency, would recur every so many cycles. Of a train so slow that it
// might have hum of any frequency none is.
func (x *Context) mains(t tone) bool {
	if x.Second == 0 || t.every == 0 {
		return false
	}
	period := (x.Usual[0] + x.Usual[1]) / x.Second
	for _, f := range [...]float64{50, 60, 100, 120} {
		f *= period
		if within := mainsLimit * f; within < 0.02 && math.Abs(math.Abs(f-math.Round(f))-1/t.every) < within+t.width {
			return true
		}
	}
	return false
}

// bursts tells trains with idle times between.
func (c *Census) bursts(x Context) Judgement {
	period := x.Usual[0] + x.Usual[1]
	var long, kept, count float64
	pulses := c.run
	for _, g := range c.gaps {
		k := 1
		if g.low {
			k = 0
		}
		pulses, kept = pulses+g.run, kept+g.length
		if g.length > x.Usual[k]+idlePulses*period {
			long += g.length
			count++
		}
	}
	inBursts := float64(pulses) / 2
	least := 2.0
	if x.Cell*coarse > min(x.Usual[0], x.Usual[1]) {
		least = 10 // noise makes short ones
	}
	if count == 0 || inBursts < least*(count+1) {
		return Judgement{}
	}
	scale := c.idle / max(kept, 1e-300) // gaps beyond those kept are taken for alike
	if long*scale < idleShare*(c.last-c.origin) {
		return Judgement{}
	}
	j := Judgement{Kind: Bursts, Bursts: int(math.Round(count*scale)) + 1, Pulses: inBursts / (count + 1), Gap: long / count}
	j.Least, j.Most, j.Unlike = c.unlike(x.Cell)
	return j
}

const (
	unlikeBy    = 5     // standard uncertainties that the trains of two bursts differ by, at least
	unlikeLeast = 0.002 // and as a share of the period
)

// unlike compares the mean periods of the runs among the edges kept.
func (c *Census) unlike(cell float64) (least, most float64, unlike bool) {
	var single [][]float64 // the periods of each run
	var list []float64
	for _, b := range c.blocks {
		rise := math.NaN()
		for _, e := range b {
			if e.first && len(list) > 0 {
				single, list = append(single, list), nil
			}
			if e.first {
				rise = math.NaN()
			}
			if e.rise {
				if !math.IsNaN(rise) {
					list = append(list, e.x-rise)
				}
				rise = e.x
			}
		}
		if len(list) > 0 {
			single, list = append(single, list), nil
		}
	}
	n, mean, variance, _ := moments(single, true)
	freedom := n - float64(len(single))
	if freedom < 2 {
		return mean, mean, false
	}
	variance *= (n - 1) / freedom
	least, most = math.Inf(1), math.Inf(-1)
	for _, v := range single {
		_, m, _, _ := moments([][]float64{v}, false)
		least, most = min(least, m), max(most, m)
		k := float64(len(v))
		u := math.Sqrt(variance/k + cell*cell/2/(k*k))
		if d := math.Abs(m - mean); d > unlikeBy*u && d > unlikeLeast*mean {
			unlike = true
		}
	}
	return least, most, unlike
}

// Row is what a modulation leaves open of the mean high and low time given: all that they scatter by, for what the times would
// be without it may lie at either of its ends. That of hum lies in their middle.
func (j *Judgement) Row(high, low float64) budget.Row {
	if j.Modulation.Mains {
		return budget.Row{}
	}
	row := budget.Shift("modulation", "B", "normal", math.Sqrt(j.Square[periods])/(high+low), high, low)
	own := max(j.Square[highs]-row.High, j.Square[lows]-row.Low, 0) // of the duty factor
	return row.Plus(budget.Row{High: own, Both: -own, Low: own})
}

// Text says what was found, for messages; name prints a length.
func (j Judgement) Text(name func(float64) string) string {
	share := quantity.Relative
	switch j.Kind {
	case Noise:
		return fmt.Sprintf("the edges come like independent draws, as those of noise do: the %s scatters by %s, between %s and %s", j.Of, share(j.Scatter), name(j.Range[0]), name(j.Range[1]))
	case Torn:
		return fmt.Sprintf("the pulses are no steady train: %d gaps break it, %s of the record lies in them", j.Breaks, share(j.Idle))
	case Irregular:
		return fmt.Sprintf("the pulses are no steady train: the %s lies between %s and %s", j.Of, name(j.Range[0]), name(j.Range[1]))
	case Modulated:
		if by := turns(j.Turns, name); by != "" {
			return fmt.Sprintf("the train is modulated, %s%s", j.Modulation, by)
		}
		return fmt.Sprintf("the train is modulated, %s: the %s lies between %s and %s", j.Modulation, j.Of, name(j.Range[0]), name(j.Range[1]))
	case Bursts:
		text := fmt.Sprintf("the pulses come in %d bursts of about %.3g, with gaps of about %s", j.Bursts, j.Pulses, name(j.Gap))
		if j.Unlike {
			text += fmt.Sprintf("; the bursts' own periods differ, from %s to %s", name(j.Least), name(j.Most))
		}
		return text
	}
	return "one steady train"
}
