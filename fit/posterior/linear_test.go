package posterior

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/fit/circuit"
)

// powers is a circuit whose times are products of powers of its parts, so that everything is linear in logarithms and has a
// closed form.
func powers(high, low []float64) *circuit.Circuit {
	of := func(v *circuit.Values, a []float64) float64 {
		sum := 0.0
		for i, p := range a {
			sum += p * math.Log(v[i])
		}
		return math.Exp(sum)
	}
	return &circuit.Circuit{Parts: make([]circuit.Spec, len(high)), OnePulse: low == nil, Times: func(v *circuit.Values) (float64, float64, bool) {
		return of(v, high), of(v, low), true
	}}
}

// linear is a problem of a circuit of powers, with the matrix of its equations: rows · (logarithms of the unknowns) + noise = data.
type linear struct {
	problem Problem
	rows    [][]float64
	noise   *mat.SymDense // covariance of the equations' noise
	half    []float64     // half-width of a rectangular one, nought where it is normal
}

// linearProblem has two captures, in the second of which the first part is multiplied by an extra quantity, then a single pulse
// if asked for, and facts: one of the board, one of the second capture's conditions, one of them rectangular.
func linearProblem(rnd *rand.Rand, facts int, pulse bool) *linear {
	n := 3
	a := func() (row []float64) {
		for range n {
			row = append(row, 2*rnd.Float64()-1)
		}
		return row
	}
	high, low := a(), a()
	l := &linear{problem: Problem{Circuit: powers(high, low), Extra: []float64{1}}}
	k, m := 0, 4+facts
	if pulse {
		m++
	}
	l.noise, l.half = mat.NewSymDense(m, nil), make([]float64, m)
	row := func(r []float64, extra float64, variance float64) {
		l.rows = append(l.rows, append(slices.Clone(r), extra))
		l.noise.SetSym(k, k, variance)
		k++
	}
	adjust := func(v *circuit.Values, extra []float64) { v[0] *= extra[0] }
	for i := range 2 {
		d := Datum{LnHigh: rnd.NormFloat64() / 10, LnLow: rnd.NormFloat64() / 10, High: 0.01 * (1 + rnd.Float64()), Low: 0.02 * (1 + rnd.Float64()), Covariance: 0.01 * (rnd.Float64() - 0.5)}
		l.noise.SetSym(k, k+1, d.Covariance)
		row(high, high[0]*float64(i), d.High)
		row(low, low[0]*float64(i), d.Low)
		if i == 1 {
			d.Adjust = adjust
		}
		l.problem.Data = append(l.problem.Data, d)
	}
	if pulse {
		l.problem.Data = append(l.problem.Data, Datum{LnHigh: rnd.NormFloat64() / 10, High: 0.03, OnePulse: true})
		row(high, 0, 0.03)
	}
	for i := range facts {
		r := a()
		f := Fact{Value: rnd.NormFloat64() / 10, Under: 2 * (i % 2), Of: func(v *circuit.Values) float64 {
			return r[0]*math.Log(v[0]) + r[1]*math.Log(v[1]) + r[2]*math.Log(v[2])
		}}
		if i == 2 {
			f.Half = 0.2
			l.half[k] = f.Half
		} else {
			f.Standard = 0.1 + 0.1*rnd.Float64()
		}
		l.problem.Facts = append(l.problem.Facts, f)
		row(r, r[0]*float64(i%2), f.Standard*f.Standard+f.Half*f.Half)
	}
	return l
}

func (l *linear) data() (y []float64) {
	for _, d := range l.problem.Data {
		if y = append(y, d.LnHigh); !d.OnePulse {
			y = append(y, d.LnLow)
		}
	}
	for _, f := range l.problem.Facts {
		y = append(y, f.Value)
	}
	return y
}

// whole is the matrix of all unknowns, the noise behind the quantities: its factor is the library's, of a rectangular one its half-width.
func (l *linear) whole() *mat.Dense {
	var root mat.Cholesky
	root.Factorize(l.noise)
	var lower mat.TriDense
	root.LTo(&lower)
	m, n := len(l.rows), len(l.rows[0])
	w := mat.NewDense(m, n+m, nil)
	for i, row := range l.rows {
		for j, x := range row {
			w.Set(i, j, x)
		}
		for j := range i + 1 {
			w.Set(i, n+j, lower.At(i, j))
		}
	}
	return w
}

