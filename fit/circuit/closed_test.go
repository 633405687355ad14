package circuit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"offbeat/fit"
	"offbeat/fit/wiring"
)

// near holds a number to what it ought to be.
func near(t *testing.T, what string, got, want, share float64) {
	t.Helper()
	if !(math.Abs(got-want) <= share*math.Abs(want)) {
		t.Errorf("%s: %.12g, want %.12g", what, got, want)
	}
}

// The multivibrator half-cycle by half-cycle from power-up: a collector that was off for so long has come back to 1 - exp(-t/RC) of its
// swing when its transistor turns on again, and takes the base behind its capacitor down by that; no base falls below breakdown. The
// output rises as its collector passes the middle of where it comes to.
func TestMultivibratorFromPowerUp(t *testing.T) {
	for _, c := range []struct{ collector, saturation, one, other, breakdown, bias float64 }{
		{0, 0, 0, 0, 0, 0}, {0, 0.1, 0.4, 0.9, 0, 0}, {3e3, 0.1, 0, 0, 0, 0}, {12e3, 0.15, 0.3, 0.7, 0, 2e-7}, {20e3, 0.1, 0, 0, 2.5, 0}, {0, 0.1, 0, 0, 7, 1e-6},
	} {
		v := Ideal(9)
		v[0], v[1], v[2], v[3], v[BaseEmitter], v[SwitchVoltage] = 47e3, 100e-9, 68e3, 33e-9, 0.65, c.saturation
		v[Collector], v[OutputLow], v[OutputDrop], v[Breakdown], v[Bias] = c.collector, c.one, c.other, c.breakdown, c.bias
		lasted := [2]float64{math.Inf(1), math.Inf(1)}
		for i := range 400 {
			side := i % 2
			r, farad, less := v[2*side], v[2*side+1], []float64{c.one, c.other}[side]
			swing := 9 - c.saturation - less
			if c.collector > 0 {
				swing *= 1 - math.Exp(-lasted[1-side]/(c.collector*farad))
			}
			from, goal := 0.65-swing, 9-r*c.bias
			if c.breakdown > 0 {
				from = max(from, -c.breakdown)
			}
			lasted[side] = r * farad * math.Log((goal-from)/(goal-0.65))
		}
		late := 0.0
		if c.collector > 0 {
			tau := c.collector * v[3]
			late = -tau * math.Log(1-(1-math.Exp(-lasted[0]/tau))/2)
		}
		high, low, ok := multivibrator.Times(&v)
		if !ok {
			t.Fatalf("%+v does not run", c)
		}
		near(t, fmt.Sprintf("%+v: high", c), high, lasted[0]-late, 1e-11)
		near(t, fmt.Sprintf("%+v: low", c), low, lasted[1]+late, 1e-11)
	}
}

// Capacitors share charge as a dense solve has it: what the output's swing lifts each node by, and what they hold at power-up, empty, the
// output high.
func TestCapacitancesOfABoard(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 8))
	for range 12 {
		nodes := []string{"a", "b", "c"}[:1+rng.IntN(3)]
		n := len(nodes)
		text := "U1 inverter in=a\nR1 output a 10"
		m, swing, held := mat.NewDense(n, n, nil), mat.NewVecDense(n, nil), mat.NewVecDense(n, nil)
		for i, p := range nodes {
			if i > 0 {
				text += fmt.Sprintf("\nR%d %s %s 10", 10+i, nodes[i-1], p)
			}
			for k, q := range append([]string{"ground", "supply", "output"}, nodes[:i]...) {
				nano := float64(1 + rng.IntN(99))
				text += fmt.Sprintf("\nC%d %s %s %g", 10*i+k+1, p, q, nano)
				farad := nano * 1e-9
				m.Set(i, i, m.At(i, i)+farad)
				switch {
				case q == "supply":
					held.SetVec(i, held.AtVec(i)+5*farad)
				case q == "output":
					swing.SetVec(i, farad)
					held.SetVec(i, held.AtVec(i)+4.4*farad)
				case k >= 3:
					j := k - 3
					m.Set(j, j, m.At(j, j)+farad)
					m.Set(i, j, -farad)
					m.Set(j, i, -farad)
				}
			}
		}
		k, v := run(t, design(t, text))
		v[OutputDrop], v[OutputLow], v[Stray] = 0.6, 0.25, 3e-9
		m.Set(0, 0, m.At(0, 0)+3e-9) // on the node that is compared
		var c charges
		k.engine.load(&v, &c)
		var jump, start mat.VecDense
		if jump.SolveVec(m, swing) != nil || start.SolveVec(m, held) != nil {
			t.Fatal("singular")
		}
		for i, p := range nodes {
			at := slices.Index(k.engine.nodes, p)
			near(t, text+"\njump of "+p, c.jump[at], jump.AtVec(i)*(4.4-0.25), 1e-9)
			near(t, text+"\nstart of "+p, c.start[at], start.AtVec(i), 1e-9)
			for j, q := range nodes {
				near(t, text+"\ncapacitance "+p+q, c.matrix[at][slices.Index(k.engine.nodes, q)], m.At(i, j), 1e-9)
			}
		}
	}
}

