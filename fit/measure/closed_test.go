package measure

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"sort"
	"strings"
	"testing"

	"offbeat/acquire"
	"offbeat/fit"
	"offbeat/fit/budget"
	"offbeat/fit/measure/measuretest"
	"offbeat/fit/noise"
	"offbeat/fit/train"
)

func close(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %v, want %v ± %v", what, got, want, tolerance)
	}
}

// A first-order edge 1 - exp(-x/tau)/2 seen at two samples a random place apart: its mean rise, mean and error of the straight
// line's crossing by simulation of places; edges so slow that they are straight between two samples are met on time, and a
// sharp one half a sample off at random.
func TestLagOfAnEdge(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, tau := range []float64{0.1, 0.5, 2, 20} {
		l := newLag(tau)
		var rise, mid, late float64
		const n = 200_000
		for range n {
			at := rng.Float64() // of the true crossing, after the first sample
			volt := func(x float64) float64 {
				if x -= at - tau*math.Ln2; x <= 0 { // when the edge begins
					return 0
				}
				return -math.Expm1(-x / tau)
			}
			a, b := volt(0), volt(1)
			rise += (b - a) / n
			mid += ((a+b)/2 - 0.5) / n
			late += ((0.5-a)/(b-a) - at) / n
		}
		close(t, fmt.Sprintf("tau %v: rise", tau), l.sharpness, rise, 0.002)
		close(t, fmt.Sprintf("tau %v: mid", tau), l.mid, mid, 0.002)
		close(t, fmt.Sprintf("tau %v: late", tau), l.late, late, 0.003)
		close(t, "the lag that is as sharp", lagOf(l.sharpness).late, l.late, 1e-6)
	}
	if v, u := late(train.Shape{Edges: 9, Sharpness: 0.99951, Mid: 0.1}, 0, 0, 3.3, 0); v != 0 || u != 0 {
		t.Errorf("steep edges have a shape: %v ± %v", v, u)
	}
	if v, u := late(train.Shape{Sharpness: 0.5, Mid: 0.1}, 0, 0, 3.3, 0); v != 0 || u != 0 {
		t.Errorf("no edges have a shape: %v ± %v", v, u)
	}
	// Many edges of that lag everywhere between the samples, their mean seen: the correction is the lag's own, and next to sure.
	l := newLag(0.8)
	v, u := late(train.Shape{Edges: 1_000_000, Sharpness: l.sharpness, Mid: l.mid}, 1, 0, 0, 0)
	close(t, "late", v, l.late, 1e-3*l.late)
	if !(u < 0.01*l.late) {
		t.Errorf("its uncertainty is %.2g of it", u/l.late)
	}
	wide, uw := late(train.Shape{Edges: 1_000_000, Sharpness: l.sharpness, Mid: l.mid}, 1, 0.3, 0, 0)
	if !(math.Abs(wide) < math.Abs(v)) || !(uw > u) || uw > math.Abs(l.late) {
		t.Errorf("unsure levels: %v ± %v, sure ones %v ± %v", wide, uw, v, u)
	}
}

