// Package latch checks a bistable (set-reset latch) against its truth table, from a logic capture of its set
// input, its reset input and its output. There is no RC law to fit: what can be wrong is a set that is missed,
// an output that sets by itself, a reset that does not hold, and inputs that bounce.
package latch

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"

	"offbeat/acquire"
)

// Options of a check; the zero value is a timer used as a latch: both inputs active low, reset overriding.
type Options struct {
	ActiveHigh bool    // inputs are active high
	Settle     float64 // s that the output may take to follow; 0: 10 us or two sample steps, whichever is longer
	Bounce     float64 // s within which a repeated press of one input counts as its bounce; 0: 10 ms (common practice)
}

// Row is one line of the truth table: what the output did while the inputs stood so.
type Row struct {
	Set      bool    `json:"set"` // active
	Reset    bool    `json:"reset"`
	Expected string  `json:"expected"`   // high, low, holds
	Time     float64 `json:"time"`       // s spent in this state
	Wrong    float64 `json:"wrong_time"` // s of it, after settling, in which the output was not as expected
}

// Event is one fault with its place in time.
type Event struct {
	Time float64 // s
	What string
}

// Result of a check.
type Result struct {
	Table        [4]Row  // neither, set, reset, both
	Sets, Resets int     // presses that changed the output
	MissedSets   int     // set presses, reset idle, that left the output low
	FalseSets    int     // rises of the output without a set
	FailedResets int     // reset presses during which the output was not low, or after which it rose by itself
	FalseResets  int     // falls of the output without a reset
	Bounces      [2]int  // of set and reset: presses that followed the same input's last within Options.Bounce
	Shortest     float64 // s, the shortest set press that set the output; 0 where none did
	Resolution   float64 // s, what that is known to
	Settle       float64 // s, what the output was allowed to take
	Events       []Event // the faults in order, at most MaxEvents of them
	States       []State // what was seen, from change to change, at most MaxStates of them
	Unknown      int64   // rows in which a channel was neither high nor low, left out
	Rows         int64
}

// The lists of faults and of states are bounded; the counts go on.
const (
	MaxEvents = 1000
	MaxStates = 20000
)

// Good says whether the latch did all that its truth table asks.
func (r *Result) Good() bool {
	return r.MissedSets+r.FalseSets+r.FailedResets+r.FalseResets == 0
}

// ErrChannels is wrapped when the capture does not hold the three channels.
var ErrChannels = errors.New("a bistable needs three logic channels: set, reset and output")

// Run reads a capture whose channels are output, set and reset in this order. Input levels outside 0 and 1
// break a row; it is counted as Unknown and the states before it are taken to last.
func Run(c *acquire.Capture, opt Options) (*Result, error) {
	if len(c.Channels) != 3 {
		return nil, fmt.Errorf("%s: %w; %d chosen (use --channel out=NAME --channel set=NAME --channel reset=NAME)", c.Source, ErrChannels, len(c.Channels))
	}
	if c.Kind == acquire.Samples {
		return nil, fmt.Errorf("%s: %w; this is an analogue capture, export the logic channels", c.Source, ErrChannels)
	}
	var r Result
	states, err := changes(c, &r, !opt.ActiveHigh)
	if err != nil {
		return nil, err
	}
	if len(states) < 2 {
		return nil, fmt.Errorf("%s: nothing changes on the three channels; expected at least one press and the states around it", c.Source)
	}
	if opt.Settle == 0 {
		opt.Settle = max(10e-6, 2*c.Step)
	}
	opt.Bounce = cmp.Or(opt.Bounce, 10e-3)
	r.Resolution, r.Settle = c.Step, opt.Settle
	r.States = states[:min(len(states), MaxStates)]
	a := &analysis{states: states, opt: opt, r: &r}
	a.presses[0], a.presses[1] = pressesOf(states, func(s State) bool { return s.Set }), pressesOf(states, func(s State) bool { return s.Reset })
	a.table()
	a.edges()
	a.missed()
	a.bounce()
	slices.SortStableFunc(r.Events, func(a, b Event) int { return cmp.Compare(a.Time, b.Time) })
	r.Events = r.Events[:min(len(r.Events), MaxEvents)]
	return &r, nil
}

// State holds from Time until the next one's.
type State struct {
	Time            float64 // s
	Out, Set, Reset bool    // the inputs: active
}

// changes reads the rows at which any of the three channels changes, and the last row.
func changes(c *acquire.Capture, r *Result, activeLow bool) ([]State, error) {
	var out []State
	var last State
	var gridded bool
	var b acquire.Block
	for {
		err := c.Read(&b)
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, err
		}
		gridded = b.Time == nil
		for i := range b.N {
			r.Rows++
			o, s, q := b.Value[0][i], b.Value[1][i], b.Value[2][i]
			if !known(o) || !known(s) || !known(q) {
				r.Unknown++
				continue
			}
			at := float64(b.First + int64(i))
			if !gridded {
				at = b.Time[i]
			}
			last = State{at, o == 1, (s == 1) != activeLow, (q == 1) != activeLow}
			if n := len(out); n == 0 || out[n-1].Out != last.Out || out[n-1].Set != last.Set || out[n-1].Reset != last.Reset {
				out = append(out, last)
			}
		}
	}
	if len(out) > 0 && last.Time > out[len(out)-1].Time {
		out = append(out, last)
	}
	if gridded { // the grid is only final now
		for i := range out {
			out[i].Time = c.Start + c.Step*out[i].Time
		}
	}
	return out, nil
}

