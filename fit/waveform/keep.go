package waveform

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats/scalar"

	"offbeat/acquire"
	"offbeat/fit"
	"offbeat/fit/transition"
)

// keeper stores both channels while the output is measured, in bounded memory: when full, it averages rows in pairs.
type keeper struct {
	c        *acquire.Capture
	out, cap int
	sign     float64 // of the capacitor's channel
	missing  bool
	t        []float64 // s, or rows where the capture has an even grid
	v, w     []float64 // output and capacitor
	group    int       // rows in one point; 0 counts as 1
	held     int       // rows waiting for a whole group
	st       float64
	sv, sw   float64
	even     bool
	cut      [2]float64 // V, at which the capacitor's trace is cut off below and above; else NaN
	off      [2]int     // samples that are left out for it
}

const keepCap = 1 << 20

// capture is the same capture, watched while it is read.
func (k *keeper) capture() *acquire.Capture {
	k.group, k.even = 1, true
	return k.c.Watched(k.take)
}

func (k *keeper) take(b *acquire.Block) {
	if k.cap >= len(b.Value) || k.out >= len(b.Value) {
		k.missing = true
		return
	}
	for i := range b.N {
		t := float64(b.First + int64(i))
		if b.Time != nil {
			t, k.even = b.Time[i], false
		}
		k.st += t
		k.sv += b.Value[k.out][i]
		k.sw += k.sign * b.Value[k.cap][i]
		if k.held++; k.held < k.group {
			continue
		}
		n := float64(k.held)
		k.t, k.v, k.w = append(k.t, k.st/n), append(k.v, k.sv/n), append(k.w, k.sw/n)
		k.st, k.sv, k.sw, k.held = 0, 0, 0, 0
		if len(k.t) == keepCap {
			for j := range keepCap / 2 {
				k.t[j], k.v[j], k.w[j] = (k.t[2*j]+k.t[2*j+1])/2, (k.v[2*j]+k.v[2*j+1])/2, (k.w[2*j]+k.w[2*j+1])/2
			}
			k.t, k.v, k.w = k.t[:keepCap/2], k.v[:keepCap/2], k.w[:keepCap/2]
			k.group *= 2
		}
	}
}

// segment is one run between two edges of the output: time since the first edge in seconds, mean voltage, and how many
// samples it is the mean of.
type segment struct{ t, v, n []float64 }

// segments cuts the capacitor's voltage at the output's edges.
func (k *keeper) segments(m *fit.Measurement) (charge, discharge []segment, inverted bool) {
	scale := 1.0
	if k.even {
		scale = k.c.Step
	}
	var f transition.Finder
	f.Set(m.Levels.Reference, m.Levels.Hysteresis, m.Levels.Amplitude())
	edges := f.Scan(0, k.t, k.v, nil)
	var cut [2][]segment // after a fall, after a rise
	slope := 0.0
	k.edges()
	at := 0
	for i := 1; i < len(edges); i++ {
		a, b := edges[i-1], edges[i]
		if a.Break || b.Break {
			continue
		}
		kind, mean := 0, m.Low.Value
		if a.Rise {
			kind, mean = 1, m.High.Value
		}
		d := (b.X - a.X) * scale
		if math.Abs(d-mean) > usable*mean {
			continue
		}
		for at < len(k.t) && k.t[at] < a.X {
			at++
		}
		end := at
		for end < len(k.t) && k.t[end] < b.X {
			end++
		}
		from, to := k.seen(at, end)
		if s, ok := k.segment(from, to, a.X, scale); ok {
			rise := s.v[len(s.v)-1] - s.v[0]
			if a.Rise {
				slope += rise
			} else {
				slope -= rise
			}
			cut[kind] = append(cut[kind], s)
		}
		at = end
	}
	inverted = slope < 0
	charge, discharge = some(cut[1]), some(cut[0])
	if inverted {
		charge, discharge = discharge, charge
	}
	return charge, discharge, inverted
}

