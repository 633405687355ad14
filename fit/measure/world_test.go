package measure_test

import (
	"math"
	"math/rand/v2"

	"offbeat/acquire"
	"offbeat/fit/measure/measuretest"
)

// World is a kind of capture that holds no steady pulse train.
type World struct {
	Name string
	Draw func(rnd *rand.Rand) *acquire.Capture
}

// Noises are captures of a line on which nothing happens.
func Noises() []World {
	rows := func(rnd *rand.Rand) int { return int(logUniform(rnd, 500, 60_000)) }
	// rounded samples of a line whose noise is a first-order lag of white noise: memory 0 is white.
	rounded := func(rnd *rand.Rand, sigma, memory float64) *acquire.Capture {
		step := logUniform(rnd, 1e-3, 0.1)
		level := rnd.Float64() * 3
		v := make([]float64, rows(rnd))
		state := 0.0
		for i := range v {
			state = memory*state + math.Sqrt(1-memory*memory)*rnd.NormFloat64()
			v[i] = math.Round((level+sigma*step*state)/step) * step
		}
		return measuretest.FromRows(acquire.Capture{Source: "quiet", Kind: acquire.Samples, Step: 1e-6}, nil, v)
	}
	return []World{
		{"two codes", func(rnd *rand.Rand) *acquire.Capture { return rounded(rnd, logUniform(rnd, 0.1, 0.3), 0) }},
		{"some codes", func(rnd *rand.Rand) *acquire.Capture { return rounded(rnd, logUniform(rnd, 0.3, 2), 0) }},
		{"two codes of slow noise", func(rnd *rand.Rand) *acquire.Capture {
			return rounded(rnd, logUniform(rnd, 0.1, 0.4), 1-logUniform(rnd, 0.01, 0.5))
		}},
		{"some codes of slow noise", func(rnd *rand.Rand) *acquire.Capture {
			return rounded(rnd, logUniform(rnd, 0.4, 3), 1-logUniform(rnd, 0.01, 0.5))
		}},
		{"logic at random", func(rnd *rand.Rand) *acquire.Capture {
			up, down := logUniform(rnd, 0.005, 0.5), logUniform(rnd, 0.005, 0.5)
			v := make([]float64, rows(rnd))
			state := 0.0
			for i := range v {
				if p := [2]float64{up, down}[int(state)]; rnd.Float64() < p {
					state = 1 - state
				}
				v[i] = state
			}
			return measuretest.FromRows(acquire.Capture{Source: "quiet", Kind: acquire.Logic, Step: 1e-6}, nil, v)
		}},
		{"transitions at random", func(rnd *rand.Rand) *acquire.Capture {
			n := int(logUniform(rnd, 60, 20_000))
			t, v := make([]float64, n), make([]float64, n)
			mean := [2]float64{logUniform(rnd, 1e-5, 1e-2), logUniform(rnd, 1e-5, 1e-2)}
			for i := 1; i < n; i++ {
				v[i] = float64(i % 2)
				t[i] = t[i-1] + mean[i%2]*rnd.ExpFloat64()
			}
			return measuretest.FromRows(acquire.Capture{Source: "quiet", Kind: acquire.Transitions}, t, v)
		}},
		{"spikes at random", func(rnd *rand.Rand) *acquire.Capture {
			v := make([]float64, rows(rnd))
			p, width := logUniform(rnd, 0.003, 0.1), 1+rnd.IntN(3)
			for i := range v {
				v[i] += 0.01 * rnd.NormFloat64()
				if rnd.Float64() < p {
					for k := i; k < min(i+width, len(v)); k++ {
						v[k] = 3
					}
				}
			}
			return measuretest.FromRows(acquire.Capture{Source: "quiet", Kind: acquire.Samples, Step: 1e-6}, nil, v)
		}},
	}
}