// A basis spans two rows: as many vectors as they have directions, told apart from a millionth on, whichever is longer or nothing; what
// lies outside has no part along it.
func TestBasisOfRows(t *testing.T) {
	for _, c := range []struct {
		rows [][]float64
		rank int
	}{
		{[][]float64{{0, 0, 0}}, 0}, {[][]float64{{0, 3, 4}}, 1}, {[][]float64{{0, 0, 0}, {1, 2, 2}}, 1}, {[][]float64{{1, 2, 2}, {0, 0, 0}}, 1},
		{[][]float64{{1, 2, 2}, {-2, -4, -4}}, 1}, {[][]float64{{1, 2, 2}, {2, 4, 5}}, 2}, {[][]float64{{100, 0, 0}, {1, 2e-4, 0}}, 2},
		{[][]float64{{100, 0, 0}, {1, 0.5e-4, 0}}, 1}, {[][]float64{{1, 2e-4, 0}, {100, 0, 0}}, 2}, {[][]float64{{1, 0.5e-4, 0}, {100, 0, 0}}, 1}, {[][]float64{{1e-3, 0, 0}, {0, 1e-8, 0}}, 2},
	} {
		basis := span(c.rows)
		if len(basis) != c.rank {
			t.Errorf("%v: %d directions, want %d", c.rows, len(basis), c.rank)
			continue
		}
		for i, a := range basis {
			for k, b := range basis[:i+1] {
				want := 0.0
				if i == k {
					want = 1
				}
				if dot := floats.Dot(a, b); !(math.Abs(dot-want) <= 1e-9) {
					t.Errorf("%v: directions %d and %d make %g", c.rows, i, k, dot)
				}
			}
		}
		rest, left := outside([]float64{3, -1, 7}, basis)
		near(t, "what is left", left, floats.Norm(rest, 2), 1e-12)
		for _, b := range basis {
			if dot := floats.Dot(rest, b); !(math.Abs(dot) <= 1e-9) {
				t.Errorf("%v: %g of what lies outside lies along", c.rows, dot)
			}
		}
	}
}

// Of the atoms that are combined four at a time none has more than two parts, and no more than ten are taken.
func TestFewAtoms(t *testing.T) {
	var all []*atom
	for i := range 30 {
		all = append(all, &atom{parts: make([]int, 1+i%3)})
	}
	got := few(all)
	if len(got) != 10 || slices.ContainsFunc(got, func(a *atom) bool { return len(a.parts) > 2 }) || len(few(all[:4])) != 3 {
		t.Errorf("%d", len(got))
	}
}