// checkCloud holds each point of a system's cloud to the equations: its free unknowns are drawn from their tilted priors (if so said), all equations
// are met, and it weighs the prior of all unknowns over the Jacobian of those solved and over the density it was drawn with.
func (l *linear) checkCloud(t *testing.T, name string, s *system, drawn bool) {
	t.Helper()
	w, y, all, m := l.whole(), l.data(), len(s.centre), s.times()
	jacobian := mat.NewDense(m, m, nil)
	for k, p := range s.pivots {
		for i := range m {
			jacobian.Set(i, k, w.At(i, p))
		}
	}
	logDet, _ := mat.LogDet(jacobian)
	var inverse mat.Dense
	_ = inverse.Inverse(jacobian)
	prior := func(j int, x float64) float64 {
		if j < len(s.vars) {
			return s.vars[j].Density.LogAt(x)
		}
		if i := j - len(s.vars); l.half[i] > 0 {
			return distuv.Uniform{Min: -1, Max: 1}.LogProb(x)
		}
		return distuv.UnitNormal.LogProb(x)
	}
	mass := 0.0 // of the tilted priors, as far as they are normal
	density := func(k, j int, x float64) float64 {
		d, tilt := s.density(j), s.tilts[k]
		if !d.normal {
			return tilt.LogAt(x) - math.Log(tilt.mass)
		}
		return distuv.Normal{Mu: d.mean + tilt.rate*d.sd*d.sd, Sigma: d.sd}.LogProb(x)
	}
	for k, j := range s.free {
		d, rate, about := s.density(j), s.tilts[k].rate, s.tilts[k].about
		if d.normal { // the mean of exp(rate (x - about))
			mass += rate*(d.mean-about) + rate*rate*d.sd*d.sd/2
		} else {
			mass += math.Log(s.tilts[k].mass)
		}
	}
	if !(math.Abs(mass-s.logMass) <= 1e-9) {
		t.Errorf("%s: the tilted priors hold %v, want %v", name, s.logMass, mass)
	}
	c, met := &s.cloud, 0
	u := make([]float64, len(s.free))
	for k, got := range c.log {
		z := c.z[k*all:][:all]
		c.box.point(newLattice(len(u), c.n, k/c.n, c.seed), k%c.n, u)
		want := -logDet
		for f, j := range s.free {
			if x := s.tilts[f].Quantile(u[f]); drawn && !(math.Abs(x-z[j]) <= 1e-12) {
				t.Fatalf("%s: point %d has %v for unknown %d, its lattice %v", name, k, z[j], j, x)
			}
			want += prior(j, z[j]) - density(f, j, z[j])
		}
		right, solved := mat.NewVecDense(m, slices.Clone(y)), mat.NewVecDense(m, nil)
		for i := range m {
			for _, j := range s.free {
				right.SetVec(i, right.AtVec(i)-w.At(i, j)*z[j])
			}
		}
		if err := solved.SolveVec(jacobian, right); err != nil {
			t.Fatal(err)
		}
		for i, p := range s.pivots {
			want += prior(p, solved.AtVec(i))
		}
		if math.IsInf(got, -1) {
			if want > -30 {
				t.Fatalf("%s: point %d weighs nothing, want %v", name, k, want)
			}
			continue
		}
		met++
		if c.logDet != nil && !(math.Abs(c.logDet[k]-logDet) <= 1e-4) {
			t.Fatalf("%s: point %d has the determinant %v, want %v", name, k, c.logDet[k], logDet)
		}
		for i, p := range s.pivots {
			for j := range s.pivots {
				if c.inverse != nil && !(math.Abs(c.inverse[k*m*m+i*m+j]-inverse.At(i, j)) <= 1e-4*mat.Norm(&inverse, 2)) {
					t.Fatalf("%s: point %d has %v for element %d %d of the inverse, want %v", name, k, c.inverse[k*m*m+i*m+j], i, j, inverse.At(i, j))
				}
			}
			if !(math.Abs(z[p]-solved.AtVec(i)) <= 1e-5*(1+math.Abs(z[p]))) {
				t.Fatalf("%s: point %d: unknown %d solved to %v, want %v", name, k, p, z[p], solved.AtVec(i))
			}
		}
		if got += s.logMass; !(math.Abs(got-want) <= 1e-4*(1+math.Abs(want))) {
			t.Fatalf("%s: point %d weighs %v, want %v", name, k, got, want)
		}
	}
	if met < len(c.log)/4 || met != c.met {
		t.Errorf("%s: %d of %d points have a solution, %d counted", name, met, len(c.log), c.met)
	}
}

// widePriors are normal, or all but one, of the logarithms of three parts and of the extra quantity.
func (l *linear) widePriors(flat bool) *Hypothesis {
	h := &Hypothesis{Odds: 1, Prior: []Density{Normal(0.1, 0.3), Normal(-0.2, 0.2), Normal(0, 0.4)}, Override: []Variable{{Extra(0), true, Normal(0.1, 0.25)}}}
	if flat {
		h.Prior[1] = Uniform(-0.5, 0.6)
	}
	return h
}

// Each point of a cloud, whichever way it was solved: from the first, refined, and by what those near it tell.
func TestPointsOfLinearBoards(t *testing.T) {
	for seed := range uint64(12) {
		l := linearProblem(rand.New(rand.NewPCG(seed, 71)), int(seed%4), seed%3 == 1)
		s := newSystem(&l.problem, l.widePriors(seed%2 == 1))
		if !s.choosePivots() {
			t.Fatal("no pivots")
		}
		for _, n := range []int{8, 32, 128} {
			s.run(unitBox(len(s.free)), n)
			l.checkCloud(t, fmt.Sprintf("problem %d, %d points", seed, n), s, true)
			if s.cloud.logDet == nil {
				t.Errorf("problem %d: Jacobians of %d equations at %d points are not kept", seed, s.times(), n)
			}
		}
		if seed > 0 {
			continue
		}
		for points := mostKept / (s.times() * s.times()); ; points = 2*points + 1 {
			s.room(unitBox(len(s.free)), points/replicates)
			if kept := s.cloud.logDet != nil; kept != (points <= mostKept/(s.times()*s.times())) {
				t.Errorf("Jacobians of %d equations at %d points are kept: %v", s.times(), points, kept)
			} else if !kept {
				break
			}
		}
	}
}

// normal is the closed form of a linear problem with normal priors: the evidence, and mean and covariance of the unknowns.
func (l *linear) normal(mean []float64, spread []float64) (logEvidence float64, at *mat.VecDense, covariance *mat.Dense) {
	m, n := len(l.rows), len(mean)
	a, prior := mat.NewDense(m, n, slices.Concat(l.rows...)), mat.NewDiagDense(n, nil)
	for j, sd := range spread {
		prior.SetDiag(j, sd*sd)
	}
	var ap, gain mat.Dense
	ap.Mul(a, prior)
	var sum mat.Dense
	sum.Mul(&ap, a.T())
	sum.Add(&sum, l.noise)
	told := mat.NewSymDense(m, nil)
	for i := range m {
		for j := range i + 1 {
			told.SetSym(i, j, sum.At(i, j))
		}
	}
	var expected mat.VecDense
	expected.MulVec(a, mat.NewVecDense(n, mean))
	var root mat.Cholesky
	root.Factorize(told)
	var inverse mat.Dense
	_ = inverse.Inverse(&sum)
	gain.Product(prior, a.T(), &inverse)
	var off mat.VecDense
	off.SubVec(mat.NewVecDense(m, l.data()), &expected)
	var weighed mat.VecDense
	_ = root.SolveVecTo(&weighed, &off)
	logEvidence = -0.5 * (mat.Dot(&off, &weighed) + root.LogDet() + float64(m)*math.Log(2*math.Pi))
	at = mat.NewVecDense(n, nil)
	at.MulVec(&gain, &off)
	at.AddVec(at, mat.NewVecDense(n, mean))
	covariance = mat.NewDense(n, n, nil)
	covariance.Product(&gain, a, prior)
	covariance.Sub(prior, covariance)
	return logEvidence, at, covariance
}

// belief is a hypothesis as normal priors of the quantities, and what its equations' noise is (nil: the problem's).
type belief struct {
	mean, spread []float64
	factor       float64 // logarithm of the odds and what counts like them
	noise        *mat.SymDense
}

