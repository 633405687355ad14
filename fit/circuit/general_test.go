package circuit

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"offbeat/acquire/acquiretest/expect"
	"offbeat/fit"
	"offbeat/fit/fittest"
	"offbeat/fit/wiring"
)

// onBench is a wired board for the independent integration: the cards and pins as they stand, no expression of the engine.
func onBench(c *Circuit, v *Values) *fittest.Board {
	w := c.Wiring
	d := &w.Device
	b := &fittest.Board{Held: map[string]float64{"ground": 0, "supply": v[Supply]}, Draws: map[string]float64{}}
	for _, h := range w.Held[2:] {
		switch s, ok := c.means.node[h]; {
		case h == wiring.Minus:
			b.Held[h] = v[Minus]
		case !ok:
			b.Held[h] = c.means.share[h] * v[Supply]
		case c.means.ratio[h]:
			b.Held[h] = v[s] * v[Supply]
		default:
			b.Held[h] = v[s]
		}
	}
	b.Output, b.High, b.Low = d.Node(wiring.PinOutput), v[Supply]-v[OutputDrop], v[OutputLow]
	if c.means.minus && d.Kind == wiring.Comparator {
		b.Low += v[Minus]
	}
	b.DelayFall, b.Delay = v[DelayFall], v[DelayRise]
	charging := c.Charging(v)
	for i := range w.Cards {
		k := &w.Cards[i]
		if w.Idle(k) {
			continue
		}
		x := v[c.means.slot[k.Name]]
		two := fittest.Two{A: k.Nodes[0], B: k.Nodes[len(k.Nodes)-1], Value: x}
		switch {
		case k.Kind == wiring.Capacitor:
			if s := c.means.leak[k.Name]; v[s] > 0 {
				b.Resistors = append(b.Resistors, fittest.Two{A: two.A, B: two.B, Value: v[s] * charging})
			}
			if v[Contact] > 0 && c.means.leak[k.Name] == LeakRatio {
				side := &two.A
				if w.IsHeld(two.A) {
					side = &two.B
				}
				b.Resistors = append(b.Resistors, fittest.Two{A: *side, B: "inner", Value: v[Contact] * charging})
				*side = "inner"
			}
			b.Capacitors = append(b.Capacitors, two)
		case k.Kind == wiring.Diode:
			two.Value = v[c.means.drop[k.Name]]
			b.Diodes = append(b.Diodes, two)
		case k.Kind == wiring.Potentiometer && !k.Variable():
			at := v[c.means.position[k.Name]]
			b.Resistors = append(b.Resistors, fittest.Two{A: k.Nodes[0], B: k.Nodes[1], Value: at * x}, fittest.Two{A: k.Nodes[1], B: k.Nodes[2], Value: (1 - at) * x})
		default:
			b.Resistors = append(b.Resistors, two)
		}
	}
	b.Capacitors = append(b.Capacitors, strays(b, w)...)
	up := v[Upper] * v[Supply]
	switch d.Kind {
	case wiring.Inverter:
		in := d.Node(wiring.PinIn)
		b.Draws[in] = v[Bias]
		b.FallWhen = []fittest.Test{{Left: in, LeftBy: 1, RightBy: up}}
		b.RiseWhen = []fittest.Test{{LeftBy: up * v[Half], Right: in, RightBy: 1}}
	case wiring.Comparator:
		plus, minus := d.Node(wiring.PinPlus), d.Node(wiring.PinMinus)
		b.Draws[minus], b.Draws[plus] = v[Bias], v[OtherBias]
		b.FallWhen = []fittest.Test{{Left: minus, LeftBy: 1, Right: plus, RightBy: 1}}
		b.RiseWhen = []fittest.Test{{Left: plus, LeftBy: 1, Right: minus, RightBy: 1}}
	default:
		threshold, trigger, control := d.Node(wiring.PinThreshold), d.Node(wiring.PinTrigger), d.Node(wiring.PinControl)
		b.Draws[threshold] = v[Bias]
		by := up
		if w.Loaded(control) {
			by = 1
			total := v[Ladder]
			b.Resistors = append(b.Resistors, fittest.Two{A: "supply", B: control, Value: total * (1 - v[Upper])}, fittest.Two{A: control, B: "ground", Value: total * v[Upper]})
		} else {
			control = ""
		}
		b.FallWhen = []fittest.Test{{Left: threshold, LeftBy: 1, Right: control, RightBy: by}}
		if trigger != threshold && w.Runs == wiring.Astable {
			b.FallWhen = append(b.FallWhen, fittest.Test{Left: trigger, LeftBy: 1, Right: control, RightBy: by * v[Half]})
		}
		b.RiseWhen = []fittest.Test{{Left: control, LeftBy: by * v[Half], Right: trigger, RightBy: 1}}
		if w.Loaded(d.Node(wiring.PinDischarge)) {
			b.Switch, b.Saturation, b.Ohm = d.Node(wiring.PinDischarge), v[SwitchVoltage], v[SwitchResistance]+v[WeakRatio]*c.Discharging(v)
		}
	}
	return b
}

