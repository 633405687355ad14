package noise

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"offbeat/fit/budget"
)

// hum is a line of the mains and twice it in the edge times: rising and falling edges are each late by
// Σ_m a_m sin(2π m f x) + b_m cos(2π m f x), m = 1, 2, with x from the middle of the record.
type hum struct {
	frequency float64              // of the mains, cycles per unit of the chain
	middle    float64              // of the record, in the unit of the chain
	span      float64              // and its length
	late      [humUnknowns]float64 // by line: fall sine, fall cosine, rise sine, rise cosine
	spread    *mat.SymDense        // covariance of late and of the frequency times span
}

const (
	humUnknowns = 8
	humColumns  = humUnknowns + 1 // the frequency's own is the last
	mainsLimit  = 0.01            // the mains keep to this for all but an hour or two of a week (EN 50160)
	humEdges    = 24              // least that a fit of so many unknowns needs
	humSeconds  = 4               // of a longer record hum is white noise: ends of it weigh too little in the mean
	humGain     = 32              // twice the log likelihood that hum must gain: 1 in 10 000 of χ² with 8 degrees of freedom
	humPeriods  = 2               // of the mains, that a record must hold to show hum
)

// mains are the frequencies of public supplies, Hz, the lowest first.
var mains = [2]float64{50, 60}

// columns are what each unknown adds to observation i of the chain, as it was before hum was taken off.
func (h *hum) columns(c *chain, i int, z *[humColumns]float64) {
	*z = [humColumns]float64{}
	x := c.rawX(i) - h.middle
	at := 2 * kind(c.rise[i])
	for line := range 2 {
		m := float64(line + 1)
		f := m * h.frequency
		sin, cos := sincos(f * x)
		mean := c.comb(i, f) // over the cycles of an average
		sin, cos = mean*sin, mean*cos
		k := 4*line + at
		z[k], z[k+1] = sin, cos
		z[humUnknowns] += 2 * math.Pi * m * x / h.span * (h.late[k]*cos - h.late[k+1]*sin)
	}
}

func (c *chain) rawX(i int) float64 {
	if c.seen != nil {
		return c.seen[i]
	}
	return c.x[i]
}

// clean takes the hum off the chain's edges.
func (c *chain) clean(h *hum) {
	if c == nil {
		return
	}
	if c.seen == nil {
		c.seen = append([]float64(nil), c.x...)
	}
	var z [humColumns]float64
	for i := range c.x {
		h.columns(c, i, &z)
		late := 0.0
		for k, a := range h.late {
			late += a * z[k]
		}
		moved := c.seen[i] - late - c.x[i]
		c.x[i] += moved
		c.y[i] += moved
	}
}

// regress fits the hum, as a correction to what is taken off already, beside high and low time under the given noise: one
// pass of the filter of chain.run with more columns. It returns by how much twice the log likelihood grows, the noise's scale
// being free.
func (c *chain) regress(nz *noise, h *hum) (gain float64) {
	const n = 2 + humColumns // columns before the edges themselves: high, low, hum
	var a [n + 1][n + 1]float64
	var carry, v [n + 1]float64 // filtered columns less the columns themselves
	var z, before [humColumns]float64
	var p float64
	dof := -float64(2 + humUnknowns)
	for i, y := range c.y {
		r := nz.white[kind(c.rise[i])] / c.n[i]
		h.columns(c, i, &z)
		if c.start[i] {
			carry, p, before = [n + 1]float64{}, r, z
			continue
		}
		p += c.step(i, nz)
		inv := 1 / (p + r)
		v[0], v[1], v[n] = c.dh[i], c.dl[i], y-c.y[i-1]
		for k := range z {
			v[2+k] = z[k] - before[k]
		}
		for k := range v {
			v[k] -= carry[k]
			for l := range k + 1 {
				a[k][l] += v[k] * v[l] * inv
			}
			carry[k] = -(1 - p*inv) * v[k]
		}
		p *= r * inv
		before = z
		dof++
	}
	det := a[0][0]*a[1][1] - a[1][0]*a[1][0]
	without := a[n][n] - (a[1][1]*a[n][0]*a[n][0]-2*a[1][0]*a[n][0]*a[n][1]+a[0][0]*a[n][1]*a[n][1])/det
	for k := range humUnknowns { // no more than a tenth of a period, lest lines that fall together be undetermined
		a[2+k][2+k] += 100 / ((c.h0 + c.l0) * (c.h0 + c.l0))
	}
	wide := mainsLimit / math.Sqrt(3) * h.frequency * h.span
	a[n-1][n-1] += 1 / (wide * wide)
	information := mat.NewSymDense(n, nil)
	right := mat.NewVecDense(n, nil)
	for k := range n {
		right.SetVec(k, a[n][k])
		for l := range k + 1 {
			information.SetSym(k, l, a[k][l])
		}
	}
	var root mat.Cholesky
	var x mat.VecDense
	var all mat.SymDense
	if !root.Factorize(information) || root.SolveVecTo(&x, right) != nil || root.InverseTo(&all) != nil {
		return 0
	}
	with := a[n][n] - mat.Dot(right, &x)
	h.spread = mat.NewSymDense(humColumns, nil)
	for k := range humColumns {
		for l := range k + 1 {
			h.spread.SetSym(k, l, all.At(2+k, 2+l))
		}
	}
	for k := range h.late {
		h.late[k] += x.AtVec(2 + k)
	}
	h.frequency += x.AtVec(n-1) / h.span
	return dof * math.Log(without/with)
}

