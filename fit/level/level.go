// Package level finds the two state levels of a waveform: the modes of its histogram (IEEE 181, 5.2).
package level

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"

	"offbeat/fit"
)

// Estimate is the two state levels, with what is known about their quality. All in volts.
type Estimate struct {
	fit.Levels
	Uncertainty [2]float64 // standard uncertainty of Low and of High, from noise and amplitude resolution
	Bias        [2]float64 // of Low and of High over the means of their samples, which are rounded
	Left        [2]float64 // standard uncertainty that rounding leaves in them, however many samples there are
	Quantum     float64    // amplitude resolution of the samples; 0: none seen
	Dwells      bool       // the waveform dwells at two levels; false: Low and High are only its extremes
	Cut         [2]float64 // standard uncertainty of Low and of High where the trace is cut off at it; else 0
	Still       [2]bool    // nearly all samples about Low, about High are the last value of all: it is cut off there, or quiet
	Clipped     bool       // a level is known from clipped samples alone
	FewCodes    bool       // the samples take two to four values in all
	OneStep     bool       // the samples take a few values at even distances, and the levels lie about one of those apart
}

const (
	bins        = 256
	spikeShare  = 1.0 / 2000 // a mode with a smaller share of the samples is a spike, not a state
	minContrast = 4.0        // levels closer than this many standard deviations of their noise are one level
	clippedSide = 20         // as many as one in so many samples past the range may be a state's, and two groups within it the other's
	halfBand    = 0.10       // half the hysteresis band, relative to the amplitude
	maxHalfBand = 0.35
	coarsest    = 0.1  // a wider amplitude step, as a share of the range, is a gap between states
	sloped      = 1.5  // times that the middle half of a side's samples spread wider than its nearest quarter, where many lie on slopes
	sharp       = 3    // and where the quarter is a state for all that: of a sine 1.9
	rampShare   = 0.2  // of the samples, that lie in the middle half of a ramp's swing: an output has 0.16 there, however noisy, a sine 0.28
	rampDwell   = 1.25 // times as many within a sixteenth of a ramp's levels: of a sine about once
	noiseInBand = 3.0  // the half band is at least this many standard deviations of the noise
)

// Find returns the state levels of the samples v, in their order; v is not changed. NaN is left out, ±Inf counts as a side. ok is
// false when the samples show a single level.
func Find(v []float64) (e Estimate, ok bool) {
	s := make([]float64, 0, len(v))
	above, below := 0, 0
	for _, x := range v {
		switch {
		case math.IsInf(x, 1):
			above++
		case math.IsInf(x, -1):
			below++
		case !math.IsNaN(x):
			s = append(s, x)
		}
	}
	order(s)
	if len(s) == 0 && above > 0 && below > 0 {
		e.Low, e.High, e.Clipped, e.Dwells = -1, 1, true, true
		return e.band(), true
	}
	if len(s) == 0 {
		return e, false
	}
	e.Quantum = quantum(s)
	one := Estimate{Quantum: e.Quantum}
	two, clipped := e.twoModes(s), one.clippedState(s, above, below)
	if clipped && (!two || max(above, below)*clippedSide > len(v) && one.band().crossings(v) < e.band().crossings(v)) {
		return one.band(), true
	}
	return e.band(), two
}

// crossings counts how often samples in their order pass the middle.
func (e Estimate) crossings(v []float64) int {
	n, above := 0, false
	for i, x := range v {
		if over := x > e.Reference; i == 0 || over != above && !math.IsNaN(x) {
			above, n = over, n+1
		}
	}
	return n
}

// order sorts samples by their bytes, the last one first: of some thousands that takes a third of what comparing them does.
func order(s []float64) {
	var count [8][256]int
	from, to := make([]uint64, len(s)), make([]uint64, len(s))
	for i, x := range s {
		k := math.Float64bits(x)
		k ^= uint64(int64(k)>>63) | 1<<63 // in the order of the numbers
		from[i] = k
		for d := range count {
			count[d][byte(k>>(8*d))]++
		}
	}
	for d := range count {
		sum := 0
		for i, n := range count[d] {
			count[d][i], sum = sum, sum+n
		}
		for _, k := range from {
			at := &count[d][byte(k>>(8*d))]
			to[*at] = k
			*at++
		}
		from, to = to, from
	}
	for i, k := range from {
		s[i] = math.Float64frombits(k ^ (uint64(int64(^k)>>63) | 1<<63))
	}
}

