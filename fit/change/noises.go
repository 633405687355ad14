package change

import "math"

// grid are the noises that are averaged over, each with the log of its prior probability: white alone, with a walk of the phase,
// with one of the period, with both. few are those of a first look. open are for the size of a change: what small walks it must prove
// itself against is one thing, how well its size is known another, and the noise of a relaxation oscillator's thresholds adds up.
var (
	grid = noises(0.45, 0.45, slightWalk, 0.05)
	open = noises(0.25, 0.6, 1, 0.15)
	few  = []weighed{{noise{}, -0.8}, {noise{walk: 1}, -1.9}, {noise{walk: 30}, -1.9}, {noise{walk: 1e3}, -1.9}, {noise{wander: 100}, -2.3}}
)

// noises have so much for none but white noise, for a walk of the phase, of that for a slight one, and for a walk of the period.
func noises(still, walks, slight, wanders float64) (out []weighed) {
	add := func(n noise, share float64) { out = append(out, weighed{n, math.Log(share)}) }
	add(noise{}, still)
	for k := range 8 {
		w := math.Pow(10, float64(k)-1)
		add(noise{walk: w}, walks/8*map[bool]float64{true: slight, false: 1}[w < 20])
	}
	for k := range 9 {
		for _, v := range []float64{0, 3, 100} {
			add(noise{v, math.Pow(10, float64(k))}, wanders/27)
		}
	}
	return out
}

// slightWalk is the share, over that of a larger one, of a walk which white noise all but hides. Most changes in white noise bend the
// phase no more than it would: of those of five uncertainties a test that held to one false one in a thousand under each walk could
// find one in twenty-five.
const slightWalk = 0.2

type weighed struct {
	noise
	log float64
}

// tiny is the share of a column below which nothing is left of it.
const tiny = 1e-9