func known(x float64) bool { return x == 0 || x == 1 }

// press is an interval in which an input is active.
type press struct{ from, to float64 }

func pressesOf(states []State, active func(State) bool) []press {
	var out []press
	on := false
	for _, s := range states {
		switch a := active(s); {
		case a && !on:
			out = append(out, press{s.Time, states[len(states)-1].Time})
			on = true
		case !a && on:
			out[len(out)-1].to = s.Time
			on = false
		}
	}
	return out
}

// analysis is one check in work.
type analysis struct {
	states  []State
	opt     Options
	r       *Result
	presses [2][]press // set, reset
}

func (a *analysis) fault(count *int, t float64, what string) {
	*count++
	a.r.Events = append(a.r.Events, Event{t, what})
}

// table fills in the time spent in each input state and, of it, the time with a wrong output.
func (a *analysis) table() {
	for i, e := range []string{"holds", "high", "low", "low"} {
		a.r.Table[i] = Row{Set: i&1 == 1, Reset: i&2 == 2, Expected: e}
	}
	entered, before, held := a.states[0].Time, -1, a.states[0].Out
	for k := range len(a.states) - 1 {
		s := a.states[k]
		i := 0
		if s.Set {
			i |= 1
		}
		if s.Reset {
			i |= 2
		}
		if i != before {
			entered, before = s.Time, i
		}
		settled := entered + a.opt.Settle
		if s.Time <= settled {
			held = s.Out // the output may still follow the last press
		}
		want := i == 1 || i == 0 && held
		end := a.states[k+1].Time
		a.r.Table[i].Time += end - s.Time
		if s.Out != want {
			a.r.Table[i].Wrong += max(0, end-max(s.Time, settled))
		}
	}
}

// edges judges every change of the output by the presses around it.
func (a *analysis) edges() {
	for k := 1; k < len(a.states); k++ {
		t, out := a.states[k].Time, a.states[k].Out
		if out == a.states[k-1].Out {
			continue
		}
		set, byset := a.lately(0, t)
		_, byreset := a.lately(1, t)
		switch {
		case out && byreset:
			a.fault(&a.r.FailedResets, t, "output rose while reset was active")
		case out && byset:
			a.r.Sets++
			if w := set.to - set.from; a.r.Shortest == 0 || w < a.r.Shortest {
				a.r.Shortest = w
			}
		case out:
			a.fault(&a.r.FalseSets, t, "output rose without a set")
		case byreset:
			a.r.Resets++
		default:
			a.fault(&a.r.FalseResets, t, "output fell without a reset")
		}
	}
}

// lately finds a press of the input that is active at t or ended no longer than the settling time before.
func (a *analysis) lately(input int, t float64) (press, bool) {
	p := a.presses[input]
	k, _ := slices.BinarySearchFunc(p, t, func(p press, t float64) int { return cmp.Compare(p.from, t) })
	for ; k >= 0; k-- {
		if k < len(p) && p[k].from <= t {
			return p[k], p[k].to >= t-a.opt.Settle
		}
	}
	return press{}, false
}

// missed looks for set presses that left the output low and reset presses that left it high.
func (a *analysis) missed() {
	for _, p := range a.presses[0] {
		if a.any(p.from, p.to+a.opt.Settle, func(s State) bool { return s.Out || s.Reset }) {
			continue
		}
		if p.to+a.opt.Settle <= a.states[len(a.states)-1].Time {
			a.fault(&a.r.MissedSets, p.from, "set press without effect")
		}
	}
	for _, p := range a.presses[1] {
		if from := p.from + a.opt.Settle; from < p.to && a.any(from, from, func(s State) bool { return s.Out }) {
			a.fault(&a.r.FailedResets, p.from, "output still high while reset is active")
		}
	}
}

// any says whether some state in force between from and to satisfies f.
func (a *analysis) any(from, to float64, f func(State) bool) bool {
	k, _ := slices.BinarySearchFunc(a.states, from, func(s State, t float64) int { return cmp.Compare(s.Time, t) })
	if k > 0 && (k == len(a.states) || a.states[k].Time > from) {
		k--
	}
	for ; k < len(a.states) && a.states[k].Time <= to; k++ {
		if f(a.states[k]) {
			return true
		}
	}
	return false
}

// bounce counts the presses that follow the same input's last by less than the bounce time.
func (a *analysis) bounce() {
	for i, ps := range a.presses {
		for k := 1; k < len(ps); k++ {
			if ps[k].from-ps[k-1].to < a.opt.Bounce {
				a.r.Bounces[i]++
			}
		}
	}
}
