package wiring

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
)

func TestShippedRunAsNamed(t *testing.T) {
	for _, s := range All() {
		w, err := s.Wiring()
		if err != nil {
			t.Errorf("%s: %v", s.Name, err)
			continue
		}
		want := Astable
		switch s.Name {
		case "monostable":
			want = Monostable
		case "bistable":
			want = Bistable
		}
		if w.Runs != want {
			t.Errorf("%s runs as %v, want %v", s.Name, w.Runs, want)
		}
		for i := range w.Cards {
			if w.Idle(&w.Cards[i]) {
				t.Errorf("%s: %s has no bearing", s.Name, w.Cards[i].Name)
			}
		}
	}
}

// breakwater is the board of the documentation.
const breakwater = `
U1  timer  trigger=cap threshold=cap
R1  supply discharge
R2  discharge a
RV1 a cap                 # a variable resistor
C1  cap 0  100n 10 %
C2  control ground 10n
D1  discharge cap
R9  output ground 1k      # a lamp
`

func TestParse(t *testing.T) {
	w, err := Parse(breakwater)
	if err != nil {
		t.Fatal(err)
	}
	if w.Runs != Astable || w.Device.Kind != Timer || w.Device.Node(PinDischarge) != "discharge" || w.Device.Node(PinThreshold) != "cap" {
		t.Errorf("device %+v runs as %v", w.Device, w.Runs)
	}
	c := w.Card("c1")
	if c == nil || c.Kind != Capacitor || c.Value != "100n 10 %" || c.Nodes[1] != Ground || c.Line != 6 || c.Column != 1 || c.ValueColumn != 12 {
		t.Errorf("C1 is %+v", c)
	}
	if v := w.Card("RV1"); v.Kind != Potentiometer || !v.Variable() {
		t.Errorf("RV1 is %+v", v)
	}
	for name, idle := range map[string]bool{"R1": false, "C1": false, "D1": false, "C2": true, "R9": true} {
		if got := w.Idle(w.Card(name)); got != idle {
			t.Errorf("%s has no bearing: %v, want %v", name, got, idle)
		}
	}
	if n, ok := w.Node("CAP"); n != "cap" || !ok {
		t.Errorf("node CAP: %q, %v", n, ok)
	}
}

func TestModes(t *testing.T) {
	check := func(text string, want Mode, held ...string) {
		t.Helper()
		w, err := Parse(text, held...)
		if err != nil || w.Runs != want {
			t.Errorf("%q: %v, want %v", text, err, want)
		}
	}
	check("U1 timer trigger=cap threshold=top\nR1 output top\nR2 top cap\nC1 cap ground", Astable)
	check("U1 timer threshold=cap discharge=cap\nR1 supply cap\nC1 cap 0\nC2 trigger pulse\nR2 supply trigger", Monostable, "pulse")
	check("U1 timer trigger=set threshold=clear\nR1 supply set\nR2 clear ground", Bistable)
	check("U1 COMPARATOR PLUS=ref MINUS=cap\nR1 output cap\nC1 cap 0\nR2 output ref\nR3 ref 0", Astable)
	check("U1 comparator plus=ref minus=cap\nR1 output cap\nC1 cap minus\nR2 output ref\nR3 ref minus", Astable, Minus)
}

// Every fault is told with its place and with what would be right.
func TestFaults(t *testing.T) {
	const sound = "U1 timer trigger=cap threshold=cap\nR1 supply discharge\nR2 discharge cap\nC1 cap ground"
	check := func(text string, line, column int, what, want string, held ...string) {
		t.Helper()
		_, err := Parse(text, held...)
		var e *Error
		if !errors.As(err, &e) {
			t.Errorf("%q: %v, want a fault", text, err)
			return
		}
		if e.Line != line || e.Column != column || !strings.Contains(e.What, what) || !strings.Contains(e.Want, want) {
			t.Errorf("%q:\n got %+v\nwant %d:%d %q, %q", text, *e, line, column, what, want)
		}
	}
	check("R1 supply cap\nC1 cap ground", 0, 0, "no device", "U1 timer")
	check(sound+"\nU2 inverter in=cap", 5, 1, "second device", "one device")
	check("U1 timer trigger=cap threshold=cap\nR1 supply discharge\nR2 discharge cap", 1, 0, "no capacitor", "C1 cap ground")
	check("U1 timer foo=cap", 1, 10, `no pin "foo"`, "trigger, output, reset, control, threshold, discharge, supply")
	check("U1 timer trigger=cap trigger=x", 1, 22, "stands twice", "each pin once")
	check("U1 gate in=cap", 1, 4, `unknown device "gate"`, "timer, inverter, comparator")
	check("U1", 1, 3, "no kind", "timer")
	check("U1 timer trigger", 1, 10, "says no pin and node", "=cap")
	check("U1 comparator plus=a", 1, 21, "does not say where its minus", "plus=NODE minus=NODE")
	check(sound+"\nR3 cap lost", 5, 8, "on the node lost", "discharge, ground")
	check(sound+"\nR3 cap", 5, 7, "needs two nodes", "R3 NODE NODE")
	check(sound+"\nR3 cap a b", 5, 10, "more than two nodes", "begins with a digit")
	check(sound+"\nR3 cap cap", 5, 1, "every end of R3", "two nodes")
	check(sound+"\nL1 cap ground", 5, 1, "begins no card", "R1")
	check(sound+"\nr1 cap ground", 5, 1, "stands twice (first: r1 supply discharge)", "of its own")
	check(sound+"\nR3 cap r1", 5, 8, "bears a part's name", "no part has")
	check(sound+"\nC9 threshold ground", 5, 4, "the pin threshold is on cap", "cap")
	check(sound+"\nC9 cap minus", 5, 8, "negative rail", "minus = ")
	check(sound+"\nC2 cap a\nC3 a ground", 5, 8, "no way", "resistor")
	check(sound+"\nR3 reset ground", 1, 1, "gated oscillators are not modelled", "reset=supply")
	check("U1 timer trigger=cap threshold=cap supply=vcc\nR1 vcc cap\nC1 cap ground", 1, 1, "pin supply is on vcc", "supply=supply")
	check("U1 timer trigger=cap threshold=cap discharge=ground\nR1 output cap\nC1 cap ground", 1, 1, "which a source holds", "of its own")
	check("U1 timer trigger=output threshold=cap\nR1 output cap\nC1 cap ground", 1, 1, "on the output itself", "part between")
	check("U1 timer trigger=cap threshold=ref\nR1 output cap\nC1 cap ground\nR2 supply ref\nR3 ref ground", 1, 1, "no part leads from a capacitor", "C1 cap ground")
	check("U1 timer trigger=cap threshold=cap\nR1 output 5x\nC1 cap ground", 2, 11, "needs two nodes", "R1 NODE")
	check("U1 timer trigger=c-1", 1, 18, "no name of a node", "letter")
}

