package lot

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/acquire/manifest"
	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/lot/acceptance"
	"offbeat/compare/lot/chart"
	"offbeat/compare/lot/hierarchy"
	"offbeat/fit"
)

// Moments are those of gonum's stat (over n, not n - 1), and what makes points round makes their covariance the unit matrix.
func TestMomentsAndWhitening(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 21))
	points := make([]point, 9)
	data := mat.NewDense(9, 2, nil)
	for i := range points {
		points[i] = point{1 + random.NormFloat64(), 3 + random.NormFloat64()}
		points[i][1] += 0.7 * points[i][0]
		data.SetRow(i, points[i][:])
	}
	var want mat.SymDense
	stat.CovarianceMatrix(&want, data, nil)
	mean, c := momentsOf(points)
	for k := range mean {
		near(t, "mean", mean[k], stat.Mean(mat.Col(nil, k, data), nil), 1e-14)
	}
	for k, at := range [3][2]int{{0, 0}, {0, 1}, {1, 1}} {
		near(t, "covariance", c[k], want.At(at[0], at[1])*8/9, 1e-13)
	}
	l, ok := whitener(c, 2)
	if !ok {
		t.Fatal(c)
	}
	a, b := l.of(point{1, 0}), l.of(point{0, 1})
	near(t, "first", a[0]*a[0]*c[0]+2*a[0]*b[0]*c[1]+b[0]*b[0]*c[2], 1, 1e-12)
	near(t, "second", a[1]*a[1]*c[0]+2*a[1]*b[1]*c[1]+b[1]*b[1]*c[2], 1, 1e-12)
	near(t, "both", a[0]*a[1]*c[0]+(a[0]*b[1]+a[1]*b[0])*c[1]+b[0]*b[1]*c[2], 0, 1e-12)
	if l, ok := whitener([3]float64{4, 0, 0}, 1); !ok || l.of(point{2, 9}) != (point{1, 0}) {
		t.Errorf("one dimension: %v", l)
	}
	for _, c := range [][3]float64{{0, 0, 1}, {1, 0, 0}, {1, 2, 4}, {math.NaN(), 0, 1}} {
		if _, ok := whitener(c, 2); ok {
			t.Errorf("%v was made round", c)
		}
	}
}

// The likelihood of two groups is that of normal densities, it is at a maximum, and the gain is over one normal group.
func TestMixtureLikelihood(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 22))
	points := make([]point, 60)
	for i := range points {
		points[i] = point{random.NormFloat64() + 4*float64(i%3/2), 0.5 * random.NormFloat64()}
	}
	for dimensions := 1; dimensions <= 2; dimensions++ {
		log := func(share [2]float64, mean [2]point, c [3]float64) (sum float64) {
			for _, p := range points {
				both := 0.0
				for g := range share {
					x, y := p[0]-mean[g][0], p[1]-mean[g][1]
					if dimensions == 1 {
						both += share[g] * distuv.Normal{Sigma: math.Sqrt(c[0])}.Prob(x)
						continue
					}
					det := c[0]*c[2] - c[1]*c[1] // the bivariate density, exp(-q/2) / (2π √det)
					both += share[g] * math.Exp(-0.5*(c[2]*x*x-2*c[1]*x*y+c[0]*y*y)/det) / (2 * math.Pi * math.Sqrt(det))
				}
				sum += math.Log(both)
			}
			return sum
		}
		m := fitMixture(points, dimensions, point{1, 0}, 0.7)
		if m == nil {
			t.Fatal("no groups")
		}
		var c [3]float64 // within the groups
		for i, p := range points {
			for g, w := range [2]float64{1 - m.member[i], m.member[i]} {
				x, y := p[0]-m.mean[g][0], p[1]-m.mean[g][1]
				c[0], c[1], c[2] = c[0]+w*x*x/60, c[1]+w*x*y/60, c[2]+w*y*y/60
			}
		}
		best := log(m.share, m.mean, c)
		near(t, "likelihood", m.log, best, 1e-5)
		near(t, "share", m.share[1], 1./3, 0.05)
		near(t, "shares", m.share[0]+m.share[1], 1, 1e-12)
		for g := range m.mean {
			for _, by := range []float64{-0.05, 0.05} {
				mean, share, wide := m.mean, m.share, c
				mean[g][0] += by
				share[0], share[1] = share[0]+by, share[1]-by
				wide[0] *= 1 + by
				for k, l := range []float64{log(m.share, mean, c), log(share, m.mean, c), log(m.share, m.mean, wide)} {
					if l > best+1e-4 {
						t.Errorf("%d dimensions: moved by %v (%d), the likelihood rises from %v to %v", dimensions, by, k, best, l)
					}
				}
			}
		}
		gain, _ := mixtureGain(points, dimensions)
		mean, one := momentsOf(points)
		single := log([2]float64{1, 0}, [2]point{mean, mean}, one)
		near(t, "gain", gain, 2*(best-single), 1e-4)
	}
	if m := fitMixture(points[:2], 2, point{1, 0}, 0.5); m != nil {
		t.Errorf("two points are two groups: %+v", m)
	}
}

