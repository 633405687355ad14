package circuit

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"offbeat/fit/wiring"
)

// Stuck says in numbers why a board does not run; it is empty where the board does.
func (c *Circuit) Stuck(v *Values) string {
	if c.Latch || c.stopped {
		return c.why
	}
	if c.engine == nil {
		return coupled(c.loads).stuck(v)
	}
	if _, _, ok := c.Times(v); ok {
		return ""
	}
	f, ok := c.follow(v)
	if ok {
		return ""
	}
	return f.why()
}

// Crossed says whether a board that does not run would do so with its comparator's inputs exchanged, as drawings often have them.
func (c *Circuit) Crossed(v *Values) bool {
	if c.engine == nil || c.Wiring.Crossed() == nil {
		return false
	}
	k := *c
	k.Wiring, k.variants, k.loaded = c.Wiring.Crossed(), &cache[string]{}, nil
	if k.compile(v) != nil {
		return false
	}
	_, _, runs := k.Times(v)
	return runs
}

// follow follows the board from power-up.
func (c *Circuit) follow(v *Values) (f follower, ok bool) {
	e := c.law(v)
	if v[Contact] != 0 {
		e = e.touching
	}
	f.begin(e, v)
	_, _, ok = f.cycle()
	return f, ok
}

// why puts what stopped the follower in words.
func (f *follower) why() string {
	e, s := f.e, 0
	state, threshold := "high", "upper threshold"
	if f.stuck.low {
		s, state, threshold = 1, "low", "lower threshold"
	}
	if f.stuck.lost {
		return fmt.Sprintf("no steady cycle was found within %d cycles", mostCycles)
	}
	d := f.stuck.short
	k := e.senses[s]
	if k < 0 {
		if f.stuck.past {
			return "the inputs are already past each other as the " + state + " state begins"
		}
		return fmt.Sprintf("in the %s state what is compared would settle %s short of the threshold", state, volts(d, 0))
	}
	x := f.stuck.x[k]
	what := "the capacitor"
	if e.n > 1 {
		what = "the node " + e.nodes[k]
	}
	at, side := x+d, "below"
	if !e.rising[s] {
		at, side = x-d, "above"
	}
	switch {
	case f.stuck.drift: // x is where it would be after the longest time
		return fmt.Sprintf("in the %s state nothing but an input's own current moves %s, by %s V/s, away from the %s", state, what, signed(x/longest, 'g', 2), threshold)
	case f.stuck.past:
		return fmt.Sprintf("as the %s state begins, %s is at %s, already past the %s of %s", state, what, volts(x, at), threshold, volts(at, x))
	}
	return fmt.Sprintf("%s would settle at %s, %s the %s of %s", what, volts(x, at), side, threshold, volts(at, x))
}

// signed writes a number with a minus sign.
func signed(x float64, format byte, digits int) string {
	return strings.Replace(strconv.FormatFloat(x, format, digits, 64), "-", "−", 1)
}

// volts writes a voltage to three digits, or as many more as tell it from another.
func volts(x, other float64) string {
	digits := 2
	if a := math.Abs(x); a > 0 {
		digits = max(0, min(4, 2-int(math.Floor(math.Log10(a)))))
	}
	for digits < 7 && math.Abs(x-other) < math.Pow10(-digits) {
		digits++
	}
	return signed(x, 'f', digits) + " V"
}

// variant is the circuit with its wiring changed, compiled anew about the values v: the slots stay, a part that is gone is
// read no more. why says why it does not run at those values, in numbers where it has any; empty where it runs.
func (c *Circuit) variant(key string, w *wiring.Wiring, v *Values) (out *Circuit, why string) {
	k, err := c.variants.get(key, *v, func() (*Circuit, error) {
		k := *c
		k.Wiring, k.variants, k.loaded = w, &cache[string]{}, nil
		return &k, k.compile(v)
	})
	var fault *wiring.Error
	switch {
	case errors.As(err, &fault):
		why = fault.What
	case err != nil:
		why = err.Error()
	default:
		return k, k.Stuck(v)
	}
	out = c.Stopped(why, w.Rests())
	out.Wiring = w
	return out, why
}

// Rests says of a board that does not run whether it comes to rest, rather than switching as fast as its delays let it or running
// without a steady cycle, and where its output then stands: wiring.StandsHigh, wiring.StandsLow, or 0 where that is not known.
func (c *Circuit) Rests(v *Values) (state int, ok bool) {
	if c.engine == nil || c.stopped {
		return c.rests, true
	}
	switch f, runs := c.follow(v); {
	case runs || f.stuck.past || f.stuck.lost:
		return 0, false
	case f.stuck.low:
		return wiring.StandsLow, true
	}
	return wiring.StandsHigh, true
}

// Stopped is the circuit as a board that never runs, why, and where its output stands.
func (c *Circuit) Stopped(why string, state int) *Circuit {
	k := *c
	k.stopped, k.why, k.rests = true, why, state
	k.Times = func(*Values) (high, low float64, ok bool) { return 0, 0, false }
	return &k
}

// Tie is a text that circuits of one board share where they have the same times by construction; see wiring.Tie.
func (c *Circuit) Tie() string {
	if c.stopped {
		return fmt.Sprintf("stopped %d", c.rests)
	}
	return c.Wiring.Tie()
}

// Missing is the circuit without one of its parts, compiled anew about the values v, its slots as they were. why says why
// it does not run at those values, empty where it does. The error says that there is no such board.
func (c *Circuit) Missing(part string, v *Values) (out *Circuit, why string, err error) {
	return c.changed("without ", part, v, (*wiring.Wiring).Without)
}

// Bridged is the circuit with a part's ends joined; see Missing.
func (c *Circuit) Bridged(part string, v *Values) (out *Circuit, why string, err error) {
	return c.changed("bridged ", part, v, (*wiring.Wiring).Bridged)
}

// Reversed is the circuit with a diode the other way round; see Missing.
func (c *Circuit) Reversed(diode string, v *Values) (out *Circuit, why string, err error) {
	return c.changed("reversed ", diode, v, (*wiring.Wiring).Reversed)
}

// Across is the circuit with a diode across a part's ends that its drawing does not hold, its anode at the first or, turned, at the
// last, with the drop of Surplus; see Missing.
func (c *Circuit) Across(part string, turned bool, v *Values) (out *Circuit, why string, err error) {
	return c.changed(fmt.Sprint("diode ", turned, " across "), part, v, func(w *wiring.Wiring, name string) (*wiring.Wiring, error) { return w.Across(name, turned) })
}

func (c *Circuit) changed(key, part string, v *Values, how func(*wiring.Wiring, string) (*wiring.Wiring, error)) (out *Circuit, why string, err error) {
	if c.engine == nil {
		return nil, "", fmt.Errorf("the %s circuit is no wiring", c.Name)
	}
	w, err := how(c.Wiring, part)
	if err != nil {
		return nil, "", err
	}
	out, why = c.variant(key+part, w, v)
	return out, why, nil
}

// stuck says in numbers why the multivibrator does not run; empty where it does.
func (sets coupled) stuck(v *Values) string {
	for side, base := range []string{wiring.PinBase1, wiring.PinBase2} {
		if s, _ := sets.run(v, side, math.Inf(1)); !(s.target > v[BaseEmitter]) {
			return fmt.Sprintf("%s would settle at %s, below the %s at which it turns its transistor on", base, volts(s.target, v[BaseEmitter]), volts(v[BaseEmitter], s.target))
		} else if !runs(sets.half(v, side, math.Inf(1))) {
			return base + " is held, so that its transistor never switches"
		}
	}
	return ""
}
