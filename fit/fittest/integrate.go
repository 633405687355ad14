package fittest

import (
	"fmt"
	"math"
)

// stepTolerance is the error allowed to each step, relative to the voltage span of the circuit. A phase takes on the order
// of a hundred steps, so its end is good to about 1e-11 of the span, and its time to about 1e-11.
const stepTolerance = 1e-13

// StuckError says that the circuit does not run: the node comes to rest on the wrong side of a threshold.
type StuckError struct {
	Circuit   string
	Phase     string  // "charging", "discharging", or "waiting" (the monostable ahead of its trigger)
	Rest      float64 // V where the currents balance
	Threshold float64 // V that is never reached, or when waiting should not have been
}

func (e *StuckError) Error() string {
	return fmt.Sprintf("%s does not run: while %s, the capacitor comes to rest at %.4g V, on the wrong side of the threshold of %.4g V",
		e.Circuit, e.Phase, e.Rest, e.Threshold)
}

// Integrate gives the output's high and low time in seconds in the steady cycle, with a relative error below 1e-10 as long
// as the thresholds aren't approached at a crawl. The monostable gives the pulse that follows a trigger, and a low time of
// 0. A circuit that doesn't run gives a *StuckError; a Network without meaning another error.
func Integrate(n Network) (high, low float64, err error) {
	n, err = n.withDefaults()
	if err != nil {
		return 0, 0, err
	}
	upper, lower := n.thresholds()
	up := n.behind(half{n, "charging", n.C + n.Stray, n.charging(), upper, n.DelayFall})
	switch n.Circuit {
	case Monostable:
		rest := n.resting()
		if rest >= upper {
			return 0, 0, &StuckError{n.Circuit, "waiting", rest, upper}
		}
		high, _, err = up.run(rest)
		return high, 0, err
	case Multivibrator:
		// Each half is a base node that starts one collector swing below its turn-on and rises to it.
		down := half{n, "discharging", n.C2, n.discharging(), upper, 0}
		up.delay = 0
		if high, _, err = up.run(lower); err != nil {
			return 0, 0, err
		}
		low, _, err = down.run(lower)
		return high, low, err
	}
	// The overshoot at the end of a half depends on that half alone, so one half ahead of the cycle settles it.
	down := n.behind(half{n, "discharging", n.C + n.Stray, n.discharging(), lower, n.DelayRise})
	start := upper
	if n.Contact > 0 {
		start = n.Supply // the capacitor itself may turn below the lower threshold's place
	}
	_, v, err := down.run(start)
	if err != nil {
		return 0, 0, err
	}
	if high, v, err = up.run(v); err != nil {
		return 0, 0, err
	}
	low, _, err = down.run(v)
	return high, low, err
}

// behind turns a half of the node's voltage into one of the capacitor's own, where a resistance lies between the two: the
// node is where what flows into it is what the resistance passes on.
func (n Network) behind(h half) half {
	if n.Contact == 0 {
		return h
	}
	node, r := h.current, n.Contact
	h.current = func(u float64) float64 {
		v := balance(func(v float64) float64 { return node(v) - (v-u)/r }, u-20*n.Supply, u+20*n.Supply)
		return (v - u) / r
	}
	h.threshold -= r * node(h.threshold)
	return h
}

// half is the time from one flip of the switch to the next.
type half struct {
	n         Network
	phase     string
	farad     float64
	current   current
	threshold float64
	delay     float64
}

// run takes the node from v to the threshold, lets it run on for the delay, and gives the time of both and the voltage reached.
func (h half) run(v float64) (time, end float64, err error) {
	direction := math.Copysign(1, h.threshold-v)
	if h.current(h.threshold)*direction <= 0 {
		rest := balance(h.current, min(v, h.threshold)-10*h.n.Supply, max(v, h.threshold)+10*h.n.Supply)
		return 0, 0, &StuckError{h.n.Circuit, h.phase, rest, h.threshold}
	}
	span := max(h.n.Supply, math.Abs(v-h.threshold))
	s := solver{
		slope:     func(v float64) float64 { return h.current(v) / h.farad },
		tolerance: stepTolerance * span,
	}
	first := 1e-3 * span / math.Abs(s.slope(v))
	time, err = s.until(v, first, h.threshold)
	if err != nil {
		return 0, 0, err
	}
	end, err = s.after(h.threshold, first, h.delay)
	return time + h.delay, end, err
}