// recorded are edges of pulses and gaps in the order of time, recorded in one of the ways that benches do.
func recorded(rnd *rand.Rand, lengths []float64) *acquire.Capture {
	w := measuretest.Wave{Step: 1, Kind: []acquire.Kind{acquire.Samples, acquire.Logic, acquire.Transitions}[rnd.IntN(3)]}
	switch w.Kind {
	case acquire.Samples:
		w.Rise, w.Fall, w.Noise, w.Code = 3*rnd.Float64(), 3*rnd.Float64(), logUniform(rnd, 0.001, 0.05), 8.0/256
	case acquire.Transitions:
		w.Step = 0.01
	}
	t := 40 * rnd.Float64()
	edges := make([]float64, len(lengths)+1)
	for i, d := range lengths {
		edges[i] = t
		t += d
	}
	edges[len(lengths)] = t
	w.High, w.Low, w.Cycles = t, 20, t/(t+20)
	return w.CaptureOf(edges, rnd)
}

// inTurn makes the pulses and gaps of n cycles; of gives the factors of the high and the low time of each.
func inTurn(rnd *rand.Rand, n int, of func(i int) (high, low float64)) []float64 {
	high, low := logUniform(rnd, 20, 300), logUniform(rnd, 20, 300)
	var d []float64
	for i := range n {
		h, l := of(i)
		d = append(d, high*h, low*l)
	}
	return d
}

// Modulations are captures of trains whose times go to and fro, or alternate.
func Modulations() []World {
	longest := 3000.0
	if draws(0) == 0 {
		longest = 1200 // a study's are longer
	}
	wave := func(form func(phase float64) float64) func(rnd *rand.Rand) *acquire.Capture {
		return func(rnd *rand.Rand) *acquire.Capture {
			n := int(logUniform(rnd, 60, longest))
			every := logUniform(rnd, 5, float64(n)/4)
			depth, phase := logUniform(rnd, 0.1, 0.5), rnd.Float64()
			return recorded(rnd, inTurn(rnd, n, func(i int) (float64, float64) {
				_, p := math.Modf(float64(i)/every + phase)
				f := 1 + depth*form(p)
				return f, f
			}))
		}
	}
	return []World{
		{"saw", wave(func(p float64) float64 { return 2*p - 1 })},
		{"sine", wave(func(p float64) float64 { return math.Sin(2 * math.Pi * p) })},
		{"square", wave(func(p float64) float64 { return math.Copysign(1, p-0.5) })},
		{"alternating", func(rnd *rand.Rand) *acquire.Capture {
			depth, k := logUniform(rnd, 0.06, 0.6), 2+rnd.IntN(3)
			return recorded(rnd, inTurn(rnd, int(logUniform(rnd, 60, longest)), func(i int) (float64, float64) {
				if i%k == 0 {
					return 1 + depth, 1 + depth
				}
				return 1, 1
			}))
		}},
		{"pulse width", func(rnd *rand.Rand) *acquire.Capture {
			n := int(logUniform(rnd, 60, longest))
			every, depth := logUniform(rnd, 5, float64(n)/4), logUniform(rnd, 0.1, 0.5)
			level := logUniform(rnd, 50, 300)
			d := inTurn(rnd, n, func(i int) (float64, float64) { return 1, 1 })
			for i := range n {
				s := depth * math.Sin(2*math.Pi*float64(i)/every)
				d[2*i], d[2*i+1] = level*(1+s), level*(1-s)
			}
			return recorded(rnd, d)
		}},
		{"two keyed at random", func(rnd *rand.Rand) *acquire.Capture {
			depth := logUniform(rnd, 0.1, 0.6)
			return recorded(rnd, inTurn(rnd, int(logUniform(rnd, 60, longest)), func(i int) (float64, float64) {
				if rnd.IntN(2) == 0 {
					return 1 + depth, 1 + depth
				}
				return 1, 1
			}))
		}},
		{"bits", func(rnd *rand.Rand) *acquire.Capture {
			bit := logUniform(rnd, 20, 100)
			var d []float64
			for range int(logUniform(rnd, 60, longest)) {
				d = append(d, bit*(1+math.Floor(math.Log2(1/rnd.Float64()))))
			}
			return recorded(rnd, d)
		}},
	}
}

