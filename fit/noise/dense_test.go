package noise

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"offbeat/fit/budget"
)

// someChain is a chain of two or three runs, some of whose edges are missing; where averaged is set its observations are means of a few.
func someChain(rnd *rand.Rand, averaged bool) *chain {
	c := &chain{h0: 7 + 3*rnd.Float64(), l0: 12 + 3*rnd.Float64(), single: !averaged}
	n := 1.0
	if averaged {
		n = float64(2 + rnd.IntN(7))
	}
	x, index := 0.0, 0.0
	for range 2 + rnd.IntN(2) {
		x += 100 * rnd.Float64()
		for i := range 6 + rnd.IntN(14) {
			dh, dl := float64(i%2), float64(1-i%2)
			if averaged && i%2 == 0 { // from the fall of one cycle to the rise of one n further on
				dh, dl = n-1, n
			}
			if i > 0 && rnd.IntN(6) == 0 && !averaged { // an edge that was left out: a whole period more
				dh, dl = dh+1, dl+1
			}
			if i > 0 {
				x += dh*c.h0 + dl*c.l0
			}
			index += dl
			c.add(x+0.3*rnd.NormFloat64(), i%2 == 0, i == 0, dh, dl, n, index)
		}
	}
	return c
}

// whole is the model of a chain as matrices, without a filter: the differences of neighbouring edges of a run are columns times unknowns
// and noise of the covariance V, of which each edge's white noise is in the two differences that it bounds.
type whole struct {
	d           *mat.VecDense
	x           *mat.Dense // differences by unknowns
	edges       *mat.Dense // differences by edges: the one less the other
	v, inverse  *mat.Dense // of the covariance of the differences
	logV, logX  float64
	information *mat.Dense
	beta        *mat.VecDense
	quadratic   float64
}

// lay lays a chain out with more columns beside high and low time, and a prior information of the unknowns (nil: none).
func lay(c *chain, nz *noise, more func(i int) []float64, prior []float64) *whole {
	var from, to []int
	for i := range c.y {
		if !c.start[i] {
			from, to = append(from, i-1), append(to, i)
		}
	}
	extra := 0
	if more != nil {
		extra = len(more(0))
	}
	n := len(to)
	w := &whole{d: mat.NewVecDense(n, nil), x: mat.NewDense(n, 2+extra, nil), edges: mat.NewDense(n, len(c.y), nil)}
	white := mat.NewDense(len(c.y), len(c.y), nil)
	for i := range c.y {
		white.Set(i, i, nz.white[map[bool]int{true: 1}[c.rise[i]]]/c.n[i])
	}
	for k := range n {
		w.d.SetVec(k, c.x[to[k]]-c.x[from[k]]-c.dh[to[k]]*c.h0-c.dl[to[k]]*c.l0)
		w.x.Set(k, 0, c.dh[to[k]])
		w.x.Set(k, 1, c.dl[to[k]])
		for j := range extra {
			w.x.Set(k, 2+j, more(to[k])[j]-more(from[k])[j])
		}
		w.edges.Set(k, to[k], 1)
		w.edges.Set(k, from[k], -1)
	}
	w.v = new(mat.Dense)
	w.v.Product(w.edges, white, w.edges.T())
	for k := range n {
		i := to[k]
		step := c.dh[i]*nz.high + c.dl[i]*nz.low
		if c.n[i] > 1 {
			step = c.step(i, nz) // of means: checked by itself
		}
		w.v.Set(k, k, w.v.At(k, k)+step)
	}
	w.inverse = new(mat.Dense)
	w.inverse.Inverse(w.v)
	w.logV, _ = mat.LogDet(w.v)
	w.information = new(mat.Dense)
	w.information.Product(w.x.T(), w.inverse, w.x)
	for k, p := range prior {
		w.information.Set(k, k, w.information.At(k, k)+p)
	}
	w.logX, _ = mat.LogDet(w.information)
	var right mat.VecDense
	right.MulVec(w.inverse, w.d)
	var xy mat.VecDense
	xy.MulVec(w.x.T(), &right)
	w.beta = new(mat.VecDense)
	w.beta.SolveVec(w.information, &xy)
	w.quadratic = mat.Dot(w.d, &right) - mat.Dot(&xy, w.beta)
	return w
}

func close(a, b, by float64) bool { return math.Abs(a-b) <= by*(math.Abs(a)+math.Abs(b))+1e-12 }

