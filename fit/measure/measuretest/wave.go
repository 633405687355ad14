// Package measuretest synthesises captures of pulse trains with known times, for tests and studies. It shares
// no code with the packages it tests: edges are drawn first, then the waveform is sampled, disturbed and rounded.
package measuretest

import (
	"io"
	"math"
	"math/rand/v2"

	"offbeat/acquire"
)

// Shape of an edge.
type Shape int

const (
	Ramp        Shape = iota // straight from level to level, crossing half way at the edge's time
	Exponential              // first-order lag that starts ln 2 time constants before the edge's time
)

// Wave describes a pulse train and how it is sampled. Times in seconds, levels in volts.
type Wave struct {
	Kind      acquire.Kind
	High, Low float64 // mean times
	Cycles    float64 // length of the record in periods
	Phase     float64 // time from the first sample to the first rising edge; it may lie before the record

	Step  float64 // sample interval; for Transitions the quantum of the time stamps (0: none)
	Lower float64
	Upper float64 // state levels; both zero: 0 and 5 V
	Shape Shape
	Rise  float64 // rise time from level to level (Ramp), or time constant (Exponential)
	Fall  float64
	Noise float64 // V, standard deviation of white amplitude noise
	Code  float64 // V, amplitude step; 0: none

	White    float64 // standard deviation of white noise of each edge
	HighStep float64 // standard deviation of the random step of each high time
	LowStep  float64 // and of each low time
	Drift    float64 // relative change of both times per second
	Hum      Hum
	Flicker  float64 // relative, Allan deviation of flicker frequency noise of both times together
	Wander   float64 // relative, standard deviation of the random step that both times together make from cycle to cycle
}

// Hum modulates the times by a line of the mains and twice it: a time that begins at t is longer by the factor
// 1 + High[0] sin(2πft + Phase) + High[1] sin(4πft + 2 Phase).
type Hum struct {
	Frequency float64    // Hz
	High, Low [2]float64 // relative, of the high and of the low times
	Phase     float64
}

func (h *Hum) factor(of [2]float64, t float64) float64 {
	a := 2*math.Pi*h.Frequency*t + h.Phase
	return 1 + of[0]*math.Sin(a) + of[1]*math.Sin(2*a)
}

// Edges draws the edge times of the record, rising first, as observed (with white noise).
func (w Wave) Edges(rnd *rand.Rand) []float64 {
	e, _, _ := w.edges(rnd)
	return e
}

// Longer draws the edges of a record whose times are longer by the share of(x) at the place x of it, from 0 to 1.
func (w Wave) Longer(rnd *rand.Rand, of func(x float64) float64) (e []float64) {
	end := w.Cycles * (w.High + w.Low)
	for t := w.Phase; t < end*1.1; {
		f := 1 + of(min(max(t/end, 0), 1))
		e = append(e, t+w.White*rnd.NormFloat64(), t+w.High*f+w.White*rnd.NormFloat64())
		t += (w.High + w.Low) * f
	}
	return e
}

func (w Wave) edges(rnd *rand.Rand) (e []float64, high, low float64) {
	period := w.High + w.Low
	end := w.Cycles * period
	t := w.Phase
	for t > 0 {
		t -= period
	}
	relative := w.relative(rnd, 2*int(w.Cycles)+12)
	var sum, count [2]float64
	for k := 0; t < end+2*period; k++ {
		e = append(e, t+w.White*rnd.NormFloat64())
		mean, step, hum := w.High, w.HighStep, w.Hum.High
		if k%2 == 1 {
			mean, step, hum = w.Low, w.LowStep, w.Hum.Low
		}
		d := mean*(1+w.Drift*t+relative[k/2])*w.Hum.factor(hum, t) + step*rnd.NormFloat64()
		if t >= 0 && t+d <= end {
			sum[k%2] += d
			count[k%2]++
		}
		t += d
	}
	if w.Flicker == 0 && w.Wander == 0 {
		return e, w.High, w.Low
	}
	return e, sum[0] / count[0], sum[1] / count[1]
}

// relative draws the flicker and the random walk of the times of n cycles, by the fractional filters of Kasdin and Walter
// (IEEE Frequency Control Symposium 1992): orders 1 and 2. Unit variance drives a flicker of Allan variance 2 ln 2/π.
func (w Wave) relative(rnd *rand.Rand, n int) []float64 {
	y := make([]float64, n)
	for order, size := range map[float64]float64{1: w.Flicker / math.Sqrt(2*math.Ln2/math.Pi), 2: w.Wander} {
		if size == 0 {
			continue
		}
		h := make([]float64, n)
		h[0] = 1
		for k := 1; k < n; k++ {
			h[k] = h[k-1] * (float64(k) - 1 + order/2) / float64(k)
		}
		for i := range n {
			g := size * rnd.NormFloat64()
			for k := range n - i {
				y[i+k] += g * h[k]
			}
		}
	}
	return y
}