// Two groups are apart by how their points lie along the line between the means, wherever it leads: their normal densities against the even
// one over the range, by three in ln likelihood, and from twenty points on against one peak, by two, as counts in bins show both.
func TestGroupsApart(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 24))
	told := map[bool]int{}
	for range 400 {
		n := 14 + random.IntN(13)
		m := &mixture{mean: [2]point{{5 * random.NormFloat64(), 5 * random.NormFloat64()}}}
		angle, far := 2*math.Pi*random.Float64(), 3+4*random.Float64()
		line := point{math.Cos(angle), math.Sin(angle)}
		m.mean[1] = point{m.mean[0][0] + far*line[0], m.mean[0][1] + far*line[1]}
		m.share[1] = 0.2 + 0.6*random.Float64()
		m.share[0] = 1 - m.share[1]
		y, sd := make([]float64, n), 0.0 // from the first mean
		for i := range y {
			own := []float64{0.01, 0, 0.02, 1, 0.97}[i%5]
			y[i] = far*math.Round(own) + (0.3+0.6*random.Float64())*random.NormFloat64()
			across := 3 * random.NormFloat64()
			m.points = append(m.points, point{m.mean[0][0] + y[i]*line[0] - across*line[1], m.mean[0][1] + y[i]*line[1] + across*line[0]})
			m.member = append(m.member, own)
			sd += ((1-own)*y[i]*y[i] + own*(y[i]-far)*(y[i]-far)) / float64(n)
		}
		sd = math.Sqrt(sd)
		groups := [2]distuv.Normal{{Mu: 0, Sigma: sd}, {Mu: far, Sigma: sd}}
		over, low, high := -3.0, slices.Min(y), slices.Max(y)
		for _, at := range y {
			over += math.Log((m.share[0]*groups[0].Prob(at) + m.share[1]*groups[1].Prob(at)) * (high - low))
		}
		if n >= 20 {
			edges := floats.Span(make([]float64, int(3*math.Cbrt(float64(n)))+1), low, high)
			slices.Sort(y)
			edges[len(edges)-1] = math.Nextafter(high, math.Inf(1))
			counts := stat.Histogram(nil, edges, y, nil)
			edges[0], edges[len(edges)-1] = math.Inf(-1), math.Inf(1)
			shape := -2 - onePeak(counts)
			for k, c := range counts {
				p := m.share[0]*(groups[0].CDF(edges[k+1])-groups[0].CDF(edges[k])) + m.share[1]*(groups[1].CDF(edges[k+1])-groups[1].CDF(edges[k]))
				if c > 0 {
					shape += c * math.Log(p*float64(n)/c)
				}
			}
			over = min(over, shape)
		}
		if math.Abs(over) < 1e-6 {
			continue
		}
		told[over > 0]++
		if m.apart() != (over > 0) {
			t.Errorf("%d boards %.3g apart: apart %v, by %.3g in ln likelihood", n, far, m.apart(), over)
		}
	}
	if told[true] < 40 || told[false] < 40 {
		t.Errorf("the cases decide %v", told)
	}
}

