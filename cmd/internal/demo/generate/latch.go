package main

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
)

// The swing bridge's barrier lamp: a push button sets a latch, the closed barrier's contact resets it, both active
// low. The horn's relay makes the supply dip, and the latch falls. All instants are invented.
var (
	buttonAt  = []float64{1.02, 9.21, 17.53, 22.4, 26.11, 33.7} // s, each held 0.2 … 0.4 s
	barrierAt = []float64{6.31, 14.8, 24.05, 31.2, 38.9}        // s, each held 0.5 … 1 s
	hornAt    = []float64{21.004, 29.517}                       // s
	latchEnd  = 42.0                                            // s
	follow    = 0.6e-6                                          // s, from an input to the output
)

// wire is a change on one of the latch's three lines, or a dip of the supply.
type wire struct {
	at   float64 // s
	line int     // 0 output, 1 set, 2 reset, 3 supply
	high bool
}

// bounced presses a contact to ground at t and lets go: it bounces when it makes, never when it breaks.
func bounced(rng *rand.Rand, line int, t, hold float64) []wire {
	out := []wire{{t, line, false}}
	for range 1 + rng.IntN(4) {
		open := t + 20e-6 + 200e-6*rng.Float64()
		t = open + 10e-6 + 100e-6*rng.Float64()
		out = append(out, wire{open, line, true}, wire{t, line, false})
	}
	return append(out, wire{t + hold, line, true})
}

// bridge is the latch's record, a transition list of three channels on a grid of one microsecond.
func bridge() string {
	rng := rand.New(rand.NewPCG(7, 1))
	var inputs []wire
	for _, t := range buttonAt {
		inputs = append(inputs, bounced(rng, 1, t, 0.2+0.2*rng.Float64())...)
	}
	for _, t := range barrierAt {
		inputs = append(inputs, bounced(rng, 2, t, 0.5+0.5*rng.Float64())...)
	}
	for _, t := range hornAt {
		inputs = append(inputs, wire{t, 3, false})
	}
	byTime := func(a, b wire) int { return cmp.Compare(a.at, b.at) }
	slices.SortFunc(inputs, byTime)
	all := slices.Clone(inputs)
	lit := false
	for _, w := range inputs {
		if turns := w.line == 1; !w.high && turns != lit {
			lit = turns
			all = append(all, wire{w.at + follow, 0, lit})
		}
	}
	slices.SortFunc(all, byTime)
	var b strings.Builder
	state := [4]bool{false, true, true, true}
	row := func(t float64) {
		fmt.Fprintf(&b, "%.6f,%d,%d,%d\n", t, bit(state[0]), bit(state[1]), bit(state[2]))
	}
	b.WriteString("Time[s],out,set,reset\n")
	row(0)
	for _, w := range all {
		if w.line < 3 {
			state[w.line] = w.high
			row(w.at)
		}
	}
	row(latchEnd)
	return b.String()
}