// The filter, its weights, what it makes of the edges, and how a step moves the answer, against the same model as matrices.
func TestChainAgainstMatrices(t *testing.T) {
	celled := 0
	for seed := range uint64(24) {
		rnd := rand.New(rand.NewPCG(seed, 21))
		c := someChain(rnd, seed%4 == 3)
		nz := noise{white: [2]float64{0.02 + rnd.Float64()/10, 0.02 + rnd.Float64()/10}, high: rnd.Float64() / 20, low: rnd.Float64() / 10}
		f := filter{keep: true}
		c.run(&nz, &f)
		w := lay(c, &nz, nil, nil)
		if !close(f.high, w.beta.AtVec(0), 1e-7) || !close(f.low, w.beta.AtVec(1), 1e-7) ||
			!close(f.shh, w.information.At(0, 0), 1e-7) || !close(f.shl, w.information.At(0, 1), 1e-7) || !close(f.sll, w.information.At(1, 1), 1e-7) {
			t.Fatalf("seed %d: %+v, by matrices %v, %v", seed, f, mat.Formatted(w.beta), mat.Formatted(w.information))
		}
		if want := -0.5 * (w.logV + w.logX + w.quadratic); !close(f.logLikelihood, want, 1e-7) {
			t.Errorf("seed %d: log likelihood %.6f, by matrices %.6f", seed, f.logLikelihood, want)
		}
		// Weights of the edges: (X' V⁻¹ X)⁻¹ X' V⁻¹ D.
		var weights, covariance mat.Dense
		covariance.Inverse(w.information)
		weights.Product(&covariance, w.x.T(), w.inverse, w.edges)
		wh, wl := c.weights(&f)
		var left, u mat.VecDense
		left.MulVec(w.x, w.beta)
		left.SubVec(w.d, &left)
		left.MulVec(w.inverse, &left)
		u.MulVec(w.edges.T(), &left)
		var sure mat.Dense
		sure.Product(w.edges.T(), w.inverse, w.edges)
		x, local := c.path(&nz, &f)
		misfits, open := c.misfits(&f), 0.0
		for i := range c.y {
			white := nz.white[map[bool]int{true: 1}[c.rise[i]]] / c.n[i]
			open += (white - white*white*sure.At(i, i)) / float64(len(c.y))
			if !close(wh[i], weights.At(0, i), 1e-7) || !close(wl[i], weights.At(1, i), 1e-7) {
				t.Fatalf("seed %d: edge %d weighs %.6g and %.6g, by matrices %.6g and %.6g", seed, i, wh[i], wl[i], weights.At(0, i), weights.At(1, i))
			}
			if !close(x[i], c.x[i]-white*u.AtVec(i), 1e-7) || !close(misfits[i], u.AtVec(i), 1e-7) {
				t.Fatalf("seed %d: edge %d at %.6f, misfit %.6g, by matrices %.6f, %.6g", seed, i, x[i], misfits[i], c.x[i]-white*u.AtVec(i), u.AtVec(i))
			}
		}
		if !close(local, open, 1e-7) {
			t.Errorf("seed %d: noise leaves %.6g of an edge open, by matrices %.6g", seed, local, open)
		}
		if c.single {
			// Known noise, other white noise and the walk together are the covariance of the fit.
			hh, both, ll := budget.Sum(c.budget(&floors{known: [2]float64{nz.white[0] - 0.01, nz.white[1] - 0.01}}, excess{0.01, nz.high, nz.low}, wh, wl))
			if !close(hh, covariance.At(0, 0), 1e-7) || !close(both, covariance.At(0, 1), 1e-7) || !close(ll, covariance.At(1, 1), 1e-7) {
				t.Errorf("seed %d: covariance %.6g, %.6g, %.6g, by matrices %v", seed, hh, both, ll, mat.Formatted(&covariance))
			}
			c.checkGains(t, wh, wl)
			celled += c.checkCells(t, &nz, &f, w)
		}
	}
	if celled < 8 {
		t.Errorf("the cells of %d chains are looked at", celled)
	}
}

// checkGains moves all edges behind each high and low time by its step.
func (c *chain) checkGains(t *testing.T, wa, wb []float64) {
	t.Helper()
	var high, low float64
	for i := range c.y {
		if c.start[i] {
			continue
		}
		a, b := 0.0, 0.0
		for k := i; k < len(c.y) && (k == i || !c.start[k]); k++ {
			a, b = a+wa[k], b+wb[k]
		}
		high, low = high+c.dh[i]*a*b, low+c.dl[i]*a*b
	}
	if h, l := c.gains(wa, wb); !close(h, high, 1e-7) || !close(l, low, 1e-7) {
		t.Errorf("unit steps have the covariance %.6g and %.6g, edge by edge %.6g and %.6g", h, l, high, low)
	}
}