// check holds a result to the closed form: evidences, probabilities, and the means and the covariance of the samples.
func (l *linear) check(t *testing.T, name string, r *Result, beliefs []belief, within float64) {
	t.Helper()
	logs, own := make([]float64, len(beliefs)), l.noise
	at, covariance := make([]*mat.VecDense, len(beliefs)), make([]*mat.Dense, len(beliefs))
	for i, b := range beliefs {
		if l.noise = own; b.noise != nil {
			l.noise = b.noise
		}
		logs[i], at[i], covariance[i] = l.normal(b.mean, b.spread)
		if got := r.Outcomes[i].LogEvidence; !(math.Abs(got-logs[i]) <= within) && r.Outcomes[i].Probability > 1e-4 {
			t.Errorf("%s, hypothesis %d: log evidence %.4f, want %.4f", name, i, got, logs[i])
		}
		logs[i] += b.factor
	}
	l.noise = own
	sum, n := floats.LogSumExp(logs), len(l.rows[0])
	for i, o := range r.Outcomes {
		p := math.Exp(logs[i] - sum)
		if !(math.Abs(o.Probability-p) <= 4*o.StandardError+1e-3) {
			t.Errorf("%s, hypothesis %d: probability %.5f ± %.5f, want %.5f", name, i, o.Probability, o.StandardError, p)
		}
		if p < 0.1 {
			continue
		}
		m, c := make([]float64, n), mat.NewDense(n, n, nil)
		log := func(s *Sample) []float64 {
			x := []float64{math.Log(s.Values[0]), math.Log(s.Values[1]), math.Log(s.Values[2])}
			for _, e := range s.Extra {
				x = append(x, math.Log(e))
			}
			return x
		}
		total := 0.0
		for k := range r.Samples {
			if s := &r.Samples[k]; s.Hypothesis == i {
				floats.AddScaled(m, s.Weight, log(s))
				total += s.Weight
			}
		}
		if !(math.Abs(total-o.Probability) <= 1e-3) {
			t.Errorf("%s, hypothesis %d: its samples weigh %v, want %v", name, i, total, o.Probability)
		}
		floats.Scale(1/total, m)
		for k := range r.Samples {
			if s := &r.Samples[k]; s.Hypothesis == i {
				x := log(s)
				for a := range m {
					for b := range m {
						c.Set(a, b, c.At(a, b)+s.Weight/total*(x[a]-m[a])*(x[b]-m[b]))
					}
				}
			}
		}
		for a := range m {
			u := math.Sqrt(covariance[i].At(a, a))
			if !(math.Abs(m[a]-at[i].AtVec(a)) <= 3*within*u+1e-9) {
				t.Errorf("%s, hypothesis %d: mean %d is %.4f, want %.4f ± %.4f", name, i, a, m[a], at[i].AtVec(a), u)
			}
			for b := range m {
				if v := math.Sqrt(covariance[i].At(b, b)); !(math.Abs(c.At(a, b)-covariance[i].At(a, b)) <= 5*within*u*v+1e-9) {
					t.Errorf("%s, hypothesis %d: covariance %d %d is %.5f, want %.5f", name, i, a, b, c.At(a, b), covariance[i].At(a, b))
				}
			}
		}
	}
}

// misfits is the noise of a board that nothing explains: of the captures with what moves the times besides, of the facts 1.
func (l *linear) misfits(m Misfit) *mat.SymDense {
	n := mat.NewSymDense(len(l.rows), nil)
	k := 0
	for _, d := range l.problem.Data {
		if n.SetSym(k, k, l.noise.At(k, k)+m.High*m.High+m.Both*m.Both); !d.OnePulse {
			n.SetSym(k, k+1, l.noise.At(k, k+1)+m.Both*m.Both)
			n.SetSym(k+1, k+1, l.noise.At(k+1, k+1)+m.Low*m.Low+m.Both*m.Both)
			k++
		}
		k++
	}
	for ; k < len(l.rows); k++ {
		n.SetSym(k, k, 1)
	}
	return n
}

// The whole back-solve against the closed form of normal priors and linear times: of a board as it is, of one whose extra quantity is
// better known or not in doubt, and of one that nothing explains.
func TestLinearBoardsHaveAClosedForm(t *testing.T) {
	for seed := range uint64(4) {
		l := linearProblem(rand.New(rand.NewPCG(seed, 72)), int(seed%3), seed%2 == 1)
		l.problem.Seed = seed
		mean, spread := []float64{0.1, -0.2, 0, 0.1}, []float64{0.3, 0.2, 0.4, 0.25}
		narrow, fixed, misfit := *l.widePriors(false), *l.widePriors(false), *l.widePriors(false)
		narrow.Override = []Variable{{Extra(0), true, Normal(0.1, 0.05)}}
		narrow.Odds, narrow.LogFactor = 0.4, 0.7
		fixed.Override, fixed.Fixed, fixed.Odds = nil, []Fixed{{Extra(0), math.Exp(0.3)}}, 0.2
		m := Misfit{Share: 1, High: 0.3, Low: 0.2, Both: 0.1}
		misfit.Unexplained, misfit.Misfit = true, []Misfit{m}
		l.problem.Nuisance = []Variable{{Extra(0), true, Normal(5, 1)}} // in place of which the hypotheses have their own
		r, err := Run(&l.problem, []Hypothesis{*l.widePriors(false), narrow, fixed, misfit})
		if err != nil {
			t.Fatal(err)
		}
		l.check(t, fmt.Sprint("problem ", seed), r, []belief{{mean, spread, 0, nil}, {mean, []float64{0.3, 0.2, 0.4, 0.05}, math.Log(0.4) + 0.7, nil},
			{[]float64{0.1, -0.2, 0, 0.3}, []float64{0.3, 0.2, 0.4, 0}, math.Log(0.2), nil}, {mean, spread, 0, l.misfits(m)}}, 0.02)
	}
}