// The gradients of sums, of two side by side and of quotients are the derivatives by hand: a part's share of a sum, the other's share
// where two lie side by side, and those of a quotient subtract.
func TestGradientsByHand(t *testing.T) {
	c, v := run(t, design(t, "U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge cap 47\nR3 cap ground 330\nC1 cap ground 100\nC2 cap supply 47"))
	ohms, farads := c.atoms([]Values{v})
	at := map[string]*atom{}
	for _, a := range slices.Concat(ohms, farads) {
		at[a.name] = a
	}
	for name, want := range map[string][]float64{
		"R1": {1, 0, 0, 0, 0}, "R1+R2": {10. / 57, 47. / 57, 0, 0, 0}, "R2||R3": {0, 330. / 377, 47. / 377, 0, 0}, "C1+C2": {0, 0, 0, 100. / 147, 47. / 147},
	} {
		a := at[name]
		if a == nil {
			t.Errorf("%s is not among the atoms", name)
			continue
		}
		for i, g := range a.gradients[0] {
			if !(math.Abs(g-want[i]) <= 1e-7) {
				t.Errorf("%s by %s: %g, want %g", name, c.Parts[i].Name, g, want[i])
			}
		}
	}
	if at["R1+R3"] != nil || at["R1||R3"] != nil {
		t.Error("parts that have no node in common are taken together")
	}
	k := candidate{over: []*atom{at["R1+R2"], at["C1"]}, under: []*atom{at["R2"]}}
	for i, want := range []float64{10. / 57, 47./57 - 1, 0, 1, 0} {
		if g := k.gradient(0)[i]; !(math.Abs(g-want) <= 1e-7) {
			t.Errorf("%s by %s: %g, want %g", k.name(), c.Parts[i].Name, g, want)
		}
	}
	near(t, k.name(), k.of(&v), 57./47*100e-9, 1e-12)
	if k.name() != "C1*(R1+R2)/R2" {
		t.Errorf("written %s", k.name())
	}
	if k := (&candidate{over: []*atom{at["C1"]}, under: []*atom{at["R2"], at["R1"]}}); k.name() != "C1/(R2*R1)" {
		t.Errorf("written %s", k.name())
	}
}

// The half-cycles' sensitivities of a plain astable, by hand: the high time goes as C1 and as each resistor's share of their sum, the
// low time as R2 and C1.
func TestSensitivitiesByHand(t *testing.T) {
	c, v := run(t, design(t, "U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge cap 47\nC1 cap ground 100"))
	rows, ok := c.sensitivities(&v)
	if !ok || len(rows) != 2 {
		t.Fatal(rows, ok)
	}
	for k, want := range [][]float64{{10. / 57, 47. / 57, 1}, {0, 1, 1}} {
		for i, x := range want {
			if !(math.Abs(rows[k][i]-x) <= 1e-7) {
				t.Errorf("half %d by %s: %g, want %g", k, c.Parts[i].Name, rows[k][i], x)
			}
		}
	}
	g := c.near("high_time", 0, rows[0], v)
	w := v
	w[0], w[2] = v[0]*1.2, v[2]*0.9
	high, _, _ := c.Times(&v)
	near(t, "near the nominals", g.Of(&w), high*math.Pow(1.2, 10./57)*0.9, 1e-6)
	if len(g.Near) != 3 {
		t.Errorf("%v", g.Near)
	}
	if g = c.near("low_time", 1, rows[1], v); len(g.Near) != 2 {
		t.Errorf("%v", g.Near)
	}
}

// What the design states of a wiper, of a held node and of a diode is a prior where it has limits and a value where it has none; a
// wiper that nobody read may stand anywhere.
func TestWhatTheDesignBrings(t *testing.T) {
	text := "U1 timer trigger=cap threshold=cap\nR1 supply discharge 4\nRV1 a discharge b 47\nD1 a cap\nD2 cap b\nC1 cap ground 100"
	for _, c := range []struct {
		position fit.Reading
		a, b     float64
		prior    bool
	}{{fit.Reading{}, 0, 1, true}, {fit.Reading{Value: 0.3, Half: 0.02}, 0.28, 0.32, true}, {fit.Reading{Value: 0.3}, 0.3, 0.3, false}} {
		d := design(t, text)
		d.Part("RV1").Position = c.position
		k, v := run(t, d)
		slot, ok := k.Position("RV1")
		if !ok || !(math.Abs(v[slot]-(c.a+c.b)/2) <= 1e-12) {
			t.Errorf("%+v: stands at %g", c.position, v[slot])
		}
		if second := k.means.drop["D2"]; second == DiodeDrop || !slices.Contains(k.Terms, second) || !slices.Contains(k.Terms, slot) {
			t.Errorf("%v lacks the wiper or the second diode's drop", k.Terms)
		}
		priors, err := k.Priors(fit.Ideal)
		at := slices.IndexFunc(priors, func(p Prior) bool { return p.Slot == slot })
		if err != nil || (at >= 0) != c.prior || c.prior && (!(math.Abs(priors[at].A-c.a) <= 1e-12) || !(math.Abs(priors[at].B-c.b) <= 1e-12)) {
			t.Errorf("%+v: %+v, %v", c.position, priors, err)
		}
	}
}