// Capture samples the train.
func (w Wave) Capture(rnd *rand.Rand) *acquire.Capture { return w.CaptureOf(w.Edges(rnd), rnd) }

// Draw samples the train, and gives the mean times that it has: those of the process, or of the whole pulses in the record
// where the process has none.
func (w Wave) Draw(rnd *rand.Rand) (c *acquire.Capture, high, low float64) {
	edges, high, low := w.edges(rnd)
	return w.CaptureOf(edges, rnd), high, low
}

// CaptureOf samples a train of other edges, the first of which rises, in the place of the wave's own.
func (w Wave) CaptureOf(edges []float64, rnd *rand.Rand) *acquire.Capture {
	if w.Lower == 0 && w.Upper == 0 {
		w.Upper = 5
	}
	if w.Kind == acquire.Transitions {
		return w.transitions(edges)
	}
	n := int(w.Cycles * (w.High + w.Low) / w.Step)
	v := make([]float64, n)
	w.sample(v, edges, rnd)
	return FromRows(acquire.Capture{Source: "simulated", Kind: w.Kind, Step: w.Step}, nil, v)
}

func (w Wave) sample(v, edges []float64, rnd *rand.Rand) {
	k := 0 // edges[k-1] is the last that has begun
	level := w.Lower
	from, target := w.Lower, w.Lower // Exponential: value and aim at the start of the current segment
	begun := math.Inf(-1)
	for i := range v {
		t := float64(i) * w.Step
		for k < len(edges) && edges[k]-w.lead(k) <= t {
			at := edges[k] - w.lead(k)
			if w.Shape == Exponential {
				from = w.value(at, begun, from, target, k-1)
			} else {
				from = target
			}
			begun = at
			target = w.Upper
			if k%2 == 1 {
				target = w.Lower
			}
			k++
		}
		level = w.value(t, begun, from, target, k-1)
		if w.Kind == acquire.Logic {
			v[i] = 0
			if level > (w.Lower+w.Upper)/2 {
				v[i] = 1
			}
			continue
		}
		level += w.Noise * rnd.NormFloat64()
		if w.Code > 0 {
			level = math.Round(level/w.Code) * w.Code
		}
		v[i] = level
	}
}

// lead is how long before its 50 % crossing edge k begins.
func (w Wave) lead(k int) float64 {
	if w.Shape == Exponential {
		return w.length(k) * math.Ln2
	}
	return w.length(k) / 2
}

func (w Wave) length(k int) float64 {
	if k%2 == 0 {
		return w.Rise
	}
	return w.Fall
}

// value of the waveform at t, in the segment that edge k began.
func (w Wave) value(t, begun, from, target float64, k int) float64 {
	d := w.length(k)
	switch {
	case math.IsInf(begun, -1):
		return target
	case d == 0:
		return target
	case w.Shape == Exponential:
		return target + (from-target)*math.Exp(-(t-begun)/d)
	case t-begun >= d:
		return target
	}
	return from + (target-from)*(t-begun)/d
}

func (w Wave) transitions(edges []float64) *acquire.Capture {
	end := w.Cycles * (w.High + w.Low)
	state := 0.0
	t, v := []float64{0}, []float64{0}
	for k, e := range edges {
		if e > end {
			break
		}
		state = float64(1 - k%2)
		if e < 0 {
			v[0] = state
			continue
		}
		if w.Step > 0 {
			e = math.Floor(e/w.Step) * w.Step
		}
		t, v = append(t, e), append(v, state)
	}
	return FromRows(acquire.Capture{Source: "simulated", Kind: acquire.Transitions, Step: w.Step}, t, v)
}

// FromRows makes a capture of one channel from its rows; t may be nil for an even grid. Blocks are short, so
// that their borders are met.
func FromRows(meta acquire.Capture, t []float64, v ...[]float64) *acquire.Capture {
	const rows = 1500
	meta.Channels = make([]acquire.Channel, len(v))
	at := 0
	return acquire.NewCapture(meta, func(b *acquire.Block) error {
		b.N = min(rows, len(v[0])-at)
		if b.N == 0 {
			return io.EOF
		}
		b.First = int64(at)
		b.Time = nil
		if t != nil {
			b.Time = t[at : at+b.N]
		}
		b.Value = b.Value[:0]
		for _, c := range v {
			b.Value = append(b.Value, c[at:at+b.N])
		}
		at += b.N
		return nil
	})
}
