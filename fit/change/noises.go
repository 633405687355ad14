package change

import "math"

// grid are the noises that are averaged over, each with the log of its prior probability: white alone, with a walk of the phase,
// with one of the period, with both. few are those of a first look. open are for the size of a change: what small walks it must prove
// itself against is one thing, how well its size is known another, and the noise of a relaxation oscillator's thresholds adds up.
var (
	grid = noises(0.1, 0.85, 0.05)
	open = noises(0.25, 0.6, 0.15)
	few  = []weighed{{noise{}, -0.8}, {noise{walk: 1}, -1.9}, {noise{walk: 30}, -1.9}, {noise{walk: 1e3}, -1.9}, {noise{wander: 100}, -2.3}}
)

// walks have so many shares of their probability. Those that bend the phase as a change in white noise does, and the largest, beside
// which there is no white noise, have two: so what is asked leaves one false change in a thousand trains of any walk (TestWalksOfAnySize).
var walks = []struct{ size, shares float64 }{{0.3, 1}, {1, 1}, {3, 2}, {10, 2}, {30, 2}, {100, 1}, {300, 1}, {1e3, 2}, {1e5, 2}}

// noises have so much for none but white noise, for a walk of the phase, and for a walk of the period.
func noises(still, walking, wanders float64) (out []weighed) {
	add := func(n noise, share float64) { out = append(out, weighed{n, math.Log(share)}) }
	add(noise{}, still)
	shares := 0.0
	for _, w := range walks {
		shares += w.shares
	}
	for _, w := range walks {
		add(noise{walk: w.size}, walking*w.shares/shares)
	}
	for k := range 9 {
		for _, v := range []float64{0, 3, 100} {
			add(noise{v, math.Pow(10, float64(k))}, wanders/27)
		}
	}
	return out
}

// seldom is how many times less variance than its white noise a walk of a time itself adds from cycle to cycle that has the whole of its
// share; the share of one that adds less is less in proportion. What walks is the phase; a time seldom does.
const seldom = 5

// share is the log of the prior probability of a noise, where it must be told from a change.
func (s *series) share(n weighed) float64 {
	if n.walk == 0 || s.phase {
		return n.log
	}
	return n.log + min(0, math.Log(seldom*n.walk/s.cycles))
}

const (
	bar   = 6.0    // log of the odds that are asked of a train that changes in any way, against one that is steady
	tails = 32     // points up to which the tails of Student's distribution need the whole of that
	bends = 20_000 // variance that a walk adds over the record, in that of white noise's mean over all points, up to which it bends the phase as a change may
	shows = 80_000 // and from which on it shows in each point
)

// asked is the log of the odds that are asked against a steady train with a walk. One that shows is no change in white noise, and the more
// points tell so, the less is asked: odds as many times less.
func (s *series) asked(walk float64) float64 {
	points := float64(len(s.y))
	shown := 0.0
	if s.phase {
		shown = min(max(math.Log(walk*points/bends)/math.Log(shows/bends), 0), 1)
	}
	return s.coarse * (bar - shown*math.Log(max(points/tails, 1)))
}

type weighed struct {
	noise
	log float64
}

// tiny is the share of a column below which nothing is left of it.
const tiny = 1e-9