// strays are those of nodes that capacitors tie to other nodes alone: a picofarad from the first of them to ground.
func strays(b *fittest.Board, w *wiring.Wiring) (out []fittest.Two) {
	for {
		all, reached := append(out, b.Capacitors...), map[string]bool{}
		held := func(n string) bool { return w.IsHeld(n) || reached[n] }
		for range all {
			for _, c := range all {
				if held(c.A) || held(c.B) {
					reached[c.A], reached[c.B] = true, true
				}
			}
		}
		i := slices.IndexFunc(all, func(c fittest.Two) bool { return !held(c.A) })
		if i < 0 {
			return out
		}
		out = append(out, fittest.Two{A: all[i].A, B: "ground", Value: strayFarad})
	}
}

// boards are wirings of many kinds; R in kilohm, C in nanofarad.
var boards = []string{
	"U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge cap 47\nC1 cap ground 100",
	"U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge cap 47\nC1 cap supply 100\nC2 cap ground 22",
	"U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge cap 47\nC1 cap ground 100\nD1 discharge cap",
	"U1 timer trigger=cap threshold=cap\nR1 supply discharge 4\nR2 discharge a 10\nD1 a cap\nR3 discharge b 22\nD2 cap b\nC1 cap ground 100",
	"U1 timer trigger=cap threshold=cap\nR1 supply discharge 4\nRV1 a discharge b 47\nD1 a cap\nD2 cap b\nC1 cap ground 100",
	"U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge cap 47\nC1 cap ground 100\nR3 control ground 33",
	"U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge cap 47\nC1 cap ground 100\nR3 control output 33\nC2 control ground 10",
	"U1 timer trigger=cap threshold=cap\nR1 output cap 47\nC1 cap ground 100\nD1 output a\nR2 a cap 10",
	"U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge a 22\nC2 a ground 10\nR3 a cap 25\nC1 cap ground 100",
	"U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge a 22\nC2 a cap 10\nR3 a cap 25\nC1 cap ground 100",
	"U1 inverter in=c\nR1 output a 10\nC2 a b 47\nR3 a b 25\nC1 b ground 100\nR4 b c 33\nC3 c b 10\nC4 c supply 22",
	"U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge a 22\nC2 a cap 10\nR3 a cap 25\nR4 cap ground 470\nC1 a supply 47",
	"U1 timer trigger=cap threshold=pin\nR1 supply discharge 10\nR2 discharge cap 47\nC1 cap ground 100\nR3 cap pin 3",
	"U1 timer threshold=cap discharge=cap\nR1 supply cap 47\nC1 cap ground 100",
	"U1 timer threshold=cap discharge=a\nR1 supply cap 47\nR2 a cap 1\nC1 cap ground 100",
	"U1 inverter in=cap\nR1 output cap 47\nC1 cap ground 100",
	"U1 inverter in=cap\nR1 output cap 47\nC1 cap ground 100\nR2 output a 10\nD1 cap a",
	"U1 inverter in=c\nR1 output a 10\nC2 a ground 47\nR3 a b 25\nC1 b ground 100\nR4 b c 33\nC3 c ground 10",
	"U1 inverter in=cap\nR1 output cap 47\nC1 cap ground 100\nC2 output cap 3\nR2 cap supply 470",
	"U1 comparator plus=ref minus=cap\nR1 output cap 10\nC1 cap ground 100\nR2 output ref 10\nR3 ref ground 10\nR4 ref supply 10",
	"U1 comparator plus=ref minus=cap\nR1 output cap 10\nC1 cap ground 100\nR2 output ref 10\nR3 ref ground 10\nR4 ref supply 10\nC2 ref ground 1",
	"U1 comparator plus=ref minus=cap\nR1 output cap 10\nC1 cap ground 100\nR2 output ref 10\nR3 ref ground 10\nD1 ref a\nD2 a ground\nR4 ref supply 22",
	"U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge cap 47\nC1 cap ground 100\nD1 cap a\nR3 a supply 1\nR4 a ground 4",
	"U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge a 47\nC1 cap ground 100\nD1 a cap\nD2 cap discharge",
	"U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge cap 47\nC1 cap ground 100\nR3 cap x 2\nC2 x ground 22\nD1 x supply",
	"U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge cap 47\nC1 cap ground 100\nR3 cap x 22\nC2 x ground 22\nD1 discharge x",
	"U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge a 47\nD1 a cap\nC1 cap ground 100\nR3 cap x 22\nC2 x ground 22",
	"U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge cap 47\nC1 cap ground 100\nR3 cap x 470\nC2 x ground 22\nD1 supply x",
}