// The best density with one peak is that of the max-min formula of isotonic regression (Robertson, Wright and Dykstra 1988, 1.4.1),
// taken over all places of the peak.
func TestOnePeak(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 23))
	isotonic := func(n []float64) (log float64) {
		for i := range n {
			most := math.Inf(-1)
			for a := 0; a <= i; a++ {
				least := math.Inf(1)
				for b := i; b < len(n); b++ {
					least = min(least, stat.Mean(n[a:b+1], nil))
				}
				most = max(most, least)
			}
			if n[i] > 0 {
				log += n[i] * math.Log(most/n[i])
			}
		}
		return log
	}
	for range 300 {
		n := make([]float64, 1+random.IntN(7))
		for i := range n {
			n[i] = float64(random.IntN(5))
		}
		want := math.Inf(-1)
		for k := range len(n) + 1 {
			down := slices.Clone(n[k:])
			slices.Reverse(down)
			want = max(want, isotonic(n[:k])+isotonic(down))
		}
		near(t, fmt.Sprint(n), onePeak(n), want, 1e-12)
	}
}

// A straight line along the boards is least squares (gonum's regression), each group about its own mean, tested by Student's t.
func TestTrendIsRegression(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 24))
	for trial := range 60 {
		n := 6 + random.IntN(20)
		x, labels := make([]float64, n), make([]string, n)
		var group []int
		for i := range x {
			x[i], labels[i] = 50+random.NormFloat64()+0.12*float64(i), fmt.Sprint(i)
			if trial%2 == 1 {
				group = append(group, i%2)
				x[i] += 9 * float64(i%2)
			}
		}
		// The same as a regression on the place and the group.
		k := 2 + trial%2
		design, y := mat.NewDense(n, k, nil), mat.NewDense(n, 1, x)
		for i := range n {
			design.Set(i, 0, float64(i))
			design.Set(i, 1, 1)
			if k == 3 {
				design.Set(i, 2, float64(i%2))
			}
		}
		var b, left, gram, inverse mat.Dense
		_ = b.Solve(design, y)
		left.Mul(design, &b)
		left.Sub(y, &left)
		gram.Mul(design.T(), design)
		_ = inverse.Inverse(&gram)
		freedom := float64(n - k)
		u := math.Sqrt(math.Pow(mat.Norm(&left, 2), 2) / freedom * inverse.At(0, 0))
		p := 2 * distuv.StudentsT{Sigma: 1, Nu: freedom}.CDF(-math.Abs(b.At(0, 0))/u)
		got := trendOf("frequency", x, labels, group)
		if (got != nil) != (n >= 8 && p <= trendRisk) {
			t.Errorf("%d boards, p %v: %+v", n, p, got)
		}
		if got != nil {
			span := float64(n-1) / stat.Mean(x, nil)
			near(t, "change", got.Value, b.At(0, 0)*span, 1e-10)
			near(t, "uncertainty", got.Uncertainty, u*span, 1e-10)
			near(t, "p", got.P, p, 1e-10)
		}
	}
	if d := trendOf("frequency", make([]float64, 9), make([]string, 9), nil); d != nil {
		t.Errorf("zeros drift: %+v", d)
	}
}

// The weights are the logarithmic derivatives of the quantities by the high and the low time.
func TestWeights(t *testing.T) {
	at := [2]float64{3, 2}
	for name, of := range map[string]func(h, l float64) float64{
		"high_time": func(h, l float64) float64 { return h }, "low_time": func(h, l float64) float64 { return l },
		"period": func(h, l float64) float64 { return h + l }, "frequency": func(h, l float64) float64 { return 1 / (h + l) },
		"duty_factor": func(h, l float64) float64 { return h / (h + l) },
	} {
		const e = 1e-5
		w := weightsOf(name, at)
		near(t, name+" by the high time", w[0], math.Log(of(at[0]*(1+e), at[1])/of(at[0]*(1-e), at[1]))/(2*e), 1e-8)
		near(t, name+" by the low time", w[1], math.Log(of(at[0], at[1]*(1+e))/of(at[0], at[1]*(1-e)))/(2*e), 1e-8)
	}
}

// Boards are alike where their standard deviation is below what the noise of their times makes of the quantity (JCGM 100, 5.2).
func TestAlike(t *testing.T) {
	for _, c := range []struct {
		spread float64
		want   bool
	}{{0.9, true}, {1.1, false}} {
		noise := hierarchy.Noise{High: 4e-8, Low: 9e-8, Covariance: 1e-8}
		// The period 3 + 2: share 0.6.
		sd := math.Sqrt(0.36*4e-8 + 2*0.6*0.4*1e-8 + 0.16*9e-8)
		var rows []*Row
		var x []float64
		for i := range 5 {
			r := &Row{predicted: [2]float64{3, 2}}
			r.times.Noise = noise
			rows = append(rows, r)
			x = append(x, 5*(1+c.spread*sd*(float64(i)-2)/math.Sqrt(2.5)))
		}
		if got := alike("period", x, rows); got != c.want {
			t.Errorf("spread %v times the noise: alike %v", c.spread, got)
		}
	}
	if alike("period", []float64{1}, nil) {
		t.Error("one board is alike")
	}
}

