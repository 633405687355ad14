package transition

import (
	"math"

	"offbeat/fit/cell"
)

const (
	fewestEdges  = 2    // of a polarity, from which its form is learnt
	learnt       = 64   // edges looked at
	learnPoints  = 8192 // points of their windows, at most
	plateauReach = 4.0  // standard deviations of the noise; samples further from their level are none of its plateau
	plateauLeast = 0.03 // of the amplitude, that far samples may always lie
	passes       = 20   // of the fit of one profile
	misfit       = 0.02 // of the amplitude: edges further from every profile stay as they are
	early        = 1.5  // reach of the windows, in rise times, before the crossing and
	late         = 3.0  // after it
	margin       = 0.25 // of the profile's scale, and
	spare        = 1.5  // cells: how much wider than the profile the windows then are
)

// Learn looks for the form of the edges among the samples v, the first of which is row first and which lie one apart
// or at the times t. The finder has found the edges given in them; low and high are the state levels, and noise the standard deviation of
// the samples about them; cut: the trace may be cut off at one. It returns nil where the edges are so steep that interpolation is
// all there is, or like none of the profiles.
func Learn(first int64, t, v []float64, edges []Edge, low, high, noise float64, cut bool) *Refiner {
	r := &Refiner{low: low, high: high, reach: max(plateauReach*noise, plateauLeast*(high-low)), end: first}
	tolerated := 2*noise*noise/(high-low)/(high-low) + misfit*misfit
	b := span{first: first, t: t, v: v}
	tried := profiles[:whole]
	if cut {
		tried = profiles
	}
	for k := range r.forms {
		r.forms[k] = guess(edges, k == 1)
	}
	if r.forms[0] == nil && r.forms[1] == nil {
		return nil
	}
	// The model's levels are those of the plateaus clear of the slopes.
	for i := 1; i < len(edges); i++ {
		if !edges[i].Break && !edges[i-1].Break {
			r.plateau(&b, edges[i-1], edges[i])
		}
	}
	l, h, n := r.Plateaus()
	if n[0] > 0 && n[1] > 0 {
		r.low, r.high = l, h
	}
	r.level = [2]sum{}
	for k, f := range r.forms {
		if f != nil && !f.learn(r.windows(&b, edges, k == 1), tolerated, tried) {
			r.forms[k] = nil
		}
	}
	if r.forms[0] == nil && r.forms[1] == nil {
		return nil
	}
	return r
}

// guess is the window about the edges of a polarity, from the interpolated slope; nil if they are steep or few.
func guess(edges []Edge, rise bool) *form {
	var slope, width, n float64
	for _, e := range edges {
		if !e.Break && e.Rise == rise {
			slope += e.Slope
			width += e.Cell
			n++
		}
	}
	if n < fewestEdges || slope/n > slow || slope <= 0 {
		return nil
	}
	width /= n
	rt := cell.Duration(slope/n) * width
	f := &form{cell: width, scale: rt, before: early*rt + 2*width, after: late*rt + 2*width}
	if (f.before+f.after)/width > mostReach {
		return nil
	}
	return f
}

// windows copies the samples about some of the edges of a polarity.
func (r *Refiner) windows(b *span, edges []Edge, rise bool) []window {
	f := r.forms[Polarity(rise)]
	points := min((f.before+f.after)/f.cell, mostPoints)
	some := min(learnt, max(int(learnPoints/points), 2*fewestEdges))
	step := max(len(edges)/2/some, 1) * 2 // of rises and falls that alternate
	var out []window
	for i := Polarity(rise == !edges[0].Rise); i < len(edges); i += step {
		e := edges[i]
		if e.Break || e.Rise != rise {
			continue
		}
		lo, hi := e.X-f.before, e.X+f.after
		if i > 0 {
			lo = max(lo, (edges[i-1].X+e.X)/2)
		}
		if i+1 < len(edges) {
			hi = min(hi, (edges[i+1].X+e.X)/2)
		}
		var w window
		if lo >= b.time(0) && b.reaches(hi) && b.window(&w, e, lo, hi, r.low, r.high) {
			out = append(out, w)
		}
	}
	return out
}

// fitted is one profile fitted to some windows.
type fitted struct {
	scale  float64
	square float64 // of the residuals
	points float64
}

// learn takes the profile that fits the windows best; tolerated is the variance of residuals up to which one is believed,
// as a share of the amplitude squared. False: none is.
func (f *form) learn(w []window, tolerated float64, tried []profile) bool {
	if len(w) < fewestEdges {
		return false
	}
	natural := f.scale
	fits := make([]fitted, len(tried))
	best := -1
	for i, p := range tried {
		f.profile, f.scale = p, natural*p.middle
		var ok bool
		if fits[i], ok = f.fit(w); ok && (best < 0 || fits[i].square < fits[best].square) {
			best = i
		} else if !ok {
			fits[i].square = math.Inf(1)
		}
	}
	if best < 0 {
		return false
	}
	b := fits[best]
	noise := b.square / max(b.points-float64(len(w))-1, 1)
	if noise > tolerated {
		return false
	}
	f.profile, f.scale = tried[best], b.scale
	f.before = min(f.before, (margin-f.from)*f.scale+spare*f.cell)
	f.after = min(f.after, (f.to+margin)*f.scale+spare*f.cell)
	return true
}

// fit finds the scale of the form's profile and the crossings of the windows, all together, by Gauss-Newton steps.
func (f *form) fit(w []window) (r fitted, ok bool) {
	shifts := make([]float64, len(w))
	start := f.scale
	for range passes {
		one := form{profile: f.profile, scale: f.scale}
		for i := range w {
			s, ok := f.locate(&w[i], shifts[i])
			if !ok {
				return r, false
			}
			shifts[i] = s
			one.add(&w[i], s)
		}
		r = fitted{scale: f.scale, square: one.square, points: one.samples}
		if one.stiff <= 0 {
			break
		}
		step := min(max(one.drift/one.stiff, -f.scale/3), f.scale/2)
		f.scale = min(max(f.scale+step, start/5), start*5)
		if math.Abs(step) < 1e-4*f.scale {
			break
		}
	}
	return r, !math.IsNaN(r.square)
}