// Edges of other curves, too steep to be fitted: the correction by the lag that is as sharp is off by at most 1.5 times what is stated
// where their mean is seen well. The truth is the mean over all places of the crossing.
func TestLateOfOtherCurves(t *testing.T) {
	behind := func(ramp float64) func(x float64) float64 { // a lag of 1 behind a ramp
		one := func(x float64) float64 { return max(x, 0) + math.Expm1(-max(x, 0)) }
		return func(x float64) float64 { return (one(x) - one(x-ramp)) / ramp }
	}
	for name, at := range map[string]func(x float64) float64{
		"two equal lags":          func(x float64) float64 { return 1 - (1+x)*math.Exp(-x) },
		"three lags":              func(x float64) float64 { return 1 - (1+x+x*x/2)*math.Exp(-x) },
		"two unequal lags":        func(x float64) float64 { return 1 - (math.Exp(-x)-0.3*math.Exp(-x/0.3))/0.7 },
		"a ramp and a lag":        behind(1),
		"a slow ramp and a lag":   behind(3),
		"a ramp":                  func(x float64) float64 { return min(x, 1) },
		"a ramp that ends in one": func(x float64) float64 { return min(x, 1-0.4*math.Exp(-max(x-0.6, 0)/0.4)) },
	} {
		half := sort.Search(1e6, func(i int) bool { return at(1e-5*float64(i)) >= 0.5 })
		for _, scale := range []float64{0.15, 0.3, 0.5, 0.8, 1.2, 1.5} {
			volt := func(x float64) float64 { return at(max(x/scale+1e-5*float64(half), 0)) }
			s, want := train.Shape{Edges: 1_000_000}, 0.0
			const n = 500
			for i := range n {
				u := (float64(i) + 0.5) / n
				a, b := volt(-u), volt(1-u)
				s.Sharpness, s.Mid, want = s.Sharpness+(b-a)/n, s.Mid+((a+b)/2-0.5)/n, want+((0.5-a)/(b-a)-u)/n
			}
			if s.Sharpness < 0.5 {
				continue // fitted
			}
			if got, u := late(s, 1, 0, 0, 0); !(math.Abs(got-want) <= 1.5*u) || u > 0.01 {
				t.Errorf("%s of %.2f samples: late by %.4f ± %.4f, is %.4f", name, scale, got, u, want)
			}
		}
	}
}

// How far edges one period apart crowd is the mean of |Σ exp(2πi place)|²/n²: the double sum, term by term.
func TestCrowding(t *testing.T) {
	for _, c := range []struct {
		period, loss float64
		n            int
	}{{0.3, 0, 7}, {0.01, 0, 40}, {0.5, 0.02, 9}, {0.123, 0.4, 30}, {2.25, 0.1, 6}, {0, 0, 5}, {3, 0.1, 4}, {1e-5, 0, 20}, {0.5, 0, 2}, {0.2, 3, 12}} {
		want := 0.0
		for i := range c.n {
			for k := range c.n {
				d := math.Abs(float64(i - k))
				want += math.Exp(-c.loss*d) * math.Cos(2*math.Pi*c.period*d) / float64(c.n*c.n)
			}
		}
		close(t, fmt.Sprintf("%+v", c), crowded(c.period, c.loss, float64(c.n)), want, 2e-5)
	}
}

// The variance of a mean place: of edges spread evenly by noise 1/12 over their number, of edges that keep to one place what
// the harmonics seen make of it.
func TestPlaces(t *testing.T) {
	close(t, "scattered", places(train.Shape{Edges: 10}, 1e3, 0.1234, 0), 1./12/10, 1e-4/10+0.0021/10)
	all := 0.0
	for m := 1; m <= 3; m++ {
		all += 1 / (2 * math.Pi * math.Pi * float64(m*m))
	}
	close(t, "at one place", places(train.Shape{Edges: 10, Crowding: [3]float64{1, 1, 1}}, 0, 0, 0), all, 1e-12)
	close(t, "half seen", places(train.Shape{Edges: 10, Crowding: [3]float64{0.5, 0, 0}}, 0, 0, 0), 0.25/(2*math.Pi*math.Pi), 1e-12)
	// Steps that lose all order leave each edge by itself: 1/12 over n in all, of which the harmonics seen count by what is seen.
	rest := 0.0
	for m := 4; m <= 50; m++ {
		rest += 1 / (2 * math.Pi * math.Pi * float64(m*m)) / 10
	}
	close(t, "random steps", places(train.Shape{Edges: 10}, 0, 0.3, 50), rest, 1e-9)
}