// A board's scatter is about its own mean of logarithms; one capture may be off by its own uncertainty, the clock's limit as a
// rectangle (JCGM 100, 4.3.7) and what its temperatures allow.
func TestScatterOfABoard(t *testing.T) {
	warm, cold := 35.0, 15.0
	r := &Row{Each: []Repeat{
		{Values: [5]float64{2}, Uncertainties: [5]float64{0.002}, Temperature: &warm}, {Values: [5]float64{2 * math.Exp(0.01)}, Uncertainties: [5]float64{0.006}},
		{Values: [5]float64{2 * math.Exp(-0.04)}, Temperature: &cold}}}
	squares, allowed := r.scatter(0, 3e-3)
	near(t, "squares", squares, 0.01*0.01+0.02*0.02+0.03*0.03, 1e-15)
	u := 0.003 * math.Exp(-0.01)
	near(t, "allowed", allowed, u*u+3e-6+math.Pow(500e-6*20, 2)/3, 1e-15)
	if s, a := r.scatter(1, 0); s != 0 || a != 1 {
		t.Errorf("no low time scatters by %v of %v", s, a)
	}
	c := NewCollector(lamp())
	c.split(&Row{Board: "lamp 1", Each: []Repeat{{Capture: "a", Values: [5]float64{2, 1}}, {Capture: "b", Values: [5]float64{2.5, 1.5}}, {Capture: "c", Values: [5]float64{2.2, 0.9}}}}, nil)
	if d := c.duplicates[0].Detail; !strings.Contains(d, "differ by 67 %") || !strings.Contains(d, "(a, b, c)") {
		t.Error(d)
	}
}

// The part of another batch is the one whose change makes what sets two groups apart: of the astable ln 2 (R1+R2) C and
// ln 2 R2 C (SLFS022I p. 11).
func TestDifferenceOfBatches(t *testing.T) {
	d := lamp()
	for _, c := range []struct {
		part string
		z    [3]float64
	}{{"R1", [3]float64{1.1, 1, 1}}, {"R2", [3]float64{1, 0.93, 1}}, {"C1", [3]float64{1, 1, 1.05}}, {"", [3]float64{1, 1, 1}}} {
		b := &Batch{High: math.Log((10*c.z[0] + 47*c.z[1]) / 57 * c.z[2]), Low: math.Log(c.z[1] * c.z[2])}
		if c.part == "" {
			b.High, b.Low = 0.1, -0.1 // no part's
		}
		a := &Batch{}
		for _, g := range []*Batch{a, b} { // scatter alike in every direction
			for _, off := range []point{{5e-4, 0}, {-5e-4, 0}, {0, 5e-4}, {0, -5e-4}} {
				g.usual = append(g.usual, &Row{times: hierarchy.Board{High: g.High + off[0], Low: g.Low + off[1]}})
			}
		}
		got := append(difference(d, a, b), partBy{})[0]
		if got.name != c.part {
			t.Errorf("%v: %+v", c.z, got)
		}
		want := map[string]float64{"R1": c.z[0], "R2": c.z[1], "C1": c.z[2], "": 1}[c.part]
		near(t, c.part, got.by, math.Log(want), 0.008) // the slope is that at the nominals
		r := &Report{Batches: []Batch{*a, *b}}
		r.Batches[0].Boards = []string{"a", "b", "c", "d"}
		r.Batches[1].Boards = []string{"e"}
		text := r.batchWords(d)
		if !strings.HasPrefix(text, "Two batches are mixed: 4 boards (a, b, c …) and 1 board (e)") || strings.Contains(text, "as if "+c.part+" of the second were ") != (c.part != "") {
			t.Error(text)
		}
	}
}