// Boards of a lot against the closed form, among them such as lie beyond the cells; and each point that is moved from the middle of a cell
// to a board in it.
func TestBoardsOfALinearLot(t *testing.T) {
	for seed := range uint64(4) {
		rnd := rand.New(rand.NewPCG(seed, 73))
		l := linearProblem(rnd, 0, false)
		pulse := seed == 3
		l.problem.Extra, l.problem.Data, l.rows = nil, l.problem.Data[:1], l.rows[:2]
		if pulse {
			l.rows, l.problem.Circuit.OnePulse, l.problem.Data[0].OnePulse = l.rows[:1], true, true
		}
		for i := range l.rows {
			l.rows[i] = l.rows[i][:3]
		}
		hs := []Hypothesis{{Odds: 1, Prior: []Density{Normal(0, 0.02), Normal(0, 0.05), Normal(0, 0.03)}}, {Odds: 0.2, Prior: []Density{Normal(0.1, 0.3), Normal(0, 0.05), Normal(0, 0.03)}},
			{Odds: 0.1, Prior: []Density{Normal(0, 0.02), Normal(0, 0.05), Normal(0.2, 0.4)}}}
		beliefs := []belief{{[]float64{0, 0, 0}, []float64{0.02, 0.05, 0.03}, 0, nil}, {[]float64{0.1, 0, 0}, []float64{0.3, 0.05, 0.03}, math.Log(0.2), nil},
			{[]float64{0, 0, 0.2}, []float64{0.02, 0.05, 0.4}, math.Log(0.1), nil}}
		b := NewBoards(&l.problem, hs)
		if b == nil {
			t.Fatal("no boards")
		}
		var sum mat.SymDense // of the first hypothesis's times
		scaled := mat.NewDense(len(l.rows), 3, slices.Concat(l.rows...))
		for i := range l.rows {
			for j, sd := range beliefs[0].spread {
				scaled.Set(i, j, scaled.At(i, j)*sd)
			}
		}
		sum.SymOuterK(1, scaled)
		for i := range l.rows { // a cell's half-widths are 0.35 standard deviations, each time beside those before it
			for k := range i + 1 {
				want := 0.0
				for j := range k + 1 {
					want += b.axes[i][j] * b.axes[k][j]
				}
				close(t, "cell", want/cellHalf/cellHalf, sum.At(i, k)+map[bool]float64{true: 1e-8}[i == k], 1e-5)
			}
		}
		for board := range 8 {
			d := Datum{High: 1e-5 * (0.2 + rnd.Float64()), Low: 2e-5 * (0.2 + rnd.Float64()), OnePulse: pulse}
			d.Covariance = 0.8 * (2*rnd.Float64() - 1) * math.Sqrt(d.High*d.Low)
			x := []float64{0.02 * rnd.NormFloat64(), 0.05 * rnd.NormFloat64(), 0.03 * rnd.NormFloat64()}
			x[2*(board%2)] *= float64(1 + board)
			d.LnHigh = floats.Dot(l.rows[0], x) + 3e-3*rnd.NormFloat64()
			l.noise = mat.NewSymDense(len(l.rows), nil)
			if l.noise.SetSym(0, 0, d.High); !pulse {
				d.LnLow = floats.Dot(l.rows[1], x) + 3e-3*rnd.NormFloat64()
				l.noise.SetSym(0, 1, d.Covariance)
				l.noise.SetSym(1, 1, d.Low)
			}
			own := l.problem
			own.Data = []Datum{d}
			l.problem.Data = own.Data
			r, err := b.Run(&own)
			if err != nil {
				t.Fatal(err)
			}
			name := fmt.Sprintf("lot %d, board %d", seed, board)
			l.check(t, name, r, beliefs, 0.06)
			if middle := b.near(&d); middle != nil {
				for i, s := range middle.systems {
					if s != nil && s.movable() {
						l.checkCloud(t, fmt.Sprintf("%s, hypothesis %d", name, i), s.moved(&own, 1+board%2, board%4 == 3), false)
					}
				}
			}
		}
	}
}

// The unknowns to eliminate are those that move the equations most in a direction that those before do not reach, each in spreads of its
// prior; the others come by how much the equations tie them, and are drawn about their conditional means: by projections, the hat matrix
// and least squares of the library.
func TestPivotsOfLinearBoards(t *testing.T) {
	for seed := range uint64(8) {
		l := linearProblem(rand.New(rand.NewPCG(seed, 74)), int(seed%3), seed%2 == 1)
		s := newSystem(&l.problem, l.widePriors(false))
		z, r := slices.Clone(s.centre), make([]float64, s.times())
		for j := range z {
			z[j] += 0.3 * s.spread[j] * float64(j%3-1) // the medians are told from anywhere
		}
		if !s.residual(z, r) || !s.pivotsAt(z, r) {
			t.Fatal("no pivots")
		}
		w, m := l.whole(), s.times()
		n := len(s.centre)
		scaled := mat.NewDense(m, n, nil)
		for j := range n {
			for i := range m {
				scaled.Set(i, j, w.At(i, j)*s.spread[j])
			}
		}
		rest := mat.DenseCopyOf(scaled)
		for k, p := range s.pivots {
			largest := 0.0
			for j := range n {
				largest = max(largest, mat.Norm(rest.ColView(j), 2))
			}
			if got := mat.Norm(rest.ColView(p), 2); !(math.Abs(got/largest-1) <= 1e-6) {
				t.Errorf("problem %d: pivot %d moves the rest by %v, the most is %v", seed, k, got, largest)
			}
			direction := mat.NewVecDense(m, mat.Col(nil, p, rest))
			direction.ScaleVec(1/mat.Norm(direction, 2), direction)
			var along, outer mat.Dense
			along.Mul(direction.T(), rest)
			outer.Mul(direction, &along)
			rest.Sub(rest, &outer)
		}
		var gram, inverse, hat, toward mat.Dense
		gram.Mul(scaled, scaled.T())
		_ = inverse.Inverse(&gram)
		hat.Product(scaled.T(), &inverse, scaled)
		var medians, off mat.VecDense
		medians.MulVec(w, mat.NewVecDense(n, s.centre))
		off.SubVec(mat.NewVecDense(m, l.data()), &medians)
		toward.Product(scaled.T(), &inverse, &off)
		for k, j := range s.free {
			if k > 0 && hat.At(j, j) > hat.At(s.free[k-1], s.free[k-1])+1e-6 {
				t.Errorf("problem %d: unknown %d is tied more than %d", seed, j, s.free[k-1])
			}
			if d := s.tilts[k].Density; !(math.Abs((d.mean-s.centre[j])/s.spread[j]-toward.At(j, 0)) <= 1e-5) {
				t.Errorf("problem %d: unknown %d is drawn %v spreads from its median, want %v", seed, j, (d.mean-s.centre[j])/s.spread[j], toward.At(j, 0))
			}
		}
		if free := append(slices.Clone(s.free), s.pivots...); len(free) != n || len(slices.Compact(slices.Sorted(slices.Values(free)))) != n {
			t.Errorf("problem %d: %v and %v are not all unknowns", seed, s.free, s.pivots)
		}
		// All together come to a solution by the shortest way.
		copy(z, s.centre)
		s.approach(z)
		for j := range z {
			if got := (z[j] - s.centre[j]) / s.spread[j]; !(math.Abs(got-toward.At(j, 0)) <= 1e-5) {
				t.Errorf("problem %d: unknown %d goes %v spreads, the shortest way %v", seed, j, got, toward.At(j, 0))
			}
		}
	}
}