// A level of the output that the design states is the design's; all else is the family's.
func TestStatedLevelAmongPriors(t *testing.T) {
	d := design(t, "U1 timer trigger=cap threshold=cap\nR1 output cap 47\nC1 cap ground 100")
	d.OutputHigh = &fit.Reading{Value: 4, Half: 0.1}
	c, _ := run(t, d)
	priors, err := c.Priors(fit.CMOS)
	got := map[Slot]Prior{}
	for _, p := range priors {
		got[p.Slot] = p
	}
	_, drop := got[OutputDrop]
	if err != nil || got[OutputHigh].A != 3.9 || got[OutputHigh].B != 4.1 || got[Upper].Name == "" || got[OutputLow].Name == "" || got[Bias].Name == "" || drop {
		t.Errorf("%+v, %v", priors, err)
	}
}

// The path that a worn discharge switch counts from is the resistance from its pin to the timing node; a capacitor on the pin leaves none.
func TestPathOfTheSwitch(t *testing.T) {
	const board = "\nR1 supply discharge 10\nR2 discharge cap 47\nC1 cap ground 100"
	for text, want := range map[string]float64{
		board: 47e3, board + "\nR3 discharge cap 47": 23.5e3, board + "\nR3 discharge a 20\nR4 a cap 27": 23.5e3, "\nC2 discharge ground 10" + board: 0, board + "\nC2 discharge ground 10": 0,
	} {
		c, v := run(t, design(t, "U1 timer trigger=cap threshold=cap"+text))
		near(t, text, c.Discharging(&v), want, 1e-12)
		if c.Has(WeakRatio) != (want > 0) {
			t.Errorf("%q can show a worn switch: %v", text, c.Has(WeakRatio))
		}
	}
}

// A follower keeps as many motions as its board has states, however many diodes there are.
func TestManyDiodesAreFollowed(t *testing.T) {
	text := "U1 timer trigger=cap threshold=cap\nR1 supply discharge 4\nR2 discharge cap 47\nC1 cap ground 100"
	for i := range 5 { // from above the upper threshold on, one by one, none of them ever conducts
		text += fmt.Sprintf("\nR%d cap x%d 1000\nD%d x%d supply", 10+i, i, i+1, i)
	}
	c, v := run(t, design(t, text))
	var f follower
	f.begin(c.engine, &v)
	high, low, ok := f.cycle()
	if !ok {
		t.Fatal("does not run")
	}
	near(t, "high", high, 51e3*100e-9*math.Ln2, 1e-9)
	near(t, "low", low, 47e3*100e-9*math.Ln2, 1e-9)
	for mask := range 32 {
		if o := f.motion(false, mask); o != f.motion(false, mask) || o.mask != mask || o.low {
			t.Fatalf("diodes %b: not kept", mask)
		}
	}
}