// span is from the chain's first edge to its last, in its unit.
func (c *chain) span() float64 { return c.x[len(c.x)-1] - c.x[0] }

// mains are the turns of the mains in a period, where the record is long enough to show them and no longer than that they matter;
// second is how many units of the chain one is.
func (c *chain) mains(second float64) (turns []float64) {
	if seconds := c.span() / second; !(seconds >= humPeriods/mains[0]) || seconds > humSeconds {
		return nil
	}
	for _, f := range mains {
		if t := f * (c.h0 + c.l0) / second; t < 0.25 {
			turns = append(turns, t)
		}
	}
	return turns
}

// findHum looks for hum under the given noise; second is how many units of the chain one is. It returns nil where there is
// none to be seen, or its lines can't be told apart: from the mean times, each other, or the sample lattice.
func (c *chain) findHum(nz *noise, fl *floors, second float64) *hum {
	seconds, period := c.span()/second, (c.h0+c.l0)/second
	if len(c.x) < humEdges || seconds < humPeriods/mains[0] || seconds > humSeconds {
		return nil
	}
	widest := 1.0
	for _, n := range c.n {
		widest = max(widest, n)
	}
	steps := math.Ceil(2 * seconds) // a shift of 2 mainsLimit × 50 Hz over the record is that many cycles
	var best *hum
	most := humGain + 2*math.Log(2*(2*steps+1))
	for _, f := range mains {
		if widest*period*f > 0.25 || mainsLimit*f*period > 0.1 || !apart(f*period, c.cycles) {
			continue
		}
		for s := -steps; s <= steps; s++ {
			h := &hum{frequency: f * (1 + mainsLimit*s/steps) / second, middle: c.x[0] + c.span()/2, span: c.span()}
			if g := c.regress(nz, h); g > most {
				most, best = g, h
			}
		}
	}
	if best == nil || best.power() < (fl.lattice[0]+fl.lattice[1])/2 { // the lattice has lines too, and none has more
		return nil
	}
	return best
}

// apart tells whether hum of a frequency given in cycles per period, seen once a period, and twice it go through two cycles
// or more against the train and against each other.
func apart(f, cycles float64) bool {
	alias := func(f float64) float64 { return math.Abs(f - math.Round(f)) }
	return cycles*min(alias(f), alias(2*f), math.Abs(alias(f)-alias(2*f))) >= humPeriods
}

// power is the mean square of how late hum makes the edges.
func (h *hum) power() float64 { return floats.Dot(h.late[:], h.late[:]) / 4 }

func vector(x []float64) *mat.VecDense { return mat.NewVecDense(len(x), x) }

// swing is the largest relative change of the period by the hum's lines, root sum square.
func (h *hum) swing() float64 {
	sum := 0.0
	for k, a := range h.late {
		w := 2 * math.Pi * h.frequency * float64(1+k/4)
		sum += w * w * a * a / 2 // rising and falling edges
	}
	return math.Sqrt(sum)
}

// row is what hum leaves open of two estimates Σ wh x and Σ wl x: the uncertainty of its fit, and that the mean of a period
// which hum moves by the relative a is another than without, or than that of the frequency, by a²/2.
func (h *hum) row(c *chain, wh, wl []float64) budget.Row {
	var gh, gl [humColumns]float64
	var z [humColumns]float64
	for i := range wh {
		h.columns(c, i, &z)
		for k := range z {
			gh[k] += wh[i] * z[k]
			gl[k] += wl[i] * z[k]
		}
	}
	high, low := vector(gh[:]), vector(gl[:])
	second := h.swing() * h.swing() / 2
	row := budget.Shift(humName, "A", "normal", second, c.h0, c.l0)
	return row.Plus(budget.Row{High: mat.Inner(high, h.spread, high), Both: mat.Inner(high, h.spread, low), Low: mat.Inner(low, h.spread, low)})
}

// join makes the weights of a way those of the joint fit of hum and times (Frisch and Waugh 1933), and its phases those that the
// edges had before hum was taken off: rounding hangs on both.
func (h *hum) join(c *chain, nz *noise, w *way) {
	joint := func(weights []float64) []float64 {
		var g, z [humColumns]float64
		for i, x := range weights {
			h.columns(c, i, &z)
			for k := range z {
				g[k] += x * z[k]
			}
		}
		var moved mat.VecDense
		moved.MulVec(h.spread, vector(g[:]))
		d := *c
		d.y = make([]float64, len(c.y))
		for i := range d.y {
			h.columns(c, i, &z)
			for k := range z {
				d.y[i] += z[k] * moved.AtVec(k)
			}
		}
		f := filter{keep: true}
		d.run(nz, &f)
		out := make([]float64, len(weights))
		for i, u := range d.misfits(&f) {
			out[i] = weights[i] - u
		}
		return out
	}
	w.high, w.low = joint(w.high), joint(w.low)
	for i := range w.phase {
		w.phase[i] += c.rawX(i) - c.x[i]
	}
}