// Where supports end, the others go the rest of the way: a solution is found wherever the supports hold one. Which of the unknowns stands at
// an end, and that no point outside is asked for, is seen here.
func TestApproachKeepsToTheSupports(t *testing.T) {
	met := 0
	for seed := range uint64(30) {
		rnd := rand.New(rand.NewPCG(seed, 75))
		l := linearProblem(rnd, 0, false)
		h := &Hypothesis{Prior: []Density{Uniform(-0.5, 0.5), Uniform(-0.5, 0.5), Uniform(-0.5, 0.5)}, Override: []Variable{{Extra(0), true, Uniform(-0.5, 0.5)}}}
		truth := make([]float64, 4)
		for j := range truth {
			truth[j] = 0.48 * float64(1-2*rnd.IntN(2)) // near a corner
		}
		for i := range l.problem.Data {
			d := &l.problem.Data[i]
			d.LnHigh, d.LnLow = floats.Dot(l.rows[2*i], truth), floats.Dot(l.rows[2*i+1], truth)
			d.High, d.Low, d.Covariance = 1e-8, 1e-8, 0
		}
		s := newSystem(&l.problem, h)
		z, r := slices.Clone(s.centre), make([]float64, s.times())
		s.approach(z)
		s.residual(z, r)
		for j := range z {
			if z[j] < s.from[j] || z[j] > s.to[j] {
				t.Errorf("problem %d: unknown %d at %v of %v to %v", seed, j, z[j], s.from[j], s.to[j])
			}
		}
		if worst(r) < 1e-6 {
			met++
		}
		if !s.choosePivots() || !s.met {
			t.Errorf("problem %d: solutions begin at none", seed)
		}
		l.problem.Data[0].LnHigh += 4 // beyond all that the supports reach
		if s = newSystem(&l.problem, h); !s.choosePivots() || s.met {
			t.Errorf("problem %d: a solution is met where there is none", seed)
		}
	}
	if met < 30 {
		t.Errorf("%d of 30 solutions were found", met)
	}
}

// A hypothesis reaches the times if every one of them, and every ratio of two to 2 %, lies between the sums of what the ends of the
// supports make of it; a normal counts to six standard deviations.
func TestReachIsTheSumOfTheEnds(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 76))
	said := map[bool]int{}
	for range 400 {
		a := [][]float64{{2*rnd.Float64() - 1, 2*rnd.Float64() - 1, 0}, {2*rnd.Float64() - 1, 2*rnd.Float64() - 1, 0.02 * rnd.Float64()}}
		p := &Problem{Circuit: powers(a[0], a[1])}
		d := Datum{LnHigh: 0.6 * rnd.NormFloat64(), LnLow: 0.6 * rnd.NormFloat64(), High: 1e-4 * rnd.Float64(), Low: 1e-4 * rnd.Float64()}
		p.Data = []Datum{d}
		h := &Hypothesis{Prior: []Density{Uniform(-0.4, 0.5), Normal(0.1, 0.05), Normal(0, 0.04)}}
		s := newSystem(p, h)
		want, near := true, false
		within := func(coefficients []float64, noise, y, slack float64) {
			low, high := -6*noise-slack, 6*noise+slack
			low, high = low+min(-0.4*coefficients[0], 0.5*coefficients[0]), high+max(-0.4*coefficients[0], 0.5*coefficients[0])
			low, high = low+0.1*coefficients[1]-0.3*math.Abs(coefficients[1]), high+0.1*coefficients[1]+0.3*math.Abs(coefficients[1])
			low, high = low-0.24*math.Abs(coefficients[2]), high+0.24*math.Abs(coefficients[2])
			want = want && y >= low && y <= high
			near = near || math.Abs(y-low) < 1e-6 || math.Abs(y-high) < 1e-6
		}
		within(a[0], math.Sqrt(d.High), d.LnHigh, 0)
		within(a[1], math.Sqrt(d.Low), d.LnLow, 0)
		ratio := []float64{a[1][0] - a[0][0], a[1][1] - a[0][1], a[1][2] - a[0][2]}
		within(ratio, math.Sqrt(d.High)+math.Sqrt(d.Low), d.LnLow-d.LnHigh, 0.02)
		reached := s.reaches()
		if reached != want && !near {
			t.Errorf("%v and %v: reaches %v, want %v", a, d, reached, want)
		}
		said[want]++
		// Such a fact rules out as a time does; one of a capture's own conditions need not be monotonic.
		for under := range 2 {
			p.Facts = []Fact{{Of: func(v *circuit.Values) float64 { return math.Log(v[0]) }, Value: 0.7, Half: 0.1, Under: under}}
			if got := newSystem(p, h).reaches(); got != (want && under == 1) && !near {
				t.Errorf("%v and %v: with a fact under %d reaches %v", a, d, under, got)
			}
		}
		p.Facts = nil
		s.cell = [][]float64{{0.1, 0}, {0.05, -0.12}} // boards up to that far along each axis
		want, near = true, false
		within(a[0], math.Sqrt(d.High), d.LnHigh, 0.1)
		within(a[1], math.Sqrt(d.Low), d.LnLow, 0.17)
		within(ratio, math.Sqrt(d.High)+math.Sqrt(d.Low), d.LnLow-d.LnHigh, 0.02+0.05+0.12)
		if got := s.reaches(); got != want && !near {
			t.Errorf("%v and %v, of a cell: reaches %v, want %v", a, d, got, want)
		}
		h.Override = []Variable{{Slot: 3, Density: Uniform(-5, 5)}} // no part, however wide
		if got := newSystem(p, h).reaches(); got != reached {
			t.Errorf("%v and %v, beside a wide unknown: reaches %v, want %v", a, d, got, reached)
		}
		h.Prior[0] = Uniform(-0.6, 0.6) // a factor of three: the times may turn, nothing is ruled out
		if !newSystem(p, h).reaches() {
			t.Error("a shifted part rules something out")
		}
	}
	if said[true] < 50 || said[false] < 50 {
		t.Errorf("%v", said)
	}
}