// tally counts the boards that were compared.
type tally struct{ runs, stops, unsure int }

// check wants a least number of boards that run, and few that the integration cannot follow.
func (n *tally) check(t *testing.T, least int) {
	t.Helper()
	t.Logf("%d runs, %d that stop, %d that the integration does not follow", n.runs, n.stops, n.unsure)
	if n.runs < least || n.unsure > n.runs/50 {
		t.Errorf("expected at least %d runs", least)
	}
}

// Every wiring, with random values and every second-order term, against the integration of Kirchhoff's law, from power-up
// with the output high and low.
func TestEveryWiringAgainstIntegration(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 22))
	draws := draws(t)
	texts := boards
	for range 4 + 4*draws {
		texts = append(texts, randomBoard(rng))
	}
	var n tally
	for _, text := range texts {
		c, d := board(t, text, rng)
		nominal, err := c.Typical(d)
		if err != nil {
			t.Fatal(err)
		}
		n.compare(t, text, c, d.Family, &nominal, draws, rng)
	}
	n.check(t, 30*draws)
}

// Every wiring with diodes, each of them turned, left out or bridged, in every family, likewise; in a family and with a
// fault drawn where no study is asked for.
func TestEveryDiodeFaultAgainstIntegration(t *testing.T) {
	rng := rand.New(rand.NewPCG(23, 24))
	draws := draws(t)
	faults := []struct {
		name string
		do   func(*Circuit, string, *Values) (*Circuit, string, error)
	}{{"reversed", (*Circuit).Reversed}, {"missing", (*Circuit).Missing}, {"bridged", (*Circuit).Bridged}}
	var n tally
	for _, text := range boards {
		if !strings.Contains(text, "\nD") {
			continue
		}
		c, d := board(t, text, rng)
		families, some := slices.Sorted(maps.Keys(c.Families)), faults
		if !study() {
			families = []string{d.Family}
		}
		for _, family := range families {
			d.Family = family
			nominal, err := c.Typical(d)
			if err != nil {
				t.Fatal(err)
			}
			for _, diode := range d.Diodes {
				if !study() {
					k := rng.IntN(len(faults))
					some = faults[k : k+1]
				}
				for _, f := range some {
					if k, _, err := f.do(c, diode.Name, &nominal); err == nil && !k.stopped {
						n.compare(t, fmt.Sprintf("%s\n%s %s", text, diode.Name, f.name), k, family, &nominal, draws, rng)
					}
				}
			}
		}
	}
	n.check(t, 15*draws)
}

// draws is how many of each board are compared: the study asks for more.
func draws(t *testing.T) int {
	if study() {
		return int(number(t, os.Getenv("OFFBEAT_STUDY")))
	}
	return 1
}

func study() bool { return os.Getenv("OFFBEAT_STUDY") != "" }

// board is the circuit and the design of a wiring, of a family drawn.
func board(t *testing.T, text string, rng *rand.Rand) (*Circuit, *fit.Design) {
	t.Helper()
	d := design(t, text)
	c, err := Of(d)
	if err != nil {
		t.Fatalf("%q: %v", text, err)
	}
	d.Family = []string{fit.Ideal, c.Default}[rng.IntN(2)]
	return c, d
}

