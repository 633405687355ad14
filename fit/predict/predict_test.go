package predict

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"offbeat/fit"
	"offbeat/fit/wiring"
)

func lamp(family string) *fit.Design {
	return &fit.Design{Circuit: "astable", Family: family, Supply: fit.Reading{Value: 5, Half: 0.25}, Parts: []fit.Part{
		{Name: "R1", Nominal: 10e3, Minus: 0.01, Plus: 0.01},
		{Name: "R2", Nominal: 47e3, Minus: 0.05, Plus: 0.05},
		{Name: "C1", Kind: fit.Capacitor, Nominal: 100e-9, Minus: 0.2, Plus: 0.1},
	}}
}

func near(t *testing.T, what string, got, want, relative float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relative*math.Abs(want)) {
		t.Errorf("%s: got %.9g, want %.9g", what, got, want)
	}
}

// With an ideal timer the bands follow from 0.693 (RA+RB) C and 0.693 RB C (SLFS022I p. 11, with ln 2 in full),
// worked out here by hand.
func TestIdealBands(t *testing.T) {
	r, err := Run(lamp(fit.Ideal))
	if err != nil {
		t.Fatal(err)
	}
	high, low, period, frequency, duty := r.Bands[0], r.Bands[1], r.Bands[2], r.Bands[3], r.Bands[4]
	near(t, "high nominal", high.Nominal, 3.950938929e-3, 1e-9)
	near(t, "low nominal", low.Nominal, 3.257791749e-3, 1e-9)
	near(t, "high worst low", high.Worst[0], math.Ln2*(9.9e3+44.65e3)*80e-9, 1e-12)
	near(t, "high worst high", high.Worst[1], math.Ln2*(10.1e3+49.35e3)*110e-9, 1e-12)
	near(t, "frequency worst high", frequency.Worst[1], 1/(math.Ln2*(9.9e3+2*44.65e3)*80e-9), 1e-12)
	near(t, "duty worst high", duty.Worst[1], (10.1e3+44.65e3)/(10.1e3+2*44.65e3), 1e-12)
	near(t, "low rss low", low.RSS[0], low.Nominal*(1-math.Hypot(0.05, 0.2)), 1e-9)
	near(t, "low rss high", low.RSS[1], low.Nominal*(1+math.Hypot(0.05, 0.1)), 1e-9)
	near(t, "period", period.Nominal, high.Nominal+low.Nominal, 1e-12)
	for q, b := range r.Bands {
		if !(b.Worst[0] <= b.MonteCarlo[0] && b.MonteCarlo[0] < b.Nominal && b.Nominal < b.MonteCarlo[1] && b.MonteCarlo[1] <= b.Worst[1]) {
			t.Errorf("%s: bands out of order: %+v", Quantities[q], b)
		}
		near(t, "first order", b.FirstOrder, b.Nominal, 1e-12)
	}
}

// The low time of an ideal timer is a product of two rectangular quantities; its central 95 % from the exact
// distribution, found by dense quadrature here.
func TestMonteCarloLimits(t *testing.T) {
	r, err := Run(lamp(fit.Ideal))
	if err != nil {
		t.Fatal(err)
	}
	const n = 1500
	below := func(x float64) float64 { // P(R2 C < x)
		k := 0.0
		for i := range n {
			c := 80e-9 + 30e-9*(float64(i)+0.5)/n
			k += min(max((x/c-44.65e3)/4.7e3, 0), 1) / n
		}
		return k
	}
	for i, want := range []float64{0.025, 0.975} {
		if got := below(r.Bands[1].MonteCarlo[i] / math.Ln2); !(math.Abs(got-want) <= 0.008) {
			t.Errorf("limit %d lies at the fraction %.4f, want %.3f", i, got, want)
		}
	}
}

// The budget: a rectangular part contributes T/sqrt(3) (JCGM 100 4.3.7); the low time does not hang on R1; the
// timer's terms are there and say what they shift.
// The k-th smallest is what sorting puts there, ties and orders of all kinds among them; what stands before it is no larger.
func TestSmallestAgainstSorting(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for _, values := range []int{1, 2, 5, 1 << 30} {
		for n := 1; n < 40; n++ {
			all := make([]float64, n)
			for i := range all {
				all[i] = float64(rng.IntN(values))
			}
			for _, x := range [][]float64{all, slices.Sorted(slices.Values(all))} {
				for k := range n {
					got := slices.Clone(x)
					want := slices.Sorted(slices.Values(x))
					if first := smallest(got, k); first != want[k] || slices.Max(got[:k+1]) != first || slices.Min(got[k:]) != first {
						t.Fatalf("place %d of %v: %g, %v", k, x, first, got)
					}
					if slices.Sort(got); !slices.Equal(got, want) {
						t.Fatalf("%v became %v", x, got)
					}
				}
			}
		}
	}
}