// segment takes the points from … end less a guard at either end, averaged into groups where they are many.
func (k *keeper) segment(from, end int, edge, scale float64) (s segment, ok bool) {
	spare := max(int(guard*float64(end-from)), guardMin)
	from, end = from+spare, end-spare
	if end-from < fewest {
		return s, false
	}
	per := (end-from)/most + 1
	for i := from; i+per <= end; i += per {
		var t, v float64
		for j := i; j < i+per; j++ {
			t += k.t[j]
			v += k.w[j]
		}
		if math.IsNaN(v) || math.IsInf(v, 0) {
			continue
		}
		n := float64(per)
		s.t, s.v = append(s.t, (t/n-edge)*scale), append(s.v, v/n)
		s.n = append(s.n, n)
	}
	return s, len(s.t) >= fewest
}

// A trace is cut off at its least or greatest value where it has that one so many times as often as the next, and two standard deviations
// more often than chance makes: a curve that turns comes to its last value no more often than to others.
const stuck = 1.2

// edges looks whether the trace stands at the edges of the screen.
func (k *keeper) edges() {
	for i := range k.cut {
		sign := float64(2*i - 1)
		last, next, at, before := math.Inf(-1), math.Inf(-1), 0, 0
		for _, x := range k.w {
			switch x *= sign; {
			case x > last:
				last, next, at, before = x, last, 1, at
			case x == last:
				at++
			case x > next:
				next, before = x, 1
			case x == next:
				before++
			}
		}
		k.cut[i] = math.NaN()
		if n, m := float64(at), float64(before); at >= fewest && n > stuck*m+2*math.Sqrt(n+m) {
			k.cut[i] = sign * last
		}
	}
}

// seen takes off the ends of a segment what stands at the edge of the screen; one that is nowhere else is left as it is.
func (k *keeper) seen(from, end int) (int, int) {
	whole, off := [2]int{from, end}, k.off
	for i, x := range k.cut {
		first, last, n, sum := 0, 0, 0, 0
		for at := from; at < end; at++ {
			if k.w[at] == x {
				if n == 0 {
					first = at
				}
				last, n, sum = at, n+1, sum+2*at
			}
		}
		switch {
		case n == 0:
		case sum < n*(from+end):
			k.off[i] += last + 1 - from
			from = last + 1
		default:
			k.off[i] += end - first
			end = first
		}
	}
	if end-from < fewest {
		k.off = off
		return whole[0], whole[1]
	}
	return from, end
}

// remarks says what was left out at the edges of the screen, where that is more than some samples at which a capacitor rests.
func (k *keeper) remarks() (notes []string) {
	for i, x := range k.cut {
		if k.off[i] > len(k.w)/200 {
			notes = append(notes, fmt.Sprintf("the capacitor's trace stands still at %.3g V, where it may be cut off: that part is left out", scalar.Round(x, 6)))
		}
	}
	return notes
}

// square says whether the channel jumps between the two kinds of segment more than it moves within them.
func square(charge, discharge []segment) bool {
	inside := func(s []segment) (moves, mean float64) {
		for _, g := range s {
			moves += math.Abs(g.v[len(g.v)-1]-g.v[0]) / float64(len(s))
			for _, v := range g.v {
				mean += v / float64(len(g.v)*len(s))
			}
		}
		return moves, mean
	}
	a, up := inside(charge)
	b, down := inside(discharge)
	return max(a, b) < math.Abs(up-down)
}

// some takes at most as many segments as are fitted, at even distances.
func some(s []segment) []segment {
	out := make([]segment, min(len(s), segments))
	for i := range out {
		out[i] = s[i*len(s)/len(out)]
	}
	return out
}

const (
	usable   = 0.3  // an interval this far from the mean, relative to it, is no sound segment
	guard    = 0.01 // share of a segment left out at either end, where the turn lies
	guardMin = 1    // and at least this many samples
	fewest   = 8    // samples a segment must keep
	most     = 200  // points kept of a segment; more are averaged in groups
	segments = 200  // most segments of a kind
)

// minClusters is the number of segments from which on their own scatter is trusted.
const minClusters = 8
