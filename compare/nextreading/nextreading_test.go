package nextreading

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

func bench(t testing.TB) *Bench {
	t.Helper()
	c, err := circuit.Lookup("astable")
	if err != nil {
		t.Fatal(err)
	}
	b := &Bench{Circuit: c, Typical: circuit.Ideal(5), Parts: []fit.Part{
		{Name: "R1", Nominal: 10e3, Minus: 0.01, Plus: 0.01}, {Name: "R2", Nominal: 47e3, Minus: 0.01, Plus: 0.01},
		{Name: "C1", Kind: fit.Capacitor, Nominal: 100e-9, Minus: 0.1, Plus: 0.1}}}
	b.Typical[0], b.Typical[1], b.Typical[2] = 10e3, 47e3, 100e-9
	return b
}

// mixture draws n samples of each explanation, C1's logarithm uniform over its range.
func mixture(b *Bench, n int, ranges ...[2]float64) (*posterior.Result, []string) {
	rng := rand.New(rand.NewPCG(1, 2))
	r := &posterior.Result{}
	var names []string
	for h, x := range ranges {
		names = append(names, string(rune('a'+h)))
		for range n {
			v := b.Typical
			v[2] = 100e-9 * math.Exp(x[0]+(x[1]-x[0])*rng.Float64())
			r.Samples = append(r.Samples, posterior.Sample{Hypothesis: h, Weight: 1 / float64(n*len(ranges)), Values: &v})
		}
	}
	return r, names
}

// The mutual information of simple mixtures is known: two explanations told apart surely are worth one bit, two alike
// nothing, two uniform ranges that share half of their width half a bit (in the shared half the odds stay even). The
// capacitance meter's 1 % blurs a range of 50 % by little; 96 imagined readings repeat to 0.05 bit.
func TestKnownInformation(t *testing.T) {
	for _, c := range []struct {
		name   string
		ranges [][2]float64
		want   float64
	}{
		{"apart", [][2]float64{{-0.5, -0.1}, {0.1, 0.5}}, 1},
		{"alike", [][2]float64{{-0.25, 0.25}, {-0.25, 0.25}}, 0},
		{"half shared", [][2]float64{{-0.5, 0}, {-0.25, 0.25}}, 0.5},
		{"three apart", [][2]float64{{-0.5, -0.3}, {-0.1, 0.1}, {0.3, 0.5}}, math.Log2(3)},
	} {
		b := bench(t)
		r, names := mixture(b, 2000, c.ranges...)
		got := 0.0
		for _, n := range Rank(b, r, names, 99) {
			if n.Kind == Capacitance {
				got = n.Information
			}
		}
		// "alike" is judged by few agreeing points at a time, each with a chance scatter of the odds worth some
		// hundredths of a bit.
		if !(math.Abs(got-c.want) <= 0.09) {
			t.Errorf("%s: %.3f bits, want %.3f", c.name, got, c.want)
		}
	}
}

// A known capacitor across C1 tells C1, whatever the resistors are: the times grow by 1 + K/C.
func TestAKnownPartTellsThePart(t *testing.T) {
	b := bench(t)
	r, names := mixture(b, 2000, [2]float64{-0.5, -0.1}, [2]float64{0.1, 0.5})
	for i := range r.Samples { // the product R2 C1 is what it was: the times alone tell nothing
		v := r.Samples[i].Values
		v[0] *= 100e-9 / v[2]
		v[1] *= 100e-9 / v[2]
	}
	found := map[string]float64{}
	for _, n := range Rank(b, r, names, 99) {
		found[n.Kind+" "+n.Part] = n.Information
		if n.Caution == "" || n.Effort <= 0 {
			t.Errorf("%s has caution %q and takes %v minutes", n.Reading, n.Caution, n.Effort)
		}
		if want := map[string]string{KnownPart + " C1": `--with "C1 || MEASURED" NEW.csv`, Resistance + " R2": "--reading R2=MEASURED"}[n.Kind+" "+n.Part]; want != "" && n.Enter != want {
			t.Errorf("%s is entered with %q, want %q", n.Reading, n.Enter, want)
		}
	}
	for key, want := range map[string]float64{KnownPart + " C1": 1, Resistance + " R2": 1, Control + " ": 0, Instrument + " ": 0} {
		if !(math.Abs(found[key]-want) <= 0.02) {
			t.Errorf("%s: %.3f bits, want %v", key, found[key], want)
		}
	}
}

// Nothing left to tell: nothing to read.
func TestNothingToRead(t *testing.T) {
	b := bench(t)
	r, names := mixture(b, 100, [2]float64{-0.1, 0.1})
	if next := Rank(b, r, names, 3); len(next) != 0 {
		t.Errorf("with one explanation it still wants %+v", next)
	}
	if next := Rank(b, &posterior.Result{}, nil, 3); len(next) != 0 {
		t.Errorf("with no samples it wants %+v", next)
	}
}

func BenchmarkRank(b *testing.B) {
	n := bench(b)
	r, names := mixture(n, 1000, [2]float64{-0.5, 0}, [2]float64{-0.25, 0.25}, [2]float64{0.1, 0.5})
	b.ReportAllocs()
	for b.Loop() {
		Rank(n, r, names, 3)
	}
}