// twoModes sets the levels from the modes of the lower and the upper half of the histogram, after spikes
// at either end have been cut off.
func (e *Estimate) twoModes(s []float64) bool {
	for {
		middle := s[0] + (s[len(s)-1]-s[0])/2
		if !(s[0] < middle && middle < s[len(s)-1]) {
			return false // one value, or two that no number lies between
		}
		split, _ := slices.BinarySearch(s, middle)
		least := max(1, int(float64(len(s))*spikeShare))
		switch {
		case len(s)-split < least || len(s)-split == 1 && split > 8:
			s = s[:split]
			continue
		case split < least || split == 1 && len(s)-split > 8:
			s = s[split:]
			continue
		}
		grain := max(e.Quantum, step(s))
		low := newCluster(s[:split], s[0], middle, e.Quantum, grain)
		high := newCluster(s[split:], middle, s[len(s)-1], e.Quantum, grain)
		e.Low, e.High = low.mean, high.mean
		e.Uncertainty = [2]float64{low.uncertainty, high.uncertainty}
		e.Bias, e.Left = [2]float64{low.bias, high.bias}, [2]float64{low.left, high.left}
		e.Noise = math.Sqrt((low.variance*float64(low.n) + high.variance*float64(high.n)) / float64(low.n+high.n))
		worst := max(low.spread, high.spread)
		e.Dwells = e.Amplitude() > minContrast*worst
		a := e.Amplitude()
		if cut(turned(high.about), turned(low.about)) {
			e.Cut[0], e.Noise = Beyond*a, math.Sqrt(high.variance)
		}
		if cut(low.about, high.about) {
			e.Cut[1], e.Noise = Beyond*a, math.Sqrt(low.variance)
		}
		e.Still = [2]bool{still(turned(low.about)), still(high.about)}
		e.Ramps = ramps(s, e.Low, e.High)
		e.FewCodes, e.OneStep = len(slices.Compact(slices.Clone(s))) <= fewCodes, e.Amplitude() < oneStep*step(s)
		return e.Dwells && a > e.Quantum/2 // what is closer than the samples' steps is one level and strays
	}
}

// ramps tells by how sorted samples lie between two levels whether they are those of a ramp, which dwells at neither.
func ramps(s []float64, low, high float64) bool {
	a := high - low
	core := between(s, low+a/4, high-a/4)
	return core > rampShare && between(s, low-a/16, low+a/16)+between(s, high-a/16, high+a/16) < rampDwell*core
}

// between is the share of sorted samples that lie between two values.
func between(s []float64, low, high float64) float64 {
	from, _ := slices.BinarySearch(s, low)
	to, _ := slices.BinarySearch(s, high)
	return float64(to-from) / float64(len(s))
}

// clippedState makes a level of samples that ran past the instrument's range, where the rest is one level.
func (e *Estimate) clippedState(s []float64, above, below int) bool {
	least := max(1, int(float64(len(s))*spikeShare))
	c := newCluster(s, s[0], s[len(s)-1], e.Quantum, e.Quantum)
	// so far that the widest band about the middle leaves out every sample within the range
	reach := max(max(s[len(s)-1]-c.mean, c.mean-s[0])/(0.5-maxHalfBand)*1.01, 6*c.spread, 1e-3*math.Abs(c.mean), e.Quantum)
	reach = cmp.Or(reach, 1)
	e.Low, e.High, e.Noise = c.mean, c.mean, math.Sqrt(c.variance)
	e.Uncertainty = [2]float64{c.uncertainty, c.uncertainty}
	switch {
	case above >= least && above >= below:
		e.High = s[len(s)-1] + reach
	case below >= least:
		e.Low = s[0] - reach
	default:
		return false
	}
	e.Dwells, e.Clipped = true, true
	return true
}