// What is said of the whole lot: what is likely is said so, what is open is.
func TestWordsOfALot(t *testing.T) {
	common := func(p float64, c string, parts ...string) []compare.Cause {
		return []compare.Cause{{Cause: c, Parts: parts, Probability: p}}
	}
	shift := []Part{{Name: "C1", Shift: Estimate{Value: math.Log(0.84)}}}
	many := []string{"a", "b", "c", "d", "e", "f", "g"}
	for _, c := range []struct {
		r     Report
		wants []string
		not   string
	}{
		{Report{Acceptance: Acceptance{Result: acceptance.Accept, Reason: "none fails"}}, []string{"The lot is accepted: none fails."}, "lot,"},
		{Report{Acceptance: Acceptance{Result: acceptance.Reject}, Causes: common(0.8, "shifted", "C1"), Parts: shift}, []string{"The lot is not accepted", "For the whole lot, ", ", by \u221216 %"}, "open"},
		{Report{Causes: common(0.8, "shifted", "R1", "C1"), Parts: shift}, []string{"For the whole lot, "}, ", by"},
		{Report{Causes: common(0.8, "shifted", "R1"), Parts: shift}, []string{"For the whole lot, "}, ", by"},
		{Report{Causes: common(likely, cause.Nothing)}, []string{"No part moved for the whole lot"}, "open"},
		{Report{Causes: common(0.4, "shifted", "C1"), Parts: shift}, []string{"What is common to the whole lot is open"}, ", by"},
		{Report{Causes: common(0.8, "shifted", "C1"), Headline: &Headline{Part: "C1", Quantity: "frequency"}}, []string{"the target bears no batch"}, "For the whole lot"},
		{Report{Causes: common(0.8, "shifted", "C1"), Headline: &Headline{Quantity: "frequency"}}, []string{"For the whole lot"}, "bears"},
		{Report{Outliers: many[:1], Silent: make([]Failure, 1), Failed: make([]Failure, 1)}, []string{"One board stands out: a.", "One board shows no pulses", "1 board could not be judged."}, "more"},
		{Report{Outliers: many[:5], Silent: make([]Failure, 2)}, []string{"5 boards stand out: a, b, c, d, e.", "2 boards show no pulses"}, "more"},
		{Report{Outliers: many}, []string{"7 boards stand out: a, b, c, d, e and 2 more."}, "One board"},
	} {
		text := c.r.sentence(lamp())
		for _, want := range c.wants {
			if !strings.Contains(text, want) {
				t.Errorf("%q lacks %q", text, want)
			}
		}
		if strings.Contains(text, c.not) {
			t.Errorf("%q has %q", text, c.not)
		}
	}
	h := Headline{Quantity: "frequency", Mean: 150, Failing: 3, Boards: 4, Part: "C1", Shift: -0.1, Tolerance: 0.2, Likely: 0.9, Inside: true, Bears: &[2]float64{-0.05, 0.05}, Limits: [2]*float64{nil, finite(140)}}
	if got := h.words(); !strings.HasPrefix(got, "3 of 4 boards fail") || !strings.Contains(got, "C1 is 10 % low, in its tolerance of 20 %") || !strings.Contains(got, "the target at most 140") || strings.Contains(got, "at least") {
		t.Error(got)
	}
	h.Shift, h.Failing, h.Inside = 0.3, 4, false
	if got := h.words(); !strings.HasPrefix(got, "Every board of 4 fails") || !strings.Contains(got, "C1 is 30 % high, outside") {
		t.Error(got)
	}
}

// What a reader must know: what is open, what the plan did not ask for, what is out of control.
func TestWarningsOfALot(t *testing.T) {
	plan := Acceptance{SampleSize: 20, Plan: Plan{Size: 13}, Method: "attributes"}
	signal := Chart{Quantity: "frequency", Chart: "EWMA", Signals: []ChartSignal{{At: "lamp 3", Rule: 1, Name: "beyond"}}}
	for _, c := range []struct {
		r    Report
		d    *fit.Design
		want string
	}{
		{Report{Acceptance: Acceptance{Open: 2}}, lamp(), "2 boards without a clear verdict"},
		{Report{Acceptance: Acceptance{Open: 2}}, &fit.Design{}, ""},
		{Report{}, lamp(), ""},
		{Report{Acceptance: plan}, lamp(), "20 boards were judged, the plan asks for 13"},
		{Report{Acceptance: Acceptance{SampleSize: 13, Plan: Plan{Size: 13}, Method: "attributes"}}, lamp(), ""},
		{Report{Acceptance: Acceptance{SampleSize: 13, Method: "attributes"}}, lamp(), ""},
		{Report{Acceptance: plan, Lots: make([]Sublot, 2)}, lamp(), ""},
		{Report{Charts: []Chart{signal}}, lamp(), "frequency, chart of EWMA: not in control, 1 signal; first at lamp 3: beyond (rule 1)"},
		{Report{Charts: []Chart{{Quantity: "frequency", Steady: true, Signals: signal.Signals}, {}}}, lamp(), ""},
		{Report{Duplicates: []Duplicate{{Detail: "twice"}}}, lamp(), "twice"},
	} {
		c.r.warn(c.d)
		if got := strings.Join(c.r.Warnings, "|"); (got == "") != (c.want == "") || !strings.Contains(got, c.want) {
			t.Errorf("%+v: %q, want %q", c.r.Acceptance, got, c.want)
		}
	}
}