// A board that does not run has no times. Here one part decides that, and nothing else: what is likely is so much less, for an
// explanation and for none, and nothing is where none runs.
func TestBoardsThatDoNotRun(t *testing.T) {
	for _, runs := range []float64{0.5, 0.8, 0} {
		l := linearProblem(rand.New(rand.NewPCG(3, 77)), 0, false)
		l.problem.Extra, l.problem.Data, l.rows = nil, l.problem.Data[:1], [][]float64{l.rows[0][:3], l.rows[1][:3]}
		c := *l.problem.Circuit
		c.Parts = make([]circuit.Spec, 4)
		times := c.Times
		c.Times = func(v *circuit.Values) (float64, float64, bool) {
			high, low, _ := times(v)
			return high, low, math.Log(v[3]) < runs
		}
		l.problem.Circuit = &c
		l.problem.Base[3] = 1
		h := Hypothesis{Odds: 1, Prior: append(l.widePriors(false).Prior, Uniform(0, 1))}
		none := h
		m := Misfit{Share: 1, High: 0.3, Low: 0.2, Both: 0.1}
		none.Unexplained, none.Misfit = true, []Misfit{m}
		r, err := Run(&l.problem, []Hypothesis{h, none})
		if err != nil {
			t.Fatal(err)
		}
		own := mat.NewSymDense(2, []float64{l.noise.At(0, 0), l.noise.At(0, 1), l.noise.At(0, 1), l.noise.At(1, 1)})
		for i := range 2 {
			if l.noise = own; i == 1 {
				l.noise = l.misfits(m)
			}
			want, _, _ := l.normal([]float64{0.1, -0.2, 0}, []float64{0.3, 0.2, 0.4})
			if got := r.Outcomes[i].LogEvidence; !(math.Abs(got-want-math.Log(runs)) < 0.03) && !(runs == 0 && math.IsInf(got, -1)) {
				t.Errorf("%g run, hypothesis %d: log evidence %v, want %v", runs, i, got, want+math.Log(runs))
			}
		}
		if r.Status.Impossible != (runs == 0) {
			t.Errorf("%g run: impossible %v", runs, r.Status.Impossible)
		}
	}
}

// A box that cuts off what weighs is widened until nothing lies against its sides: the evidence is that of the whole.
func TestNarrowBoxIsWidened(t *testing.T) {
	for seed := range uint64(4) {
		l := linearProblem(rand.New(rand.NewPCG(seed, 78)), 0, false)
		s := newSystem(&l.problem, l.widePriors(false))
		if !s.choosePivots() {
			t.Fatal("no pivots")
		}
		b := unitBox(len(s.free))
		for k := range b.from {
			b.from[k], b.to[k] = 0.3, 0.55
		}
		want, _, _ := l.normal([]float64{0.1, -0.2, 0, 0.1}, []float64{0.3, 0.2, 0.4, 0.25})
		cut, whole := s.summarise(s.run(b, 256)).logEvidence, s.summarise(s.runWidening(b, 256)).logEvidence
		if !(math.Abs(whole-want) <= 0.02) || cut > want-0.5 {
			t.Errorf("problem %d: log evidence %.4f, before widening %.4f, want %.4f", seed, whole, cut, want)
		}
		s.cloud.met = 0
		if w := s.cloud.widened(); w.volume() != s.cloud.box.volume() {
			t.Error("a box without a solution is widened")
		}
	}
}

// A circuit that runs in a corner of one prior only is found to run there, whichever it is; derivatives are taken inside the supports.
func TestStartsWhereItRuns(t *testing.T) {
	for part := range 3 {
		for _, u := range []float64{0.002, 0.05, 0.5, 0.8, 0.98} {
			l := linearProblem(rand.New(rand.NewPCG(1, 79)), 0, false)
			l.problem.Data = l.problem.Data[:1]
			c := *l.problem.Circuit
			times := c.Times
			h := l.widePriors(true)
			d := h.Prior[part]
			c.Times = func(v *circuit.Values) (float64, float64, bool) {
				high, low, _ := times(v)
				x := math.Log(v[part])
				return high, low, u < 0.5 && x <= d.Quantile(u)+1e-9 || u > 0.5 && x >= d.Quantile(u)-1e-9
			}
			l.problem.Circuit = &c
			s := newSystem(&l.problem, h)
			z := make([]float64, len(s.centre))
			if got := s.start(z); got != (u != 0.5) {
				t.Errorf("part %d below or above %g: runs %v", part, u, got)
			}
			for j := range z {
				if j != part && z[j] != s.centre[j] {
					t.Errorf("part %d below or above %g: part %d is at %v, its median is %v", part, u, j, z[j], s.centre[j])
				}
			}
		}
	}
	l := linearProblem(rand.New(rand.NewPCG(1, 79)), 0, false)
	c := *l.problem.Circuit
	times := c.Times
	c.Times = func(v *circuit.Values) (float64, float64, bool) {
		high, low, _ := times(v)
		return high, low, math.Abs(math.Log(v[1])) <= 0.5*(1+1e-12)
	}
	l.problem.Circuit = &c
	h := l.widePriors(false)
	h.Prior[1] = Uniform(-0.5, 0.5)
	s := newSystem(&l.problem, h)
	for _, end := range []float64{-0.5, 0.5} {
		z, r, out := slices.Clone(s.centre), make([]float64, 4), make([]float64, 4)
		z[1] = end
		s.residual(z, r)
		if !s.column(z, r, 1, out) || z[1] != end {
			t.Fatalf("at %g no derivative", end)
		}
		for i, row := range l.rows {
			close(t, "derivative", out[i], row[1], 1e-5)
		}
	}
}