// compare draws values about the nominal ones and compares the law's times with those of the integration.
func (n *tally) compare(t *testing.T, text string, c *Circuit, family string, nominal *Values, draws int, rng *rand.Rand) {
	t.Helper()
	uniform := func(a, b float64) float64 { return a + (b-a)*rng.Float64() }
	priors, err := c.Priors(family)
	if err != nil {
		t.Fatal(err)
	}
	usualHigh, usualLow, ok := c.Times(nominal)
	if !ok {
		usualHigh, usualLow = 10e-3, 10e-3
	}
	for range draws {
		v := *nominal
		for i := range c.Parts {
			v[i] *= math.Exp(uniform(-0.7, 0.7))
		}
		for _, p := range priors {
			if v[p.Slot] = uniform(p.A, p.B); p.Form == Normal {
				v[p.Slot] = p.A + p.B*uniform(-1.5, 1.5)
			}
		}
		if rng.IntN(3) == 0 {
			v[LeakRatio] = math.Exp(uniform(math.Log(3), math.Log(300)))
		}
		if c.Has(WeakRatio) && rng.IntN(3) == 0 {
			v[WeakRatio] = math.Exp(uniform(math.Log(0.01), math.Log(0.2)))
		}
		if rng.IntN(4) == 0 {
			v[Contact] = uniform(0.1, 1)
		}
		what := fmt.Sprintf("%s\n%s contact %.3g leak %.3g", text, family, v[Contact], v[LeakRatio])
		if strings.Contains(text, "\nD") {
			v[SwitchResistance] = max(v[SwitchResistance], 3)
		}
		high, low, ok := c.Times(&v)
		b := onBench(c, &v)
		if slices.ContainsFunc(b.Capacitors, func(c fittest.Two) bool { return c.Value == strayFarad }) && rng.IntN(6) > 0 {
			continue // what a picofarad keeps is over in nanoseconds, which takes long to integrate
		}
		for _, fromLow := range []bool{false, true} {
			var wantHigh, wantLow float64
			if c.OnePulse {
				wantHigh, err = b.Pulse()
			} else {
				wantHigh, wantLow, err = b.Cycle(fromLow)
			}
			if err != nil && (strings.Contains(err.Error(), "too many steps") || strings.Contains(err.Error(), "no cycle repeats")) {
				if n.stops++; ok { // else it switches as fast as it can, or never the same: neither finds a cycle
					n.unsure++
				}
				break
			}
			var stop *fittest.StopError
			if ok && c.engine.n > 1 && errors.As(err, &stop) {
				if !fromLow { // all voltages are zero at power-up, so that both sides of a comparison may be
					n.unsure++
				}
				continue // with two charged nodes the other start may come to rest
			}
			if ok != (err == nil) || err != nil && !errors.As(err, &stop) {
				t.Errorf("%s: runs %v (%v, %v); the integration from low %v: %v, %v, %v\nengine: %s\n%v", what, ok, high, low, fromLow, wantHigh, wantLow, err, c.Stuck(&v), v)
				break
			}
			if !ok {
				n.stops++
				break
			}
			n.runs++
			// A crawl to a threshold makes more of the integration's own error.
			expect.Near(t, what+" high", high, wantHigh, 1e-8*math.Max(1, math.Pow(high/usualHigh, 2)))
			if !c.OnePulse {
				expect.Near(t, what+" low", low, wantLow, 1e-8*math.Max(1, math.Pow(low/usualLow, 2)))
			}
		}
	}
}

// randomBoard is an astable of random resistors, capacitors and diodes between a few nodes.
func randomBoard(rng *rand.Rand) string {
	var b strings.Builder
	nodes := []string{"discharge", "cap", "a", "b", "ground", "supply"}
	b.WriteString("U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge cap 47\nC1 cap ground 100")
	pick := func() (string, string) {
		i := rng.IntN(len(nodes) - 2)
		k := rng.IntN(len(nodes))
		for k == i {
			k = rng.IntN(len(nodes))
		}
		return nodes[i], nodes[k]
	}
	for i := range 2 {
		n := []string{"a", "b"}[i]
		fmt.Fprintf(&b, "\nR%d %s %s %d", 10+i, n, []string{"discharge", "cap"}[rng.IntN(2)], 5+rng.IntN(100))
		fmt.Fprintf(&b, "\nR%d %s %s %d", 20+i, n, []string{"cap", "ground", "supply"}[rng.IntN(3)], 100+rng.IntN(300))
	}
	for i := range 1 + rng.IntN(2) {
		p, q := pick()
		switch rng.IntN(3) {
		case 0:
			fmt.Fprintf(&b, "\nR%d %s %s %d", 30+i, p, q, 50+rng.IntN(200))
		case 1:
			fmt.Fprintf(&b, "\nC%d %s %s %d", 30+i, p, q, 5+rng.IntN(50))
		default:
			fmt.Fprintf(&b, "\nD%d %s %s 0", 30+i, p, q)
		}
	}
	return b.String()
}