// checkCells foretells each edge from all others: by the inverse of the covariance of all residuals, an edge's residual has the variance
// 1/P, and its mean is its own share of P times the residuals over that. Its normal density gives way to that of a cell.
func (c *chain) checkCells(t *testing.T, nz *noise, f *filter, w *whole) (looked int) {
	t.Helper()
	var covariance, half, taken, p mat.Dense
	covariance.Inverse(w.information)
	half.Product(w.edges.T(), w.inverse, w.x)
	taken.Product(&half, &covariance, half.T())
	p.Product(w.edges.T(), w.inverse, w.edges)
	p.Sub(&p, &taken)
	var u mat.VecDense
	var left mat.VecDense
	left.MulVec(w.x, w.beta)
	left.SubVec(w.d, &left)
	left.MulVec(w.inverse, &left)
	u.MulVec(w.edges.T(), &left)
	width := [2]float64{0.5, 0.7}
	want := 0.0
	for i := range c.y {
		v := 1 / p.At(i, i)
		r, cell := u.AtVec(i)*v, width[map[bool]int{true: 1}[c.rise[i]]]
		s2 := v - cell*cell/12
		if p.At(i, i) < 1e-9 || s2 > blurred*cell*cell {
			continue
		}
		s := math.Sqrt(max(s2, 1e-12))
		// A uniform error of the cell's width plus a normal one.
		density := 0.5 * (math.Erfc((math.Abs(r)-cell/2)/s/math.Sqrt2) - math.Erfc((math.Abs(r)+cell/2)/s/math.Sqrt2)) / cell
		if density < 1e-12 {
			return 0 // too far out to be told by the difference of two
		}
		want += math.Log(density) + 0.5*math.Log(2*math.Pi*v) + 0.5*r*r/v
	}
	if got := c.cells(f, width); !(math.Abs(got-want) <= 1e-3*float64(len(c.y))) {
		t.Errorf("cells change the likelihood by %.5f, edge by edge %.5f", got, want)
	}
	return 1
}