// Order of the cards, case and comments are nothing to the wiring.
func TestOrderAndCase(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	lines := strings.Split(strings.TrimSpace(breakwater), "\n")
	for range 100 {
		rng.Shuffle(len(lines), func(i, k int) { lines[i], lines[k] = lines[k], lines[i] })
		text := strings.Join(lines, "\n# a remark\n\n")
		if rng.IntN(2) == 0 {
			text = strings.ToUpper(text)
		}
		w, err := Parse(text)
		if err != nil || w.Runs != Astable || len(w.Cards) != 7 {
			t.Fatalf("%v\n%s", err, text)
		}
		for i := range w.Cards {
			c := &w.Cards[i]
			if idle := strings.EqualFold(c.Name, "c2") || strings.EqualFold(c.Name, "r9"); w.Idle(c) != idle {
				t.Errorf("%s has no bearing: %v\n%s", c.Name, !idle, text)
			}
		}
	}
}

// Whatever the text, an answer or an error with a place inside it.
func FuzzParse(f *testing.F) {
	f.Add(breakwater)
	for _, s := range All() {
		f.Add(s.Text)
	}
	f.Add("U1 timer =cap")
	f.Add("RV1 a b 10k\nU1 comparator plus=a minus=b\nC1 a 0\nR1 output b\nR2 a 0\nR3 b 0")
	f.Fuzz(func(t *testing.T, text string) {
		w, err := Parse(text, "middle")
		var e *Error
		switch {
		case err == nil:
			again, err := Parse(write(w), "middle")
			if err != nil || len(again.Cards) != len(w.Cards) || again.Runs != w.Runs {
				t.Errorf("%q was read, and what it says not: %v", text, err)
			}
		case !errors.As(err, &e) || e.Line > 1+strings.Count(text, "\n") || e.What == "" || e.Want == "":
			t.Errorf("%q: %v", text, err)
		}
	})
}

// write is the wiring as a text.
func write(w *Wiring) string {
	var b strings.Builder
	fmt.Fprint(&b, w.Device.Name, " ", w.Device.Kind)
	for _, p := range w.Device.Pins {
		if p.Named {
			fmt.Fprint(&b, " ", p.Name, "=", p.Node)
		}
	}
	for _, c := range w.Cards {
		fmt.Fprint(&b, "\n", c.Name, " ", strings.Join(c.Nodes, " "), " ", c.Value)
	}
	return b.String()
}

// Wirings in which the same parts are tied alike share a text, whatever hangs loose on them; others don't.
func TestTie(t *testing.T) {
	w, err := Parse("U1 timer trigger=cap threshold=cap\nR1 supply discharge\nR2 discharge a\nR4 a b\nRV1 b cap\nR3 discharge cap\nD1 discharge cap\nC1 cap ground\nC2 control ground")
	if err != nil {
		t.Fatal(err)
	}
	tie := func(how func(string) (*Wiring, error), part string) string {
		t.Helper()
		k, err := how(part)
		if err != nil {
			t.Fatal(err)
		}
		return k.Tie()
	}
	if a, b, c := tie(w.Without, "R2"), tie(w.Without, "R4"), tie(w.Without, "RV1"); a != b || a != c {
		t.Errorf("parts in series, each missing: %q, %q, %q", a, b, c)
	}
	if a, b := tie(w.Bridged, "R3"), tie(w.Bridged, "D1"); a != b {
		t.Errorf("parts side by side, each bridged: %q, %q", a, b)
	}
	if w.Tie() != tie(w.Without, "C2") {
		t.Error("a part without bearing tells wirings apart")
	}
	for _, other := range []string{tie(w.Without, "R3"), tie(w.Without, "D1"), tie(w.Bridged, "R2"), tie(w.Reversed, "D1"), w.Tie()} {
		if other == tie(w.Without, "R2") {
			t.Errorf("alike: %q", other)
		}
	}
}