// Edges of a lag of half a sample, of one polarity beside steep ones: straight lines between the samples make the high time wrong by some
// hundredths of a sample, most of which is taken back, and what is left is stated.
func TestLagOfOnePolarity(t *testing.T) {
	const tau, high, low = 0.45, 11.3713, 9.6177
	for k, name := range []string{"falls", "rises"} {
		v := make([]float64, 31483)
		for i := range v {
			x := math.Mod(float64(i)+7.1, high+low)
			since := x
			if x >= high {
				since -= high
			}
			left := 0.0 // of the edge before
			if (x < high) == (k == 1) {
				left = math.Exp(-since / tau)
			}
			v[i] = 3 * math.Abs(map[bool]float64{true: 1}[x < high]-left)
		}
		truth, plain, from, n := high+float64(1-2*k)*tau*math.Ln2, 0.0, math.NaN(), 0.0
		for i := 1; i < len(v); i++ {
			at := float64(i-1) + (1.5-v[i-1])/(v[i]-v[i-1])
			if v[i-1] < 1.5 && v[i] >= 1.5 {
				from = at
			} else if v[i-1] >= 1.5 && v[i] < 1.5 && !math.IsNaN(from) {
				plain, n = plain+at-from, n+1
			}
		}
		bias := plain/n - truth
		m, err := Run(measuretest.FromRows(acquire.Capture{Source: "lag", Kind: acquire.Samples, Step: 1}, nil, v), Options{})
		if err != nil {
			t.Fatal(err)
		}
		off := m.High.Value - truth
		if math.Abs(bias) < 0.01 || !(math.Abs(off) <= 0.5*math.Abs(bias)) || !(math.Abs(off) <= 3*m.High.Uncertainty) || !(m.High.Uncertainty <= 2*math.Abs(bias)) {
			t.Errorf("%s: straight lines are %.4f samples off, what is stated %.4f ± %.4f", name, bias, off, m.High.Uncertainty)
		}
		close(t, name+": period", m.Period().Value, high+low, 3*m.Period().Uncertainty)
	}
}

// Degrees of freedom: edges less the three numbers fitted, cycles less one, more where scatter is not all (JCGM 100, G.4 and H.2).
func TestFreedom(t *testing.T) {
	a := budget.Row{Name: "scatter", Kind: "A", High: 4, Low: 9, Both: -1}
	b := budget.Row{Name: noise.LatticeName, Kind: "B", High: 8, Low: 2, Both: 1}
	c := budget.Row{Name: "other", Kind: "B", High: 12, Low: 1, Both: 0.5}
	hh, hl, ll := budget.Sum([]budget.Row{a, b, c})
	m := &fit.Measurement{High: fit.Estimate{Value: 30, Uncertainty: math.Sqrt(hh), Count: 6}, Low: fit.Estimate{Value: 20, Uncertainty: math.Sqrt(ll), Count: 7}, Covariance: hl, Cycles: 5}
	f := freedom([]budget.Row{a, b, c}, 0.25, m)
	close(t, "high", f.High, 10*24./(4+2), 1e-9)
	close(t, "low", f.Low, 10*12./(9+0.5), 1e-9)
	close(t, "period", f.Period, 4*(24+12+2*0.5)/(6+9.5-2*0.75), 1e-9)
	dh, dl := 20./2500, -30./2500
	close(t, "duty", f.Duty, 10*(dh*dh*24+2*dh*dl*0.5+dl*dl*12)/(dh*dh*6+2*dh*dl*-0.75+dl*dl*9.5), 1e-9)
	m.Cycles = 0
	if f := freedom([]budget.Row{a, b, c}, 0.25, m); !(math.Abs(f.High-5*24./6) <= 1e-9) || f.Low != 0 || f.Period != 0 {
		t.Errorf("of single pulses: %+v", f)
	}
	m.High.Count, m.Cycles = 1, 4
	if f := freedom([]budget.Row{a}, 0, &fit.Measurement{High: fit.Estimate{Value: 1, Uncertainty: 2, Count: 1}}); f.High != 1 {
		t.Errorf("of one pulse: %+v", f)
	}
	if f := freedom([]budget.Row{c}, 0, m); f != (fit.Freedom{}) {
		t.Errorf("without scatter: %+v", f)
	}
	if f := freedom([]budget.Row{{Kind: "A", High: 24. / 250}}, 0, m); f.High != 0 {
		t.Errorf("so many: %+v", f)
	}
	w := walk(&noise.Result{Rows: []budget.Row{a}, Walk: 0.3, WhiteAlone: 1, WithWalk: 20}, 2, 100)
	rest := 100. - 4*(4+9-2)
	close(t, "without a walk", w.Without, math.Sqrt(4*1+rest), 1e-12)
	close(t, "with one", w.With, math.Sqrt(4*20+rest), 1e-12)
	close(t, "its probability", w.Probability, 0.3, 0)
}