// Hum beside high and low time against the same columns in one least squares fit: how late the edges are, the covariance, the frequency,
// and what the likelihood gains; then the weights of the joint fit.
func TestHumAgainstMatrices(t *testing.T) {
	for seed := range uint64(8) {
		rnd := rand.New(rand.NewPCG(seed, 22))
		c := someChain(rnd, seed%4 == 3)
		nz := noise{white: [2]float64{0.05, 0.08}, high: 0.01, low: 0.02}
		h := &hum{frequency: (0.1 + 0.1*rnd.Float64()) / c.n[0] / (c.h0 + c.l0), middle: c.x[0] + c.span()/2, span: c.span()}
		h.late = [humUnknowns]float64{0.3, -0.2, 0.1, 0.25, 0.02, 0.1, -0.1, 0.05}
		was := *h
		// Late by the definition: fall and rise, sine and cosine, of the line and twice it, averaged over the cycles of a mean one by one.
		late := func(i int, frequency float64, a [humUnknowns]float64) (sum float64) {
			n := int(c.n[i])
			for k := range n {
				x := c.rawX(i) - was.middle + (float64(k)-float64(n-1)/2)*(c.h0+c.l0)
				for line := range 2 {
					at := 4*line + 2*map[bool]int{true: 1}[c.rise[i]]
					angle := 2 * math.Pi * float64(line+1) * frequency * x
					sum += (a[at]*math.Sin(angle) + a[at+1]*math.Cos(angle)) / float64(n)
				}
			}
			return sum
		}
		columns := func(i int) []float64 {
			z := make([]float64, humColumns)
			for k := range humUnknowns {
				var one [humUnknowns]float64
				one[k] = 1
				z[k] = late(i, was.frequency, one)
			}
			const d = 1e-7
			z[humUnknowns] = (late(i, was.frequency+d, was.late) - late(i, was.frequency-d, was.late)) / (2 * d) / was.span
			return z
		}
		tenth := (c.h0 + c.l0) / 10
		prior := make([]float64, 2+humColumns)
		for k := range humUnknowns {
			prior[2+k] = 1 / tenth / tenth
		}
		prior[2+humUnknowns] = 3 / math.Pow(mainsLimit*was.frequency*was.span, 2)
		w, without := lay(c, &nz, columns, prior), lay(c, &nz, nil, nil)
		gain := c.regress(&nz, h)
		freedom := float64(w.d.Len() - 2 - humUnknowns)
		if want := freedom * math.Log(without.quadratic/w.quadratic); !(math.Abs(gain-want) <= 1e-3*math.Abs(want)) {
			t.Errorf("seed %d: hum gains %.4f, by matrices %.4f", seed, gain, want)
		}
		var covariance mat.Dense
		covariance.Inverse(w.information)
		for k := range humColumns {
			got := (h.frequency - was.frequency) * was.span
			if k < humUnknowns {
				got = h.late[k] - was.late[k]
			}
			u := math.Sqrt(covariance.At(2+k, 2+k))
			if !(math.Abs(got-w.beta.AtVec(2+k)) <= 0.01*u) {
				t.Errorf("seed %d: unknown %d moves by %.5f, by matrices %.5f", seed, k, got, w.beta.AtVec(2+k))
			}
			for l := range humColumns {
				if !(math.Abs(h.spread.At(k, l)-covariance.At(2+k, 2+l)) <= 0.01*u*math.Sqrt(covariance.At(2+l, 2+l))) {
					t.Fatalf("seed %d: covariance of %d and %d is %.5g, by matrices %.5g", seed, k, l, h.spread.At(k, l), covariance.At(2+k, 2+l))
				}
			}
		}
		// Taken off, and again after it was fitted anew: what was seen less how late it is.
		x, y := append([]float64(nil), c.x...), append([]float64(nil), c.y...)
		c.clean(&hum{frequency: was.frequency, middle: was.middle, span: was.span, late: [humUnknowns]float64{1, 2, 3}})
		c.clean(&was)
		lates := make([]float64, len(x))
		for i := range x {
			e := 0.0
			for k, z := range columns(i)[:humUnknowns] {
				e += z * was.late[k]
			}
			if lates[i] = e; !(math.Abs(x[i]-c.x[i]-e) <= 1e-9) || !(math.Abs(y[i]-c.y[i]-e) <= 1e-9) {
				t.Fatalf("seed %d: edge %d is moved by %.6f, want %.6f", seed, i, x[i]-c.x[i], e)
			}
		}
		// The weights of the times in the joint fit, and what the hum's own covariance adds to those of the fit without it.
		f := filter{keep: true}
		c.run(&nz, &f)
		var way way
		way.high, way.low = c.weights(&f)
		way.phase = make([]float64, len(c.y))
		joined := was
		joined.spread = h.spread
		row, second := joined.row(c, way.high, way.low), joined.swing()*joined.swing()/2
		joined.join(c, &nz, &way)
		var weights mat.Dense
		weights.Product(&covariance, w.x.T(), w.inverse, w.edges)
		for i := range c.y {
			if !(math.Abs(way.phase[i]-lates[i]) <= 1e-9) {
				t.Fatalf("seed %d: the phase of edge %d is moved by %.6f, want %.6f", seed, i, way.phase[i], lates[i])
			}
			if u := math.Abs(weights.At(0, i)) + math.Abs(weights.At(1, i)); !(math.Abs(way.high[i]-weights.At(0, i)) <= 1e-4*u+1e-9) || !(math.Abs(way.low[i]-weights.At(1, i)) <= 1e-4*u+1e-9) {
				t.Fatalf("seed %d: beside hum edge %d weighs %.6g and %.6g, by matrices %.6g and %.6g", seed, i, way.high[i], way.low[i], weights.At(0, i), weights.At(1, i))
			}
		}
		var alone mat.Dense
		alone.Inverse(without.information)
		for _, e := range []struct{ got, want float64 }{
			{row.High, covariance.At(0, 0) - alone.At(0, 0) + second*second*c.h0*c.h0}, {row.Both, covariance.At(0, 1) - alone.At(0, 1) + second*second*c.h0*c.l0},
			{row.Low, covariance.At(1, 1) - alone.At(1, 1) + second*second*c.l0*c.l0},
		} {
			if !(math.Abs(e.got-e.want) <= 1e-3*(row.High+row.Low)) {
				t.Errorf("seed %d: hum leaves %.6g open, by matrices %.6g", seed, e.got, e.want)
			}
		}
	}
}