// What the solved points say of others is a plane: it is told where the determinant keeps to one by a hundredth, against the library's
// least squares; points found by it take less than half of the evaluations; the same lattice again takes none.
func TestWhatPointsTellOfOthers(t *testing.T) {
	curved := 0
	for _, spread := range []float64{0.01, 0.05, 0.2, 0.5} {
		p := bench(t, 10e3, 47e3, 100e-9, 0.1*spread)
		p.Nuisance = []Variable{{Slot: circuit.Stray, Density: Normal(1e-12, 1e-13)}} // an unknown of another size
		s := newSystem(p, &Hypothesis{Prior: []Density{Normal(math.Log(10e3), spread), Normal(math.Log(47e3), spread), Normal(math.Log(100e-9), spread)}})
		if !s.choosePivots() {
			t.Fatal("no pivots")
		}
		s.run(unitBox(len(s.free)), 64)
		c := &s.cloud
		x, y := mat.NewDense(c.met, len(s.free)+1, nil), mat.NewVecDense(c.met, nil)
		i := 0
		for k, l := range c.log {
			if math.IsInf(l, -1) {
				continue
			}
			x.Set(i, 0, 1)
			for f, j := range s.free {
				x.Set(i, f+1, c.z[k*len(s.centre)+j]-s.centre[j])
			}
			y.SetVec(i, c.logDet[k])
			i++
		}
		var fit, left mat.VecDense
		_ = fit.SolveVec(x, y)
		left.MulVec(x, &fit)
		left.SubVec(y, &left)
		off := math.Sqrt(mat.Dot(&left, &left) / float64(c.met-len(s.free)-1))
		told := s.learn()
		if (told != nil) != (off <= flat) {
			t.Errorf("spread %g: determinants stray by %v from a plane, and are told: %v", spread, off, told != nil)
		}
		if told == nil {
			curved++
			continue
		}
		each := float64(s.evals) / float64(replicates*64)
		s.evals = 0
		s.run(unitBox(len(s.free)), 128)
		if again := float64(s.evals) / float64(replicates*64); again > each/2 {
			t.Errorf("spread %g: %.1f evaluations a point, by what others tell %.1f", spread, each, again)
		}
		s.evals = 0
		if s.run(unitBox(len(s.free)), 128); s.evals != 0 {
			t.Errorf("the same again takes %d evaluations", s.evals)
		}
		w := newSolver(2, len(s.free))
		s.evals = 0
		for k := range 50 { // others than it was told by
			z := slices.Clone(c.z[k*len(s.centre):][:len(s.centre)])
			for _, j := range s.free {
				z[j] += s.spread[j] / 50
			}
			r := make([]float64, 2)
			if !told.solve(s, z, w) || !s.residual(z, r) || worst(r) > 1e-5 {
				t.Fatalf("spread %g: point %d is not solved: %g", spread, k, worst(r))
			}
		}
		if s.evals > 50*4 {
			t.Errorf("spread %g: %d evaluations of 50 points", spread, s.evals)
		}
		s.cloud.met = perPlane * (len(s.free) + 1)
		if s.learn() == nil {
			t.Error("nothing is told by just enough points")
		}
		if s.cloud.met--; s.learn() != nil {
			t.Error("too few points tell")
		}
	}
	if curved == 0 || curved == 4 {
		t.Errorf("%d of 4 are curved", curved)
	}
}

// From wherever solutions begin, those of linear boards are told exactly, and none is looked for where one lies three quarters of a
// spread and more beyond a support, of the middle of a cell half a spread farther.
func TestGuessOfLinearBoards(t *testing.T) {
	l := linearProblem(rand.New(rand.NewPCG(1, 80)), 1, true)
	s := newSystem(&l.problem, l.widePriors(false))
	if !s.choosePivots() {
		t.Fatal("no pivots")
	}
	rnd := rand.New(rand.NewPCG(2, 80))
	z, r := make([]float64, len(s.centre)), make([]float64, s.times())
	for j := range z {
		s.begin[j] = s.centre[j] + s.spread[j]*(rnd.Float64()-0.5)
		z[j] = s.centre[j] + s.spread[j]*(rnd.Float64()-0.5)
	}
	if !s.residual(s.begin, r) || !s.pivotsAt(s.begin, r) {
		t.Fatal("no pivots there")
	}
	s.refer()
	if !s.guess(z) || !s.residual(z, r) || worst(r) > 1e-6 {
		t.Errorf("told to %g", worst(r))
	}
	for _, c := range []struct {
		at   float64 // in spreads beyond the upper or lower end
		cell [][]float64
		want bool
	}{{0.7, nil, true}, {0.8, nil, false}, {1.2, [][]float64{{1}}, true}, {1.3, [][]float64{{1}}, false}} {
		for _, begin := range []float64{1 + 0.2*c.at, -1 - 0.2*c.at} {
			one := &system{pivots: []int{0}, offset: []float64{0}, begin: []float64{begin}, from: []float64{-1}, to: []float64{1}, spread: []float64{0.2}, cell: c.cell}
			if got := one.guess([]float64{0}); got != c.want {
				t.Errorf("%g spreads out: looked for %v", c.at, got)
			}
		}
	}
	out := &system{pivots: []int{1, 0}, from: []float64{-1, 2}, to: []float64{1, 5}, spread: []float64{0.5, 4}}
	for _, c := range []struct{ first, second, want float64 }{{-1, 0.5, 0}, {3, 2, 2}, {-3, 0, 0.5}, {10, 0, 2}, {0, -5, 8}} { // of the pivots 1 and 0
		close(t, "beyond", out.beyond([]float64{0, 3}, []float64{c.first, c.second}), c.want, 1e-12)
	}
	if q := (&system{pivots: []int{2, 0}, spread: []float64{4, 1, 0.5}}).ofSpread([]float64{-0.3, 2}); q != 0.6 {
		t.Errorf("steps of 0.6 and 0.5 spreads: %g", q)
	}
}