// A period that drifts moves by its slope over the record; one that goes to and fro by the spread of its eighths; less than
// warmth makes is slight.
func TestMoves(t *testing.T) {
	series := func(of func(x float64) float64) *fit.Series {
		s := &fit.Series{Every: 1}
		at := 0.0
		for i := range 400 {
			p := 1e-3 * (1 + of(float64(i)/400))
			s.Start, s.High, s.Low = append(s.Start, at), append(s.High, 0.6*p), append(s.Low, 0.4*p)
			at += p
		}
		return s
	}
	m := moves(series(func(x float64) float64 { return 0.05 * x }), false, 0)
	close(t, "drift", m.By, 0.05, 0.002)
	if m.Wanders || m.Slight || m.Uncertainty > 0.002 {
		t.Errorf("%+v", m)
	}
	m = moves(series(func(x float64) float64 { return 0.0018 * x }), false, 0)
	if close(t, "warmth", m.By, 0.0018, 0.0001); !m.Slight {
		t.Errorf("warmth: %+v", m)
	}
	m = moves(series(func(x float64) float64 { return 0.05 * math.Sin(2*math.Pi*x) }), true, 0)
	// The mean of a sine over an eighth from a quarter turn on: 0.05 · 4/π · (cos 45° ... ) of the eighths beside the crest.
	crest := 0.05 * (math.Cos(math.Pi/4) - math.Cos(math.Pi/2)) / (math.Pi / 4)
	close(t, "wander", m.By, (1+crest)/(1-crest)-1, 0.002)
	if !m.Wanders || m.Uncertainty != 0 {
		t.Errorf("%+v", m)
	}
	m = moves(series(func(x float64) float64 { return 0.05*x + 0.002*math.Sin(2*math.Pi*x) }), true, 0)
	if m.Wanders || m.Uncertainty < 0.002 || m.Uncertainty > 0.01 {
		t.Errorf("a bend beside a drift: %+v", m)
	}
	if m = moves(&fit.Series{Every: 1}, true, 0); m != (fit.Moves{}) {
		t.Errorf("nothing: %+v", m)
	}
}

// A period that jumps half way by little more than its noise may as well drift: from a probability of a half on what lies on either side
// of the jump is measured, and below that the drift; both say so. A drift is stated where it is no more than warmth makes, and so named.
func TestJumpOrDrift(t *testing.T) {
	var jumps, drifts, slight int
	for seed := range uint64(13) {
		rnd := rand.New(rand.NewPCG(seed, 17))
		step, by := 3e-3, 2.6e-3
		if seed >= 10 {
			step, by = 1e-4, 2e-4
		}
		var edges []float64
		at := 1e-3
		for i := range 200 {
			p := 7e-3 * (1 + step*rnd.NormFloat64())
			if seed >= 10 {
				p *= 1 + by*float64(i)/200
			} else if i >= 100 {
				p *= 1 + by
			}
			edges, at = append(edges, at, at+0.5*p), at+p
		}
		w := measuretest.Wave{Kind: acquire.Transitions, High: at, Low: 1, Cycles: at / (at + 1)}
		m, err := Run(w.CaptureOf(append(edges, at), rnd), Options{})
		if err != nil {
			t.Fatal(err)
		}
		v, text := m.Moves, m.Moves.Text(m.Subject())
		if seed >= 10 {
			if v.By == 0 || len(m.Stretches) > 0 {
				continue
			}
			if slight++; !v.Slight || math.Abs(v.By-by) > 5*v.Uncertainty || !strings.Contains(strings.Join(m.Notes, "\n"), text) || !strings.Contains(text, "warmth") {
				t.Errorf("seed %d: %+v, %q", seed, v, m.Notes)
			}
			continue
		}
		if v.Jumps == 0 {
			continue
		}
		jump, drift := strings.Index(text, "a jump near"), strings.Index(text, "a slow drift")
		if likely := v.Jumps >= even; likely != (len(m.Stretches) > 0) || len(m.Changes) != max(len(m.Stretches)-1, 0) || jump < 0 || drift < 0 || likely != (jump < drift) {
			t.Errorf("seed %d: %+v, %d stretches, %q", seed, v, len(m.Stretches), text)
		} else if likely {
			jumps++
		} else {
			drifts++
		}
		if v.Slight != (math.Abs(v.By) <= warmth && v.Jumps < even) {
			t.Errorf("seed %d: %+v", seed, v)
		}
	}
	if jumps < 2 || drifts < 1 || slight < 2 {
		t.Errorf("%d jumps, %d drifts, %d slight drifts", jumps, drifts, slight)
	}
}