// Several lots together: each stands by itself, a rejected one counts before an undecided one.
func TestLotsTogether(t *testing.T) {
	lot := func(name string, r acceptance.Result) Sublot {
		return Sublot{Lot: name, Acceptance: Acceptance{Result: r, SampleSize: 20, Nonconforming: 2, Open: 1}}
	}
	for _, c := range []struct {
		lots   []Sublot
		result acceptance.Result
		reason string
	}{
		{[]Sublot{lot("a", acceptance.Accept), lot("b", acceptance.Accept)}, acceptance.Accept, "all 2 lots are accepted"},
		{[]Sublot{lot("a", acceptance.Accept), lot("b", acceptance.Undecided)}, acceptance.Undecided, "1 of 2 lots undecided: b"},
		{[]Sublot{lot("a", acceptance.Reject), lot("b", acceptance.Undecided), lot("c", acceptance.Reject)}, acceptance.Reject, "2 of 3 lots rejected: a, c"},
	} {
		a := together(c.lots)
		n := len(c.lots)
		if a.Result != c.result || a.Reason != c.reason || a.SampleSize != 20*n || a.Nonconforming != 2*n || a.Open != n {
			t.Errorf("%+v", a)
		}
	}
	r := &Report{Lot: "x", Boards: Count{Boards: 3}}
	if e := r.Each(); len(e) != 1 || e[0].Lot != "x" || e[0].Boards.Boards != 3 {
		t.Errorf("%+v", e)
	}
	if r.Lots = []Sublot{{Lot: "y"}}; r.Each()[0].Lot != "y" {
		t.Error("its lots are not each")
	}
}

// Charts are by lots where there are two or more with two boards or more each, by single boards otherwise.
func TestWhatIsCharted(t *testing.T) {
	rows := func(lots ...string) (out []*Row, labels []string) {
		for i, l := range lots {
			out, labels = append(out, &Row{Lot: l}), append(labels, fmt.Sprint(i))
		}
		return out, labels
	}
	for _, c := range []struct {
		lots   []string
		groups []int
	}{
		{[]string{"a", "b", "a", "b", "b"}, []int{0, 1, 0, 1, 1}}, {[]string{"a", "b", "a"}, nil}, {[]string{"a", "a", "a"}, nil}, {nil, nil},
	} {
		r, labels := rows(c.lots...)
		groups, names := grouped(r, labels)
		if !slices.Equal(groups, c.groups) || c.groups == nil && len(names) != len(labels) || c.groups != nil && !slices.Equal(names, []string{"a", "b"}) {
			t.Errorf("%v: %v, %v", c.lots, groups, names)
		}
	}
	for size, want := range map[int]string{10: "range", 11: "standard deviation"} {
		var x []float64
		var d drawing
		for i := range 3 * size {
			x, d.groups = append(x, float64(i*i%17)), append(d.groups, i%3)
		}
		if all, sigma := d.of(x); len(all) != 2 || all[1].Name != want || !(sigma.Value > 0) {
			t.Errorf("lots of %d boards: %+v", size, all)
		}
	}
	c := drawing{rules: []int{2}}.counted(chart.Chart{Signals: []chart.Signal{{Rule: 1}, {Rule: 2}, {Rule: 5}}})
	if len(c.Signals) != 1 || c.Signals[0].Rule != 2 {
		t.Errorf("%+v", c.Signals)
	}
	r := &Report{}
	for _, chance := range []float64{0.0149, 0.0151} {
		r.chart("frequency", chart.Chart{Points: []float64{1, 2}, Low: []float64{0, -1}, High: []float64{3, 4}, Signals: []chart.Signal{{Point: 1, Rule: 1}}}, []string{"a", "b"}, chance)
	}
	if a, b := r.Charts[0], r.Charts[1]; a.Steady || !b.Steady || a.Low != -1 || a.High != 4 || a.Signals[0].At != "b" {
		t.Errorf("%+v %+v", a, b)
	}
}