// Extremes takes the 1 % and 99 % points for the levels: for a waveform that does not dwell anywhere. ok
// is false when they coincide, or no waveform shows above the noise.
func Extremes(v []float64) (e Estimate, ok bool) {
	s := make([]float64, 0, len(v))
	rough, n := 0.0, 0
	last := math.NaN()
	for _, x := range v {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			last = math.NaN()
			continue
		}
		if d := x - last; !math.IsNaN(d) {
			rough += d * d
			n++
		}
		last = x
		s = append(s, x)
	}
	if len(s) == 0 {
		return e, false
	}
	again := recurring(s)
	order(s)
	e.Quantum = quantum(s)
	e.Low, e.High = s[len(s)/100], s[len(s)-1-len(s)/100]
	e.Noise = math.Sqrt(rough / float64(max(n, 1)) / 2)
	e.Uncertainty = [2]float64{e.Noise, e.Noise}
	if most := e.Amplitude(); !(most > 8*e.Noise) && !(again && most > 8*max(e.Quantum, step(s))) { // a converter's last steps recur too
		return e, false
	}
	return e.band(), true
}

// Fixed gives the levels of logic states.
func Fixed() Estimate {
	return Estimate{Levels: fit.Levels{Low: 0, High: 1, Reference: 0.5, States: true}, Dwells: true}
}

// band sets the 50 % reference and the hysteresis band, which widens with the noise.
func (e Estimate) band() Estimate {
	a := e.Amplitude()
	e.Reference = e.Low + a/2
	e.Hysteresis = 2 * min(max(halfBand*a, noiseInBand*e.Noise), maxHalfBand*a)
	return e
}

// cluster is the samples about one mode.
type cluster struct {
	mean, variance, uncertainty float64
	bias, left                  float64 // of the mean over that of the samples, and what rounding leaves in it
	spread                      float64 // robust standard deviation of all samples on this side
	n                           int
	about                       []float64 // the samples that it is the mean of
}

// newCluster finds the mode of the sorted samples s in a histogram over lo … hi, and then the mean of the
// samples about it. grain is the distance of the few values that they take, where they take few.
func newCluster(s []float64, lo, hi, quantum, grain float64) cluster {
	c := cluster{}
	if lo == hi {
		return cluster{mean: lo, n: len(s), about: s} // all are alike, and none shows a step
	}
	var count [bins / 2]float64
	k := float64(len(count)) / (hi - lo)
	for _, x := range s {
		count[min(max(int((x-lo)*k), 0), len(count)-1)]++
	}
	mode := lo + (float64(floats.MaxIdx(count[:]))+0.5)/k
	// The median distance from the mode is deaf to the samples on the slopes while they are fewer than half.
	c.spread = 1.4826 * max(nearest(s, mode, len(s)/2)-0.5/k, 0)
	// Where pulses are so short that many samples lie on slopes, the quarter next to the mode tells (normal: 0.3186).
	near := max(nearest(s, mode, len(s)/4), 0.5/k, grain/2) / 0.3186
	if near > c.spread/sloped {
		near = c.spread
	}
	if near < c.spread/sharp {
		c.spread = near
	}
	reach := max(3.5*near, 1.5/k, 1.5*quantum)
	from, _ := slices.BinarySearch(s, mode-reach)
	to, _ := slices.BinarySearch(s, mode+reach)
	about := s[from:to]
	if len(about) == 0 {
		about = s
	}
	sum := 0.0
	for _, x := range about {
		sum += x
	}
	c.n, c.about = len(about), about
	c.mean = sum / float64(c.n)
	for _, x := range about {
		c.variance += (x - c.mean) * (x - c.mean)
	}
	c.variance /= float64(c.n)
	// Slopes go on within reach as they do next to it.
	more, _ := slices.BinarySearch(s, mode+2*reach)
	less, _ := slices.BinarySearch(s, mode-2*reach)
	each := reach / 2 / float64(c.n)
	slopes := float64((more-to)-(from-less)) * each
	c.mean -= slopes
	c.left = math.Sqrt(Left(quantum, c.variance))
	c.uncertainty = math.Hypot(math.Sqrt(c.variance/float64(c.n)), c.left)
	if k, ok := fromCodes(about, c.mean, c.variance, quantum); ok {
		c.mean, c.bias, c.left, c.uncertainty = c.mean+k.bias, k.bias, k.left, k.left
		c.variance = k.noise + quantum*quantum/12
	}
	c.uncertainty = math.Hypot(c.uncertainty, math.Hypot(slopes, math.Sqrt(float64(more-to+from-less))*each))
	return c
}