// Hum that was found is what makes the period go to and fro, and is not said to be a wander besides.
func TestHumIsNoWander(t *testing.T) {
	for _, by := range []float64{1e-3, 8e-3} {
		hum := measuretest.Hum{Frequency: 50, High: [2]float64{by, 0}, Low: [2]float64{by, 0}}
		w := measuretest.Wave{Kind: acquire.Transitions, High: 140e-6, Low: 137e-6, Phase: 50e-6, Cycles: 400.3, White: 3e-8, Hum: hum}
		m, err := Run(w.Capture(rand.New(rand.NewPCG(4, 50))), Options{})
		if err != nil {
			t.Fatal(err)
		}
		if m.Slow.Hum == 0 || m.Moves != (fit.Moves{}) || len(m.Changes) > 0 {
			t.Errorf("hum by %g: found at %g Hz, %v, %d changes", by, m.Slow.Hum, m.Moves, len(m.Changes))
		}
	}
}

// A number that is none is found wherever it stands.
func TestNotFinite(t *testing.T) {
	m := &fit.Measurement{Series: fit.Series{High: []float64{1, 2}}, Stretches: []*fit.Measurement{nil, {}}}
	if _, _, found := notFinite("m", reflect.ValueOf(m)); found {
		t.Error("all is finite")
	}
	for want, spoil := range map[string]func(m *fit.Measurement){
		"m.Low.Uncertainty":    func(m *fit.Measurement) { m.Low.Uncertainty = math.NaN() },
		"m.Series.High[1]":     func(m *fit.Measurement) { m.Series.High[1] = math.Inf(-1) },
		"m.Stretches[1].Clock": func(m *fit.Measurement) { m.Stretches[1].Clock = math.Inf(1) },
	} {
		m := &fit.Measurement{Series: fit.Series{High: []float64{1, 2}}, Stretches: []*fit.Measurement{nil, {}}}
		spoil(m)
		if at, value, found := notFinite("m", reflect.ValueOf(m)); !found || at != want || !math.IsNaN(value) && !math.IsInf(value, 0) {
			t.Errorf("%s, %v, %v; want %s", at, value, found, want)
		}
		r := &run{c: &acquire.Capture{Source: "lamp"}}
		if err := r.finite(m); !errors.Is(err, ErrNumber) || !strings.Contains(err.Error(), strings.TrimPrefix(want, "m.")) {
			t.Error(err)
		}
	}
}

// A thin course keeps every row at first, then one in two, four …, each with its time, wherever the blocks are cut.
func TestCourseIsThinned(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for _, rows := range []int{curveCap - 1, curveCap, 3*curveCap + 7, 9 * curveCap} {
		var c course
		for first := 0; first < rows; {
			n := min(1+rng.IntN(5000), rows-first)
			v := make([]float64, n)
			for i := range v {
				v[i] = float64(first+i) / 2
			}
			c.add(int64(first), nil, v)
			first += n
		}
		every := 1
		for (rows-1)/every+1 > curveCap {
			every *= 2
		}
		if len(c.t) == curveCap || len(c.t) < curveCap/2-1 && rows >= curveCap || c.t[0] != 0 {
			t.Fatalf("%d rows: %d kept from %v on", rows, len(c.t), c.t[0])
		}
		for i := range c.t {
			if c.v[i] != c.t[i]/2 || i > 0 && c.t[i]-c.t[i-1] != float64(c.every) {
				t.Fatalf("%d rows: %v V at row %v after row %v", rows, c.v[i], c.t[i], c.t[max(i-1, 0)])
			}
		}
	}
	var c course
	c.add(0, []float64{5, 6, 7}, []float64{1, math.NaN(), math.Inf(1)})
	if len(c.t) != 1 || c.t[0] != 5 {
		t.Errorf("%v", c.t)
	}
}