// How a wiring lies as a network: the node that is compared is found whichever way its capacitor lies, its input draws the first current;
// the discharge pin counts where a part is on it or it is compared; a node that capacitors tie to others alone has a stray of its own.
func TestNetworks(t *testing.T) {
	const timer, three = "U1 timer trigger=pin threshold=pin\nR1 supply discharge 10\nR2 discharge cap 47\nR3 cap pin 3\n", "R2 supply ref 10\nR3 ref ground 10\n"
	for _, c := range []struct {
		text, timing, draws, discharge string
		strays                         int
	}{
		{timer + "C1 cap ground 100", "cap", "pin", "discharge", 0}, {timer + "C1 ground cap 100", "cap", "pin", "discharge", 0}, {timer + "C2 cap ground 100\nC1 pin ground 1", "pin", "pin", "discharge", 0},
		{"U1 timer trigger=cap threshold=cap\nR1 output cap 47\nC1 cap ground 100", "cap", "cap", "", 0},
		{"U1 timer threshold=cap discharge=cap\nR1 supply cap 47\nC1 cap ground 100", "cap", "cap", "cap", 0},
		{"U1 comparator plus=ref minus=cap\nR1 output cap 10\n" + three + "C1 cap ground 100\nC2 ref ground 1", "cap", "cap", "", 0},
		{"U1 comparator plus=ref minus=cap\nR1 output cap 10\n" + three + "C1 ground cap 100", "cap", "cap", "", 0},
		{"U1 comparator plus=cap minus=ref\nR1 output cap 10\n" + three + "C1 cap ground 100", "cap", "cap", "", 0},
		{"U1 comparator plus=cap minus=ref\nR1 output cap 10\n" + three + "C1 ground cap 100", "cap", "cap", "", 0},
		{"U1 inverter in=b\nC9 x y 10\nR1 output x 10\nR2 x y 10\nR3 y b 10\nC1 b ground 100", "b", "b", "", 1},
		{"U1 inverter in=b\nC9 x y 10\nC8 y ground 10\nR1 output x 10\nR2 x y 10\nR3 y b 10\nC1 b ground 100", "b", "b", "", 0},
	} {
		w, err := wiring.Parse(c.text)
		if err != nil {
			t.Fatal(err)
		}
		m, err := layOut(w, &fit.Design{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		n, err := build(newBuilder(), w, m, noExpr)
		if err != nil {
			t.Fatal(err)
		}
		at, ok := n.index[c.discharge]
		if !ok {
			at = -1
		}
		if n.charged[n.timing] != n.index[c.timing] || n.draws[0].node != n.index[c.draws] || n.discharge != at {
			t.Errorf("%q: node %d times it, %d draws, %d discharges; nodes %v", c.text, n.charged[n.timing], n.draws[0].node, n.discharge, n.index)
		}
		strays := 0
		for _, k := range n.caps {
			if k.card == nil {
				strays++
			}
		}
		if strays != c.strays {
			t.Errorf("%q: %d strays", c.text, strays)
		}
	}
}

// What stays furthest below zero says by how much a board is stuck, whichever difference it is.
func TestShortOfTheEnd(t *testing.T) {
	for _, c := range []struct{ a, b, want float64 }{{-1, -3, 3}, {-3, -1, 3}, {2, -1, 1}, {-1, 2, 1}, {2, 3, -2}} {
		f, o := follower{e: &engine{n: 1}, x: vector{5}}, motion{n: 1, nd: 2}
		o.differ[0], o.differ[1] = [1 + mostStates]float64{c.a - 5, 1}, [1 + mostStates]float64{c.b + 10, -2}
		if f.halt(&o); f.stuck.short != c.want || f.stuck.drift {
			t.Errorf("%+v: short by %g", c, f.stuck.short)
		}
	}
}

// Candidates come the plainest first, each once: by parts, then those that the discharge runs through.
func TestPlainestFirst(t *testing.T) {
	c, v := run(t, design(t, "U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge cap 47\nC1 cap ground 100\nC2 cap supply 47"))
	rows, _ := c.sensitivities(&v)
	ohms, farads := c.atoms([]Values{v})
	if len(ohms) != 4 || len(farads) != 3 {
		t.Fatalf("%d, %d atoms", len(ohms), len(farads))
	}
	for _, k := range []struct {
		unit  string
		long  bool
		count int
	}{{"s", false, 12}, {"1", false, 9}} {
		all := candidates(ohms, farads, k.unit, k.long, rows[1])
		if len(all) != k.count {
			t.Errorf("%+v: %d candidates", k, len(all))
		}
		names := map[string]bool{}
		var last [2]int
		for i, a := range all {
			var weight [2]int
			for _, x := range slices.Concat(a.over, a.under) {
				weight[0] += len(x.parts)
				for _, p := range x.parts {
					if c.Parts[p].Name != "R1" { // which the discharge does not run through
						weight[1]--
					}
				}
			}
			if i > 0 && slices.Compare(weight[:], last[:]) < 0 || names[a.name()] {
				t.Errorf("%+v: %s comes late or twice", k, a.name())
			}
			last, names[a.name()] = weight, true
		}
	}
	for unit, by := range map[string]float64{"s": 3, "1": 1} { // seconds go with all resistances and with all capacitances, ratios with neither
		for _, a := range append(candidates(ohms, farads, unit, true, rows[1]), candidates(ohms, farads, unit, false, rows[1])...) {
			for _, kind := range []fit.PartKind{fit.Resistor, fit.Capacitor} {
				w := v
				for i, p := range c.Parts {
					if p.Kind == kind {
						w[i] *= 3
					}
				}
				near(t, a.name(), a.of(&w), by*a.of(&v), 1e-9)
			}
		}
	}
}

// What circuits say of themselves: whether the output's levels have a say, what the timing capacitor charges and discharges through, what
// becomes of a family that is not stated, and whose drop a slot is.
func TestWhatCircuitsSay(t *testing.T) {
	for name, c := range map[string]struct {
		reaches             bool
		charging, discharge float64 // with 10, 47, … kilohm
		unsaid              string
	}{
		"astable": {false, 57e3, 47e3, "taken as bipolar for what is predicted; the causes weigh bipolar 0.6 against cmos 0.4"}, "astable-output": {true, 10e3, 0, ""},
		"schmitt": {true, 10e3, 0, "taken as cmos"}, "monostable": {false, 10e3, 0, ""}, "multivibrator": {false, 10e3, 0, "taken as bipolar"},
	} {
		k := named(name)
		v := Ideal(5)
		ohms := []float64{10e3, 47e3, 22e3, 33e3}
		for i, p := range k.Parts {
			if v[i] = 100e-9; p.Kind == fit.Resistor {
				v[i], ohms = ohms[0], ohms[1:]
			}
		}
		if k.OutputReaches() != c.reaches {
			t.Errorf("%s: the output's levels have a say: %v", name, !c.reaches)
		}
		near(t, name+": charges through", k.Charging(&v), c.charging, 1e-12)
		near(t, name+": discharges through", k.Discharging(&v), c.discharge, 1e-12)
		if got := k.Unsaid(); c.unsaid != "" && got != c.unsaid {
			t.Errorf("%s: %s", name, got)
		}
		if k.IsDrop(Upper) {
			t.Errorf("%s: a threshold is a diode's drop", name)
		}
	}
	d := &fit.Design{Family: fit.Bipolar, Supply: fit.Reading{Value: 9}, Parts: []fit.Part{{Name: "R1", Nominal: 47e3}, {Name: "C1", Kind: fit.Capacitor, Nominal: 1e-7}, {Name: "R2", Nominal: 22e3}, {Name: "C2", Kind: fit.Capacitor, Nominal: 1e-7}}}
	priors, err := named("multivibrator").Beliefs(d)
	at := slices.IndexFunc(priors, func(p Prior) bool { return p.Slot == Collector })
	if err != nil || at < 0 || !(math.Abs(priors[at].A-220) <= 1e-9) || !(math.Abs(priors[at].B-2200) <= 1e-9) {
		t.Errorf("%+v, %v: a collector's resistor is a hundredth to a tenth of the smaller base's", priors, err)
	}
	d = design(t, "U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge cap 47\nD1 discharge cap\nC1 cap ground 100")
	d.Upper, d.Lower = fit.Reading{Value: 0.6}, fit.Reading{Value: 0.24}
	d.Diodes[0].Drop = fit.Reading{Value: 0.6, Half: 0.1}
	c, _ := run(t, d)
	if !(math.Abs(c.about[Upper]-0.6) <= 1e-12) || !(math.Abs(c.about[Half]-0.4) <= 1e-12) || !c.IsDrop(DiodeDrop) || c.IsDrop(Upper) || !c.Bends || named("astable").Bends {
		t.Errorf("compiled about %g and %g", c.about[Upper], c.about[Half])
	}
}