// Where the output of a board stands that a missing or a bridged part has stopped, against the integration from power-up: of every
// card, whether it tells or not, with a little stray capacitance at every node, and without the inputs' own currents.
func TestRestsAgainstIntegration(t *testing.T) {
	rng := rand.New(rand.NewPCG(27, 28))
	told := map[int]int{}
	const timer, inverter = "U1 timer trigger=x threshold=x\n", "U1 inverter in=x\n"
	for _, text := range []string{
		timer + "R1 supply discharge 10\nR2 discharge x 47\nC1 x ground 100",
		timer + "R1 supply discharge 10\nR2 discharge x 47\nC1 x ground 100\nR3 x ground 470",
		timer + "R1 supply discharge 10\nR2 discharge x 47\nC1 x supply 100\nR3 x supply 470",
		timer + "R1 supply discharge 10\nR2 discharge a 22\nR3 a x 25\nC1 x ground 100",
		timer + "R1 output x 47\nC1 x ground 100",
		timer + "R1 output a 47\nR2 a x 10\nC1 x supply 100",
		inverter + "R1 output x 10\nC1 x ground 100",
		inverter + "R1 output x 10\nC1 x supply 100\nR2 x supply 220",
		inverter + "R1 output a 10\nR2 a x 10\nC1 x ground 100\nR3 x ground 220",
	} {
		c, d := board(t, text, rng)
		v, err := c.Typical(d)
		if err != nil {
			t.Fatal(err)
		}
		v[Bias], v[OutputDrop] = 0, 0.1
		for _, p := range c.Parts {
			for how, do := range map[string]func(*Circuit, string, *Values) (*Circuit, string, error){"missing": (*Circuit).Missing, "bridged": (*Circuit).Bridged} {
				k, why, err := do(c, p.Name, &v)
				if err != nil || why == "" {
					continue
				}
				var stop *fittest.StopError
				if _, _, err = whole(k, &v).Cycle(false); !errors.As(err, &stop) {
					continue // it settles too slowly to be called at rest
				}
				got, _ := k.Rests(&v)
				told[got]++
				if want := map[bool]int{false: wiring.StandsHigh, true: wiring.StandsLow}; got != 0 && got != want[stop.OutputLow] {
					t.Errorf("%s\n%s %s stands at %d (%s), integrated: %v", text, p.Name, how, got, why, err)
				}
			}
		}
	}
	if t.Logf("told high %d, low %d, not told %d", told[1], told[-1], told[0]); told[1] < 12 || told[-1] < 5 {
		t.Error("expected more boards")
	}
}

// whole is a board with all of its cards, a hundredth of its capacitor at every node, and a resistor and a capacitor by themselves,
// which the integration asks for.
func whole(c *Circuit, v *Values) *fittest.Board {
	d := &c.Wiring.Device
	b := &fittest.Board{Held: map[string]float64{"supply": v[Supply]}, Output: "output", High: v[Supply] - v[OutputDrop],
		Resistors: []fittest.Two{{A: "supply", B: "apart", Value: v[0]}}, Capacitors: []fittest.Two{{A: "apart", B: "ground", Value: 1e-9}}}
	for i := range c.Wiring.Cards {
		k := &c.Wiring.Cards[i]
		two := fittest.Two{A: k.Nodes[0], B: k.Nodes[1], Value: v[c.means.slot[k.Name]]}
		if k.Kind == wiring.Capacitor {
			b.Capacitors = append(b.Capacitors, two)
		} else {
			b.Resistors = append(b.Resistors, two)
		}
	}
	x, up := d.Node(wiring.PinThreshold), v[Upper]*v[Supply]
	if d.Kind == wiring.Inverter {
		x = d.Node(wiring.PinIn)
	} else if discharge := d.Node(wiring.PinDischarge); discharge != "supply" {
		b.Switch, b.Saturation, b.Ohm = discharge, v[SwitchVoltage], v[SwitchResistance]
	}
	for _, n := range c.Wiring.Nodes {
		if !c.Wiring.IsHeld(n) {
			b.Capacitors = append(b.Capacitors, fittest.Two{A: n, B: "ground", Value: 1e-2 * v[c.Capacitor()]})
		}
	}
	b.FallWhen = []fittest.Test{{Left: x, LeftBy: 1, RightBy: up}}
	b.RiseWhen = []fittest.Test{{LeftBy: up * v[Half], Right: x, RightBy: 1}}
	return b
}