// Packets draws a capture of bursts of pulses with idle times between, and the high and the low time within a burst. Where
// unlike is set they differ from burst to burst.
func Packets(rnd *rand.Rand, unlike bool) (c *acquire.Capture, high, low float64) {
	high, low = logUniform(rnd, 20, 300), logUniform(rnd, 20, 300)
	low = min(max(low, high/3), 3*high)
	n := 3 + rnd.IntN(30)
	gap := logUniform(rnd, 4, 60)
	var d []float64
	for range 3 + rnd.IntN(20) {
		f := 1.0
		if unlike {
			f = 0.8 + 0.4*rnd.Float64()
		}
		for range n + rnd.IntN(2) {
			d = append(d, high*f, low*f)
		}
		d[len(d)-1] = max(gap, float64(n)) * (high + low) * (1 + 0.1*rnd.Float64())
	}
	return recorded(rnd, d), high, low
}

// Ripple is a train whose times are longer than those it has without it: by a saw, a square wave or half a sine, slow or fast, one
// pulse in so many, or some at random.
type Ripple struct {
	High, Low  float64    // without
	Mean, Long [2]float64 // mean high and low time of the whole pulses, and of the modulation's whole turns
}

// Draw draws a capture of a train of 12 to 800 cycles whose high times, low times or both are modulated by 0.03 to 50 %, at any
// resolution; jitter, a walk, both or neither are up to three parts in a thousand.
func (r *Ripple) Draw(rnd *rand.Rand) *acquire.Capture {
	n, form, offset, which := int(logUniform(rnd, 12, 800)), rnd.IntN(5), rnd.Float64(), rnd.IntN(3)
	every, depth := logUniform(rnd, 2, float64(n)/1.5), logUniform(rnd, 0.0003, 0.5)
	if form == 3 {
		every = float64(2 + rnd.IntN(14))
	}
	w := measuretest.Wave{Step: 1, Kind: []acquire.Kind{acquire.Samples, acquire.Logic, acquire.Transitions}[rnd.IntN(3)], High: logUniform(rnd, 10, 300), Low: logUniform(rnd, 10, 300)}
	switch w.Kind {
	case acquire.Samples:
		w.Rise, w.Fall, w.Noise, w.Code = 3*rnd.Float64(), 3*rnd.Float64(), logUniform(rnd, 0.001, 0.05), 8.0/256
	case acquire.Transitions:
		w.Step = logUniform(rnd, 0.01, 1)
	}
	of := func(i float64) float64 {
		_, p := math.Modf(i/every + offset)
		switch form {
		case 0:
			return p
		case 1:
			return math.Round(p)
		case 2:
			return 0.5 - 0.5*math.Cos(2*math.Pi*p)
		case 3:
			return math.Round(0.5 + 0.5/every - math.Mod(i, every)/every) // the first of so many
		}
		return float64(rnd.IntN(2))
	}
	noise := logUniform(rnd, 1e-5, 3e-3) * (w.High + w.Low)
	white, step := noise*float64(rnd.IntN(2)), noise*float64(rnd.IntN(2))
	*r = Ripple{High: w.High, Low: w.Low}
	t := w.High * rnd.Float64()
	var edges []float64
	for i := range n {
		own := [2]float64{w.High, w.Low}
		late := depth * of(float64(i))
		for k := range own {
			if which != k {
				own[k] *= 1 + late
			}
			own[k] += step * rnd.NormFloat64()
			edges = append(edges, t+white*rnd.NormFloat64())
			t += own[k]
			if i > 0 && i < n-1 {
				r.Mean[k] += own[k] / float64(n-2)
			}
		}
	}
	const fine = 4000
	mean := 0.0
	for i := range fine {
		mean += depth / fine * of(math.Floor(float64(n)/every)*every*float64(i)/fine)
	}
	if form == 3 {
		mean = depth / every
	}
	r.Long = [2]float64{w.High, w.Low}
	for k := range r.Long {
		if which != k {
			r.Long[k] *= 1 + mean
		}
	}
	w.Cycles = (t + 1) / (w.High + w.Low)
	return w.CaptureOf(append(edges, t), rnd)
}