func TestBudget(t *testing.T) {
	r, err := Run(lamp(fit.Bipolar))
	if err != nil {
		t.Fatal(err)
	}
	rows := map[string]Row{}
	for _, row := range r.Budget {
		rows[row.Input] = row
	}
	near(t, "R2 on the low time", rows["R2"].Effect[1], 0.05/math.Sqrt(3), 0.01)
	if e := rows["R1"].Effect[1]; e > 1e-3 {
		t.Errorf("R1 moves the low time by %v", e)
	}
	if s := rows["discharge saturation voltage"].Shift[1]; s < 0.002 || s > 0.02 {
		t.Errorf("a typical saturation of 25 mV at 5 V lengthens the low time by %v; expected about 0.7 %%", s)
	}
	if s := rows["upper threshold ratio"].Shift[0]; s != 0 {
		t.Errorf("a typical threshold of 2/3 shifts the high time by %v", s)
	}
}

func TestDoesNotRun(t *testing.T) {
	d := lamp(fit.Bipolar)
	d.Supply = fit.Reading{Value: 0.05} // a typical saturation voltage keeps the capacitor above a third of that
	if _, err := Run(d); err == nil {
		t.Error("a circuit on 0.05 V ran")
	}
	d.Parts = d.Parts[:2]
	if _, err := Run(d); err == nil {
		t.Error("a circuit without its capacitor ran")
	}
}

// A board that only the threshold pin's current discharges has no first-order times, and no number that is none.
func TestFirstOrderMayNotRun(t *testing.T) {
	w, err := wiring.Parse("U1 timer trigger=cap threshold=cap\nR1 supply discharge\nR2 discharge a\nD1 a cap\nC1 cap ground")
	if err != nil {
		t.Fatal(err)
	}
	d := lamp(fit.Bipolar)
	d.Circuit, d.Wiring = "", w
	r, err := Run(d)
	if err != nil {
		t.Fatal(err)
	}
	// C dV/dt = I: a third of 5 V on 100 nF by the typical 125 nA.
	near(t, "low time", r.Bands[1].Nominal, 5./3*100e-9/125e-9, 1e-3)
	for q, b := range r.Bands {
		if b.FirstOrder != 0 || !(b.Nominal > 0) {
			t.Errorf("%s: %+v", Quantities[q], b)
		}
	}
	for _, row := range r.Budget {
		for _, x := range append(row.Effect[:], row.Shift[:]...) {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				t.Errorf("%s: %v", row.Input, x)
			}
		}
	}
	if len(r.Warnings) == 0 || !strings.Contains(strings.Join(r.Warnings, " "), "does not run: the capacitor would settle") {
		t.Errorf("warnings %q", r.Warnings)
	}
	d.Circuit, d.Wiring, d.Supply = "astable", nil, fit.Reading{Value: 0.05}
	var stands *StandsError
	if _, err := Run(d); !errors.As(err, &stands) || !strings.Contains(stands.Why, "V, above the lower threshold of") {
		t.Errorf("%v", err)
	}
}

// A comparator drawn with its inputs exchanged is named beside the number that stops it.
func TestInputsExchanged(t *testing.T) {
	for _, pins := range []string{"plus=cap minus=ref", "plus=ref minus=cap"} {
		w, err := wiring.Parse("U1 comparator " + pins + "\nR1 output cap\nR2 output ref\nR3 ref supply\nR4 ref ground\nC1 cap ground")
		if err != nil {
			t.Fatal(err)
		}
		d := &fit.Design{Wiring: w, Family: fit.CMOS, Supply: fit.Reading{Value: 5}, Parts: []fit.Part{{Name: "C1", Kind: fit.Capacitor, Nominal: 1e-7}}}
		for _, name := range []string{"R1", "R2", "R3", "R4"} {
			d.Parts = append(d.Parts, fit.Part{Name: name, Nominal: 1e5})
		}
		_, err = Run(d)
		if crossed := pins[5:8] == "cap"; (err != nil) != crossed || crossed && !strings.HasSuffix(err.Error(), "of 1.67 V; with the comparator's plus and minus inputs exchanged it would run") {
			t.Errorf("%s: %v", pins, err)
		}
	}
}