// nearest is the distance from a place within which n of the sorted samples lie.
func nearest(s []float64, place float64, n int) (d float64) {
	up, _ := slices.BinarySearch(s, place)
	for down := up - 1; up-down-2 < n; {
		if down < 0 || up < len(s) && s[up]-place < place-s[down] {
			d = s[up] - place
			up++
		} else {
			d = place - s[down]
			down--
		}
	}
	return d
}

// Left is the variance that amplitude quantisation leaves in a mean: q²/12 without noise, and next to
// nothing once the noise spans a step (first term of the series over the step's harmonics).
func Left(q, variance float64) float64 {
	if q == 0 {
		return 0
	}
	dither := max(variance-q*q/12, 0)
	return q * q / 12 * math.Exp(-4*math.Pi*math.Pi*dither/(q*q))
}

const (
	oneStep   = 1.5 // levels closer than so many steps of the converter are about one apart
	fewCodes  = 4
	fewValues = 16   // values that a quiet line takes at most
	evenly    = 0.01 // of a step, that even distances differ by at most
)

// step is the distance of the values that sorted samples take, where they are a few and lie at even distances, as those of
// a converter on a quiet line do; 0: they do not. Two values have none but where they are whole numbers, as counts are.
func step(s []float64) float64 {
	values := slices.Compact(slices.Clone(s))
	if len(values) == 2 && values[1]-values[0] == 1 && values[0] == math.Trunc(values[0]) && values[0] != 0 && values[1] != 0 {
		return 1
	}
	if len(values) < 3 || len(values) > fewValues {
		return 0
	}
	least := math.Inf(1)
	for i := 1; i < len(values); i++ {
		least = min(least, values[i]-values[i-1])
	}
	for i := 1; i < len(values); i++ {
		if k := (values[i] - values[i-1]) / least; math.Abs(k-math.Round(k)) > evenly {
			return 0
		}
	}
	return least
}

// quantum is the amplitude step of sorted samples that take few distinct values; 0 if they take many.
func quantum(s []float64) float64 {
	var gaps []float64
	for i := 1; i < len(s); i++ {
		if d := s[i] - s[i-1]; d > 1e-9*(s[len(s)-1]-s[0]) {
			gaps = append(gaps, d)
		}
	}
	if len(gaps) == 0 || len(gaps) > len(s)/4 && len(gaps) > 16 || len(gaps) > 4096 {
		return 0
	}
	slices.Sort(gaps)
	if q := common(gaps); q < coarsest*(s[len(s)-1]-s[0]) {
		return q
	}
	return 0 // the gap between the states themselves
}

const (
	oneGap  = 1.5  // gaps up to so many times the least are of one step, however their values were rounded
	nearGap = 0.25 // of a step, that a gap may miss a whole number of steps by
	farGap  = 8    // steps, of the gaps that are looked at
	mostOff = 0.1  // of them, that may miss it by more
)

// common is the step that sorted gaps are whole numbers of: the least of them, else what a quarter of them are below. Values on
// slopes are met so seldom that most gaps between them are of several steps.
func common(gaps []float64) float64 {
	n, _ := slices.BinarySearch(gaps, oneGap*gaps[0])
	q := stat.Mean(gaps[:n], nil)
	looked, off := 0.0, 0.0
	for _, g := range gaps {
		if k := g / q; k < farGap {
			looked++
			if math.Abs(k-math.Round(k)) > nearGap {
				off++
			}
		}
	}
	if off > mostOff*looked {
		return gaps[len(gaps)/4]
	}
	return q
}