// A part far off by its prior's rare side may be what a board that nothing explains has besides: the average over a prior of two unequal
// sides, of which the rare one is drawn more often, against quadrature.
func TestUnexplainedByARareSide(t *testing.T) {
	prior := Uniform(-0.1, 0.1).Beside(Uniform(1, 2), 0.02)
	m := Misfit{Share: 1, High: 0.2}
	for _, y := range []float64{0.3, 1.4} {
		p := &Problem{Circuit: powers([]float64{1}, nil), Data: []Datum{{LnHigh: y, High: 0.01, OnePulse: true}}}
		p.Base[0] = 1
		r, err := Run(p, []Hypothesis{{Odds: 1, Prior: []Density{prior}, Unexplained: true, Misfit: []Misfit{m}}})
		if err != nil {
			t.Fatal(err)
		}
		law := distuv.Normal{Mu: y, Sigma: math.Sqrt(0.05)}
		want := (law.CDF(0.1)-law.CDF(-0.1))/0.2 + 0.02*(law.CDF(2)-law.CDF(1))
		if got := r.Outcomes[0].LogEvidence; !(math.Abs(got-math.Log(want)) <= 0.01) {
			t.Errorf("at %g: log evidence %.4f, want %.4f", y, got, math.Log(want))
		}
		rare := 0.0
		for _, s := range r.Samples {
			if s.Values[0] > 2 {
				rare += s.Weight
			}
		}
		if share := 0.02 * (law.CDF(2) - law.CDF(1)) / want; !(math.Abs(rare-share) <= 0.01) {
			t.Errorf("at %g: the rare side has %.4f, want %.4f", y, rare, share)
		}
	}
}

// A fact is read on the hypothesis's own circuit where it has that number, and else the hypothesis cannot be.
func TestFactOnAnotherCircuit(t *testing.T) {
	l := linearProblem(rand.New(rand.NewPCG(4, 81)), 1, false)
	h := l.widePriors(false)
	h.Circuit = powers([]float64{0.3, 0.6, 0.1}, []float64{0.5, -0.2, 0.9})
	of := func(v *circuit.Values) float64 { return 0.4*math.Log(v[0]) - 0.9*math.Log(v[2]) }
	l.problem.Facts[0].On = func(c *circuit.Circuit) func(v *circuit.Values) float64 {
		if c != h.Circuit {
			return nil
		}
		return of
	}
	other := *h
	other.Circuit = powers([]float64{0.3, 0.6, 0.1}, []float64{0.5, -0.2, 0.9})
	r, err := Run(&l.problem, []Hypothesis{*h, other})
	if err != nil {
		t.Fatal(err)
	}
	l.rows = [][]float64{{0.3, 0.6, 0.1, 0}, {0.5, -0.2, 0.9, 0}, {0.3, 0.6, 0.1, 0.3}, {0.5, -0.2, 0.9, 0.5}, {0.4, 0, -0.9, 0}}
	want, _, _ := l.normal([]float64{0.1, -0.2, 0, 0.1}, []float64{0.3, 0.2, 0.4, 0.25})
	if got := r.Outcomes[0].LogEvidence; !(math.Abs(got-want) <= 0.02) || r.Outcomes[1].Probability != 0 {
		t.Errorf("log evidence %.4f, want %.4f; one without that number has %.4f", got, want, r.Outcomes[1].Probability)
	}
}

// A board that has changed since its times were taken: facts are read of it, and samples show it, as it is now; one that nothing explains
// is compared by its nominal times alone.
func TestPresentBoard(t *testing.T) {
	l := linearProblem(rand.New(rand.NewPCG(5, 83)), 2, false)
	l.problem.Facts[1].Under = 0
	for i := range 3 {
		l.problem.Base[i] = math.Exp(0.05 * float64(i+1))
	}
	l.problem.Present = func(v *circuit.Values, extra []float64) { v[0] *= extra[0] }
	for i := 4; i < 6; i++ {
		l.rows[i][3] = l.rows[i][0]
	}
	none := *l.widePriors(false)
	m := Misfit{Share: 1, High: 0.3, Low: 0.2, Both: 0.1}
	none.Unexplained, none.Misfit = true, []Misfit{m}
	r, err := Run(&l.problem, []Hypothesis{*l.widePriors(false), none})
	if err != nil {
		t.Fatal(err)
	}
	want, at, _ := l.normal([]float64{0.1, -0.2, 0, 0.1}, []float64{0.3, 0.2, 0.4, 0.25})
	l.noise = l.misfits(m)
	alone, _, _ := l.normal([]float64{0.05, 0.1, 0.15, 0.1}, make([]float64, 4))
	for i, want := range []float64{want, alone} {
		if got := r.Outcomes[i].LogEvidence; !(math.Abs(got-want) <= 0.02) {
			t.Errorf("hypothesis %d: log evidence %.4f, want %.4f", i, got, want)
		}
	}
	var mean, total [2]float64
	for _, s := range r.Samples {
		mean[s.Hypothesis] += s.Weight * math.Log(s.Values[0])
		total[s.Hypothesis] += s.Weight
	}
	if got := mean[0] / total[0]; !(math.Abs(got-at.AtVec(0)-at.AtVec(3)) <= 0.02) {
		t.Errorf("the first part is now %.4f, want %.4f", got, at.AtVec(0)+at.AtVec(3))
	}
	if got := mean[1] / total[1]; total[1] > 0 && !(math.Abs(got-0.1-0.1) <= 0.02) { // its prior's mean, changed by the nominal extra
		t.Errorf("of an unexplained board the first part is now %.4f, want 0.2", got)
	}
}

// A hard edge inside a cell: a hypothesis that has no board in the cell's middle may have one beside it, and the other way about. One part
// within its tolerance, another all but known: their density is the difference of two normal integrals.
func TestBoardsAtAHardEdge(t *testing.T) {
	p := &Problem{Circuit: powers([]float64{1, 1}, nil), Data: []Datum{{High: 1e-8, OnePulse: true}}}
	hs := []Hypothesis{{Odds: 1, Prior: []Density{Uniform(-0.1, 0.1), Normal(0, 1e-3)}}, {Odds: 1, Prior: []Density{Normal(0, 0.3), Normal(0, 1e-3)}}}
	b := NewBoards(p, hs)
	law := distuv.Normal{Sigma: 1e-3}
	for y := -0.12; y < 0.12; y += 0.0037 {
		own := *p
		own.Data = []Datum{{LnHigh: y, High: 1e-8, OnePulse: true}}
		r, err := b.Run(&own)
		if err != nil {
			t.Fatal(err)
		}
		inside, wide := (law.CDF(y+0.1)-law.CDF(y-0.1))/0.2, distuv.Normal{Sigma: 0.3}.Prob(y)
		if want := inside / (inside + wide); !(math.Abs(r.Outcomes[0].Probability-want) <= 0.03) {
			t.Errorf("at %.4f: probability %.4f, want %.4f", y, r.Outcomes[0].Probability, want)
		}
	}
}
