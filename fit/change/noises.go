package change

import "math"

// grid are the noises that are averaged over, each with the log of its prior probability: white alone, with a walk of the phase,
// with one of the period, with both. few are those of a first look. open are for the size of a change: what small walks it must prove
// itself against is one thing, how well its size is known another, and the noise of a relaxation oscillator's thresholds adds up.
var (
	grid = noises(0.2, 0.7, 0.05)
	open = noises(0.25, 0.6, 0.15)
	few  = []weighed{{noise{}, -0.8}, {noise{walk: 1}, -1.9}, {noise{walk: 30}, -1.9}, {noise{walk: 1e3}, -1.9}, {noise{wander: 100}, -2.3}}
)

// noises have so much for none but white noise, for a walk of the phase, and for a walk of the period.
func noises(still, walks, wanders float64) (out []weighed) {
	add := func(n noise, share float64) { out = append(out, weighed{n, math.Log(share)}) }
	add(noise{}, still)
	for k := range 8 {
		add(noise{walk: math.Pow(10, float64(k)-1)}, walks/8)
	}
	for k := range 9 {
		for _, v := range []float64{0, 3, 100} {
			add(noise{v, math.Pow(10, float64(k))}, wanders/27)
		}
	}
	return out
}

// seldom is how many times less variance than its white noise a walk adds from cycle to cycle that has the whole of its share; the share
// of one that adds less is less in proportion. Most changes in white noise bend the phase no more than a walk would that adds a
// hundredth: among 200 cycles a test that held to one false one in a thousand under each such walk would find 4 % of those of five
// uncertainties, and this one finds one in three, with one in a thousand trains of walks of any size. Of 500 steady trains whose walk adds a
// 200th of their white noise from cycle to cycle, 0, 5 and 15 of 50, 200 and 800 cycles are said to change.
const seldom = 5

// share is the log of the prior probability of a noise, where it must be told from a change.
func (s *series) share(n weighed) float64 {
	if n.walk == 0 || n.wander > 0 {
		return n.log
	}
	return n.log + min(0, math.Log(seldom*n.walk/s.cycles))
}

type weighed struct {
	noise
	log float64
}

// tiny is the share of a column below which nothing is left of it.
const tiny = 1e-9
