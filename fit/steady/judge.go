package steady

import (
	"fmt"
	"math"
	"slices"
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

	Scatter   float64    // Noise, Irregular: standard deviation as a share of the mean
	Range     [2]float64 // Irregular, Modulated: between which lengths all but a tenth lie
	Every     float64    // Modulated: cycles from one maximum to the next; 2: they alternate
	Amplitude float64    // Modulated: root mean square of the modulation as a share of the mean

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
	modulated    = 0.03 // root mean square of a modulation that is no small disturbance of a steady train
	fewestJudged = 4    // intervals of both states that can be judged
	alternates   = 0.01 // the same, where the pulses alternate: no disturbance from outside does that
	tornTime     = 0.25 // of the record, that lies between runs of such a train
	bimodal      = 1.5  // fourth moment over the square of the second: 1 for two values equally often, 1.8 for uniform ones, 3 for normal
	idleShare    = 0.20 // of the record, that lies between bursts at least
	idlePulses   = 2.5  // pulses that a gap between bursts is longer than, at least
	paced        = 60   // edges that show an even pace
	pacedWithin  = 0.4  // of the wander of independent draws
	coarse       = 4    // samples a pulse; below, a steady train may miss pulses in a regular order
)

// Context is what is known of a train beside its sound edges. Lengths are in their unit.
type Context struct {
	Usual    [2]float64 // the usual low [0] and high [1] time
	Cell     float64    // the sample interval, or the quantum of the times; 0: none
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
	for _, k := range looked {
		if j := disturbed(lists[k], x.Cell); j.Kind != Steady {
			j.Of = of[k]
			return j
		}
	}
	return bursts
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
		sum := 0.0
		for _, d := range detrended(place) {
			sum += d * d
		}
		n := float64(len(b))
		if walk := scatter * math.Sqrt(n/2/15); math.Sqrt(sum/n) > pacedWithin*walk*period {
			return false
		}
		looked = true
	}
	return looked
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

// disturbed tells intervals that go to and fro in order.
func disturbed(lists [][]float64, cell float64) Judgement {
	n, mean, _, _ := moments(lists, false)
	if n < fewest || mean <= 0 {
		return Judgement{}
	}
	var straight, means [][]float64
	var level []float64
	for _, v := range lists {
		straight = append(straight, detrended(v))
		_, m, _, _ := moments([][]float64{v}, false)
		level = append(level, m)
	}
	means = append(means, level)
	_, _, variance, kurtosis := moments(straight, true)
	excess := math.Sqrt(max(variance-cell*cell/4, 0)) / mean
	if excess > alternates && kurtosis < bimodal && excess*mean > cell {
		j := Judgement{Kind: Modulated, Range: spread(lists), Amplitude: excess}
		if l := findLine(lists); l.found {
			j.Every = 1 / l.frequency
		}
		return j
	}
	if l := findLine(lists); l.found {
		amplitude, every := math.Sqrt(max(l.share*variance-cell*cell/4, 0))/mean, 1/l.frequency
		if amplitude > modulated || every < 8 && amplitude > alternates {
			return Judgement{Kind: Modulated, Range: spread(lists), Every: every, Amplitude: amplitude}
		}
	}
	if len(level) < fewest {
		return Judgement{}
	}
	// Slower than the blocks are long: their means.
	if l := findLine(means); l.found {
		_, _, variance, _ = moments([][]float64{detrended(level)}, true)
		if amplitude := math.Sqrt(l.share*variance) / mean; amplitude > modulated {
			return Judgement{Kind: Modulated, Range: spread(lists), Amplitude: amplitude}
		}
	}
	return Judgement{}
}

// bursts tells trains with idle times between.
func (c *Census) bursts(x Context) Judgement {
	period := x.Usual[0] + x.Usual[1]
	var long, inBursts, count float64
	pulses := c.run
	for _, g := range c.gaps {
		k := 1
		if g.low {
			k = 0
		}
		pulses += g.run
		if g.length > x.Usual[k]+idlePulses*period {
			long += g.length
			count++
		}
	}
	inBursts = float64(pulses) / 2
	least := 2.0
	if x.Cell*coarse > min(x.Usual[0], x.Usual[1]) {
		least = 10 // noise makes short ones
	}
	if count == 0 || inBursts < least*(count+1) {
		return Judgement{}
	}
	scale := c.idle / max(c.idleKept(), 1e-300) // gaps beyond those kept are taken for alike
	if long*scale < idleShare*(c.last-c.origin) {
		return Judgement{}
	}
	j := Judgement{Kind: Bursts, Bursts: int(math.Round(count*scale)) + 1, Pulses: inBursts / (count + 1), Gap: long / count}
	j.Least, j.Most, j.Unlike = c.unlike(x.Cell)
	return j
}

func (c *Census) idleKept() (sum float64) {
	for _, g := range c.gaps {
		sum += g.length
	}
	return sum
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

// Text says what was found, for messages; name prints a length.
func (j Judgement) Text(name func(float64) string) string {
	share := func(x float64) string { return fmt.Sprintf("%.2g %%", 100*x) }
	switch j.Kind {
	case Noise:
		return fmt.Sprintf("the edges come like independent draws, as those of noise do: the %s scatters by %s, between %s and %s", j.Of, share(j.Scatter), name(j.Range[0]), name(j.Range[1]))
	case Torn:
		return fmt.Sprintf("the pulses are no steady train: %d gaps break it, %s of the record lies in them", j.Breaks, share(j.Idle))
	case Irregular:
		return fmt.Sprintf("the pulses are no steady train: the %s lies between %s and %s", j.Of, name(j.Range[0]), name(j.Range[1]))
	case Modulated:
		how := "goes to and fro"
		switch {
		case j.Every >= 1.9 && j.Every <= 2.1:
			how = "alternates"
		case j.Every > 0:
			how = fmt.Sprintf("goes to and fro, every %.3g cycles,", j.Every)
		}
		return fmt.Sprintf("the train is modulated: the %s %s between %s and %s", j.Of, how, name(j.Range[0]), name(j.Range[1]))
	case Bursts:
		text := fmt.Sprintf("the pulses come in %d bursts of about %.3g, with gaps of about %s", j.Bursts, j.Pulses, name(j.Gap))
		if j.Unlike {
			text += fmt.Sprintf("; the bursts' own periods differ, from %s to %s", name(j.Least), name(j.Most))
		}
		return text
	}
	return "one steady train"
}