// A record that runs from one voltage to another is called what it is; one that stands or goes to and fro is none.
func TestOneCurve(t *testing.T) {
	for _, c := range []struct {
		name  string
		of    func(x float64) float64
		want  string // of the error
		noise float64
	}{
		{"ramp up", func(x float64) float64 { return 1 + 2*x }, "a ramp from 1.00", 0.001},
		{"ramp down", func(x float64) float64 { return 3 - 2*x }, "a ramp from 3.00", 0.001},
		{"charge", func(x float64) float64 { return 5 - 4*math.Exp(-4*x) }, "one curve from", 0.001},
		{"discharge", func(x float64) float64 { return 4 * math.Exp(-4*x) }, "one curve from", 0.001},
		{"stands", func(float64) float64 { return 2 }, "flat", 0.001},
		{"to and fro", func(x float64) float64 { return 2 + x + 0.5*math.Sin(9*x) }, "", 0.001},
		{"to and fro in noise", func(x float64) float64 { return 2 + 3*x + 0.8*math.Sin(9*x) }, "", 0.05},
		{"discharge in noise", func(x float64) float64 { return 4 * math.Exp(-4*x) }, "one curve from", 0.05},
	} {
		rng := rand.New(rand.NewPCG(5, 6))
		v := make([]float64, 3000)
		for i := range v {
			v[i] = c.of(float64(i)/float64(len(v)-1)) + c.noise*rng.NormFloat64()
		}
		_, err := Run(measuretest.FromRows(acquire.Capture{Source: c.name, Kind: acquire.Samples, Step: 1e-3}, nil, v), Options{})
		if err == nil || !strings.Contains(err.Error(), c.want) || c.want == "" && strings.Contains(err.Error(), "without pulses") {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		curve := (*Curve)(nil)
		if errors.As(err, &curve) != (strings.HasPrefix(c.want, "a ramp") || strings.HasPrefix(c.want, "one curve")) {
			t.Errorf("%s: %T", c.name, err)
		} else if curve != nil && (curve.Ramp != strings.HasPrefix(c.want, "a ramp") || len(curve.Time) != len(v) || !(math.Abs(curve.Time[2999]-2.999) <= 1e-9)) {
			t.Errorf("%s: ramp %v, %d points", c.name, curve.Ramp, len(curve.Time))
		}
	}
}

// A period that goes to and fro once or twice in a record, far more slowly than any hum, is told by how far the means of its eighths lie apart.
func TestSlowWanderIsTold(t *testing.T) {
	for _, turns := range []float64{1, 1.5} {
		rnd := rand.New(rand.NewPCG(6, 51))
		const n, by = 800, 0.004
		var edges []float64
		at := 1e-3
		var eighths [8]float64
		for i := range n {
			p := 7e-3 * (1 + by*math.Sin(2*math.Pi*turns*float64(i)/n) + 2e-4*rnd.NormFloat64())
			edges, at = append(edges, at, at+0.5*p), at+p
			eighths[8*i/n] += p
		}
		w := measuretest.Wave{Kind: acquire.Transitions, High: at, Low: 1, Cycles: at / (at + 1)}
		m, err := Run(w.CaptureOf(append(edges, at), rnd), Options{})
		if err != nil {
			t.Fatal(err)
		}
		want := slices.Max(eighths[:])/slices.Min(eighths[:]) - 1
		if !m.Moves.Wanders || m.Moves.Slight || m.Slow.Hum != 0 || len(m.Stretches) > 0 {
			t.Errorf("%g turns: %+v", turns, m.Moves)
		}
		close(t, fmt.Sprint(turns, " turns"), m.Moves.By, want, 0.05*want)
	}
}