// By what captures differ, and a target's width.
func TestStationsAndTolerance(t *testing.T) {
	rows := []*Row{{Each: []Repeat{{Station: "a", Operator: "x"}, {Station: "a", Operator: "x"}}}, {Each: []Repeat{{Station: "a", Operator: "x"}}}}
	last := &rows[1].Each[0]
	for _, c := range []struct{ station, operator, by, of string }{{"a", "x", "station", "a"}, {"b", "x", "station", "b"}, {"a", "y", "operator", "y"}, {"b", "y", "station and operator", "b / y"}} {
		last.Station, last.Operator = c.station, c.operator
		if by, of := stations(rows); by != c.by || of(last) != c.of {
			t.Errorf("%+v: %s, %s", c, by, of(last))
		}
	}
	c := NewCollector(lamp())
	if low, high := c.tolerance("frequency"); low != 138.7*0.85 || high != 138.7*1.15 {
		t.Errorf("%v … %v", low, high)
	}
	c.design.Targets = append(c.design.Targets, fit.Target{Quantity: "period", High: 1}, fit.Target{Quantity: "high_time", Low: 1, High: math.Inf(1)})
	for _, q := range []string{"period", "high_time", "low_time"} {
		if low, _ := c.tolerance(q); !math.IsNaN(low) {
			t.Errorf("%s: %v", q, low)
		}
	}
	if low, high := open(fit.Target{Low: 0, High: 3}); !math.IsInf(low, -1) || high != 3 {
		t.Errorf("%v … %v", low, high)
	}
}

// Where nothing was measured twice the captures' own uncertainty stands for it, six of it against the target's width; the
// temperature is the mean of those given.
func TestStatedUncertaintyOfALot(t *testing.T) {
	c := NewCollector(lamp())
	at := compare.PlaceOf("frequency")
	for _, k := range []struct {
		u      float64
		warned bool
	}{{0.3 * 138.7 / 6 * 0.05, false}, {0.3 * 138.7 / 6 * 0.5, true}} {
		r := &Report{}
		row := &Row{Each: []Repeat{{}, {}, {}}}
		for i, u := range []float64{9 * k.u, k.u, k.u / 9} { // the middle one counts
			row.Each[i].Uncertainties[at] = u
		}
		c.stated(r, []*Row{row}, at, 0.3*138.7)
		if (len(r.Warnings) > 0) != k.warned {
			t.Errorf("u %v: %q", k.u, r.Warnings)
		}
	}
	r := &Report{}
	if c.stated(r, nil, at, 1); len(r.Warnings) > 0 {
		t.Error(r.Warnings)
	}
	temperatures := []float64{20, 26, 41}
	b := &Board{Captures: make([]manifest.Entry, 4)}
	if _, ok := temperature(b); ok {
		t.Error("a temperature from nowhere")
	}
	for i := range temperatures {
		b.Captures[i+1].Temperature = &temperatures[i]
	}
	if v, ok := temperature(b); !ok || !(math.Abs(v-29) <= 1e-12) {
		t.Errorf("%v, %v", v, ok)
	}
	if got := ppm(-2.5e-4); got != "\u2212250 ppm" {
		t.Error(got)
	}
}

// A supply without limits of its own keeps the design's relative ones; one supply alone is taken as it is.
func TestSupplyOfABoard(t *testing.T) {
	for _, c := range []struct{ design, half, want float64 }{{5, 0.1, 0.18}, {5, 0, 0}, {0, 0.1, 0}} {
		d := lamp()
		d.Supply.Value, d.Supply.Half = c.design, c.half
		b := &Board{Captures: []manifest.Entry{{Supply: &quantity.Quantity{Value: 9}}}}
		if s := b.Design(d).Supply; !(math.Abs(s.Value-9) <= 1e-12) || !(math.Abs(s.Half-c.want) <= 1e-12) {
			t.Errorf("%+v: %+v", c, s)
		}
	}
}
