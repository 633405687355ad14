package stability

import (
	"math"
	"slices"

	"offbeat/acquire"
)

// Quantity is what one channel of a capture shows beside the output, such as a temperature, in bounded memory: when
// full, neighbours are averaged in pairs.
type Quantity struct {
	capture *acquire.Capture
	channel int
	sign    float64
	group   int // rows in one point
	held    int
	st, sv  float64
	known   bool      // the rows have times of their own
	t, v    []float64 // rows, or s where they have times of their own
}

const quantityCap = 4096

// Watch is the same capture, and the quantity on its channel of that index once the capture has been read to its end;
// negated says that all channels were read with their sign turned, to invert the output.
func Watch(c *acquire.Capture, channel int, negated bool) (*acquire.Capture, *Quantity) {
	q := &Quantity{capture: c, channel: channel, group: 1, sign: 1}
	if negated {
		q.sign = -1
	}
	return c.Watched(q.take), q
}

func (q *Quantity) take(b *acquire.Block) {
	if q.channel >= len(b.Value) {
		return
	}
	for i, v := range b.Value[q.channel][:b.N] {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			continue
		}
		t := float64(b.First + int64(i))
		if b.Time != nil {
			t, q.known = b.Time[i], true
		}
		q.st, q.sv = q.st+t, q.sv+q.sign*v
		if q.held++; q.held < q.group {
			continue
		}
		n := float64(q.held)
		q.t, q.v = append(q.t, q.st/n), append(q.v, q.sv/n)
		q.st, q.sv, q.held = 0, 0, 0
		if len(q.t) == quantityCap {
			for j := range quantityCap / 2 {
				q.t[j], q.v[j] = (q.t[2*j]+q.t[2*j+1])/2, (q.v[2*j]+q.v[2*j+1])/2
			}
			q.t, q.v = q.t[:quantityCap/2], q.v[:quantityCap/2]
			q.group *= 2
		}
	}
}

// At is the quantity at a time in s, interpolated between its points; NaN where there is none.
func (q *Quantity) At(t float64) float64 {
	if len(q.t) == 0 {
		return math.NaN()
	}
	if !q.known {
		t = (t - q.capture.Start) / q.capture.Step
	}
	k, found := slices.BinarySearch(q.t, t)
	switch {
	case found || k == 0:
		return q.v[k]
	case k == len(q.t):
		return q.v[k-1]
	}
	return q.v[k-1] + (q.v[k]-q.v[k-1])*(t-q.t[k-1])/(q.t[k]-q.t[k-1])
}
