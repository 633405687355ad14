package comparetest

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"offbeat/fit/circuit"
	"offbeat/fit/wiring"
)

// What the law takes for the charging resistance and for that of the discharge path, which the faults are multiples of, is what
// a reader sees on the drawing.
func TestChargingOnTheDrawing(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for _, w := range Wirings {
		for _, family := range w.Families {
			b, err := RandomBoard(rng, w, family, Wide, false, nil)
			if err != nil {
				t.Fatal(err)
			}
			hs, err := b.hypotheses()
			if err != nil {
				t.Fatal(err)
			}
			h := hs[0]
			s := h.state()
			u := make([]float64, len(h.steps))
			for i := range u {
				u[i] = rng.Float64()
			}
			h.draw(u, s)
			if w.Charging == "" {
				continue
			}
			if x, y := ohms(b.legs(w.Charging, h.circuit), s), h.circuit.Charging(&s.v); x/y < 1-1e-9 || x/y > 1+1e-9 {
				t.Errorf("%s, %s: charged through %s, %g ohm; the law says %g", w.Name, family, w.Charging, x, y)
			}
			if w.Path == "" {
				continue
			}
			if x, y := ohms(b.legs(w.Path, h.circuit), s), h.circuit.Discharging(&s.v); x/y < 1-1e-9 || x/y > 1+1e-9 {
				t.Errorf("%s, %s: %s between pin and node, %g ohm; the law says %g", w.Name, family, w.Path, x, y)
			}
		}
	}
}

// Boards of every wiring and cause, integrated from Kirchhoff's law, show the times that the law gives and the averages rest on,
// but for those that a comparator's delay alone keeps running, or that fall in no time, and for a diode between two capacitors: an ohm
// there is shorter than the integration's steps. What crawls to a threshold by a
// pin's bias current makes more of the integration's own error.
func TestBoardsAgainstIntegration(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	ran := 0
	for i, w := range Wirings {
		b, err := RandomBoard(rng, w, w.Families[i%len(w.Families)], Wide, false, nil)
		if err != nil {
			t.Fatal(err)
		}
		hs, err := b.hypotheses()
		if err != nil {
			t.Fatal(err)
		}
		for _, h := range hs {
			b.drawn(rng, h, false)
			s := b.Truth.state
			high, low, ok := h.shown(s)
			if h.Cause == Unexplained || s.view == ofNode || s.view == atHalf || h.Cause == Shifted && len(h.Parts) == 2 || h.betweenCapacitors() {
				continue
			}
			if ok && !w.OnePulse && min(high, low) < 5e-6 {
				continue
			}
			high1, low1, ok1 := b.integrate(h, s)
			near := func(x, y, usual float64) bool { return math.Abs(x/y-1) < 1e-7*max(1, sq(y/usual)) }
			if ok != ok1 || ok && !(near(high1, high, hs[0].nominal[0]) && (w.OnePulse || near(low1, low, hs[0].nominal[1]))) {
				t.Errorf("%s, %s %v: %g and %g s (%v), integrated %g and %g s (%v)", w.Name, h.Cause, h.Parts, high, low, ok, high1, low1, ok1)
			}
			if ok {
				ran++
			}
		}
	}
	if ran < 200 {
		t.Errorf("only %d boards ran", ran)
	}
}

// betweenCapacitors says whether a diode that is not drawn ties two nodes that each have a capacitor.
func (h *hypothesis) betweenCapacitors() bool {
	var ends, charged []string
	for _, c := range h.circuit.Wiring.Cards {
		switch {
		case c.Name == faultyDiode:
			ends = c.Nodes
		case c.Kind == wiring.Capacitor:
			charged = append(charged, c.Nodes...)
		}
	}
	return len(ends) == 2 && slices.Contains(charged, ends[0]) && slices.Contains(charged, ends[1]) && !slices.ContainsFunc(ends, h.circuit.Wiring.IsHeld)
}

// A fault that the law holds in a slot gives the times of the board with that fault's own card.
func TestFaultsAsCards(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for _, w := range Wirings {
		for _, family := range w.Families {
			b, err := RandomBoard(rng, w, family, Wide, false, nil)
			if err != nil {
				t.Fatal(err)
			}
			hs, err := b.hypotheses()
			if err != nil {
				t.Fatal(err)
			}
			sound := hs[0]
			for _, h := range hs {
				name, fault := faultyResistor, map[string]circuit.Slot{Leakage: circuit.LeakRatio, Contact: circuit.Contact, Stray: circuit.Stray, Discharge: circuit.WeakRatio}[h.Cause]
				if h.Cause == Leakage {
					fault, _ = sound.circuit.Leak(h.Parts[0])
				}
				if _, own := h.circuit.Slot(name); fault == 0 || h.Cause != Stray && !own {
					continue // a voltage in the switch is no card
				}
				if h.Cause == Stray {
					name = faultyCapacitor
				}
				s, u := h.state(), make([]float64, len(h.steps))
				for range 20 {
					for i := range u {
						u[i] = rng.Float64()
					}
					h.draw(u, s)
					v := sound.start
					for i, q := range b.Design.Parts {
						at, _ := sound.circuit.Slot(q.Name)
						v[at] = s.parts[i]
					}
					for _, q := range sound.terms {
						v[q.Slot] = s.v[h.slot(q.Name)]
					}
					v[circuit.Supply], v[circuit.Clock] = s.v[circuit.Supply], s.v[circuit.Clock]
					slot, _ := h.circuit.Slot(name)
					v[fault] = s.v[slot]
					switch h.Cause {
					case Leakage, Contact:
						v[fault] /= sound.circuit.Charging(&v)
					case Discharge:
						v[fault] /= sound.circuit.Discharging(&v)
					}
					high, low, ok := h.circuit.Times(&s.v)
					high1, low1, ok1 := sound.circuit.Times(&v)
					if ok != ok1 || ok && (!(math.Abs(high1/high-1) <= 1e-8) || !(math.Abs(low1/low-1) <= 1e-8)) {
						t.Errorf("%s, %s, %s: %g and %g s by the cards, %g and %g s by the slot (%v, %v)", w.Name, family, h.Cause, high, low, high1, low1, ok, ok1)
						break
					}
				}
			}
		}
	}
}

// slot is that of a term of that name.
func (h *hypothesis) slot(name string) circuit.Slot {
	for _, q := range h.terms {
		if q.Name == name {
			return q.Slot
		}
	}
	return circuit.DiodeDrop
}
